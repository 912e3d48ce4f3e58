#!/usr/bin/env python3
"""Compares the synthesiser's tones with the recordings they were measured from; ends with status 1 if a bound is broken.

For each measured instrument at its lowest, middle and highest measured note, soft and loud: log-spectral distance of the first twelve
harmonics (or all partials of a struck tone), centroid, and rise from 10 to 90 %, read by `figures` from both. Then a k-nearest
classifier on MFCC, trained on the notes of another SoundFont (TimGM6mb, GPL, Debian package timgm6mb-soundfont; only read, nothing of
it is kept), names the family of our tones and of the recorded ones.

Families are General MIDI's groups (pipe, reed, brass, strings, chromatic percussion; timpani with the last).

Needs: what measure.py needs; apt install timgm6mb-soundfont; pip install librosa scikit-learn; cargo on the path
Use:   python3 check.py
"""
import os
import subprocess
import sys
import warnings

import numpy as np

import figures
from figures import HARMONICS, RATE
from instruments import DYNAMICS, STRUCK, SUSTAINED, three
from measure import partial_amplitude, partials_of
from notes import FONT, HELD, SPACED, hertz, render

OTHER = "/usr/share/sounds/sf2/TimGM6mb.sf2"
STRENGTHS = {"soft": (DYNAMICS[0], 10 ** (-6 / 20)), "loud": (DYNAMICS[2], 10 ** (6 / 20))}
DISTANCE, CENTROID, RISE = 3.0, 0.08, 0.25  # bounds: dB, share, share
# timbres derived from a relative have no recording: (name, program of their family, notes)
DERIVED = [
    ("BASS_CLARINET", 71, [38, 46, 58]),
    ("CORNET", 56, [54, 62, 70]),
    ("FLUGELHORN", 56, [54, 62, 70]),
    ("BARITONE", 57, [43, 50, 58]),
    ("EUPHONIUM", 58, [43, 50, 58]),
]


def ours(asked):
    """Our sound of each (name, note, level), held as long as the recordings are."""
    lines = "".join(f"{name.lower()} {hertz(note)} {level} {HELD}\n" for name, note, level in asked)
    lines = lines.replace("_sax ", "_saxophone ")
    root = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..")
    command = ["cargo", "run", "--quiet", "-p", "synth", "--example", "tones"]
    sound = np.frombuffer(subprocess.run(command, input=lines.encode(), stdout=subprocess.PIPE, check=True, cwd=root).stdout, "<f4")
    return list(sound.astype(float).reshape(len(asked), -1))


def held_figures(x, nominal, clear=None):
    """Twelve amplitudes, centroid and rise; and which harmonics stand clear of the recording's noise: only these have a centroid."""
    steady = figures.part(x, *figures.STEADY)
    hz = figures.fundamental(steady, nominal)
    amplitudes, gaps = figures.harmonics(steady, hz, int(0.44 * RATE / nominal))
    if clear is None:
        clear = amplitudes[: len(gaps)] ** 2 > 4 * gaps
    amplitudes = np.pad(amplitudes, (0, 12))
    levels = figures.envelope(x, nominal)
    numbers = np.nonzero(clear)[0]
    centroid = figures.centroid(amplitudes[numbers], (numbers + 1) * hz)
    return amplitudes[:12], centroid, figures.rise(levels, figures.reached(levels)), clear


def struck_figures(x, nominal, ratios):
    hz = partials_of(x, nominal)[0] if ratios is None else nominal
    partials = partials_of(x, nominal) if ratios is None else nominal * ratios
    amplitudes = np.array([partial_amplitude(x, p) for p in partials])
    levels = figures.envelope(x, nominal)
    # the recording's own tuning counts for nothing
    return amplitudes, figures.centroid(amplitudes, partials / hz), figures.rise(levels, figures.struck_top(levels)), partials / hz


