#!/usr/bin/env python3
"""Render the spoken clips of the packs from their word lists. Same tools, same PCM, on every run.

  build_voice.py [PACK ...]             render the packs (all unless named)
  build_voice.py --check [PACK ...]     render again beside them and compare every table and every sample
  build_voice.py --report [PACK ...]    print how the committed clips fit the beat, their peaks and their silences

en-slt needs Debian's festival and festvox-us-slt-hts; es-formant and fr-formant need cargo, for the project's own
synthesiser. All need numpy, scipy and soundfile from PyPI.

One clip's way: festival speaks it -> 24 kHz -> trimmed -> (shorter tiers by time compression) -> shaped to be heard over
held chords -> levelled -> 16-bit FLAC. The project's synthesiser trims and shapes by itself. Then the clip's perceptual
attack is measured from its sound (attack.py); where that is more than CORRECT_MS from the phone times', it goes into
align.tsv instead, marked so. A line of align.tsv that ends in "manual" keeps its attack.
"""
import argparse
import hashlib
import subprocess
import sys
import tempfile
from collections import namedtuple
from pathlib import Path

import numpy as np
import soundfile as sf
from scipy.ndimage import minimum_filter1d
from scipy.signal import butter, lfilter, resample_poly, sosfilt

import attack

HERE = Path(__file__).resolve().parent
PACKS = HERE / "packs"
ROOT = HERE.parent.parent
RATE = 24_000

# Longest clip of each short tier, in ms; F is the natural length.
TIER_MS = {"Q": 250, "T": 180, "S": 120}
TIER_NAME = {"F": "natural", "Q": "quick", "T": "tight", "S": "syllable"}

PRESENCE_DB = 14.0     # shelf above PRESENCE_HZ: what this voice needs to stay clear of held chords
PRESENCE_HZ = 1_500.0
HIGH_PASS_HZ = 190.0   # leave the drone's register to the drone
LEVEL_DBFS = -18.0     # rms while speaking
PEAK = 0.87            # true peak: other interpolators find up to 0.2 dB more, and -1 dBFS is the bound
PEAK_ALLOWED = 0.891   # -1 dBFS
LEVEL_ALLOWED_DB = 1.5
SILENCE_ALLOWED_MS = 25.0
FADE_TOO_LOUD_DB = -50.0

CORRECT_MS = 2.5       # half of what an attack may be off

PACK_TOML = f"""\
name = "{{name}}"
language = "{{language}}"
voice = "{{voice}}"
sample_rate = {RATE}
licence = "{{licence}}"
source = "{{source}}"
# Added to every perceptual attack below; raise it to make all words sound earlier.
p_centre_bias_ms = 0.0
"""
OWN = dict(
    voice="a robot's: please record your own",
    licence="the project's own",
    source="the project's formant synthesiser, engine::speech::formant",
)
ABOUT = {
    "en-slt": dict(
        language="en",
        voice="slt",
        licence="CMU (EST-2003): any purpose, keep the notice",
        source="festival 2.5.0 with festvox-us-slt-hts 0.2010.10.25 (Debian)",
    ),
    "es-formant": dict(language="es", **OWN),
    "fr-formant": dict(language="fr", **OWN),
}

Word = namedtuple("Word", "id text group tiers say beat")
Phone = namedtuple("Phone", "name start end")                       # seconds
Clip = namedtuple("Clip", "name text group tier pcm attack vowel scale")  # seconds from the clip's start


# ------------------------------------------------------------------------------------------------ word list
rows = attack.rows


def word_list(language):
    words = [
        Word(id, text, group, tiers, say or text, int(beat or 1))
        for id, text, group, tiers, say, beat in rows(HERE / f"words.{language}.tsv", 6)
    ]
    twice = {w.id for w in words if sum(v.id == w.id for v in words) > 1}
    if twice:
        sys.exit(f"words.{language}.tsv: ids listed twice: {sorted(twice)}")
    return words


def picks(words):
    """id -> (punctuation, rate), for words that came out clearer that way."""
    table = {id: (punctuation, float(rate)) for id, punctuation, rate in rows(HERE / "picks.en.slt.tsv", 3)}
    unknown = table.keys() - {w.id for w in words}
    if unknown:
        sys.exit(f"picks.en.slt.tsv: ids not in words.en.tsv: {sorted(unknown)}")
    return table


