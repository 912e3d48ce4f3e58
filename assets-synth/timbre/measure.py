#!/usr/bin/env python3
"""Measures timbres and writes crates/synth/src/timbre/tables.rs, and the facts the tests expect of it.

Source: FluidR3 GM, a General MIDI SoundFont by Frank Wen, MIT licence (Debian package fluid-soundfont-gm). Single notes are rendered
dry with fluidsynth and only facts about them are kept: relative strengths of harmonics at three dynamics, when each harmonic rises,
the share of noise, how the level settles and falls, and for struck instruments the ratio, strength and decay of each partial. No
sample of the recording enters the table. `figures` says how each is read, `check.py` compares the synthesiser with the recording.

Needs: apt install fluidsynth fluid-soundfont-gm; pip install numpy scipy soundfile; rustfmt on the path
Use:   python3 measure.py [SOUNDFONT.sf2]
"""
import os
import subprocess
import sys

import numpy as np
from scipy.signal import find_peaks, get_window

import figures
from figures import HARMONICS, RATE
from instruments import DYNAMICS, STRUCK, SUSTAINED, three
from notes import FONT, HELD, hertz, render

MODES = 8  # partials kept of a struck tone
ATTACK_TIMES = (0.03, 0.06, 0.09, 0.12, 0.15)  # seconds at which the noise of an attack is read
ATTACK_FALL = (0.015, 0.12)  # seconds within which it falls to 1/e
SETTLING = 0.25  # seconds in which a tone settles after its attack, as in crates/synth/src/voice.rs


def s_curve(x):
    x = np.clip(x, 0, 1)
    return x**3 * (x * (x * 6 - 15) + 10)


S_SPAN = 0.506  # of an S-curve's length lies between 10 and 90 %
S_TEN = 0.247  # of its length lies before 10 %


