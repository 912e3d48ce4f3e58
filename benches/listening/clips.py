#!/usr/bin/env python3
"""Makes the clips by which hearing is measured, each with its truth: 16-bit mono WAV files and truth.jsonl, one line a clip.

    python3 clips.py KIND --out FOLDER --seed 1 --count 200 [--fonts fluid,tim] [--snr 5] [--room 0.4] [--instruments tuba,...]

KIND is one of
    single   one player, one note: breath, attack, waver, room, pink noise
    exact    one additive tone without room, for exact cents
    section  3 to 12 players of one brass instrument on the partials of one fingering; with --heads 1 a solo of that section; with
             --woodwinds of a woodwind on a fingering's fundamental, octave and twelfth, and on notes beside the one asked for
    drone    a drone (or with --model a sampled note) from a loudspeaker, learnt by a sweep that rises twice, then one player 10 dB under it; the files *_ref,
             *_echo and *_player hold what was sent, and what of it and of the player reached the microphone; --drift, --distort and --change spoil it
    speech   talk and single words by espeak-ng, in a room: nothing to be heard
    drums    struck sounds of the fonts, in a room: nothing to be heard
    clutter  clicks, taps, chairs, ventilation, hum: nothing to be heard
Seeds 1 to 999 are for tuning, and the fonts fluid and tim; figures are also told of other seeds on other fonts.

Needs: apt install libfluidsynth3 fluid-soundfont-gm timgm6mb-soundfont csound-soundfont opl3-soundfont espeak-ng
       pip install numpy scipy soundfile pyfluidsynth
"""
import argparse
import json
import os
import subprocess

import players  # before numpy: sets its threads
import numpy as np
import soundfile
from scipy import signal

from players import RATE, hertz, in_room, pink, room_response

KINDS = {}


def kind(make):
    KINDS[make.__name__] = make
    return make


def noisy(rng, y, snr, a, b):
    """`y` with pink noise `snr` dB under its level between samples `a` and `b`, brought to -20 dBFS there."""
    level = np.std(y[a:b]) + 1e-9
    return (y + pink(rng, len(y)) * level * 10 ** (-snr / 20)) * 0.1 / level


def drawn(rng, given, choices):
    choice = float(rng.choice(choices))
    return choice if given is None else given


@kind
def single(seed, i, options):
    rng = np.random.default_rng([seed, i, 1])
    instrument = options.instruments[i % len(options.instruments)]
    font = options.fonts[int(rng.integers(len(options.fonts)))]
    _, low, high = players.INSTRUMENTS[instrument]
    key = int(rng.integers(low, high + 1))
    cents = float(rng.choice([-15, -8, 0, 8, 16, 24, 32, 40]) + rng.uniform(-3, 3))
    snr, room = drawn(rng, options.snr, [30, 20, 10, 5]), drawn(rng, options.room, [0.0, 0.4, 0.7])
    attack = float(rng.choice([0.0, 0.03, 0.08, 0.15] if options.slow else [0.0, 0.03, 0.08]))
    y, truth = players.player(rng, font, instrument, float(hertz(key + cents / 100)), 1.2, velocity=int(rng.choice([45, 80, 115])),
                              wander=options.wander, attack=attack, breath=float(rng.uniform(-42, -30)))
    lead = 0.3 + float(rng.uniform(0, 0.05))
    start = int(lead * RATE)
    y = np.pad(y, (start, int(0.2 * RATE)))
    if room > 0:
        y = in_room(y, room_response(rng, room))[: len(y)]
        lead += 0.003
    for at in ("t10", "t50", "t90", "tone_end", "track_from"):
        truth[at] += lead
    truth.update(instrument=instrument, key=key, cents=cents, snr=snr, room=room)
    return noisy(rng, y, snr, start + int(0.3 * RATE), start + int(0.8 * RATE)), truth


@kind
def exact(seed, i, options):
    rng = np.random.default_rng([seed, i, 2])
    instrument = options.instruments[i % len(options.instruments)]
    font = options.fonts[int(rng.integers(len(options.fonts)))]
    _, low, high = players.INSTRUMENTS[instrument]
    key, cents = int(rng.integers(low, high + 1)), float(rng.uniform(-45, 45))
    snr = drawn(rng, options.snr, [30, 20, 10])
    y, truth = players.additive(rng, font, instrument, float(hertz(key + cents / 100)), 1.2)
    y = np.pad(y, (int(0.3 * RATE), int(0.2 * RATE)))
    for at in ("t10", "t50", "t90", "tone_end"):
        truth[at] += 0.3
    truth.update(instrument=instrument, key=key, cents=cents, snr=snr, room=0.0)
    return noisy(rng, y, snr, int(0.6 * RATE), int(1.1 * RATE)), truth


