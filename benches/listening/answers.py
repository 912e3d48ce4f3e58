#!/usr/bin/env python3
"""Makes the horn notes with which a simulated section answers a roll: dry, one player each, 24 kHz, 16-bit.

    python3 answers.py FOLDER

Needs what clips.py needs.
"""
import os
import sys

import numpy as np
import soundfile
from scipy import signal

from players import RATE, hertz, player

# name, sounding MIDI key (written G4 and C4 of a horn in F), cents
NOTES = [("g4", 60, 4.0), ("g4_other", 60, -6.0), ("c4", 53, 3.0)]

folder = sys.argv[1]
for number, (name, key, cents) in enumerate(NOTES):
    rng = np.random.default_rng([7, number, 11])
    sound, truth = player(rng, "fluid", "horn_f", float(hertz(key + cents / 100)), 2.6, attack=0.03)
    # from the moment the tone is heard on
    sound = sound[int(truth["t10"] * RATE):]
    soundfile.write(os.path.join(folder, f"{name}.wav"), signal.resample_poly(sound, 1, 2), RATE // 2, subtype="PCM_16")
