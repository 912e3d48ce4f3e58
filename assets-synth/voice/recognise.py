#!/usr/bin/env python3
"""What machine recognisers understand of a pack, dry and in the engine's own mix, beside the raw synthesiser's.

  recognise.py [--engine PRECENTOR] [--pack en-slt] [--raw]

Two recognisers, each choosing one word of a closed list:
  PS    pocketsphinx with its US English model and a JSGF grammar of the list
  CTC   hama, a phoneme recogniser: the forward score of every word's phonemes

Must hold, for the better of the two (both are printed):
  counts whole, dry             100 %
  cues and section names, dry    95 %
  counts cut to 250 ms           95 %
  counts in the engine's mix     90 %   over a full drone, everything at its usual level, ducking on; needs --engine

--raw also measures the raw synthesiser (festival as it speaks, unshaped): dry, and over the drone as the engine plays it
where no word is said, at the loudness the engine gives its own words.
Counts are heard three times with different faint noise, so that one lucky guess counts little. Words that sound the same
(a flat ear cannot tell "bass" from "base") are one answer.

Exits 1 when one does not hold. Needs numpy, scipy, soundfile, pocketsphinx and hama from PyPI; --raw needs festival.
"""
import argparse
import itertools
import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

import hama
import numpy as np
import pocketsphinx
import soundfile as sf
from scipy.signal import resample_poly

import attack
import build_voice

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent.parent
HEARD = 16_000
COUNTS = "one two three four five six seven eight nine ten".split()
REPEATS = 3
MODEL = pocketsphinx.get_model_path()
# Spoken forms of the list that the recognisers' dictionary has under another spelling, or not at all.
SPELT = dict(lettera="a.", letterb="b.", letterc="c.", letterd="d.", lettere="e.", letterf="f.", letterg="g.")
LACKING = {
    "euphoniums": "Y UW F OW N IY AH M Z", "oboes": "OW B OW Z", "cornets": "K AO R N EH T S", "bassoons": "B AH S UW N Z",
    "piccolos": "P IH K AH L OW Z", "flugelhorns": "F L UW G AH L HH AO R N Z", "tubas": "T UW B AH Z",
    "glockenspiels": "G L AA K AH N S P IY L Z", "xylophones": "Z AY L AH F OW N Z", "marimbas": "M AH R IH M B AH Z",
    "vibraphones": "V AY B R AH F OW N Z", "timpani": "T IH M P AH N IY", "clarinets": "K L EH R AH N EH T S", "mallets": "M AE L AH T S", "woodwinds": "W UH D W IH N D Z",
}


def dictionary():
    words = {}
    for line in open(os.path.join(MODEL, "en-us/cmudict-en-us.dict"), encoding="utf-8"):
        word, *phones = line.split()
        words.setdefault(word.split("(")[0], []).append(phones)
    for word, phones in LACKING.items():
        words.setdefault(word, []).append(phones.split())
    return words


DICTIONARY = dictionary()


