#!/usr/bin/env python3
"""Our hearing beside general pitch trackers, on one folder of single clips made by clips.py: the same truth and the same rules for all.

    python3 beside.py FOLDER [--without pyin,...]

Every tracker is asked every 10 ms, over windows of 4096 samples where it takes a length, and told the range of the instrument where it takes
one. Ours is `measure --clips`, built by cargo if need be.

- notes: the median of all pitches in the sustain lies within 50 cents of the truth; "as told" is by the note our listener tells itself, 0.4 s
  after it began, and counts as wrong where it tells none
- frames: pitches in the sustain within 50 cents; an instant without an answer is wrong
- off: error of right notes against the clean tone, median and 95th percentile in cents
- after: from the true beginning until the first of five right pitches in a row is known, in ms, at 10 dB and better; the window counts
- real time: seconds of sound a second of processor time; ours with the reading of the files

Needs: pip install numpy soundfile librosa aubio (or apt install aubio-tools). What is not installed is left out, and said to be.
"""
import argparse
import json
import os
import resource
import shutil
import subprocess

for threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "NUMBA_NUM_THREADS"):
    os.environ.setdefault(threads, "1")

import numpy as np
import soundfile

HOP, WINDOW = 0.010, 4096
NEAR, IN_A_ROW, CLEAR = 50.0, 5, 10.0


class Missing(Exception):
    """A tool that is not installed."""


def cents(a, b):
    return 1200 * np.log2(a / b)


def by_librosa(name, looks_ahead=False):
    def make():
        try:
            import librosa
        except ImportError as error:
            raise Missing("pip install librosa") from error

        def track(x, rate, low, high, _path):
            heard = getattr(librosa, name)(x, fmin=low, fmax=high, sr=rate, frame_length=WINDOW, hop_length=round(rate * HOP))
            hz = heard[0] if isinstance(heard, tuple) else heard
            at = np.arange(len(hz)) * round(rate * HOP) / rate
            # a path that is chosen backwards from the end is not known before it
            return at, np.full(len(hz), np.inf) if looks_ahead else at + WINDOW / 2 / rate, hz

        return track

    return make


def yinfft():
    try:
        import aubio
    except ImportError:
        if shutil.which("aubiopitch") is None:
            raise Missing("pip install aubio, or apt install aubio-tools") from None
        return yinfft_by_command

    def track(x, rate, _low, _high, _path):
        hop = round(rate * HOP)
        tracker = aubio.pitch("yinfft", WINDOW, hop, rate)
        x = x.astype(np.float32)
        hz = np.array([tracker(x[start : start + hop])[0] for start in range(0, len(x) - hop + 1, hop)])
        return after_each_hop(hz, hop, rate)

    return track


def yinfft_by_command(_x, rate, _low, _high, path):
    hop = round(rate * HOP)
    command = ["aubiopitch", "-p", "yinfft", "-r", str(rate), "-B", str(WINDOW), "-H", str(hop), "-i", path]
    lines = subprocess.run(command, check=True, capture_output=True, text=True).stdout.splitlines()
    return after_each_hop(np.array([float(line.split()[1]) for line in lines]), hop, rate)


def after_each_hop(hz, hop, rate):
    upto = (np.arange(len(hz)) + 1) * hop / rate
    return upto - WINDOW / 2 / rate, upto, hz


LOOKS_AHEAD = "librosa.pyin"
OTHERS = {"librosa.yin": by_librosa("yin"), LOOKS_AHEAD: by_librosa("pyin", looks_ahead=True), "aubio yinfft": yinfft}


def spent():
    """Seconds of processor time of this process and those it waited for."""
    ours, theirs = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return sum(usage.ru_utime + usage.ru_stime for usage in (ours, theirs))


