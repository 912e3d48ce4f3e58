#!/usr/bin/env python3
"""Where the beat of a spoken clip lies, from its sound alone.

A word's beat (its perceptual attack, or p-centre) is not its first sample. From the synthesiser's phone times it follows
by Marcus's rule (1981), written as weights on the syllable's start, its vowel's onset and its end:

    p = 0.35 start + 0.40 vowel + 0.25 min(end, vowel + 0.30 s) - 0.020 s

This module takes the three boundaries from the sound instead, so it needs no phone times and serves recordings too:

  start   where the level (rms over 5 ms) first comes within 34 dB of the loudest
  end     where it last does within 30 dB
  vowel   the middle of the rise from 10 to 90 % of the rectified 500-2000 Hz band after a zero-phase low-pass at 10 Hz
          (Scott, S. K. (1993), "P-centres in speech: an acoustic analysis"; Cummins, F. and Port, R. (1998), "Rhythmic
          constraints on stress timing in English", Journal of Phonetics 26)

Marcus's coefficients are from memory; the band and the weights were chosen on 159 monosyllables of three synthetic
voices, where this agrees with the rule on true phone times with a standard deviation of 22 ms.

  attack.py [PACK ...]                    every clip of the packs: measured against the table
  attack.py --stem VOICE.wav --cues CUES.json [--pack PACK]
                                          where the words of a rendering have their beat, against where it should be

Exits 1 where an attack lies more than 5 ms off. Needs numpy, scipy and soundfile.
"""
import argparse
import json
import sys
from pathlib import Path

import numpy as np
import soundfile as sf
from scipy.signal import butter, sosfiltfilt

HERE = Path(__file__).resolve().parent
PACKS = HERE / "packs"
ALLOWED_MS = 5.0
BIAS = -0.020


