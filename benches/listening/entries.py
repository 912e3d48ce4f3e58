#!/usr/bin/env python3
"""Makes many sections of known entries, and fits what `listen::section::entries` goes by to them.

    python3 entries.py make --out FOLDER [--seed 21] [--kits 200] [--each 20] [--fonts fluid,tim]
    cargo run --release -p listen --example measure_section -- --features FOLDER > FEATURES
    python3 entries.py fit FEATURES,FEATURES > crates/listen/src/section/entries/weights.rs

A kit is a dozen players of one instrument on one fingering in one room; every section is drawn from a kit with other players, entries and
loudness, which is far quicker than a section of `clips.py` and gives the same truth. Seeds and fonts for tuning only.

The weights in the tree were fitted to 17 600 sections: seeds 23 and 24 of 240 kits, before the last widening of noise, breath and attacks
(8 to 32 dB, -40 to -28 dB, from 5 ms; waver 4 cents), and seeds 25 and 26 of 200 kits as made now. Needs what `clips.py` needs.
"""
import argparse
import json
import os
import sys

import numpy as np
import soundfile

import players
from players import RATE, hertz, in_room, pink, room_response

LEAD, SECONDS, KIT = 0.5, 1.6, 14
WOODWINDS = ["flute", "oboe", "clarinet_bb", "sax_alto", "bassoon"]