def held_level(hz, amplitudes, rises, settle):
    """The level by the millisecond of what the synthesiser makes of a held tone, as `figures.envelope` will read it."""
    size = max(round(0.010 * RATE), round(2 * RATE / hz))
    t = np.arange(round(0.7 * RATE)) / RATE
    begins, ends = np.array(rises).T
    t_coarse = t[::16]
    shapes = s_curve((t_coarse[:, None] - begins) / (ends - begins))
    level = 1 + settle * (1 - s_curve((t_coarse - ends.max()) / SETTLING))
    power = np.interp(t, t_coarse, (shapes**2 @ amplitudes**2) * level**2)
    total = np.concatenate([np.zeros(size + 1), np.cumsum(power)])
    starts = np.arange(0, len(power), RATE // 1000)
    return np.sqrt((total[starts + size] - total[starts]) / size)


def partial_rises(x, hz, amplitudes, levels, goal):
    """When each harmonic begins and ends to rise, in seconds from the first one's beginning, as S-curves.

    Each is followed by itself; a harmonic too weak to be followed rises with its lower neighbour. The window that parts the harmonics
    blurs each rise, so its own is taken out by squares. A harmonic's rise lies within the whole tone's and half as much again: what
    comes later is a swell.
    """
    width = max(0.010, 2 / hz)
    blur = 0.42 * width
    top = figures.reached(levels)
    size = max(0.010, 2 / hz)  # of the window of `levels`, which looks ahead by half
    whole = (figures.passes(levels, 0.1 * top) + figures.passes(levels, 0.9 * top)) / 2000 - size / 2
    rises = []
    for k, amplitude in enumerate(amplitudes, 1):
        if amplitude < 0.003 or k * hz > 0.4 * RATE:
            rises.append(rises[-1] if rises else (whole - goal, whole + goal))
            continue
        level = figures.partial_level(x[: round(0.7 * RATE)], k * hz, width)
        ten, ninety = (figures.passes(level, share * figures.reached(level)) / 1000 for share in (0.1, 0.9))
        own = np.sqrt(max((ninety - ten) ** 2 - blur**2, 0.003**2))
        middle = np.clip((ten + ninety) / 2, whole - 0.75 * goal, whole + 0.75 * goal)
        length = min(own, 1.5 * goal) / S_SPAN
        rises.append((middle - length / 2, middle + length / 2))
    first = min(begin for (begin, _), a in zip(rises, amplitudes) if a > 0.01)
    return [(max(begin - first, 0.0), max(end - first, 0.002)) for begin, end in rises]


def stretch(rises, hz, amplitudes, settle, goal):
    """The rises, all stretched alike until the whole tone's rise, read as the recording's was, is `goal`; the settling; by how much it
    misses. A tone that still swells after its attack settles upwards."""

    def miss(factor, settle):
        levels = held_level(hz, amplitudes, [(b * factor, e * factor) for b, e in rises], settle)
        # where the level lingers near 90 %, a hair more or less of it must not matter
        return max(abs(figures.rise(levels, share * figures.reached(levels)) / goal - 1) for share in (0.98, 1.0, 1.02))

    factors = np.geomspace(0.05, 3, 100)
    best = min((miss(f, settle), f, settle) for f in factors)
    for swell in (-0.1, -0.2, -0.3, -0.4, -0.5):
        if best[0] > 0.05:
            best = min(best, *((miss(f, swell), f, swell) for f in factors))
    missed, factor, settle = best
    return [(b * factor, max(e * factor, b * factor + 0.002)) for b, e in rises], settle, missed


def sustained(sounds, nominal):
    """All that is kept of one note at three dynamics."""
    spectra, noises = [], []
    for x in sounds:
        steady = figures.part(x, *figures.STEADY)
        hz = figures.fundamental(steady, nominal)
        amplitudes, gaps = figures.harmonics(steady, hz, HARMONICS)
        whole = np.sqrt(np.sum(amplitudes**2))
        spectra.append(amplitudes / whole)
        # vibrato fills the upper gaps with its sidebands: the lower quarter of them tells the noise
        noises.append(np.sqrt(np.percentile(gaps[:24], 25) * min(24, len(gaps))) / whole)
    x, amplitudes = sounds[1], spectra[1]
    levels = figures.envelope(x, nominal)
    goal = figures.rise(levels, figures.reached(levels))
    ninety = round(figures.passes(levels, 0.9 * figures.reached(levels)))
    early = np.convolve(levels[ninety : ninety + 200], np.ones(40) / 40, "valid").max()
    settle = float(np.clip(early / np.median(levels[ninety : ninety + 700]) - 1, 0, 0.2))
    rises, settle, miss = stretch(partial_rises(x, nominal, amplitudes, levels, goal), nominal, amplitudes, settle, goal)
    fall = levels[round(HELD * 1000) :]
    top = np.median(levels[round(HELD * 1000) - 100 : round(HELD * 1000)])
    release = (np.argmax(fall < 0.1 * top) - np.argmax(fall < 0.9 * top)) / 1000
    spoken = [attack_noise(x, nominal) for x in sounds]
    burst, burst_fall, hiss = [a for a, _, _ in spoken], *spoken[1][1:]
    return dict(burst=burst, burst_fall=burst_fall, hiss=hiss, spectra=spectra, noise=noises[1], settle=settle, rises=rises, release=release, rise=goal, miss=miss)


def attack_noise(x, nominal):
    """The noise of the attack (tongue, breath, bow) between the harmonics: its rms relative to the settled harmonics at the start of the
    sound, over the noise that stays; the seconds in which it falls to 1/e; the centre of its spectrum by amplitude.

    Read 30 to 150 ms after the start, through windows of eight periods but at least 60 ms, up to 8 kHz. As in the settled tone, the
    lower quarter of the gaps tells the noise: the rest hold sidebands of moving harmonics.
    """
    steady = figures.part(x, *figures.STEADY)
    hz = figures.fundamental(steady, nominal)
    whole = np.sqrt(np.sum(figures.harmonics(steady, hz, HARMONICS)[0] ** 2))
    size = max(0.06, 8 / hz)

    def gaps(at):
        start = round((at - size / 2) * RATE)
        power = figures.power_spectrum(np.pad(x, ((max(-start, 0), 0), (0, 0)))[max(start, 0) :][: round(size * RATE)])
        numbers = np.arange(1, int(8_000 / hz)) + 0.5
        near = lambda middle: power[int((middle - 0.1 * hz) * size) : int((middle + 0.1 * hz) * size) + 2]
        return np.array([np.median(near(number * hz)) for number in numbers]) * hz * size, numbers * hz

    share = lambda powers: np.percentile(powers[:24], 25) * min(24, len(powers)) / whole**2
    stays = np.median([share(gaps(at)[0]) for at in (0.5, 0.8, 1.1)])
    times = np.array(ATTACK_TIMES)
    over = np.array([np.sqrt(max(share(gaps(at)[0]) - stays, 1e-10)) for at in times])
    top = int(np.argmax(over))
    # where it starts and how it falls: a line through its level from its top on, as long as it stands out
    clear = (times >= times[top]) & (over > 0.05 * over[top])
    slope = np.polyfit(times[clear], np.log(over[clear]), 1)[0] if clear.sum() > 1 else -1 / ATTACK_FALL[0]
    powers, middles = gaps(times[top])
    return over[top], float(np.clip(-1 / min(slope, -1e-3), *ATTACK_FALL)), figures.centroid(np.sqrt(powers), middles)


def partial_amplitude(x, hz):
    head = x[: round(0.35 * RATE)]
    window = get_window("blackmanharris", len(head))
    turn = np.exp(-2j * np.pi * hz * np.arange(len(head)) / RATE) * window / window.sum()
    return 2 * np.sqrt(np.mean([abs(np.sum(c * turn)) ** 2 for c in figures.channels(head)]))


def partials_of(x, nominal):
    """Frequencies of a struck tone's strongest partials in its first 0.35 s, the lowest first."""
    size = 1 << 18
    decibels = 10 * np.log10(figures.power_spectrum(x[: round(0.35 * RATE)], size) + 1e-20)
    spacing = RATE / size
    low = int(0.75 * nominal / spacing)
    peaks, _ = find_peaks(decibels[low:], height=decibels[low:].max() - 45, distance=int(0.3 * nominal / spacing), prominence=10)
    peaks = (peaks + low)[(peaks + low) * spacing < RATE * 0.42]
    return np.sort(peaks[np.argsort(-decibels[peaks])][:MODES]) * spacing


def struck(sounds, nominal):
    """Partials as (ratio to the lowest, amplitudes as struck at three dynamics, seconds to fall by 60 dB), and the seconds of attack at each."""
    # the loud one has the most partials
    x = sounds[2]
    found = partials_of(x, nominal)
    base = found[0]  # the recording's own tuning is no fact about the instrument
    window = get_window("blackmanharris", round(0.35 * RATE))
    partials = []
    for hz in found:
        # decay: slope of the partial's level in 60 ms frames while it stays 35 dB from its top
        levels = 20 * np.log10(figures.partial_level(x[: round(1.9 * RATE)], hz, 0.06)[::20] + 1e-12)
        tail = levels[int(np.argmax(levels)) :]
        under = np.nonzero(tail < tail[0] - 35)[0]
        count = max(int(under[0]) if len(under) else len(tail) - 3, 4)
        slope = np.polyfit(np.arange(count) * 0.02, tail[:count], 1)[0]
        fall = float(np.clip(60 / max(-slope, 5.0), 0.05, 6.0))
        decay = 10 ** (-3 * np.arange(len(window)) / RATE / fall)
        amplitudes = [partial_amplitude(sound, hz) * window.sum() / np.sum(window * decay) for sound in sounds]
        partials.append((hz / base, amplitudes, fall))
    tops = [max(amplitudes[d] for _, amplitudes, _ in partials) for d in range(len(sounds))]
    partials = [(ratio, [a / top for a, top in zip(amplitudes, tops)], fall) for ratio, amplitudes, fall in partials]
    t = np.arange(round(0.5 * RATE)) / RATE
    attacks, misses, goals = [], [], []
    for d, sound in enumerate(sounds):
        levels = figures.envelope(sound, nominal)
        goal, best = figures.rise(levels, figures.struck_top(levels)), (9.0, 0.002)
        ring = sum(a[d] * 10 ** (-3 * t / fall) * np.sin(2 * np.pi * ratio * nominal * t) for ratio, a, fall in partials)
        for attack in np.geomspace(0.0005, 0.1, 60):
            levels = figures.envelope(ring * s_curve(t / attack), nominal)
            best = min(best, (abs(figures.rise(levels, figures.struck_top(levels)) / goal - 1), attack))
        goals, misses, attacks = goals + [goal], misses + [best[0]], attacks + [best[1]]
    return dict(partials=partials, attacks=attacks, rise=goals[1], miss=max(misses))


def number(value, digits):
    text = f"{value:.{digits}f}".rstrip("0")
    return text + "0" if text.endswith(".") else text


def row(values, digits):
    return ", ".join(number(v, digits) for v in values)


def heard(amplitudes):
    """As many harmonics as lie within 70 dB of the strongest."""
    over = np.nonzero(amplitudes > amplitudes.max() * 10 ** (-70 / 20))[0]
    return amplitudes[: over[-1] + 1]


def source(program, notes):
    return f"/// Source: FluidR3 GM, program {program} from 0, MIDI notes {', '.join(map(str, notes))}; rise as heard " + "{} ms."


def fact(name, note, f):
    """A row of what the synthesiser's tests expect of a tone: rise, centroids and twelve levels, soft and loud."""
    numbers = np.arange(1, HARMONICS + 1)
    timbre = "".join(word.capitalize() for word in name.split("_"))
    spectra = [f["spectra"][0], f["spectra"][2]]
    centroids = row([figures.centroid(s, numbers * hertz(note)) for s in spectra], 1)
    levels = ", ".join(f"[{row(figures.decibels(s[:12]), 1)}]" for s in spectra)
    return f"Fact {{ timbre: Timbre::{timbre}, hz: {number(hertz(note), 3)}, rise: {number(f['rise'], 4)}, centroids: [{centroids}], levels: [{levels}] }},"


def main():
    font = sys.argv[1] if len(sys.argv) > 1 else FONT
    here = os.path.dirname(os.path.abspath(__file__))
    source_folder = os.path.join(here, "..", "..", "crates", "synth", "src")
    facts = [
        "//! What was measured of recorded tones, as the tests expect it. Written by assets-synth/timbre/measure.py; change that, not this.",
        "//!",
        "//! Source: as for the timbres' tables, FluidR3 GM; `figures.py` beside the script says how each figure is read.",
        "",
        "use super::Fact;",
        "use crate::Timbre;",
        "",
        "pub(super) static FACTS: &[Fact] = &[",
    ]
    lines = [
        "//! Measured timbres. Written by assets-synth/timbre/measure.py; change that, not this.",
        "//!",
        "//! Source: single notes of the General MIDI SoundFont FluidR3 GM (Frank Wen, MIT licence), rendered dry with fluidsynth at",
        f"//! velocities {', '.join(map(str, DYNAMICS))}. Only strengths, times and ratios are kept. Instruments without a table are derived: see `model`.",
        "",
        "use super::{Partial, Register, StruckRegister};",
        "",
    ]
    for name, program, notes in SUSTAINED:
        sounds = render(font, program, [(n, v) for n in notes for v in DYNAMICS])
        found = [sustained(sounds[3 * i : 3 * i + 3], hertz(n)) for i, n in enumerate(notes)]
        # a looped recording has lost its noise: no register has less than the instrument's middle one
        middle = float(np.median([f["noise"] for f in found]))
        lines.append(source(program, notes).format(", ".join(f"{1000 * f['rise']:.0f}" for f in found)))
        lines.append(f"pub(super) static {name}: &[Register] = &[")
        for note, f in zip(notes, found):
            spectra = [heard(s) for s in f["spectra"]]
            count = max(map(len, spectra))
            lines.append(f"Register {{ hz: {number(hertz(note), 3)}, noise: {number(max(f['noise'], middle), 4)}, settle: {number(f['settle'], 2)},")
            lines.append(f"burst: [{row(f['burst'], 4)}], burst_fall: {number(f['burst_fall'], 3)}, hiss: {number(round(f['hiss']), 1)},")
            lines.append(f"release: {number(f['release'], 3)},")
            lines.append(f"speaks: &[{', '.join(f'({number(b, 4)}, {number(e, 4)})' for b, e in f['rises'][:count])}],")
            lines.append(f"soft: &[{row(spectra[0], 5)}], medium: &[{row(spectra[1], 5)}], loud: &[{row(spectra[2], 5)}] }},")
            if note in three(notes):
                facts.append(fact(name, note, f))
            print(f"{name:13} {note:3} rise {1000 * f['rise']:4.0f} ms (miss {f['miss']:.0%}) noise {f['noise']:.4f} settle {f['settle']:.2f} release {f['release']:.3f} harmonics {count} burst {row(f['burst'], 3)} for {f['burst_fall']:.3f} s at {f['hiss']:.0f} Hz  "
                  + " ".join(f"{1000 * (b + e) / 2:.0f}" for b, e in f["rises"][:8]))
        lines.append("];\n")
    for name, program, notes in STRUCK:
        sounds = render(font, program, [(n, v) for n in notes for v in DYNAMICS])
        found = [struck(sounds[3 * i : 3 * i + 3], hertz(n)) for i, n in enumerate(notes)]
        lines.append(source(program, notes).format(", ".join(f"{1000 * f['rise']:.0f}" for f in found)))
        lines.append(f"pub(super) static {name}: &[StruckRegister] = &[")
        for note, f in zip(notes, found):
            inner = ", ".join(f"Partial {{ ratio: {number(r, 4)}, amplitudes: [{row(a, 4)}], fall: {number(t, 3)} }}" for r, a, t in f["partials"])
            lines.append(f"StruckRegister {{ hz: {number(hertz(note), 3)}, attacks: [{row(f['attacks'], 4)}], partials: &[{inner}] }},")
            print(f"{name:13} {note:3} rise {1000 * f['rise']:.0f} ms (miss {f['miss']:.0%}) attacks {row(f['attacks'], 4)} "
                  + "  ".join(f"{r:.2f}:{20 * np.log10(a[0]):.0f}/{20 * np.log10(a[2]):.0f}dB/{t:.1f}s" for r, a, t in f["partials"]))
        lines.append("];\n")
    facts.append("];\n")
    root = os.path.join(here, "..", "..")
    for path, text in (("timbre/tables.rs", lines), ("tests/likeness/facts.rs", facts)):
        target = os.path.join(source_folder, path)
        with open(target, "w") as file:
            file.write("\n".join(text))
        subprocess.run(["rustfmt", "--edition", "2024", "--config-path", root, target], check=True)


if __name__ == "__main__":
    main()
