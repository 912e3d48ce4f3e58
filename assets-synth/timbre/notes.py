"""Single notes of a General MIDI SoundFont, rendered dry with fluidsynth."""
import os
import struct
import subprocess
import tempfile

import soundfile

from figures import RATE

FONT = "/usr/share/sounds/sf2/FluidR3_GM.sf2"  # Debian package fluid-soundfont-gm
HELD, SPACED = 2.0, 3.5  # seconds a note is held, seconds from note to note


def hertz(note):
    return 440 * 2 ** ((note - 69) / 12)


def vlq(value):
    out = [value & 0x7F]
    while value := value >> 7:
        out.insert(0, 0x80 | (value & 0x7F))
    return bytes(out)


def midi_file(program, notes):
    """A MIDI file (480 ticks to a quarter at 120) that plays each (note, velocity) by itself."""
    ticks = lambda seconds: round(seconds * 960)
    track = b"\x00" + bytes([0xC0, program])
    wait = 0
    for note, velocity in notes:
        track += vlq(wait) + bytes([0x90, note, velocity]) + vlq(ticks(HELD)) + bytes([0x80, note, 0])
        wait = ticks(SPACED - HELD)
    track += vlq(wait) + b"\xff\x2f\x00"
    return b"MThd" + struct.pack(">IHHH", 6, 0, 1, 480) + b"MTrk" + struct.pack(">I", len(track)) + track


def render(font, program, notes):
    """The sound of each (note, velocity), in stereo, from its first frame."""
    with tempfile.TemporaryDirectory() as folder:
        mid, wav = os.path.join(folder, "notes.mid"), os.path.join(folder, "notes.wav")
        with open(mid, "wb") as file:
            file.write(midi_file(program, notes))
        command = ["fluidsynth", "-ni", "-q", "-R", "0", "-C", "0", "-g", "0.5", "-r", str(RATE), "-O", "float", "-F", wav, font, mid]
        subprocess.run(command, check=True, timeout=120, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        sound, rate = soundfile.read(wav)
    assert rate == RATE
    step = round(SPACED * RATE)
    return [sound[i * step : (i + 1) * step] for i in range(len(notes))]
