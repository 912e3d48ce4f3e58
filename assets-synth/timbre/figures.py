"""What is measured of a single tone: the same code reads the recording and the synthesiser's tone.

A tone is an array of frames, (frames,) or (frames, channels), from the frame on which it was asked for. Channels are added as powers:
two microphones of one player are no interference.
"""
import numpy as np
from scipy.signal import fftconvolve, get_window

RATE = 48_000
HARMONICS = 64
STEADY = (0.5, 1.9)  # seconds in which a held tone is read
REACHED = (0.2, 0.7)  # seconds in which the level is read that an attack has to reach


def channels(x):
    return [x] if x.ndim == 1 else [x[:, i] for i in range(x.shape[1])]


def part(x, start, end):
    return x[round(start * RATE) : round(end * RATE)]


def power_spectrum(x, size=None):
    """Power by bin, so scaled that the bins sum to the mean square (of both channels, averaged)."""
    window = get_window("blackmanharris", len(x))
    size = size or len(x)
    powers = [np.abs(np.fft.rfft(c * window, size)) ** 2 for c in channels(x)]
    return 2 * np.mean(powers, axis=0) / (size * np.sum(window**2))


def fundamental(x, nominal, cents=60):
    """The frequency within `cents` of `nominal` whose first eight harmonics are strongest."""
    size = 1 << 18
    strength = np.sqrt(power_spectrum(x, size))
    tries = nominal * 2 ** (np.arange(-cents, cents + 1, 2) / 1200)
    total = lambda hz: sum(strength[round(k * hz * size / RATE)] for k in range(1, 9) if k * hz < 0.45 * RATE)
    return max(tries, key=total)


def harmonics(x, hz, count):
    """Amplitudes of the first harmonics of a steady stretch, and the power of the noise midway between them, spread over their band.

    Vibrato widens a harmonic, so a band around each is gathered.
    """
    power = power_spectrum(x)
    spacing = RATE / len(x)
    amplitudes, gaps = np.zeros(count), []
    for k in range(1, count + 1):
        half = max(5 * spacing, min(0.3 * hz, k * hz * 0.015 + 4 * spacing))
        if k * hz + half > 0.45 * RATE:
            break
        amplitudes[k - 1] = np.sqrt(np.sum(power[int((k * hz - half) / spacing) : int((k * hz + half) / spacing) + 1]))
        middle = (k + 0.5) * hz
        gaps.append(np.median(power[int((middle - 0.1 * hz) / spacing) : int((middle + 0.1 * hz) / spacing) + 2]))
    return amplitudes, np.array(gaps) * hz / spacing


def envelope(x, hz):
    """Rms in every millisecond, over two periods but at least 10 ms; silence is laid before the first frame, so that the shortest rise
    reads as the window's length."""
    size = max(round(0.010 * RATE), round(2 * RATE / hz))
    power = np.mean([np.concatenate([np.zeros(size), c]) ** 2 for c in channels(x)], axis=0)
    total = np.concatenate([[0], np.cumsum(power)])
    starts = np.arange(0, len(power) - size, RATE // 1000)
    return np.sqrt(np.maximum(total[starts + size] - total[starts], 0) / size)


def reached(levels):
    """The level a held tone's attack has to reach: the one exceeded in three quarters of the time from 0.2 to 0.7 s. Neither the crests
    of a vibrato nor a swell of the whole note belong to the attack."""
    return np.percentile(levels[round(REACHED[0] * 1000) : round(REACHED[1] * 1000)], 25)


def struck_top(levels):
    """The level a struck tone's attack reaches: its loudest in the first 40 ms. Later crests are partials beating, or a motor."""
    return np.max(levels[:40])


def passes(levels, level):
    """The millisecond, with its fraction, at which levels by the millisecond first pass `level`."""
    at = int(np.argmax(levels > level))
    return at if at == 0 else at - 1 + (level - levels[at - 1]) / (levels[at] - levels[at - 1])


def rise(levels, top):
    """Seconds from 10 to 90 % of `top`."""
    return (passes(levels, 0.9 * top) - passes(levels, 0.1 * top)) / 1000


def partial_level(x, hz, width):
    """Amplitude by the millisecond of what sounds around `hz`, a Hann window of `width` seconds wide."""
    size = round(width * RATE)
    window = get_window("hann", size)
    turned = [fftconvolve(c * np.exp(-2j * np.pi * hz * np.arange(len(c)) / RATE), window / window.sum(), "same") for c in channels(x)]
    return 2 * np.sqrt(np.mean([np.abs(t[:: RATE // 1000]) ** 2 for t in turned], axis=0))


def decibels(amplitudes, floor=-60.0):
    """Levels relative to the whole, not under `floor` dB under the strongest: weaker ones drown in the recording's noise."""
    amplitudes = np.maximum(amplitudes, np.max(amplitudes) * 10 ** (floor / 20))
    return 20 * np.log10(amplitudes / np.sqrt(np.sum(amplitudes**2)))


def spectral_distance(one, other):
    """Root mean square of the differences in dB, both brought to equal power."""
    return float(np.sqrt(np.mean((decibels(one) - decibels(other)) ** 2)))


def centroid(amplitudes, frequencies):
    """The centre of a spectrum by amplitude, in hertz."""
    return float(np.sum(amplitudes * frequencies) / np.sum(amplitudes))