def heard(x, rate):
    """At the recognisers' rate and half of full scale."""
    common = np.gcd(rate, HEARD)
    y = resample_poly(x, HEARD // common, rate // common)
    return y / (np.abs(y).max() + 1e-9) * 0.5


class Sphinx:
    def __init__(self, words):
        self.ids = {}
        for id, text in words:
            self.ids.setdefault(text, id)
        spoken = sorted({w for text in self.ids for w in text.split()})
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "words.dict"
            lines = [f"{w}{'' if k == 0 else f'({k + 1})'} {' '.join(p)}\n" for w in spoken for k, p in enumerate(DICTIONARY[w])]
            path.write_text("".join(lines))
            self.decoder = pocketsphinx.Decoder(hmm=os.path.join(MODEL, "en-us/en-us"), dict=str(path), lm=None, loglevel="FATAL")
        grammar = "#JSGF V1.0;\ngrammar words;\npublic <word> = " + " | ".join(self.ids) + ";\n"
        self.decoder.add_jsgf_string("words", grammar)
        self.decoder.activate_search("words")

    def __call__(self, x, rate):
        self.decoder.start_utt()
        self.decoder.process_raw((heard(x, rate) * 32767).astype("<i2").tobytes(), no_search=False, full_utt=True)
        self.decoder.end_utt()
        found = self.decoder.hyp()
        return self.ids.get(found.hypstr) if found else None


# Phonemes of the dictionary as the second recogniser writes them; two where it may write either.
IPA = {k: v.split() for k, v in (pair.split(":") for pair in (
    "AA:ɑ AE:æ AH:ʌ,ə AO:ɔ AW:aʊ AY:aɪ B:b CH:t͡ʃ D:d DH:ð EH:ɛ ER:ɝ,ɚ EY:eɪ F:f G:ɡ HH:h IH:ɪ IY:i JH:d͡ʒ K:k L:l M:m N:n NG:ŋ "
    "OW:oʊ OY:ɔɪ P:p R:ɹ S:s SH:ʃ T:t TH:θ UH:ʊ UW:u V:v W:w Y:j Z:z ZH:ʒ").replace(",", "\u00a0").split(" "))}
IPA = {k: v[0].split("\u00a0") for k, v in IPA.items()}


class Forward:
    model = None

    def __init__(self, words):
        Forward.model = Forward.model or hama.ASRModel()
        token = {t: i for i, t in enumerate(self.model.decoder_tokens)}
        self.blank, self.between = self.model.blank_id, token["<wb>"]
        rows, self.ids = [], []
        for id, text in words:
            ways = set()
            for said in itertools.islice(itertools.product(*[DICTIONARY[w] for w in text.split()]), 6):
                for ah, er, apart in itertools.product((0, 1), (0, 1), (0, 1)):
                    row = []
                    for k, phones in enumerate(said):
                        row += [self.between] if k and apart else []
                        row += [token[IPA[p][min(len(IPA[p]) - 1, ah if p == "AH" else er)]] for p in phones]
                    ways.add(tuple(row))
            rows += sorted(ways)
            self.ids += [id] * len(ways)
        self.lengths = np.array([2 * len(r) + 1 for r in rows])
        self.labels = np.full((len(rows), self.lengths.max()), self.blank)
        for k, row in enumerate(rows):
            self.labels[k, 1:2 * len(row):2] = row
        self.skips = np.zeros(self.labels.shape, bool)
        self.skips[:, 2:] = (self.labels[:, 2:] != self.blank) & (self.labels[:, 2:] != self.labels[:, :-2])

    def chances(self, x, rate):
        y = heard(x, rate).astype(np.float32)
        m = self.model
        scores, length = m.session.run(
            [m._log_probs_output_name, m._out_lengths_output_name],
            {m._waveform_input_name: y.reshape(1, -1), m._waveform_lengths_input_name: np.array([len(y)], np.int64)})
        out = np.asarray(scores[0][:int(np.asarray(length).reshape(-1)[0])], float)
        out -= np.logaddexp.reduce(out, 1, keepdims=True)
        out[:, self.blank] = np.logaddexp(out[:, self.blank], out[:, self.between])  # at the edges a boundary is nothing
        return out

    def __call__(self, x, rate):
        chances, never = self.chances(x, rate), -1e30
        n, width = self.labels.shape
        a = np.full((n, width), never)
        a[:, 0], a[:, 1] = chances[0, self.blank], chances[0, self.labels[:, 1]]
        for frame in chances[1:]:
            b = a.copy()
            b[:, 1:] = np.logaddexp(b[:, 1:], a[:, :-1])
            b[:, 2:] = np.logaddexp(b[:, 2:], np.where(self.skips[:, 2:], a[:, :-2], never))
            a = b + frame[self.labels]
        row = np.arange(n)
        return self.ids[int(np.argmax(np.logaddexp(a[row, self.lengths - 1], a[row, self.lengths - 2])))]


def surrounded(x, rate, seed):
    """With 0.3 s around it and noise 54 dB below its peak."""
    y = np.concatenate([np.zeros(int(0.3 * rate)), x, np.zeros(int(0.3 * rate))])
    return y + np.random.default_rng(seed).standard_normal(len(y)) * 2e-3 * np.abs(x).max()


class Score:
    """Hears words with both recognisers and counts what they get right."""

    def __init__(self, texts):
        self.texts = texts
        self.ears = {}

    def run(self, what, clips, ids, must=None, dry=True):
        """clips: [(id, samples, rate)], chosen among `ids`."""
        key = tuple(ids)
        if key not in self.ears:
            words = [(id, self.texts[id]) for id in ids]
            self.ears[key] = {"PS": Sphinx(words), "CTC": Forward(words)}
        shown, best = [], 0.0
        for name, ear in self.ears[key].items():
            wrong, right, total = [], 0, 0
            for id, x, rate in clips:
                for seed in range(REPEATS if dry and len(ids) <= 10 else 1):
                    answer = ear(surrounded(x, rate, seed) if dry else x, rate)
                    good = answer is not None and self.texts[answer] == self.texts[id]
                    right, total = right + good, total + 1
                    if not good:
                        wrong.append(f"{id}>{answer}")
            share = 100 * right / max(total, 1)
            best = max(best, share)
            shown.append(f"{name} {share:5.1f} %" + (f" ({', '.join(dict.fromkeys(wrong))})" if wrong else ""))
        holds = must is None or best >= must - 1e-9
        limit = "" if must is None else f"   must {must} %: {'holds' if holds else 'MISSES'}"
        print(f"{what:34} {'; '.join(shown)}{limit}", flush=True)
        return [] if holds else [f"{what}: best {best:.1f} %, must be {must} %"]


def clip_of(pack, id, tier=""):
    """The clip of a tier, or the word's own where it is short enough."""
    path = pack / "clips" / f"{id}{tier}.flac"
    x, rate = sf.read(path if path.exists() else pack / "clips" / f"{id}.flac", dtype="float64")
    return id, x, rate


DRILL = """\
version = 1
title = "Counting"
tempo = {tempo}
meter = "{meter}"
rounds = 6
click = false
groups = [["all"]]
[line]
all = {{ concert = "-:{beats}" }}
[[turn]]
count = {{ bars = 1 }}
[[turn]]
echo = {{}}
"""
ROOM = """\
version = 1
name = "A full drone"
{voice}
drone = {{ concert = "Bb3", stack = ["root", "fifth", "octave", "lower octave"] }}
[[section]]
name = "Horns"
instrument = "horn in F"
seats = 3
"""


def counting(engine, pack, tempo, meter, beats):
    """A drill that counts over a full drone: [(id, where the mix speaks it, rate)], the stems of drone and voice, the words."""
    with tempfile.TemporaryDirectory() as folder:
        folder = Path(folder)
        (folder / "drill.toml").write_text(DRILL.format(tempo=tempo, meter=meter, beats=beats))
        (folder / "room.toml").write_text(ROOM.format(voice=f'voice = "{pack.name}"' if pack.name != "en-slt" else ""))
        command = [engine, "render", folder / "drill.toml", "--room", folder / "room.toml", "-o", folder / "mix.wav",
                   "--cues", folder / "cues.json", "--stems", folder / "stems", "--drone", "Bb3"]
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
        mix, rate = sf.read(folder / "mix.wav", dtype="float64")
        stems = {p.stem: sf.read(p, dtype="float64")[0] for p in (folder / "stems").glob("*.wav")}
        sounds = json.loads((folder / "cues.json").read_text())["cues"]
    mix = mix.mean(axis=1)
    words = [s for s in sounds if s["kind"] == "word" and s["word"] in COUNTS]
    # the room fills with the drone first: the first two bars are not judged
    words = [w for w in words if w["start"] > 4 * rate]
    cut = [(w["word"], mix[max(0, w["start"] - rate // 10):w["end"] + rate // 10], rate) for w in words]
    drone = next(x for name, x in stems.items() if "drone" in name)
    voice = next(x for name, x in stems.items() if "voice" in name)
    return cut, drone, voice, words, rate


def level_while(x, spans):
    return 10 * np.log10(np.mean(np.concatenate([x[a:b] for a, b in spans]) ** 2) + 1e-20)


def in_the_mix(score, engine, pack):
    clips, words, drone, voice, rate = [], [], None, None, 0
    # twelve beats say all ten counts; what is over is left out
    for tempo, meter, beats in ((72, "12/8 in 12", 12), (72, "6/4", 6), (108, "12/8 in 12", 12)):
        cut, drone, voice, words, rate = counting(engine, pack, tempo, meter, beats)
        spans = [(w["start"], w["end"]) for w in words]
        print(f"  {meter} at {tempo}: voice {level_while(voice, spans):.1f} dB, drone under it {level_while(drone, spans):.1f} dB (stems, rms)")
        clips += cut
    return score.run("counts in the engine's mix", clips, COUNTS, must=90, dry=False), drone, voice, words, rate


def raw_words(words):
    """The synthesiser's own sound, trimmed and nothing else."""
    lines = [(w.say, 1.0) for w in words]
    out = {}
    for word, (x, _) in zip(words, build_voice.speak(lines)):
        first, last = build_voice.edges(x)
        out[word.id] = x[max(0, first - build_voice.samples(5)):last + build_voice.samples(12)]
    return out


def main():
    parser = argparse.ArgumentParser(description="What machine recognisers understand of a pack.")
    parser.add_argument("--engine", help="the precentor program, for the mix")
    parser.add_argument("--pack", default="en-slt")
    parser.add_argument("--raw", action="store_true", help="the raw synthesiser too")
    options = parser.parse_args()
    pack = attack.PACKS / options.pack
    words = [w for w in build_voice.word_list("en") if all(SPELT.get(s, s) in DICTIONARY for s in w.say.lower().split())]
    texts = {w.id: " ".join(SPELT.get(s, s) for s in w.say.lower().split()) for w in words}
    named = [w.id for w in words if w.group in ("cue", "section")]
    skipped = [w.id for w in build_voice.word_list("en") if w.group in ("cue", "section") and w.id not in texts]
    if skipped:
        print(f"not in the recognisers' dictionary, not judged: {', '.join(skipped)}")
    score, faults = Score(texts), []
    print(f"{pack.name}, shaped:")
    faults += score.run("counts whole, dry", [clip_of(pack, id) for id in COUNTS], COUNTS, must=100)
    faults += score.run("counts cut to 250 ms", [clip_of(pack, id, "~q") for id in COUNTS], COUNTS, must=95)
    faults += score.run("cues and sections, dry", [clip_of(pack, id) for id in named], named, must=95)
    score.run("counts cut to 180 ms", [clip_of(pack, id, "~t") for id in COUNTS], COUNTS)
    drone = None
    if options.engine:
        missed, drone, voice, spoken, rate = in_the_mix(score, options.engine, pack)
        faults += missed
    if options.raw:
        print("raw synthesiser (festival, unshaped):")
        raw = raw_words(words)
        fast = {id: build_voice.compress(raw[id], build_voice.samples(250)) if len(raw[id]) > build_voice.samples(250) else raw[id] for id in COUNTS}
        score.run("counts whole, dry", [(id, raw[id], build_voice.RATE) for id in COUNTS], COUNTS)
        score.run("counts cut to 250 ms", [(id, fast[id], build_voice.RATE) for id in COUNTS], COUNTS)
        score.run("cues and sections, dry", [(id, raw[id], build_voice.RATE) for id in named], named)
        if drone is not None:
            # the drone as it is where no word is said, and the raw word at the level the engine's own word has
            spans = [(w["start"], w["end"]) for w in spoken]
            level = level_while(voice, spans)
            # two seconds where it is loudest: no word dims it there
            starts = range(0, len(drone) - 2 * rate, rate // 10)
            at = max(starts, key=lambda start: np.sum(drone[start:start + 2 * rate] ** 2))
            bed = drone[at:at + 2 * rate]
            print(f"  raw words at {level:.1f} dB, drone at {level_while(bed, [(0, len(bed))]):.1f} dB")
            common = np.gcd(build_voice.RATE, rate)
            mixed = []
            for id in COUNTS:
                x = resample_poly(raw[id], rate // common, build_voice.RATE // common)
                x = x * 10 ** ((level - level_while(x, [(0, len(x))])) / 20)
                y = bed[:len(x) + rate // 5].copy()
                y[rate // 10:rate // 10 + len(x)] += x
                mixed.append((id, y, rate))
            score.run("counts over the undimmed drone", mixed, COUNTS, dry=False)
    for fault in faults:
        print(f"fault: {fault}", file=sys.stderr)
    return bool(faults)


if __name__ == "__main__":
    sys.exit(main())
