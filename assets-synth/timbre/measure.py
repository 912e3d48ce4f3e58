#!/usr/bin/env python3
"""Measures timbres and writes crates/synth/src/timbre/tables.rs.

Source: FluidR3 GM, a General MIDI SoundFont by Frank Wen, MIT licence (Debian package fluid-soundfont-gm). Single notes are rendered
dry with fluidsynth and only facts about them are kept: relative strengths of harmonics, rise times, the share of noise, and for struck
instruments the ratio, strength and decay of each partial. No sample of the recording enters the table.

Needs: apt install fluidsynth fluid-soundfont-gm; pip install numpy scipy soundfile
Use:   python3 measure.py [SOUNDFONT.sf2]      (rustfmt must be on the path)
"""
import os
import struct
import subprocess
import sys
import tempfile

import numpy as np
import soundfile
from scipy.signal import find_peaks, get_window

RATE = 48_000
HARMONICS = 24
SOFT, LOUD = 45, 112  # MIDI velocities
HELD, SPACED = 2.0, 3.5  # seconds a note is held, seconds from note to note

# name, General MIDI program (from 0), sounding MIDI notes from low to high
SUSTAINED = [
    ("PICCOLO", 72, [74, 84, 94]),
    ("FLUTE", 73, [60, 69, 79, 89]),
    ("OBOE", 68, [60, 69, 79]),
    ("BASSOON", 70, [36, 48, 60]),
    ("CLARINET", 71, [38, 50, 58, 66, 76]),
    ("SOPRANO_SAX", 64, [57, 66, 76]),
    ("ALTO_SAX", 65, [51, 60, 70]),
    ("TENOR_SAX", 66, [45, 55, 65]),
    ("BARITONE_SAX", 67, [38, 48, 58]),
    ("TRUMPET", 56, [54, 62, 70, 79]),
    ("HORN", 60, [41, 50, 58, 66]),
    ("TROMBONE", 57, [41, 50, 58, 66]),
    ("TUBA", 58, [29, 36, 43, 53]),
    ("DOUBLE_BASS", 43, [29, 38, 48]),
]
STRUCK = [
    ("GLOCKENSPIEL", 9, [80, 88, 98]),
    ("XYLOPHONE", 13, [66, 77, 88]),
    ("MARIMBA", 12, [48, 60, 74]),
    ("VIBRAPHONE", 11, [54, 65, 76]),
    ("TIMPANI", 47, [41, 46, 51]),
]


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