@kind
def section(seed, i, options):
    rng = np.random.default_rng([seed, i, 6])
    series = players.OVERBLOWN if options.woodwinds else players.SERIES
    names = [name for name in options.instruments if name in series]
    instrument = names[i % len(names)]
    font = options.fonts[int(rng.integers(len(options.fonts)))]
    if options.woodwinds:
        _, low, high = players.INSTRUMENTS[instrument]
        partials, fundamental = [1, 2, 3], float(hertz(int(rng.integers(low, min(high, low + 12)))))
    else:
        open_tube, partials = players.SERIES[instrument]
        fundamental = float(hertz(open_tube + int(rng.choice([0, 0, -1, -2, -3, -5]))))
    heads = int(rng.integers(3, 13)) if options.heads is None else options.heads
    snr, room = drawn(rng, options.snr, [30, 20, 10]), drawn(rng, options.room, [0.0, 0.4, 0.7])
    spread = float(rng.choice([0.010, 0.025, 0.040, 0.060, 0.090])) if options.spread else 0.040
    target, on_target = int(rng.integers(len(partials))), float(rng.uniform(0.15, 1.0))
    ratios = [float(k) for k in partials]
    if options.woodwinds:
        # the octave or twelfth of the same fingering, or with it a finger wrong: the neighbours, which are on no partial
        blown = players.OVERBLOWN[instrument]
        target = 0 if rng.random() < 0.6 else int(np.argmax(blown[1:])) + 1
        others = np.array([0.0 if j == target else blown[j] for j in range(3)] + [0.3] * 4)
        ratios += [partials[target] * 2 ** (step / 12) for step in (-2, -1, 1, 2)]
    else:
        others = np.array([0.0 if j == target else abs(j - target) ** -1.5 for j in range(len(partials))])
    chances = others / others.sum() * (1 - on_target)
    chances[target] = on_target
    lead, seconds = 0.4, 2.2
    n = int((lead + seconds + 0.6) * RATE)
    mix, seats = np.zeros(n), []
    for choice in rng.choice(len(ratios), size=heads, p=chances):
        cents, late = float(rng.normal(0, 12)), float(np.clip(rng.normal(0, spread), -0.15, 0.3))
        frequency = ratios[choice] * fundamental * 2 ** (cents / 1200)
        y, truth = players.player(rng, font, instrument, frequency, seconds + rng.uniform(-0.1, 0.1), velocity=int(rng.choice([60, 85, 110])),
                                  key_offset=int(rng.integers(-2, 3)), attack=float(rng.uniform(0, 0.08)), tilt=float(rng.normal(0, 1)),
                                  breath=float(rng.uniform(-40, -28)), tracked=False)
        y = y * 10 ** (rng.uniform(-4, 4) / 20)
        if room > 0:
            y = in_room(y, room_response(rng, room, delay=rng.uniform(0.003, 0.015)))
        start = int((lead + late) * RATE)
        mix[start : start + len(y)] += y[: n - start]
        seats.append((ratios[choice], lead + late + truth["t10"], cents))
    entries = np.array([seat[1] for seat in seats])
    truth = {"instrument": instrument, "font": font, "fundamental": fundamental, "partials": partials, "target": partials[target],
             "heads": heads, "counts": [sum(seat[0] == k for seat in seats) for k in partials], "snr": snr, "room": room, "lead": lead,
             "entry_mean": float(entries.mean()), "entry_sd": float(entries.std()), "cents_mean": float(np.mean([seat[2] for seat in seats]))}
    return noisy(rng, mix, snr, int((lead + 0.4) * RATE), int((lead + 1.6) * RATE)), truth


# the sweep rises twice, as `listen::room::sweep` does
RISE, PAUSE, END, ALONE, PLAYED = 1.5, 0.6, 1.2, 3.0, 2.0