class Row:
    """What one tracker made of the clips."""

    def __init__(self, looks_ahead=False):
        self.looks_ahead = looks_ahead
        self.clips = self.right = self.frames = self.frames_right = 0
        self.off, self.after, self.seconds, self.spent = [], [], 0.0, 0.0

    def note(self, hz, truth):
        self.clips += 1
        if hz and abs(cents(hz, truth["frequency"])) <= NEAR:
            self.right += 1
            self.off.append(abs(cents(hz, clean(truth))))

    def clip(self, at, upto, hz, truth):
        pitched = np.isfinite(hz) & (hz > 0)
        right = pitched & (np.abs(cents(np.where(pitched, hz, 1.0), truth["frequency"])) <= NEAR)
        sustain = in_sustain(at, truth)
        self.frames += int(np.sum(sustain))
        self.frames_right += int(np.sum(right & sustain))
        self.note(float(np.median(hz[sustain & pitched])) if np.any(sustain & pitched) else None, truth)
        if truth["snr"] >= CLEAR and not self.looks_ahead:
            starts = [n for n in range(len(hz) - IN_A_ROW + 1) if upto[n] > truth["t10"] and np.all(right[n : n + IN_A_ROW])]
            self.after.append(1000 * (upto[starts[0]] - truth["t10"]) if starts else np.inf)

    def print(self, name):
        def pair(values, shares, digits):
            return " / ".join(f"{np.percentile(values, share, method='nearest'):.{digits}f}" for share in shares) if values else "-"

        after = "looks ahead" if self.looks_ahead else pair(self.after, (50, 95), 0)
        frames = f"{100 * self.frames_right / self.frames:.1f}" if self.frames else "-"
        speed = f"{self.seconds / self.spent:.0f}" if self.spent else "-"
        print(f"| {name} | {100 * self.right / self.clips:.1f} | {frames} | {pair(self.off, (50, 95), 2)} | {after} | {speed} |")


def in_sustain(at, truth):
    return (at >= truth["t90"] + 0.02) & (at < truth["tone_end"] - 0.1)


def clean(truth):
    """The median pitch of the clean tone in its sustain."""
    track = np.array(truth.get("track", []))
    at = truth.get("track_from", 0.0) + 0.05 * np.arange(len(track))
    sustain = in_sustain(at, truth)
    return float(np.median(track[sustain])) if np.any(sustain) else truth["frequency"]


def ours(folder):
    """Every clip as our listener heard it, by its file; and the processor time that took."""
    cargo = ["cargo", "build", "--quiet", "--release", "-p", "listen", "--example", "measure"]
    root = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..")
    subprocess.run(cargo, cwd=root, check=True)
    target = os.environ.get("CARGO_TARGET_DIR", os.path.join(root, "target"))
    before = spent()
    lines = subprocess.run([os.path.join(target, "release", "examples", "measure"), "--clips", folder], check=True, capture_output=True, text=True).stdout
    return {heard["file"]: heard for heard in map(json.loads, lines.splitlines())}, spent() - before


def main():
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("folder")
    asked.add_argument("--without", type=lambda text: text.split(","), default=[], help="words in the names of trackers to leave out")
    options = asked.parse_args()
    with open(os.path.join(options.folder, "truth.jsonl")) as table:
        truths = [json.loads(line) for line in table]
    heard, took = ours(options.folder)
    trackers, rows = {}, {"listen": Row(), "listen, as told": Row()}
    for name, make in OTHERS.items():
        if any(word in name for word in options.without):
            print(f"{name}: left out, as asked")
            continue
        try:
            trackers[name], rows[name] = make(), Row(looks_ahead=name == LOOKS_AHEAD)
        except Missing as error:
            print(f"{name}: left out, not installed ({error})")
    for truth in truths:
        path, mine = os.path.join(options.folder, truth["file"]), heard[truth["file"]]
        x, rate = soundfile.read(path)
        at, upto, hz = np.array([[np.nan if value is None else value for value in frame] for frame in mine["frames"]]).T
        rows["listen"].clip(at, upto, hz, truth)
        rows["listen, as told"].note(mine["note"], truth)
        for name, track in trackers.items():
            before = spent()
            at, upto, hz = track(x, rate, mine["low"], mine["high"], path)
            if rows[name].clips:  # the first makes tables and compiles
                rows[name].spent += spent() - before
                rows[name].seconds += len(x) / rate
            rows[name].clip(np.asarray(at), np.asarray(upto), np.asarray(hz, float), truth)
    rows["listen"].seconds, rows["listen"].spent = sum(soundfile.info(os.path.join(options.folder, truth["file"])).duration for truth in truths), took
    print(f"{len(truths)} clips of {options.folder}\n")
    print("| tracker | notes % | frames % | off, median / p95 cents | after, p50 / p95 ms | times real time |")
    print("| --- | --- | --- | --- | --- | --- |")
    for name, row in rows.items():
        row.print(name)


if __name__ == "__main__":
    main()