# ------------------------------------------------------------------------------------------------ synthesis
def speak(lines):
    """[(text, rate)] -> [(samples at RATE, phones)], all in one run of festival."""
    with tempfile.TemporaryDirectory() as folder:
        script = ["(voice_cmu_us_slt_arctic_hts)", f'(load "{HERE / "lex.en.scm"}")']
        for k, (text, rate) in enumerate(lines):
            # This voice ignores Duration_Stretch; its engine takes the speech rate as option -r.
            script += [
                f'(set! hts_engine_params (append (list (list "-r" {rate:.3f}))'
                " cmu_us_slt_arctic_hts::hts_engine_params))",
                f'(set! u (utt.synth (Utterance Text "{text}")))',
                f"(utt.save.wave u \"{folder}/{k}.wav\" 'riff)",
                f'(utt.save.segs u "{folder}/{k}.seg")',
            ]
        path = Path(folder) / "speak.scm"
        path.write_text("\n".join(script) + "\n", encoding="utf-8")
        subprocess.run(["festival", "-b", path], check=True, stdout=subprocess.DEVNULL)
        return [(load(f"{folder}/{k}.wav"), phones(Path(f"{folder}/{k}.seg"))) for k in range(len(lines))]


def load(path):
    x, rate = sf.read(path, dtype="float64")
    common = np.gcd(rate, RATE)
    return resample_poly(x, RATE // common, rate // common)


def phones(path):
    """The synthesiser's own phone times: an x-label file gives each phone's end."""
    out, start = [], 0.0
    for line in path.read_text().splitlines():
        fields = line.split()
        if len(fields) == 3 and fields[0][0].isdigit():
            if fields[2] not in ("pau", "#", "h#"):
                out.append(Phone(fields[2], start, float(fields[0])))
            start = float(fields[0])
    return out


# ------------------------------------------------------------------------------------------------ signal
def samples(ms):
    return int(RATE * ms / 1000)


def envelope(x, ms):
    """Running rms over a window of `ms`."""
    n = max(1, samples(ms))
    total = np.concatenate([[0.0], np.cumsum(x * x)])
    i = np.arange(len(x))
    a, b = np.maximum(i - n // 2, 0), np.minimum(i + n - n // 2, len(x))
    return np.sqrt(np.maximum(total[b] - total[a], 1e-20) / n)


def edges(x, db=-34.0):
    """First sample, and one past the last, whose 5 ms level is within `db` of the loudest."""
    e = envelope(x, 5.0)
    loud = np.flatnonzero(e > e.max() * 10 ** (db / 20))
    return int(loud[0]), int(loud[-1]) + 1


def fade(x, in_ms, out_ms):
    n, m = min(len(x) // 4, samples(in_ms)), min(len(x) // 4, samples(out_ms))
    y = x.copy()
    y[:n] *= np.linspace(0, 1, n)
    y[-m:] *= np.cos(np.linspace(0, np.pi / 2, m)) ** 2
    return y


def equalise(x):
    """High-pass below the voice, then a shelf (slope 1, audio EQ cookbook form) that lifts the consonants."""
    y = sosfilt(butter(2, HIGH_PASS_HZ / (RATE / 2), "high", output="sos"), x)
    gain = 10 ** (PRESENCE_DB / 40)
    w = 2 * np.pi * PRESENCE_HZ / RATE
    c, q = np.cos(w), 2 * np.sqrt(gain) * np.sin(w) / 2 * np.sqrt(2)
    b = [gain * ((gain + 1) + (gain - 1) * c + q), -2 * gain * ((gain - 1) + (gain + 1) * c),
         gain * ((gain + 1) + (gain - 1) * c - q)]
    a = [(gain + 1) - (gain - 1) * c + q, 2 * ((gain - 1) - (gain + 1) * c), (gain + 1) - (gain - 1) * c - q]
    return lfilter(np.array(b) / a[0], np.array(a) / a[0], y)


def shape(x):
    """Equalise and halve the range of levels, so that soft consonants survive under held chords."""
    y = equalise(x)
    e = envelope(y, 15.0)
    return y * np.minimum((e / e.max() + 1e-3) ** -0.5, 6.0)


def speaking_level(x):
    """Rms in dBFS where the word is within 20 dB of its loudest 20 ms."""
    e = envelope(x, 20.0)
    return 10 * np.log10(np.mean(x[e > e.max() * 0.1] ** 2))


def level(x):
    return x * 10 ** ((LEVEL_DBFS - speaking_level(x)) / 20)


def true_peaks(x):
    """The largest magnitude between each sample and the next, seen at four times the rate."""
    return np.abs(resample_poly(x, 4, 1)).reshape(-1, 4).max(axis=1)


def limit(x):
    """Duck the spikes of d, g and l bursts for a few ms, so that they do not hold the whole word down."""
    reach = samples(2)
    window = np.hanning(2 * reach + 3)[1:-1]
    for _ in range(3):  # ducking bends the wave: what sticks out again goes next time
        wanted = np.minimum(1.0, PEAK / np.maximum(true_peaks(x), 1e-9))
        # The least gain over the window's reach, smoothed by that window, is never over the gain wanted.
        ducked = np.pad(minimum_filter1d(wanted, 2 * reach + 1), reach, mode="edge")
        x = x * np.convolve(ducked, window / window.sum(), "valid")
    return x


def compress(x, length):
    """Shorten to `length` samples, pitch kept (WSOLA: overlapped windows of 22 ms, best match within 6 ms)."""
    window = samples(22) // 2 * 2
    hop, search = window // 2, samples(6)
    taper = np.hanning(window + 1)[:window]
    pad = window + search
    xp = np.concatenate([np.zeros(pad), x, np.zeros(2 * pad)])
    y, weight = np.zeros(length + 2 * window), np.zeros(length + 2 * window)
    ratio, chosen = length / len(x), None
    for k in range((length + hop) // hop + 1):
        at = (k - 1) * hop
        best = want = min(int(round(at / ratio)) if at > 0 else at, len(x))
        if chosen is not None:
            follow = xp[pad + chosen + hop:pad + chosen + hop + window]
            low, high = max(-pad, want - search), min(len(x) + window, want + search)
            area = xp[pad + low:pad + high + window]
            power = np.convolve(area * area, np.ones(window), "valid")
            match = np.correlate(area, follow, "valid") / np.sqrt(np.maximum(power, 1e-9))
            best = low + int(np.argmax(np.round(match, 9)))  # rounded: the last bit must not choose
        y[k * hop:k * hop + window] += taper * xp[pad + best:pad + best + window]
        weight[k * hop:k * hop + window] += taper
        chosen = best
    return fade(y[hop:hop + length] / np.maximum(weight[hop:hop + length], 1e-3), 2, 10)


# ------------------------------------------------------------------------------------------------ the beat
VOWELS = frozenset("aa ae ah ao aw ax axr ay eh el em en er ey ih iy ow oy uh uw".split())
BIAS = -0.020


def p_centre(spoken, beat):
    """(perceptual attack, vowel onset) of the syllable `beat`, in seconds.

    Marcus, S. M. (1981), "Acoustic determinants of perceptual center (P-center) location", Perception &
    Psychophysics 30: 0.65 of the onset consonants plus 0.25 of the rest; coefficients from memory. Written as
    weights on the three boundaries. The rest is capped at 0.30 s. BIAS is this pack's choice: it puts the beat
    about on the vowel's onset, and moves all words alike.
    """
    vowels = [k for k, phone in enumerate(spoken) if phone.name in VOWELS]
    k = vowels[min(beat, len(vowels)) - 1]
    before = [v for v in vowels if v < k]
    start = max(0.0, spoken[before[-1] + 1].start if before else spoken[0].start)
    vowel = max(0.0, spoken[k].start)
    end = min(spoken[-1].end, vowel + 0.30)
    return max(0.0, 0.35 * start + 0.40 * vowel + 0.25 * end + BIAS), vowel


# ------------------------------------------------------------------------------------------------ the pack
def shorter(natural, tier):
    """The clip of a short tier; nothing if the word is short enough as it is."""
    length = samples(TIER_MS[tier])
    return compress(natural, length) if len(natural) > length else None


def name_of(word, tier):
    return word.id if tier == "F" else f"{word.id}~{tier.lower()}"


def pcm_of(x):
    return np.round(x * 32767).astype("<i2")


def festival_clips():
    words = word_list("en")
    picked = picks(words)
    lines = []
    for w in words:
        punctuation, rate = picked.get(w.id, ("", 1.0))
        lines.append((w.say + punctuation, rate))
    for word, (raw, spoken) in zip(words, speak(lines)):
        # The head is judged after equalising, or soft f, th and h are cut; the tail before, or breath is kept.
        first = max(0, edges(equalise(raw))[0] - samples(5))
        last = min(len(raw), edges(raw)[1] + samples(12))
        natural = fade(raw[first:last], 3, 12)
        for tier in "F" + word.tiers:
            x = natural if tier == "F" else shorter(natural, tier)
            if x is None:
                continue
            k = len(x) / len(natural)
            times = [Phone(p.name, (p.start - first / RATE) * k, (p.end - first / RATE) * k) for p in spoken]
            at, vowel = p_centre(times, word.beat)
            y = fade(limit(level(shape(x))), 1, 5)  # the compressor has lifted both ends
            yield Clip(name_of(word, tier), word.text, word.group, tier, pcm_of(y), at, vowel, k)


def formant_clips(language):
    """The project's own synthesiser has trimmed, shaped and levelled what it says."""
    words = {w.id: w for w in word_list(language)}
    with tempfile.TemporaryDirectory() as folder:
        command = ["cargo", "run", "-q", "-p", "engine", "--example", "formant", "--", language, folder]
        subprocess.run(command, check=True, cwd=ROOT)
        for id, at, vowel in rows(Path(folder) / "table.tsv", 3):
            word, natural = words[id], sf.read(f"{folder}/{id}.wav", dtype="float64")[0]
            for tier in "F" + word.tiers:
                x = natural if tier == "F" else shorter(natural, tier)
                if x is None:
                    continue
                k = len(x) / len(natural)
                y = fade(limit(level(x)), 1, 5)
                times = float(at) / 1000 * k, float(vowel) / 1000 * k
                yield Clip(name_of(word, tier), word.text, word.group, tier, pcm_of(y), *times, k)


def render(name):
    return festival_clips() if name == "en-slt" else formant_clips(ABOUT[name]["language"])


def attack_of(clip, words):
    """(perceptual attack in ms, where it comes from)."""
    place = attack.place(words, clip.name.split("~")[0], clip.vowel, clip.scale)
    measured, _ = attack.p_centre(clip.pcm / 32768.0, RATE, **place)
    if abs(measured - clip.attack) * 1000 > CORRECT_MS:
        return measured * 1000, "measured"
    return clip.attack * 1000, "phones"


def by_hand(name):
    """clip -> perceptual attack in ms, of the committed table's lines that a person has set."""
    table = PACKS / name / "align.tsv"
    return {r[0]: float(r[5]) for r in rows(table, 9) if r[8] == "manual"} if table.exists() else {}


def digest(pcm):
    return hashlib.sha256(pcm.astype("<i2").tobytes()).hexdigest()


def build(name, out):
    folder = out / "clips"
    folder.mkdir(parents=True, exist_ok=True)
    for old in folder.glob("*.flac"):
        old.unlink()
    manual, words = by_hand(name), attack.words_of(ABOUT[name]["language"])
    table, sums = ["# id\ttext\tgroup\ttier\tdur_ms\tp_centre_ms\tvowel_ms\ttail_ms\torigin"], []
    for c in render(name):
        sf.write(folder / f"{c.name}.flac", c.pcm, RATE, format="FLAC", subtype="PCM_16", compression_level=1.0)
        ms = len(c.pcm) / RATE * 1000
        at, origin = (manual[c.name], "manual") if c.name in manual else attack_of(c, words)
        numbers = (f"{v:.1f}" for v in (ms, at, c.vowel * 1000, ms - at))
        table.append("\t".join((c.name, c.text, c.group, c.tier, *numbers, origin)))
        sums.append(f"{digest(c.pcm)}  clips/{c.name}.flac")
    (out / "align.tsv").write_text("\n".join(table) + "\n", encoding="utf-8")
    (out / "SHA256SUMS.pcm").write_text("\n".join(sums) + "\n", encoding="utf-8")
    (out / "pack.toml").write_text(PACK_TOML.format(name=name, **ABOUT[name]), encoding="utf-8")


def committed(name):
    """name -> PCM of every clip in the pack."""
    return {p.stem: sf.read(p, dtype="int16")[0] for p in sorted((PACKS / name / "clips").glob("*.flac"))}


def check(pack):
    """Render again; every table must be the same text and every clip the same samples."""
    faults = []
    with tempfile.TemporaryDirectory() as folder:
        again = Path(folder)
        build(pack, again)
        for name in ("align.tsv", "SHA256SUMS.pcm", "pack.toml"):
            if (PACKS / pack / name).read_text(encoding="utf-8") != (again / name).read_text(encoding="utf-8"):
                faults.append(f"{pack}/{name} differs")
        pcm = committed(pack)
        sums = dict(reversed(line.split("  ")) for line in (again / "SHA256SUMS.pcm").read_text().splitlines())
        fresh = {Path(path).stem: value for path, value in sums.items()}
        faults += [f"{name}: only on one side" for name in sorted(pcm.keys() ^ fresh.keys())]
        faults += [f"{name}: samples differ" for name in sorted(pcm.keys() & fresh.keys()) if digest(pcm[name]) != fresh[name]]
    print(f"{pack}: {len(pcm)} clips rendered again, {len(faults)} faults")
    return faults


def report(pack):
    """What the committed clips measure; returns what breaks a limit."""
    pcm, faults = committed(pack), []
    size = sum(p.stat().st_size for p in (PACKS / pack / "clips").glob("*.flac"))
    print(f"{pack}: {len(pcm)} clips, {sum(map(len, pcm.values())) / RATE:.1f} s, {size / 1e6:.2f} MB")

    peaks = {name: true_peaks(x / 32768.0).max() for name, x in pcm.items()}
    loudest = max(peaks, key=peaks.get)
    print(f"highest true peak {peaks[loudest]:.3f} ({loudest}); {sum(p > PEAK - 0.01 for p in peaks.values())} clips limited")
    faults += [f"{name}: true peak {p:.3f}" for name, p in peaks.items() if p > PEAK_ALLOWED]

    levels = {name: speaking_level(x / 32768.0) for name, x in pcm.items()}
    soft, loud = min(levels, key=levels.get), max(levels, key=levels.get)
    print(f"levels while speaking {levels[soft]:.1f} ({soft}) to {levels[loud]:.1f} dBFS ({loud})")
    faults += [f"{name}: speaks at {db:.1f} dBFS" for name, db in levels.items() if abs(db - LEVEL_DBFS) > LEVEL_ALLOWED_DB]

    head, tail = {}, {}
    for name, x in pcm.items():
        first, last = edges(x / 32768.0, -40.0)
        head[name], tail[name] = first / RATE * 1000, (len(x) - last) / RATE * 1000
        ends = 20 * np.log10(max(abs(float(x[0])), abs(float(x[-1])), 0.1) / np.abs(x.astype(float)).max())
        if ends > FADE_TOO_LOUD_DB:
            faults.append(f"{name}: an end at {ends:.0f} dB of its peak clicks")
    for what, silence in (("leading", head), ("trailing", tail)):
        worst = max(silence, key=silence.get)
        print(f"longest {what} silence {silence[worst]:.1f} ms ({worst})")
        faults += [f"{name}: {ms:.1f} ms of {what} silence" for name, ms in silence.items() if ms > SILENCE_ALLOWED_MS]

    lead_tail = {r[0]: (float(r[5]), float(r[7])) for r in rows(PACKS / pack / "align.tsv", 9)}
    counts = "one two three four five six seven eight nine ten".split()
    for tier in "FQT":
        order = "FQTS"[:"FQTS".index(tier) + 1]
        # A word already shorter than the tier has no clip of its own there: the next longer one is spoken.
        spoken = [next(lead_tail[n] for t in reversed(order) if (n := w if t == "F" else f"{w}~{t.lower()}") in lead_tail) for w in counts]
        worst, a, b = max((t + n, counts[i], counts[j]) for i, (_, t) in enumerate(spoken) for j, (n, _) in enumerate(spoken))
        print(f"{TIER_NAME[tier]:8} worst tail + lead {worst:.1f} ms ({a}, {b}): no overlap to {60000 / worst:.0f} bpm, "
              f"within 30 ms of overlap to {60000 / (worst - 30):.0f}")
    lead = max(lead_tail, key=lambda n: lead_tail[n][0])
    print(f"longest lead {lead_tail[lead][0]:.1f} ms ({lead})")
    return faults


def main():
    parser = argparse.ArgumentParser(description="Render the spoken clips from the word lists.")
    parser.add_argument("packs", nargs="*", metavar="PACK", help="which packs; all unless named")
    what = parser.add_mutually_exclusive_group()
    what.add_argument("--check", action="store_true", help="render again and compare with the committed packs")
    what.add_argument("--report", action="store_true", help="only measure the committed packs")
    options = parser.parse_args()
    faults = []
    for name in options.packs or ABOUT:
        if name not in ABOUT:
            parser.error(f"{name}: the packs are {', '.join(ABOUT)}")
        if options.check:
            faults += check(name)
        elif not options.report:
            build(name, PACKS / name)
        faults += report(name)
        faults += attack.check_pack(PACKS / name)
    for fault in faults:
        print(f"fault: {fault}", file=sys.stderr)
    return bool(faults)


if __name__ == "__main__":
    sys.exit(main())