@kind
def drone(seed, i, options):
    rng = np.random.default_rng([seed, i, 7])
    names = ["trumpet_bb", "horn_f", "trombone", "clarinet_bb", "flute", "sax_alto", "tuba"]
    instrument, font = names[i % len(names)], options.fonts[int(rng.integers(len(options.fonts)))]
    program, low, high = players.INSTRUMENTS[instrument]
    reverberation = drawn(rng, options.room, [0.3, 0.5, 0.8])
    key = int(rng.integers(low + 2, high - 1))
    below = key - int(rng.choice([0, 0, 0, 4, 7, 12, -5, 3]))
    while not 41 <= below <= 65:
        below += 12 if below < 41 else -12
    lead = 2 * RISE + PAUSE + END
    n, t = int((lead + ALONE + PLAYED + 0.5) * RATE), np.arange(int(RISE * RATE)) / RATE
    sent = np.zeros(n)
    octaves = np.log2(11000 / 60)
    rise = 0.14 * np.sin(2 * np.pi * 60 * RISE / octaves / np.log(2) * (2 ** (octaves * t / RISE) - 1))
    rise *= np.minimum(1, np.minimum(t, RISE - t) / 0.05)
    for start in (0, int((RISE + PAUSE) * RATE)):
        sent[start : start + len(t)] = rise
    begin = int(lead * RATE)
    at = np.arange(n - begin) / RATE
    if options.model:
        tone = players.render(font, program, below, 90)[: int(2.8 * RATE)]
        held = np.concatenate([np.pad(tone, (0, int(0.2 * RATE)))] * 3)[: n - begin]
    else:
        held = sum(np.sin(2 * np.pi * float(hertz(below)) * h * at + rng.uniform(0, 6.28)) / h for h in range(1, 13)) * np.minimum(1, at / 0.15)
    sent[begin:] = np.pad(held, (0, n - begin - len(held))) / np.std(held) * 0.1
    spoken = sent
    if options.distort:
        spoken = sent + options.distort * ((sent**2 - np.mean(sent**2)) / 0.1 + 0.3 * sent**3 / 0.01)
    echo = in_room(spoken, response := room_response(rng, reverberation, rng.uniform(-8, 0), 0.008))[:n]
    entry = begin + int(ALONE * RATE)
    if options.change:
        other = rng.normal(size=len(response)) * np.sqrt(np.convolve(response**2, np.ones(480) / 480, "same"))
        other *= np.sqrt(np.sum(response**2) / np.sum(other**2)) * 10 ** (options.change / 20)
        echo += in_room(spoken, other)[:n] * np.clip((np.arange(n) - entry + 0.5 * RATE) / (0.5 * RATE), 0, 1)
    if options.drift:
        slow = players.at_speed(echo, np.full(n, 1 + options.drift * 1e-6))
        echo = np.pad(slow, (0, n - len(slow)))
    cents = 0.0 if options.unison else float(rng.choice([-15, -5, 5, 12, 20, 30, 40]) + rng.uniform(-2, 2))
    key = below if options.unison else key
    y, truth = players.player(rng, font, instrument, float(hertz(key + cents / 100)), PLAYED, wander=0.0 if options.unison else 3.0, attack=0.02, tracked=False)
    y = in_room(np.pad(y, (entry, 0)), room_response(rng, reverberation, rng.uniform(-3, 3)))[:n]
    y = np.pad(y, (0, n - len(y)))
    window = slice(entry + int(0.4 * RATE), entry + int(1.6 * RATE))
    y *= np.std(echo[window]) / np.std(y[window]) * 10 ** (-10 / 20)
    mic = echo + y + pink(rng, n) * np.std(y[window]) * 10 ** (-35 / 20)
    gain = min(1.0, 0.9 / np.max(np.abs(mic)))
    truth = {"instrument": instrument, "frequency": truth["frequency"], "below": below, "key": key, "room": reverberation, "entry": entry / RATE,
             "alone": begin / RATE, "font": font}
    return {"": mic * gain, "_ref": sent, "_echo": echo * gain, "_player": y * gain}, truth


# invented talk of a lesson
SAYINGS = """Horns up everyone, and breathe in. Not yet, wait for the click. Who has the music for the second line? Please sit down.
That was better than last week. Can you hear the drone? Listen to the note first, then play. One, two, three, four. No, the other valve.
Where is my pencil? I think it fell under the chair. Let's try that again from the beginning. Ooh, that was high. Aah, lovely.
Again, a little softer this time. Are we all ready? I forgot my reed. Long tones, long and steady. Mmm, nearly. Hey, stop pushing.
Everyone who sits in the back row, stand up now. Your turn, then yours, then yours. Yes. No. Maybe. Sorry, I am late.
Could you open a window in here? The room is very warm today. Shh. Quiet, please. Eyes up here. Well done, all of you. Go on.""".replace("\n", " ")
SAYINGS = [s.strip() for s in SAYINGS.replace("?", ".").split(".") if s.strip()]


