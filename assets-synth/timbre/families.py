"""Which family a tone is heard as: a k-nearest classifier on MFCC, trained on other SoundFonts than the measured one.

Families are a wind band's sections: woodwind (flutes and reeds), brass, percussion, strings. Common practice, no source.

How it is made follows from what it is for, not from its result:
- Trained on the General MIDI programs of the band's instruments, every semitone of the measured range, three velocities, held as long as
  what it names. The fonts share nothing with FluidR3: TimGM6mb (Tim Brechbill, GPL, Debian package timgm6mb-soundfont) and the "GM GS
  Bank" of Csound (public domain, Debian package csound-soundfont, a font of 4 MB made before FluidR3). Only read; nothing of them is kept.
- All tones alike: one channel, cut where they start, brought to one loudness.
- 20 MFCC up to 8 kHz, as far as every font's samples reach; what lies 60 dB under the strongest band is the recording's noise, as in
  `figures`. Mean and deviation of each over the attack, the first 0.15 s, and over what follows.
- Standardised; five nearest, the nearer the weightier.
"""
import warnings
from collections import Counter

import numpy as np

import figures
from figures import RATE
from instruments import DYNAMICS, STRUCK, SUSTAINED
from notes import render

FONTS = ["/usr/share/sounds/sf2/TimGM6mb.sf2", "/usr/share/sounds/sf2/sf_GMbank.sf2"]
KINDS = ["woodwind", "brass", "percussion", "strings"]
ATTACK, LENGTH = 0.15, 1.8  # seconds


def family(program):
    """Of a General MIDI program, numbered from 0."""
    if program < 16 or program == 47:
        return "percussion"
    return {5: "strings", 7: "brass", 8: "woodwind", 9: "woodwind"}[program // 8]


def started(x):
    """In one channel, from where the tone starts, 40 dB under its top, at one loudness."""
    x = np.mean(figures.channels(x), axis=0)
    loud = np.nonzero(np.abs(x) > np.max(np.abs(x)) * 0.01)[0]
    x = x[loud[0] :][: round(LENGTH * RATE)]
    x = np.pad(x, (0, round(LENGTH * RATE) - len(x)))
    return x / np.sqrt(np.mean(x**2))


def features(x):
    import librosa

    mel = librosa.feature.melspectrogram(y=started(x), sr=RATE, n_fft=2048, hop_length=480, n_mels=64, fmax=8_000)
    mfcc = librosa.feature.mfcc(S=librosa.power_to_db(mel, top_db=60), n_mfcc=20)
    parts = np.split(mfcc, [round(ATTACK * RATE / 480)], axis=1)
    return np.concatenate([statistic(part, axis=1) for part in parts for statistic in (np.mean, np.std)])


def heard(x):
    return np.max(np.abs(x)) > 1e-5


def learnt():
    """Features and families of the fonts' tones."""
    found, kinds = [], []
    for font in FONTS:
        for _, program, notes in SUSTAINED + STRUCK:
            asked = [(note, velocity) for note in range(notes[0], notes[-1] + 1) for velocity in DYNAMICS]
            tones = [features(x) for x in render(font, program, asked) if heard(x)]
            found += tones
            kinds += [family(program)] * len(tones)
    return np.array(found), kinds


class Ear:
    """Names families."""

    def __init__(self, examples):
        from sklearn.neighbors import KNeighborsClassifier
        from sklearn.pipeline import make_pipeline
        from sklearn.preprocessing import StandardScaler

        warnings.filterwarnings("ignore")
        self.nearest = make_pipeline(StandardScaler(), KNeighborsClassifier(5, weights="distance")).fit(*examples)

    def name(self, sounds):
        return list(self.nearest.predict([features(x) for x in sounds]))


def show(label, named, truth):
    """Prints what each family was named as; the share rightly named."""
    for kind in KINDS:
        of = Counter(n for n, t in zip(named, truth) if t == kind)
        print(f"  {label:9} {kind:10} {of[kind] / max(of.total(), 1):6.1%} of {of.total():3}   " + "  ".join(f"{other} {of[other]}" for other in KINDS))
    return float(np.mean([n == t for n, t in zip(named, truth)]))
