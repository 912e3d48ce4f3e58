"""Players and rooms: notes of a SoundFont, detuned, wavering, breathing, in a synthetic room, with the truth about each.

The notes come dry from fluidsynth; everything after is made here with a seeded generator, so that the same seed and index give the same
samples. What a font's key really sounds is measured on the clean note, because fonts are out of tune by up to 16 cents on some keys.
"""
import contextlib
import json
import os

# many small products: threads of the matrix library only wait for each other
os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
from scipy import signal
from scipy.fft import next_fast_len

RATE = 48000
CACHE = os.environ.get("LISTENING_CACHE", os.path.join(os.path.expanduser("~"), ".cache", "listening"))
FONTS = {
    "fluid": "/usr/share/sounds/sf2/FluidR3_GM.sf2",  # MIT; Debian package fluid-soundfont-gm
    "tim": "/usr/share/sounds/sf2/TimGM6mb.sf2",  # GPL-2; timgm6mb-soundfont
    "csound": "/usr/share/sounds/sf2/sf_GMbank.sf2",  # LGPL-2.1+; csound-soundfont
    "opl3": "/usr/share/sounds/sf2/OPL-3_FM_128M.sf2",  # LGPL-2.1+; opl3-soundfont: an FM chip, as far from a recording as can be
}
# General MIDI program, lowest and highest sounding MIDI key in the hands of a beginner (common practice, no source)
INSTRUMENTS = {
    "flute": (73, 62, 77),
    "oboe": (68, 62, 74),
    "clarinet_bb": (71, 50, 67),
    "sax_alto": (65, 53, 68),
    "bassoon": (70, 43, 58),
    "trumpet_bb": (56, 54, 74),
    "horn_f": (60, 48, 65),
    "trombone": (57, 41, 62),
    "tuba": (58, 29, 46),
    "sax_tenor": (66, 44, 62),
    "sax_baritone": (67, 37, 55),
    "piccolo": (72, 74, 89),
    "euphonium_bc": (58, 41, 60),
}
USUAL = list(INSTRUMENTS)[:9]
# fundamental of the open tube (sounding MIDI key) and the partials a beginner lands on
SERIES = {
    "horn_f": (29, [3, 4, 5, 6, 8]),
    "trumpet_bb": (46, [2, 3, 4, 5, 6]),
    "trombone": (34, [2, 3, 4, 5]),
    "tuba": (22, [2, 3, 4, 5]),
}

# a woodwind's fingering gives its fundamental, an octave and a twelfth; how often each, beside the note asked for, is blown by mistake
OVERBLOWN = {"flute": [1.0, 1.0, 0.3], "oboe": [1.0, 1.0, 0.2], "clarinet_bb": [1.0, 0.1, 1.0], "sax_alto": [1.0, 1.0, 0.2], "bassoon": [1.0, 1.0, 0.3]}


def hertz(key):
    return 440.0 * 2 ** ((np.asarray(key, float) - 69) / 12)


@contextlib.contextmanager
def whole(path):
    """A file that others see whole or not at all: clips may be made by several processes at once."""
    new = f"{path}.{os.getpid()}.new"
    with open(new, "wb") as file:
        yield file
    os.replace(new, path)


_synths = {}


def _synth(font):
    import fluidsynth

    if font not in _synths:
        synth = fluidsynth.Synth(gain=0.8, samplerate=RATE)
        for setting in ("synth.reverb.active", "synth.chorus.active"):
            synth.setting(setting, 0)
        _synths[font] = (synth, synth.sfload(FONTS[font]))
    return _synths[font]