@kind
def speech(seed, i, options):
    rng = np.random.default_rng([seed, i, 3])
    pieces, length = [], 0
    while length < 20 * RATE:
        voice = f"en{rng.choice(['', '-us', '-gb-scotland', '-029'])}{rng.choice(['', '+m1', '+m3', '+m7', '+f1', '+f2', '+f4', '+whisper'])}"
        saying = str(rng.choice(SAYINGS))
        path = os.path.join(players.CACHE, f"say.{os.getpid()}.wav")
        subprocess.run(["espeak-ng", "-v", voice, "-s", str(int(rng.integers(90, 190))), "-p", str(int(rng.integers(15, 95))), "-w", path,
                        saying], check=True, capture_output=True)
        x, rate = soundfile.read(path)
        x = signal.resample_poly(x, RATE, rate) if rate != RATE else x
        x = x / (np.std(x) + 1e-9) * 10 ** (rng.uniform(-30, -16) / 20)
        pause = np.zeros(int(rng.uniform(0.1, 0.6) * RATE))
        pieces += [x, pause]
        length += len(x) + len(pause)
    y = np.concatenate(pieces)
    if (room := drawn(rng, options.room, [0.0, 0.4, 0.7])) > 0:
        y = in_room(y, room_response(rng, room))[: len(y)]
    return y + pink(rng, len(y)) * 0.1 * 10 ** (-drawn(rng, options.snr, [40, 30, 20]) / 20), {"room": room}


@kind
def drums(seed, i, options):
    rng = np.random.default_rng([seed, i, 4])
    font = options.fonts[int(rng.integers(len(options.fonts)))]
    y = np.zeros(20 * RATE)
    at, hits = 0.3, []
    while at < 18:
        # 71 and 72 are whistles: blown, and held as long as a note
        key = int(rng.choice([k for k in range(35, 82) if k not in (71, 72)]))
        x = players.render(font, 0, key, int(rng.choice([50, 80, 110])), 2.0, drum=True)
        x = x / (np.max(np.abs(x)) + 1e-9) * 10 ** (rng.uniform(-20, -3) / 20)
        start = int(at * RATE)
        hits.append((round(at, 3), key))
        y[start : start + len(x)] += x[: len(y) - start]
        at += float(rng.choice([0.125, 0.25, 0.5, 1.0])) * rng.uniform(0.9, 1.3)
    if (room := drawn(rng, options.room, [0.0, 0.4, 0.7])) > 0:
        y = in_room(y, room_response(rng, room))[: len(y)]
    return y + pink(rng, len(y)) * 0.1 * 10 ** (-drawn(rng, options.snr, [40, 30, 20]) / 20), {"font": font, "room": room, "hits": hits}


def thud(rng):
    """A chair leg, a book, a foot: a low burst that dies away."""
    n = int(0.25 * RATE)
    b, a = signal.butter(2, [rng.uniform(40, 120) / (RATE / 2), rng.uniform(200, 1500) / (RATE / 2)], "band")
    x = signal.lfilter(b, a, rng.normal(size=n)) * np.exp(-np.arange(n) / RATE / rng.uniform(0.01, 0.06))
    return x / np.max(np.abs(x))


def scrape(rng):
    """A chair dragged: sticking and slipping at a rate that glides, through the resonances of the floor."""
    n = int(rng.uniform(0.3, 0.9) * RATE)
    rate = rng.uniform(40, 250) * 2 ** (waver := players.waver(rng, n, 0.15, 0.5))
    slips = np.diff(np.floor(np.cumsum(rate * (1 + 0.15 * rng.normal(size=n))) / RATE), prepend=0) > 0
    x = slips * rng.uniform(0.3, 1, n) + 0.02 * rng.normal(size=n)
    for _ in range(3):
        centre = rng.uniform(200, 2500)
        b, a = signal.iirpeak(centre / (RATE / 2), rng.uniform(3, 12))
        x = x + 4 * signal.lfilter(b, a, x)
    x *= np.hanning(n) ** 0.3 * 10 ** (waver / 2)
    return x / np.max(np.abs(x))