def kit(seed, i, fonts):
    """Players as they reach the microphone, each with the moment its tone begins."""
    rng = np.random.default_rng([seed, i, 11])
    brass = list(players.SERIES)
    instrument = brass[i % 4] if i % 3 else WOODWINDS[(i // 3) % 5]
    font = fonts[int(rng.integers(len(fonts)))]
    room, foreign, wander = float(rng.choice([0.0, 0.4, 0.7])), bool(rng.random() < 0.6), float(rng.choice([0.5, 4.0]))
    _, low, high = players.INSTRUMENTS[instrument]
    if instrument in players.SERIES:
        tube, partials = players.SERIES[instrument]
        fundamental = float(hertz(tube - int(rng.choice([0, 0, 1, 2, 3, 5]))))
        notes = [k * fundamental for k in partials]
    else:
        key = int(rng.integers(low, high - 4))
        notes = [float(hertz(key + step)) for step in (0, 2, 4)]
    favourite = int(rng.integers(len(notes)))
    chances = np.array([1.0 if n == favourite else 0.25 / abs(n - favourite) for n in range(len(notes))])
    made = []
    for choice in rng.choice(len(notes), size=KIT, p=chances / chances.sum()):
        frequency = notes[choice] * 2 ** (rng.normal(0, 12) / 1200)
        attack = float(rng.uniform(0, 0.08))
        y, truth = players.player(rng, font, instrument, frequency, SECONDS, velocity=int(rng.choice([60, 85, 110])),
                                  key_offset=int(rng.integers(-2, 3)), attack=attack, tilt=float(rng.normal(0, 1)), wander=wander,
                                  breath=float(rng.uniform(-60, -28)), tracked=False)
        t10 = truth["t10"]
        if foreign:
            y, t10 = spoken_anew(rng, y)
        if room > 0:
            y = in_room(y, room_response(rng, room, delay=float(rng.uniform(0.003, 0.015))))
        made.append((y, t10))
    return font, made


def spoken_anew(rng, y):
    """The note without its own beginning, with one drawn at random: as if of a font, or a player, that is in none of ours."""
    breath, skipped = int(0.05 * RATE), int(rng.uniform(0.03, 0.15) * RATE)
    tone = y[breath + skipped :].copy()
    rise = int(rng.choice([rng.uniform(0.002, 0.04), rng.uniform(0.02, 0.16)]) * RATE)
    tone[:rise] *= (np.arange(rise) / rise) ** float(np.exp(rng.uniform(np.log(0.4), np.log(3.0))))
    if rng.random() < 0.3:
        # spoken hard, then falling to what is held
        tone *= 1 + rng.uniform(0.2, 1.5) * np.exp(-np.arange(len(tone)) / (rng.uniform(0.02, 0.15) * RATE))
    y = np.concatenate([y[:breath], tone, np.zeros(skipped)])
    held = np.sqrt(np.mean(y[int(0.6 * RATE) : int(1.2 * RATE)] ** 2))
    level = np.sqrt(np.convolve(y**2, np.ones(240) / 240, "same"))
    return y, int(np.argmax(level > 0.1 * held)) / RATE


def make(options):
    os.makedirs(options.out, exist_ok=True)
    n = int((LEAD + SECONDS + 0.1) * RATE)
    with open(os.path.join(options.out, "truth.jsonl"), "w") as table:
        for i in range(options.kits):
            rng = np.random.default_rng([options.seed, i, 12])
            font, made = kit(options.seed, i, options.fonts)
            for j in range(options.each):
                heads = int(rng.integers(3, min(12, KIT) + 1))
                spread, late = float(np.exp(rng.uniform(np.log(0.006), np.log(0.11)))), float(rng.normal(0, 0.03))
                mix, entries = np.zeros(n), []
                for choice in rng.choice(len(made), size=heads, replace=False):
                    y, t10 = made[choice]
                    own = float(np.clip(late + rng.normal(0, spread), -0.2, 0.35))
                    start = int((LEAD + own) * RATE)
                    y = y[: n - start] * 10 ** (rng.uniform(-4, 4) / 20)
                    mix[start : start + len(y)] += y
                    entries.append(own + t10)
                level = np.std(mix[int((LEAD + 0.4) * RATE) : int((LEAD + 1.4) * RATE)])
                mix += pink(rng, n) * level * 10 ** (-float(rng.uniform(8, 45)) / 20)
                mix *= 0.1 / level * 10 ** (rng.uniform(-12, 6) / 20)
                name = f"kit_{options.seed}_{i:03d}_{j:02d}.wav"
                soundfile.write(os.path.join(options.out, name), np.clip(mix, -0.99, 0.99), RATE, subtype="PCM_16")
                truth = {"file": name, "kit": i, "font": font, "heads": heads, "lead": LEAD, "entry_mean": LEAD + float(np.mean(entries)),
                         "entry_sd": float(np.std(entries))}
                table.write(json.dumps(truth) + "\n")
    print(f"{options.kits * options.each} sections of {options.kits} kits of seed {options.seed} in {options.out}")


PENALTY = 300.0


def read(path):
    """Numbers, spread, mean entry after the middle of the rise, font."""
    numbers, spread, mean, fonts, missed = [], [], [], [], 0
    with open(path) as lines:
        for truth in map(json.loads, lines):
            if "numbers" not in truth:
                missed += 1
                continue
            numbers.append(truth["numbers"])
            spread.append(truth["entry_sd"])
            mean.append(truth["entry_mean"] - truth["middle"])
            fonts.append(truth["font"])
    print(f"{path}: {len(numbers)} sections, {missed} untold", file=sys.stderr)
    return np.array(numbers), np.array(spread), np.array(mean), np.array(fonts)


class Weights:
    """Numbers brought to their mean and deviation and bent at the ends, so that none outweighs the rest; then a ridge."""

    def __init__(self, numbers, spread, mean):
        self.middle, self.scale = numbers.mean(0), numbers.std(0) + 1e-9
        bent = self.bent(numbers)
        truth = np.c_[spread, mean]
        self.base = truth.mean(0)
        self.offset = bent.mean(0)
        bent = bent - self.offset
        self.weights = np.linalg.solve(bent.T @ bent + PENALTY * np.eye(bent.shape[1]), bent.T @ (truth - self.base))
        self.base = self.base - self.offset @ self.weights

    def bent(self, numbers):
        return 2 * np.tanh((numbers - self.middle) / self.scale / 2)

    def tell(self, numbers):
        told = self.bent(numbers) @ self.weights + self.base
        return np.maximum(told[:, 0], 0), told[:, 1]


def report(name, told, told_mean, spread, mean):
    tidy, ragged = told[spread <= 0.025], told[spread >= 0.05]
    apart = np.mean([[0.5 * (a == b) + (a < b) for b in ragged] for a in tidy])
    print(f"{name}: spread off by {1000 * np.abs(told - spread).mean():.1f} ms, tidy from ragged {apart:.3f}, "
          f"mean off by {1000 * np.abs(told_mean - mean).mean():.1f} ms", file=sys.stderr)


def fit(options):
    parts = [read(path) for path in options.features.split(",")]
    numbers, spread, mean, fonts = (np.concatenate([part[n] for part in parts]) for n in range(4))
    # each font told by what was learnt of the others: what is to be expected of one never heard
    told, told_mean = np.zeros(len(spread)), np.zeros(len(spread))
    for font in sorted(set(fonts)):
        here = fonts == font
        told[here], told_mean[here] = Weights(numbers[~here], spread[~here], mean[~here]).tell(numbers[here])
        report(f"{font} by the others", told[here], told_mean[here], spread[here], mean[here])
    # two in three lie within the doubt, which grows with what is told
    off = np.abs(told - spread)
    grows = np.polyfit(told, off, 1)
    grows = np.maximum(grows, 0) * np.quantile(off / np.maximum(np.polyval(grows, told), 0.002), 0.68)
    fitted = Weights(numbers, spread, mean)
    count, names = len(spread), ", ".join(sorted(set(fonts)))
    print(f"mean entry by the others: off by {1000 * np.sqrt(np.mean((told_mean - mean) ** 2)):.1f} ms rms", file=sys.stderr)
    if options.check:
        for path in options.check.split(","):
            numbers, spread, mean, _ = read(path)
            report(path, *fitted.tell(numbers), spread, mean)
    print("//! What the numbers weigh: written by `benches/listening/entries.py fit`, which tells how they were made.")
    print("//!")
    print(f"//! A ridge over {count} sections of the fonts {names}; times in seconds.\n")
    print("use super::curves::NUMBERS;\n")
    print("/// Mean and deviation of a number, and what it weighs for the spread and for the mean entry.")
    print("pub(super) type Weight = [f32; 4];\n")
    print("/// What is told of a section whose numbers all weigh nothing: its spread, and its mean entry after the middle of its rise.")
    print(f"pub(super) const BASE: [f64; 2] = [{fitted.base[0]:.6f}, {fitted.base[1]:.6f}];\n")
    print("/// The doubt of a spread: so much, and so much more of what is told.")
    print(f"pub(super) const DOUBT: [f64; 2] = [{grows[1]:.4f}, {grows[0]:.4f}];\n")
    print("#[rustfmt::skip]\npub(super) const WEIGHTS: [Weight; NUMBERS] = [")
    for middle, scale, weights in zip(fitted.middle, fitted.scale, fitted.weights):
        print(f"    [{middle:.5}, {scale:.5}, {weights[0]:.4e}, {weights[1]:.4e}],")
    print("];")


def main():
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("job", choices=["make", "fit"])
    asked.add_argument("features", nargs="?")
    asked.add_argument("--out")
    asked.add_argument("--seed", type=int, default=21)
    asked.add_argument("--kits", type=int, default=200)
    asked.add_argument("--each", type=int, default=20)
    asked.add_argument("--fonts", type=lambda text: text.split(","), default=["fluid", "tim"])
    asked.add_argument("--check", help="features on which to report besides")
    options = asked.parse_args()
    if options.job == "make":
        make(options)
    else:
        fit(options)


if __name__ == "__main__":
    main()