def render(font, program, key, velocity, seconds=3.0, drum=False):
    """A dry note from its first sample, held `seconds`, with 0.3 s of release; kept on disk."""
    os.makedirs(CACHE, exist_ok=True)
    path = f"{CACHE}/{font}_{'d' if drum else ''}{program}_{key}_{velocity}_{seconds:.1f}.npy"
    if os.path.exists(path):
        return np.load(path).astype(np.float32) / 32768
    synth, bank = _synth(font)
    channel = 9 if drum else 0
    synth.program_select(channel, bank, 128 if drum else 0, program)
    for controller, value in ((7, 110), (10, 64), (91, 0), (93, 0), (1, 0)):
        synth.cc(channel, controller, value)
    synth.get_samples(RATE // 2)
    synth.noteon(channel, int(key), int(velocity))
    held = synth.get_samples(int(seconds * RATE))
    synth.noteoff(channel, int(key))
    released = synth.get_samples(int(0.3 * RATE))
    # whole seconds in all: keeps the 48000-long dither table of fluidsynth in step, so that renderings repeat to the last bit
    synth.get_samples(5 * RATE - RATE // 2 - len(held) // 2 - len(released) // 2)
    both = np.concatenate([held, released]).reshape(-1, 2).astype(np.float32).mean(1) / 32768
    quantised = np.round(np.clip(both, -1, 1) * 32767).astype(np.int16)
    with whole(path) as file:
        np.save(file, quantised)
    return quantised.astype(np.float32) / 32768


def harmonic_sum_track(x, near, hop=2400, span=60):
    """The pitch of a CLEAN note near `near` Hz, every `hop` samples: the frequency whose harmonics gather most power."""
    window = int(max(5760, 6 * RATE / near))
    harmonics = int(min(12, 0.45 * RATE / near))
    shape, n = np.hanning(window), np.arange(window) - window / 2
    grid = near * 2 ** (np.arange(-span, span + 1, 4.0) / 1200)
    waves = [np.exp(-2j * np.pi * np.outer(grid * (h + 1), n) / RATE) * shape for h in range(harmonics)]
    track = []
    for start in range(0, max(1, len(x) - window), hop):
        power = sum(np.abs(wave @ x[start : start + window]) ** 2 for wave in waves)
        i = int(np.argmax(power))
        shift = 0.0
        if 0 < i < len(power) - 1:
            a, b, c = power[i - 1 : i + 2]
            shift = 0.5 * (a - c) / (a - 2 * b + c + 1e-30)
        track.append(grid[i] * 2 ** (shift * 4.0 / 1200))
    return np.array(track)


_tuning = {}


def tuning(font, program, key):
    """The frequency in Hz this font really sounds for this key, and its own waver in cents; kept on disk."""
    path = f"{CACHE}/tuning.json"
    if not _tuning and os.path.exists(path):
        with open(path) as file:
            _tuning.update(json.load(file))
    name = f"{font}_{program}_{key}"
    if name not in _tuning:
        track = harmonic_sum_track(render(font, program, key, 90)[RATE // 4 : int(2.2 * RATE)], float(hertz(key)))
        median = float(np.median(track))
        _tuning[name] = [median, float(np.std(1200 * np.log2(track / median)))]
        with whole(path) as file:
            file.write(json.dumps(_tuning).encode())
    return _tuning[name]


def at_speed(x, ratio):
    """`x` read at a speed that changes from sample to sample: twice oversampled, cubic between."""
    fine = signal.resample_poly(x, 2, 1).astype(np.float64)
    at = np.concatenate([[0], np.cumsum(ratio)[:-1]]) * 2
    at = at[at < len(fine) - 3]
    i = np.maximum(at.astype(int), 1)
    part = at - at.astype(int)
    a, b, c, d = fine[i - 1], fine[i], fine[i + 1], fine[i + 2]
    return b + 0.5 * part * (c - a + part * (2 * a - 5 * b + 4 * c - d + part * (3 * (b - c) + d - a)))


def waver(rng, n, tau, deviation):
    """A slow random curve that starts at 0."""
    points = int(n / RATE * 100) + 4
    keep = np.exp(-1 / (tau * 100))
    curve = signal.lfilter([1], [1, -keep], rng.normal(size=points) * np.sqrt(1 - keep * keep))
    return np.interp(np.arange(n) / RATE * 100, np.arange(points), curve - curve[0]) * deviation


def pink(rng, n):
    bins = np.fft.rfft(rng.normal(size=n))
    bins /= np.sqrt(np.maximum(np.fft.rfftfreq(n, 1 / RATE), 20))
    bins[0] = 0
    noise = np.fft.irfft(bins, n)
    return noise / (np.std(noise) + 1e-12)


def tilted(x, per_octave, above):
    if abs(per_octave) < 1e-3:
        return x
    size = next_fast_len(len(x) + 2048)
    octaves = np.log2(np.maximum(np.fft.rfftfreq(size, 1 / RATE), above) / above)
    return np.fft.irfft(np.fft.rfft(x, size) * 10 ** (np.clip(per_octave * octaves, -40, 20) / 20), size)[: len(x)]


def player(rng, font, instrument, frequency, seconds, velocity=90, key_offset=0, wander=4.0, attack=0.0, tilt=0.0, breath=-36.0, tracked=True):
    """One player's dry note, 50 ms of breath before the tone, at -20 dBFS; and its truth in seconds from the first sample.

    `track` is the pitch of its clean tone in Hz, read every 50 ms from `track_from` on: fonts waver by themselves.
    """
    program = INSTRUMENTS[instrument][0]
    key = int(np.clip(round(69 + 12 * np.log2(frequency / 440)) + key_offset, 24, 96))
    n = int(seconds * RATE)
    wandering = waver(rng, n, 0.3, wander) if wander > 0 else np.zeros(n)
    held = render(font, program, key, velocity)[: 3 * RATE]
    y = at_speed(held, frequency / tuning(font, program, key)[0] * 2 ** (wandering / 1200))
    y = np.pad(y, (0, max(0, n - len(y))))[:n]
    y = tilted(y, tilt, frequency)
    if attack > 0:
        rise = int(attack * RATE)
        y[:rise] *= 0.5 - 0.5 * np.cos(np.pi * np.arange(rise) / rise)
    fall = int(0.06 * RATE)
    y[-fall:] *= 0.5 + 0.5 * np.cos(np.pi * np.arange(fall) / fall)
    y *= 10 ** (waver(rng, n, 0.2, 0.8) / 20)
    y /= 10 * (np.sqrt(np.mean(y[int(0.3 * n) : int(0.8 * n)] ** 2)) + 1e-9)
    lead = int(0.05 * RATE)
    b, a = signal.butter(2, [max(300.0, frequency) / (RATE / 2), min(8000, max(300.0, frequency) * 12) / (RATE / 2)], "band")
    air = signal.lfilter(b, a, rng.normal(size=n + lead))
    air /= np.std(air) * 10
    air[: int(0.03 * RATE)] *= np.linspace(0, 1, int(0.03 * RATE))
    air[-fall:] *= np.linspace(1, 0, fall)
    level = np.sqrt(np.convolve(y**2, np.ones(240) / 240, "same"))
    t10, t50, t90 = (int(np.argmax(level > share * 0.1)) + lead for share in (0.1, 0.5, 0.9))
    truth = {
        "frequency": float(frequency),
        "track": [round(float(hz), 3) for hz in (harmonic_sum_track(y, float(frequency)) if tracked else [])],
        "track_from": (lead + max(5760, 6 * RATE / frequency) / 2) / RATE,
        "t10": t10 / RATE,
        "t50": t50 / RATE,
        "t90": t90 / RATE,
        "tone_end": (n + lead) / RATE,
        "font": font,
        "velocity": int(velocity),
    }
    return np.pad(y, (lead, 0)) + air * 10 ** (breath / 20), truth


def additive(rng, font, instrument, frequency, seconds):
    """A tone of exact frequency with the spectrum of the instrument's note, and its truth."""
    program = INSTRUMENTS[instrument][0]
    key = int(round(69 + 12 * np.log2(frequency / 440)))
    real = tuning(font, program, key)[0]
    clean = render(font, program, key, 80)[RATE // 2 : RATE // 2 + RATE]
    t, n = np.arange(RATE) / RATE, int(seconds * RATE)
    y, at = np.zeros(n), np.arange(n) / RATE
    for h in range(1, 1 + int(min(20, 10000 / frequency))):
        strength = abs(np.mean(clean * np.hanning(RATE) * np.exp(-2j * np.pi * real * h * t)))
        y += strength * np.sin(2 * np.pi * frequency * h * at + rng.uniform(0, 6.28))
    edge = int(0.02 * RATE)
    y[:edge] *= np.linspace(0, 1, edge)
    y[-edge:] *= np.linspace(1, 0, edge)
    y *= 0.1 / np.std(y)
    return y, {"frequency": float(frequency), "t10": 0.002, "t50": 0.01, "t90": 0.018, "tone_end": seconds, "font": font}


def room_response(rng, reverberation, direct_to_late=None, delay=0.003):
    """Direct sound, eight early taps and a Gaussian tail whose reverberation time falls with frequency."""
    n = int(min(1.2 * reverberation, 1.0) * RATE) + 2000
    t, first = np.arange(n) / RATE, int(delay * RATE)
    response = np.zeros(n)
    response[first] = 1.0
    for _ in range(8):
        later = rng.uniform(0.004, 0.035)
        response[first + int(later * RATE)] += rng.choice([-1, 1]) * rng.uniform(0.15, 0.5) * (0.004 / later) ** 0.3
    tail = np.zeros(n)
    for low, high, share in [(40, 250, 1.25), (250, 1000, 1.05), (1000, 3000, 0.95), (3000, 9000, 0.75), (9000, 20000, 0.5)]:
        band = signal.butter(2, [low / (RATE / 2), high / (RATE / 2)], "band", output="sos")
        tail += signal.sosfilt(band, rng.normal(size=n)) * 10 ** (-3 * t / (reverberation * share))
    tail[: first + int(0.008 * RATE)] = 0
    if direct_to_late is None:
        direct_to_late = rng.uniform(-6, 3)
    tail *= np.sqrt(np.sum(response**2) / 10 ** (direct_to_late / 10) / np.sum(tail**2))
    return response + tail


def in_room(x, response):
    return signal.fftconvolve(x, response)