def render(font, program, notes, folder):
    """The sound of each note, mono, from its first frame."""
    mid, wav = os.path.join(folder, "notes.mid"), os.path.join(folder, "notes.wav")
    with open(mid, "wb") as file:
        file.write(midi_file(program, notes))
    command = ["fluidsynth", "-ni", "-q", "-R", "0", "-C", "0", "-g", "0.5", "-r", str(RATE), "-O", "float", "-F", wav, font, mid]
    subprocess.run(command, check=True, timeout=120, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    sound, rate = soundfile.read(wav)
    assert rate == RATE
    sound = sound.mean(axis=1)
    step = round(SPACED * RATE)
    return [sound[i * step : (i + 1) * step] for i in range(len(notes))]


def power_spectrum(x, size=None):
    window = get_window("blackmanharris", len(x))
    return np.abs(np.fft.rfft(x * window, size)) ** 2 / np.sum(window**2)


def find_fundamental(x, nominal):
    """The frequency within a third of a tone of `nominal` whose harmonics hold the most energy."""
    size = 1 << 18
    power = power_spectrum(x, size)
    bin_of = lambda hz: hz * size / RATE
    best = (-1.0, nominal)
    for cents in np.arange(-60, 61, 2):
        hz = nominal * 2 ** (cents / 1200)
        total = 0.0
        for k in range(1, 9):
            if k * hz < RATE * 0.45:
                total += np.sqrt(power[int(round(bin_of(k * hz)))])
        best = max(best, (total, hz))
    return best[1]


def sustained(x, nominal):
    """Harmonic amplitudes (rms 1), rise time in seconds, and noise rms relative to the harmonics."""
    steady = x[round(0.5 * RATE) : round(1.9 * RATE)]
    hz = find_fundamental(steady, nominal)
    power = power_spectrum(steady)
    spacing = RATE / len(steady)
    # vibrato in the recording widens a harmonic, so gather a band around each
    amplitudes, used = np.zeros(HARMONICS), 0.0
    for k in range(1, HARMONICS + 1):
        centre, half = k * hz, max(5 * spacing, min(0.3 * hz, k * hz * 0.015 + 4 * spacing))
        if centre + half > RATE * 0.45:
            break
        low, high = int((centre - half) / spacing), int((centre + half) / spacing) + 1
        energy = float(np.sum(power[low:high]))
        used += energy
        amplitudes[k - 1] = np.sqrt(energy)
    # noise: the level midway between harmonics, spread over the whole band
    gaps = []
    for k in range(1, HARMONICS):
        middle = (k + 0.5) * hz
        if middle * 1.02 > RATE * 0.4:
            break
        low, high = int((middle - 0.1 * hz) / spacing), int((middle + 0.1 * hz) / spacing) + 2
        gaps.append(np.median(power[low:high]))
    bands = (min(HARMONICS, len(gaps) + 1) * hz) / spacing
    noise = np.sqrt(np.mean(gaps) * bands / max(used, 1e-20)) if gaps else 0.0
    amplitudes /= np.sqrt(np.sum(amplitudes**2) + 1e-20)
    # rise: 10 to 90 % of the level reached within the first 0.4 s, on a 5 ms rms envelope
    hop = RATE // 500
    size = max(RATE // 200, round(RATE / nominal))
    envelope = np.array([np.sqrt(np.mean(x[i : i + size] ** 2)) for i in range(0, round(0.4 * RATE), hop)])
    top = envelope.max()
    ten, ninety = int(np.argmax(envelope > 0.1 * top)), int(np.argmax(envelope > 0.9 * top))
    rise = max(ninety - ten, 1) * hop / RATE
    return amplitudes, rise, float(noise)


def struck(x, nominal):
    """Up to six partials: (ratio to the fundamental, amplitude relative to the strongest, seconds to fall by 60 dB)."""
    head = x[: round(0.35 * RATE)]
    size = 1 << 18
    power = power_spectrum(head, size)
    decibels = 10 * np.log10(power + 1e-20)
    spacing = RATE / size
    low = int(0.75 * nominal / spacing)
    peaks, _ = find_peaks(decibels[low:], height=decibels[low:].max() - 45, distance=int(0.3 * nominal / spacing), prominence=10)
    peaks += low
    peaks = peaks[peaks * spacing < RATE * 0.42]
    peaks = peaks[np.argsort(-decibels[peaks])][:6]
    partials = []
    for peak in np.sort(peaks):
        hz = peak * spacing
        # decay: slope of the partial's level in 60 ms frames while it stays 50 dB from its top
        frame, hop = round(0.06 * RATE), round(0.02 * RATE)
        carrier = np.exp(-2j * np.pi * hz * np.arange(len(x)) / RATE)
        window = get_window("hann", frame)
        levels = np.array([20 * np.log10(abs(np.sum((x * carrier)[i : i + frame] * window)) + 1e-12) for i in range(0, round(1.9 * RATE), hop)])
        loud = int(np.argmax(levels))
        tail = levels[loud:]
        under = np.nonzero(tail < tail[0] - 35)[0]
        count = max(int(under[0]) if len(under) else len(tail), 4)
        slope = np.polyfit(np.arange(count) * hop / RATE, tail[:count], 1)[0]
        fall = float(np.clip(60 / max(-slope, 5.0), 0.05, 6.0))
        partials.append((hz / nominal, 10 ** (decibels[peak] / 20), fall))
    top = max(amplitude for _, amplitude, _ in partials)
    base = partials[0][0]  # the recording's own tuning is no fact about the instrument
    return [(ratio / base, amplitude / top, fall) for ratio, amplitude, fall in partials]


def number(value, digits):
    text = f"{value:.{digits}f}".rstrip("0")
    return text + "0" if text.endswith(".") else text


def main():
    font = sys.argv[1] if len(sys.argv) > 1 else "/usr/share/sounds/sf2/FluidR3_GM.sf2"
    here = os.path.dirname(os.path.abspath(__file__))
    target = os.path.join(here, "..", "..", "crates", "synth", "src", "timbre", "tables.rs")
    lines = [
        "//! Measured timbres. Written by assets-synth/timbre/measure.py; change that, not this.",
        "//!",
        "//! Source: single notes of the General MIDI SoundFont FluidR3 GM (Frank Wen, MIT licence), rendered dry with fluidsynth at",
        f"//! velocities {SOFT} (soft) and {LOUD} (loud). Only strengths, times and ratios are kept.",
        "",
        "use super::{Partial, Register, StruckRegister};",
        "",
    ]
    with tempfile.TemporaryDirectory() as folder:
        for name, program, notes in SUSTAINED:
            sounds = render(font, program, [(n, v) for n in notes for v in (SOFT, LOUD)], folder)
            lines.append(f"pub(super) static {name}: &[Register] = &[")
            for i, note in enumerate(notes):
                hz = 440 * 2 ** ((note - 69) / 12)
                soft, _, noise_soft = sustained(sounds[2 * i], hz)
                loud, rise, noise = sustained(sounds[2 * i + 1], hz)
                row = lambda values: ", ".join(number(v, 5) for v in values)
                lines.append(f"Register {{ hz: {number(hz, 3)}, rise: {number(rise, 3)}, noise: {number(noise, 4)},")
                lines.append(f"soft: [{row(soft)}], loud: [{row(loud)}] }},")
                show = lambda values: " ".join(f"{20 * np.log10(v / max(values) + 1e-6):4.0f}" for v in values[:14])
                print(f"{name:13} {note:3} rise {rise:.3f} noise {noise:.4f}  {show(loud)}\n{'':41}{show(soft)}")
            lines.append("];\n")
        for name, program, notes in STRUCK:
            sounds = render(font, program, [(n, LOUD) for n in notes], folder)
            lines.append(f"pub(super) static {name}: &[StruckRegister] = &[")
            for note, sound in zip(notes, sounds):
                hz = 440 * 2 ** ((note - 69) / 12)
                partials = struck(sound, hz)
                inner = ", ".join(f"Partial {{ ratio: {number(r, 4)}, amplitude: {number(a, 4)}, fall: {number(t, 3)} }}" for r, a, t in partials)
                lines.append(f"StruckRegister {{ hz: {number(hz, 3)}, partials: &[{inner}] }},")
                print(f"{name:13} {note:3} " + "  ".join(f"{r:.2f}:{20 * np.log10(a):.0f}dB/{t:.1f}s" for r, a, t in partials))
            lines.append("];\n")
    with open(target, "w") as file:
        file.write("\n".join(lines))
    root = os.path.join(here, "..", "..")
    subprocess.run(["rustfmt", "--edition", "2024", "--config-path", root, target], check=True)


if __name__ == "__main__":
    main()
