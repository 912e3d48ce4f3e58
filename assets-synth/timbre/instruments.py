"""What is measured: General MIDI programs (numbered from 0) and sounding MIDI notes, low to high, over each instrument's range."""

DYNAMICS = (45, 80, 112)  # MIDI velocities for soft, medium and loud

# table, program, notes
SUSTAINED = [
    ("PICCOLO", 72, [74, 81, 88, 94]),
    ("FLUTE", 73, [60, 67, 74, 82, 90]),
    ("OBOE", 68, [60, 67, 74, 81]),
    ("BASSOON", 70, [36, 43, 50, 58]),
    ("CLARINET", 71, [50, 57, 64, 71, 78]),
    ("SOPRANO_SAX", 64, [57, 63, 70, 77]),
    ("ALTO_SAX", 65, [50, 57, 64, 71]),
    ("TENOR_SAX", 66, [45, 52, 58, 65]),
    ("BARITONE_SAX", 67, [38, 44, 50, 57]),
    ("TRUMPET", 56, [54, 60, 67, 74, 79]),
    ("HORN", 60, [41, 48, 55, 62, 67]),
    ("TROMBONE", 57, [40, 46, 53, 60, 66]),
    ("TUBA", 58, [29, 36, 43, 50, 57]),
    ("DOUBLE_BASS", 43, [29, 36, 43, 50]),
]
STRUCK = [
    ("GLOCKENSPIEL", 9, [80, 88, 98]),
    ("XYLOPHONE", 13, [66, 77, 88]),
    ("MARIMBA", 12, [48, 60, 74]),
    ("VIBRAPHONE", 11, [54, 65, 76]),
    ("TIMPANI", 47, [41, 46, 51]),
]


def three(notes):
    """The notes a check plays: lowest, middle, highest."""
    return [notes[0], notes[len(notes) // 2], notes[-1]]