def compare():
    """Prints the table; the tones, and what broke its bound."""
    broken, tones = [], []
    rows = [(name, program, note, strength) for name, program, notes in SUSTAINED + STRUCK for note in three(notes) for strength in STRENGTHS]
    recorded = {}
    for name, program, notes in SUSTAINED + STRUCK:
        asked = [(note, STRENGTHS[s][0]) for note in three(notes) for s in STRENGTHS]
        for (note, velocity), sound in zip(asked, render(FONT, program, asked)):
            recorded[name, note, velocity] = sound
    sounds = ours([(name, note, STRENGTHS[s][1]) for name, _, note, s in rows])
    print("tone                        distance dB   centroid Hz (share off)   rise ms (share off)")
    for (name, program, note, strength), mine in zip(rows, sounds):
        theirs = recorded[name, note, STRENGTHS[strength][0]]
        slack = 0.0
        if any(name == other for other, _, _ in STRUCK):
            a, centroid, rise, ratios = struck_figures(theirs, hertz(note), None)
            b, my_centroid, my_rise, _ = struck_figures(mine, hertz(note), ratios)
            # no rise is read more finely than by a quarter of the window it is read through
            slack = max(0.010, 2 / hertz(note)) / 4
        else:
            a, centroid, rise, clear = held_figures(theirs, hertz(note))
            b, my_centroid, my_rise, _ = held_figures(mine, hertz(note), clear)
        distance = figures.spectral_distance(a, b)
        off, slow = my_centroid / centroid - 1, my_rise / rise - 1
        faults = [word for word, bad in (("distance", distance >= DISTANCE), ("centroid", abs(off) > CENTROID),
                                         ("rise", abs(slow) > RISE and abs(my_rise - rise) > slack)) if bad]
        print(f"{name:13} {note:3} {strength:5} {distance:8.2f} {centroid:14.1f} {my_centroid:8.1f} {off:+7.1%} {1000 * rise:10.1f} {1000 * my_rise:7.1f} {slow:+7.1%}  {' '.join(faults)}")
        broken += [f"{name} {note} {strength}: {fault}" for fault in faults]
        tones.append((program, theirs, mine))
    return tones, broken


def family(program):
    return "struck" if program < 16 or program == 47 else {5: "strings", 7: "brass", 8: "reed", 9: "pipe"}[program // 8]


def features(x):
    """MFCC without level: mean of the held part, mean of the first 0.11 s at half weight, and how far the level falls."""
    import librosa

    x = np.mean(figures.channels(x), axis=0)[: round(1.9 * RATE)]
    x = x / np.sqrt(np.mean(x**2) + 1e-20)
    mfcc = librosa.feature.mfcc(y=x, sr=RATE, n_mfcc=20, n_fft=2048, hop_length=480, n_mels=64, fmax=12_000)
    held, early, level = mfcc[1:13, 20:].mean(1), mfcc[1:13, 1:12].mean(1), mfcc[0]
    return np.concatenate([held, early / 2, [0.3 * (level[140:185].mean() - level[8:30].mean())]])


def classify(tones):
    """The shares of our and of the recorded tones whose family is named."""
    from sklearn.discriminant_analysis import LinearDiscriminantAnalysis
    from sklearn.neighbors import KNeighborsClassifier

    warnings.filterwarnings("ignore")
    learnt = []
    for _, program, notes in SUSTAINED + STRUCK:
        asked = [(note, velocity) for note in range(notes[0] - 2, notes[-1] + 3) for velocity in (45, 80, 112)]
        heard = zip(asked, render(OTHER, program, asked))
        learnt += [(program, features(sound)) for _, sound in heard if np.max(np.abs(sound)) > 1e-5]
    programs = [program for program, _ in learnt]
    # distances are taken where the other font's own instruments lie apart
    space = LinearDiscriminantAnalysis(solver="eigen", shrinkage=0.1).fit([f for _, f in learnt], programs)
    nearest = KNeighborsClassifier(5, weights="distance").fit(space.transform([f for _, f in learnt]), [family(p) for p in programs])
    name = lambda sounds: nearest.predict(space.transform([features(sound) for sound in sounds]))
    derived = [(name_, program, note, level) for name_, program, notes in DERIVED for note in notes for _, level in STRENGTHS.values()]
    derived_sounds = ours([(name_, note, level) for name_, _, note, level in derived])
    mine = name([mine for _, _, mine in tones] + derived_sounds)
    truth = [family(program) for program, _, _ in tones]
    mine_truth = truth + [family(program) for _, program, _, _ in derived]
    theirs = name([theirs for _, theirs, _ in tones])
    for kind in sorted(set(truth)):
        of = lambda named, true: np.mean([n == t for n, t in zip(named, true) if t == kind])
        print(f"  {kind:8} ours {of(mine, mine_truth):6.1%}   recorded {of(theirs, truth):6.1%}")
    wrong = sorted({f"{label} {note} named {n}" for n, t, (label, note) in zip(mine, mine_truth, labels(derived)) if n != t})
    print("  wrong: " + "; ".join(wrong))
    return np.mean(mine == np.array(mine_truth)), np.mean(theirs == np.array(truth))


def labels(derived):
    measured = [(name, note) for name, _, notes in SUSTAINED + STRUCK for note in three(notes) for _ in STRENGTHS]
    return measured + [(name, note) for name, _, note, _ in derived]


def main():
    tones, broken = compare()
    mine, theirs = classify(tones)
    print(f"families named: ours {mine:.1%}, recorded {theirs:.1%}")
    if mine < 0.9:
        broken.append("families: under 90 %")
    if mine < theirs - 0.05:
        broken.append("families: more than 5 points under the recorded tones")
    print("\n".join(["BROKEN:"] + broken) if broken else "all within bounds")
    sys.exit(1 if broken else 0)


if __name__ == "__main__":
    main()
