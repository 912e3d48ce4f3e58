#!/usr/bin/env python3
"""Runs our voices and the general-purpose engines in turn, several rounds within the same minutes, and compares the best of each.

usage: compare.py OURS THEIRS FLUID SOUNDFONT [ROUNDS]   (the programs that peers.sh builds)

Processor time throughout, so that a busy machine does not count. scsynth renders a score offline: 64 or 256 voices of 16 SinOsc each, less
what an empty score takes; its synth definition and its score are written here after its documented file formats
("Synth Definition File Format" version 2 and "Non-Realtime Synthesis" of the SuperCollider documentation).
Leaves with 1 if a ratio is missed.
"""
import os, resource, struct, subprocess, sys, tempfile

# how many of our full voices there must be to one of theirs on the same core
WANTED = {"fluidsynth": 4.0, "rustysynth": 2.9, "scsynth": 10.0, "fundsp": 12.0}
REAL_TIME = 300.0
SECONDS = 10


def text(word):
    data = word.encode() + b"\0"
    return data + b"\0" * (-len(data) % 4)


def message(address, tags, *values):
    data = text(address) + text("," + tags)
    for tag, value in zip(tags, values):
        if tag == "i":
            data += struct.pack(">i", value)
        elif tag == "f":
            data += struct.pack(">f", value)
        elif tag == "s":
            data += text(value)
        else:
            data += struct.pack(">i", len(value)) + value + b"\0" * (-len(value) % 4)
    return data


def bundle(seconds, one):
    data = b"#bundle\0" + struct.pack(">Q", int(seconds * 2**32)) + struct.pack(">i", len(one)) + one
    return struct.pack(">i", len(data)) + data


def sixteen_sines():
    """A synth definition: the sum of sixteen harmonics of `freq`, each softer than the one before."""
    name = lambda word: bytes([len(word)]) + word.encode()
    constants, units = [], []

    def constant(value):
        if value not in constants:
            constants.append(value)
        return (-1, constants.index(value))

    def unit(kind, rate, inputs, outputs=1, special=0):
        units.append((kind, rate, inputs, outputs, special))
        return (len(units) - 1, 0)

    freq = unit("Control", 1, [])
    total = None
    for k in range(1, 17):
        at = freq if k == 1 else unit("BinaryOpUGen", 1, [freq, constant(float(k))], 1, 2)
        sine = unit("SinOsc", 2, [at, constant(0.0)])
        share = constant(0.1 / k)
        total = unit("BinaryOpUGen", 2, [sine, share], 1, 2) if total is None else unit("MulAdd", 2, [sine, share, total])
    unit("Out", 2, [constant(0.0), total], 0)
    data = name("sines") + struct.pack(">i", len(constants)) + b"".join(struct.pack(">f", c) for c in constants)
    data += struct.pack(">i", 1) + struct.pack(">f", 440.0)
    data += struct.pack(">i", 1) + name("freq") + struct.pack(">i", 0)
    data += struct.pack(">i", len(units))
    for kind, rate, inputs, outputs, special in units:
        data += name(kind) + struct.pack(">biih", rate, len(inputs), outputs, special)
        data += b"".join(struct.pack(">ii", *source) for source in inputs) + bytes([rate]) * outputs
    return b"SCgf" + struct.pack(">ih", 2, 1) + data + struct.pack(">h", 0)


def scsynth(folder, voices):
    """Seconds of processor that a score with so many voices takes."""
    score, wave = os.path.join(folder, "score.osc"), os.path.join(folder, "score.wav")
    with open(score, "wb") as out:
        out.write(bundle(0, message("/d_recv", "b", sixteen_sines())))
        for voice in range(voices):
            pitch = 55.0 * 2 ** ((voice * 7 % 48) / 12) * (1 + voice * 1e-5)
            out.write(bundle(0, message("/s_new", "siiisf", "sines", 1000 + voice, 1, 0, "freq", pitch)))
        out.write(bundle(SECONDS, message("/c_set", "if", 0, 0.0)))
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(
        ["scsynth", "-N", score, "_", wave, "48000", "WAV", "float", "-o", "1", "-i", "0", "-z", "64", "-m", "262144", "-n", "20000", "-w", "256", "-D", "0"],
        check=True, capture_output=True, timeout=300,
    )
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    if os.path.getsize(wave) < SECONDS * 48_000 * 4 * 0.9:
        sys.exit("scsynth rendered too little")
    return after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime


def main():
    ours, theirs, fluid, soundfont = sys.argv[1:5]
    rounds = int(sys.argv[5]) if len(sys.argv) > 5 else 5
    commands = [[ours, "ours"], [fluid, soundfont], [theirs, "rustysynth", soundfont], [theirs, "fundsp"], [ours, "ours-render"]]
    least, render, empty, full = {}, 0.0, {}, {}
    with tempfile.TemporaryDirectory() as folder:
        for number in range(rounds):
            for command in commands:
                # FluidSynth greets on its standard error output
                told = subprocess.run(command, check=True, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, timeout=300).stdout
                for line in told.splitlines():
                    name, voices, figure = line.split()
                    if name == "ours-render":
                        render = max(render, float(figure))
                    else:
                        place = (name, int(voices))
                        least[place] = min(least.get(place, float("inf")), float(figure))
            for voices in (0, 64, 256):
                full[voices] = min(full.get(voices, float("inf")), scsynth(folder, voices))
    for voices in (64, 256):
        least["scsynth", voices] = (full[voices] - full[0]) * 1e9 / SECONDS / 48_000 / voices
    print(f"best of {rounds} rounds, nanoseconds of processor per voice and frame at 48 kHz, and voices to a core")
    for (name, voices), figure in sorted(least.items()):
        print(f"  {name:10} {voices:4} voices  {figure:8.3f} ns  {1e9 / 48_000 / figure:8.0f} to a core")
    # each at the number of voices that suits it best; ours are gliding all the while
    best = lambda name: min(figure for (other, _), figure in least.items() if other == name)
    missed = False
    for name, wanted in WANTED.items():
        ratio = best(name) / best("ours")
        missed |= ratio < wanted
        print(f"ours to one of {name:10}: {ratio:6.1f}  (wanted {wanted}){'  MISSED' if ratio < wanted else ''}")
    missed |= render < REAL_TIME
    print(f"32 voices with limiter, offline: {render:.0f} times real time (wanted {REAL_TIME:.0f}){'  MISSED' if render < REAL_TIME else ''}")
    sys.exit(1 if missed else 0)


main()