def level(x, rate, ms=5.0):
    n = max(1, int(rate * ms / 1000))
    total = np.concatenate([[0.0], np.cumsum(x * x)])
    i = np.arange(len(x))
    a, b = np.maximum(i - n // 2, 0), np.minimum(i + n - n // 2, len(x))
    return np.sqrt(np.maximum(total[b] - total[a], 1e-20) / n)


def edges(x, rate):
    """(start, end) in samples."""
    e = level(x, rate)
    loudest = e.max()
    return (int(np.argmax(e > loudest * 10 ** (-34 / 20))),
            len(e) - int(np.argmax(e[::-1] > loudest * 10 ** (-30 / 20))))


def vowel_band(x, rate, slow=10.0):
    """The rectified vowel band after the low-pass at `slow` Hz, with a quarter of a second of silence on both sides."""
    pad = rate // 4
    y = np.concatenate([np.zeros(pad), x, np.zeros(pad)])
    band = np.abs(sosfiltfilt(butter(2, [500 / (rate / 2), 2000 / (rate / 2)], "band", output="sos"), y))
    return np.maximum(sosfiltfilt(butter(2, slow / (rate / 2), "low", output="sos"), band), 0), pad


def rise(envelope, low=0, high=None):
    """The middle of the first rise to a peak of at least half the greatest, looked for from `low` to `high`."""
    part = envelope[low:high]
    peak = int(np.argmax(part > 0.5 * part.max()))
    while peak + 1 < len(part) and part[peak + 1] >= part[peak]:
        peak += 1
    top = int(np.argmax(part[:peak + 1] >= 0.9 * part[peak]))
    below = np.flatnonzero(part[:top + 1] < 0.1 * part[peak])
    # between two syllables the band may not fall so far: the rise begins where it is lowest
    foot = int(below[-1]) if len(below) else int(np.argmin(part[:top + 1]))
    return low + (foot + top) / 2


def p_centre(x, rate, hint=None, later=False, scale=1.0):
    """(perceptual attack, vowel onset) in seconds.

    In a word of several syllables `hint`, in seconds, is about where the vowel that carries the beat begins; `later` says that
    it is not the word's first; `scale` is how much the clip was shortened.
    """
    x = np.asarray(x, dtype=float)
    start, end = edges(x, rate)
    # a word made shorter has its syllables closer by as much: the low-pass must still tell them apart
    envelope, pad = vowel_band(x, rate, 10.0 / scale if later else 10.0)
    if hint is None:
        vowel = rise(envelope) - pad
    else:
        low, high = (int((hint + away * scale) * rate) for away in (-0.10, 0.15))
        low, high = max(0, pad + low), pad + high
        if later:
            # from the dip before its own peak: the syllable before must not be taken for it
            near = max(0, pad + int((hint - 0.03 * scale) * rate))
            low = near + int(np.argmax(envelope[near:high]))
            while low > 0 and envelope[low - 1] < envelope[low]:
                low -= 1
            start = max(start, low - pad)
        vowel = rise(envelope, low, high) - pad
    start, end, vowel = start / rate, end / rate, vowel / rate
    return max(0.0, 0.35 * start + 0.40 * vowel + 0.25 * min(end, vowel + 0.30) + BIAS), vowel


# ------------------------------------------------------------------------------------------------ packs
def rows(path, columns):
    for line in path.read_text(encoding="utf-8").splitlines():
        if line.strip() and not line.startswith("#"):
            yield (line.split("\t") + [""] * columns)[:columns]


def words_of(language):
    """id -> (syllables, the one that carries the beat), from the word list of the language and its sounds."""
    english = dict(rows(HERE / "sounds.en.tsv", 2))
    out = {}
    for id, _, _, _, said, beat in rows(HERE / f"words.{language}.tsv", 6):
        sounds = " ".join(english.get(w, "") for w in said.split()) if language == "en" else said
        out[id] = max(1, sum(s[-1].isdigit() for s in sounds.split())), int(beat or 1)
    return out


def place(words, id, vowel, scale):
    """How `p_centre` is told which syllable is meant; a word of one needs no telling. `vowel` is in seconds."""
    syllables, beat = words.get(id, (1, 1))
    return dict(hint=vowel if syllables > 1 else None, later=beat > 1, scale=scale)


def measure_pack(pack):
    """[(name, group, table's attack, measured attack, origin)] in ms, for every clip."""
    words, natural, out = words_of(pack.name[:2]), {}, []
    for name, _, group, tier, length, attack, vowel, _, origin in rows(pack / "align.tsv", 9):
        id = name.split("~")[0]
        natural.setdefault(id, float(length))
        x, rate = sf.read(pack / "clips" / f"{name}.flac", dtype="float64")
        measured, _ = p_centre(x, rate, **place(words, id, float(vowel) / 1000, float(length) / natural[id]))
        out.append((name, group, float(attack), measured * 1000, origin))
    return out


def check_pack(pack):
    clips = measure_pack(pack)
    off = np.array([measured - attack for _, _, attack, measured, _ in clips])
    origins = {o: sum(c[4] == o for c in clips) for o in ("phones", "measured", "manual")}
    print(f"{pack.name}: {len(clips)} clips, measured less table: mean {off.mean():+.1f} ms, SD {off.std():.1f}, "
          f"worst {abs(off).max():.1f}; attacks from {origins}")
    # a person's ear is not overruled
    return [f"{pack.name} {name}: table {attack:.1f} ms, measured {measured:.1f}"
            for name, _, attack, measured, origin in clips if origin != "manual" and abs(measured - attack) > ALLOWED_MS]


# ------------------------------------------------------------------------------------------------ renderings
def check_rendering(stem, cues, pack):
    """Every word of a rendering by itself: its measured attack against the frame it was meant for."""
    voice, rate = sf.read(stem, dtype="float64")
    listing = json.loads(Path(cues).read_text(encoding="utf-8"))
    words = words_of(pack.name[:2])
    vowels = {r[0]: float(r[6]) / 1000 for r in rows(pack / "align.tsv", 9)}
    lengths = {r[0]: float(r[4]) / 1000 for r in rows(pack / "align.tsv", 9)}
    faults, off = [], []
    for sound in (s for s in listing["cues"] if s["kind"] == "word"):
        start, end, at, id = sound["start"], sound["end"], sound["at"], sound["word"]
        length = (end - start) / rate
        scale = min(1.0, length / lengths[id]) if id in lengths else 1.0
        measured, _ = p_centre(voice[start:end], rate, **place(words, id, vowels[id] * scale, scale))
        off.append((measured - (at - start) / rate) * 1000)
        if abs(off[-1]) > ALLOWED_MS:
            faults.append(f"{id} at {at / rate:.2f} s: {off[-1]:+.1f} ms")
    off = np.array(off)
    print(f"{len(off)} words: measured less meant: mean {off.mean():+.2f} ms, SD {off.std():.2f}, worst {abs(off).max():.2f}")
    return faults


def main():
    parser = argparse.ArgumentParser(description="Measure where the beat of spoken clips lies.")
    parser.add_argument("packs", nargs="*", help="packs to measure; all unless given")
    parser.add_argument("--stem", help="the voice's stem of a rendering")
    parser.add_argument("--cues", help="its list of sounds")
    parser.add_argument("--pack", default="en-slt", help="the pack that speaks in it")
    options = parser.parse_args()
    if options.stem:
        faults = check_rendering(options.stem, options.cues, PACKS / options.pack)
    else:
        names = options.packs or sorted(p.name for p in PACKS.iterdir())
        faults = [fault for name in names for fault in check_pack(PACKS / name)]
    for fault in faults:
        print(f"fault: {fault}", file=sys.stderr)
    return bool(faults)


if __name__ == "__main__":
    sys.exit(main())