def tap(rng):
    """A stand or a key struck: a few resonances that ring for some hundredths of a second."""
    n = int(0.3 * RATE)
    t = np.arange(n) / RATE
    x = sum(rng.uniform(0.2, 1) * np.sin(2 * np.pi * rng.uniform(150, 4000) * t) * np.exp(-t / rng.uniform(0.005, 0.08)) for _ in range(5))
    return x / np.max(np.abs(x))


def click(rng):
    n = int(0.05 * RATE)
    t = np.arange(n) / RATE
    x = np.sin(2 * np.pi * rng.uniform(800, 2500) * t) * np.exp(-t / 0.008)
    return x / np.max(np.abs(x))


@kind
def clutter(seed, i, options):
    rng = np.random.default_rng([seed, i, 5])
    n = 20 * RATE
    y = np.zeros(n)
    at = 0.3
    makers = [thud, scrape, tap, click]
    while at < 18.5:
        x = makers[int(rng.integers(4))](rng) * 10 ** (rng.uniform(-26, -6) / 20)
        start = int(at * RATE)
        y[start : start + len(x)] += x[: n - start]
        at += float(rng.exponential(0.5)) + 0.05
    if (room := drawn(rng, options.room, [0.0, 0.4, 0.7])) > 0:
        y = in_room(y, room_response(rng, room))[:n]
    y += pink(rng, n) * 10 ** (rng.uniform(-50, -20) / 20) + rng.normal(size=n) * 10 ** (rng.uniform(-60, -30) / 20)
    t = np.arange(n) / RATE
    mains = rng.choice([50.0, 60.0])
    y += 10 ** (rng.uniform(-70, -45) / 20) * sum(np.sin(2 * np.pi * mains * h * t + h) / h for h in range(1, 7))
    return y, {"room": room, "mains": float(mains)}


def rounded(value):
    if isinstance(value, dict):
        return {str(k): rounded(v) for k, v in value.items()}
    if isinstance(value, (list, tuple)):
        return [rounded(v) for v in value]
    return round(value, 6) if isinstance(value, float) else value


def main():
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("kind", choices=KINDS)
    asked.add_argument("--out", required=True)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--count", type=int, default=200)
    asked.add_argument("--fonts", type=lambda text: text.split(","), default=["fluid"])
    asked.add_argument("--instruments", type=lambda text: text.split(","), default=players.USUAL)
    asked.add_argument("--snr", type=float)
    asked.add_argument("--room", type=float)
    asked.add_argument("--wander", type=float, default=3.0, help="cents by which a player's pitch wavers")
    asked.add_argument("--slow", action="store_true", help="attacks up to 150 ms")
    asked.add_argument("--heads", type=int, help="players in a section")
    asked.add_argument("--woodwinds", action="store_true", help="sections of woodwinds, with wrong octaves, twelfths and neighbours")
    asked.add_argument("--spread", action="store_true", help="sections from together to ragged")
    asked.add_argument("--model", action="store_true", help="a sampled note in place of a drone")
    asked.add_argument("--unison", action="store_true", help="the player exactly on the drone's note")
    asked.add_argument("--drift", type=float, default=0.0, help="of the microphone's clock, in parts per million")
    asked.add_argument("--distort", type=float, default=0.0, help="of the loudspeaker, as a share")
    asked.add_argument("--change", type=float, default=0.0, help="of the room before the player enters, in dB")
    asked.add_argument("--rate", type=int, default=RATE, help="of the files, in Hz")
    options = asked.parse_args()
    os.makedirs(options.out, exist_ok=True)
    os.makedirs(players.CACHE, exist_ok=True)
    with open(os.path.join(options.out, "truth.jsonl"), "w") as table:
        for i in range(options.count):
            samples, truth = KINDS[options.kind](options.seed, i, options)
            tracks = samples if isinstance(samples, dict) else {"": samples}
            name = f"{options.kind}_{options.seed}_{i:04d}"
            for track, x in tracks.items():
                if options.rate != RATE:
                    divisor = np.gcd(options.rate, RATE)
                    x = signal.resample_poly(x, options.rate // divisor, RATE // divisor)
                x = x / max(1.0, np.max(np.abs(x)) / 0.99)
                soundfile.write(os.path.join(options.out, f"{name}{track}.wav"), x, options.rate, subtype="PCM_16")
            table.write(json.dumps(rounded({"file": name + ".wav", "kind": options.kind, "seed": options.seed, "index": i, **truth})) + "\n")
    print(f"{options.count} {options.kind} clips of seed {options.seed} in {options.out}")


if __name__ == "__main__":
    main()
