#!/usr/bin/env python3
"""Writes musicxml.csv: what music21 reads in scores of its own package and in the invented ones of ../fixtures/scores.

    python3 -m venv VENV && VENV/bin/pip install music21
    VENV/bin/python tests/outside/musicxml.py

The scores of the package are not copied, because many have a licence of their own; the test finds them in the installed package.
"""
import csv
import io
import os
import re
import sys
import warnings

import music21

HERE = os.path.dirname(os.path.abspath(__file__))
PACKAGE = os.path.dirname(music21.__file__)
FIXTURES = os.path.join(HERE, os.pardir, "fixtures", "scores")

CORPUS = """
bach/bwv1.6.mxl bach/bwv171.6.mxl bach/bwv41.6.mxl bach/bwv67.4.xml bach/bwv69.6.xml bach/bwv113.8.mxl bach/bwv846.mxl
beach/prayer_of_a_tired_child.musicxml beethoven/opus133.mxl beethoven/opus18no1/movement1.mxl beethoven/opus59no2/movement1.mxl
beethoven/opus59no3/movement1.mxl ciconia/quod_jactatur.xml corelli/opus3no1/1grave.xml demos/chord_realization_exercise.mxl
demos/drum_sample.xml demos/two-parts.xml handel/rinaldo/Lascia_chio_pianga.mxl haydn/opus1no1/movement4.mxl
johnson_j_r/lift_every_voice.mxl joplin/maple_leaf_rag.mxl leadSheet/fosterBrownHair.mxl liliuokalani/aloha_oe.mxl luca/gloria.xml
monteverdi/madrigal.3.1.mxl mozart/k458/movement1.mxl mozart/k458/movement2.mxl mozart/k545/movement1_exposition.mxl
schoenberg/opus19/movement6.mxl schubert/Lindenbaum.xml schumann_clara/polonaise_op1n4.mxl schumann_robert/opus41no1/movement1.mxl
schumann_robert/opus41no1/movement5.mxl trecento/PMFC_24_6-Gloria_Spiritus_et_alme.xml verdi/laDonnaEMobile.mxl
weber/concertino_clarinet.mxl webern/webern_dormi_jesu_op_16_no_2.mxl
""".split()
OTHERS = ["omr/k525GTMvt1.xml", "musicxml/testMxl.mxl"] + [
    f"musicxml/lilypondTestSuite/{name}.xml"
    for name in """
    02d-Rests-Multimeasure-TimeSignatures 11a-TimeSignatures 11b-TimeSignatures-NoTime 11c-TimeSignatures-CompoundSimple
    11d-TimeSignatures-CompoundMultiple 31a-Directions 31c-MetronomeMarks 45a-SimpleRepeat 45b-RepeatWithAlternatives
    45c-RepeatMultipleTimes 46d-PickupMeasure-ImplicitMeasures 46f-IncompleteMeasures 43a-PianoStaff
    """.split()
]


def number(measure):
    """A bar's number as music21 keeps it: figures, then letters."""
    return f"{measure.number}{measure.numberSuffix or ''}"


def facts(path):
    """(fact, place of the bar, its number, quarters into it, value) for everything that is compared."""
    score = music21.converter.parse(path, forceSource=True, format="musicxml")
    if isinstance(score, music21.stream.Opus):
        raise ValueError("an opus")
    parts = list(score.parts)
    bars = list(parts[0].getElementsByClass("Measure"))
    yield "bars", len(bars) - 1, number(bars[-1]), "", len(bars)
    before = None
    for place, bar in enumerate(bars):
        for meter in bar.getElementsByClass("TimeSignature"):
            if meter.offset == 0 and meter.ratioString != before:
                yield "meter", place, number(bar), "", meter.ratioString
                before = meter.ratioString
    tempi, marks = {}, []
    for index, part in enumerate(parts):
        for place, bar in enumerate(part.getElementsByClass("Measure")):
            for mark in bar.recurse().getElementsByClass("RehearsalMark"):
                if (place, mark.content) not in marks:
                    marks.append((place, mark.content))
            for tempo in bar.recurse().getElementsByClass("MetronomeMark"):
                said = tempo.number if tempo.number is not None and not tempo.numberImplicit else tempo.numberSounding
                if said is None:
                    continue
                quarters = said * tempo.referent.quarterLength if tempo.number is not None else said
                at = (place, round(float(tempo.getOffsetInHierarchy(bar)), 3))
                if index == 0 or at not in tempi:
                    tempi.setdefault(at, [])
                    if round(quarters, 3) not in tempi[at]:
                        tempi[at].append(round(float(quarters), 3))
    for (place, offset), values in sorted(tempi.items()):
        for value in values:
            yield "tempo", place, number(bars[place]) if place < len(bars) else "", offset, value
    for place, mark in sorted(marks, key=lambda mark: mark[0]):
        yield "mark", place, number(bars[place]), "", mark


def main():
    warnings.simplefilter("ignore")
    files = [("package", os.path.join("corpus", name)) for name in CORPUS] + [("package", name) for name in OTHERS]
    files += [("fixture", name) for name in sorted(os.listdir(FIXTURES)) if re.search(r"\.(mxl|xml|musicxml)$", name)]
    rows = []
    for where, name in files:
        path = os.path.join(PACKAGE if where == "package" else FIXTURES, name)
        try:
            rows += [(where, name.replace(os.sep, "/"), *fact) for fact in facts(path)]
        except Exception as error:  # noqa: BLE001
            print(f"left out {name}: {error}", file=sys.stderr)
    table = io.StringIO()
    table.write("# What music21 reads in scores, written by musicxml.py. A bar's place counts from 0; its number is as music21 keeps it, figures\n")
    table.write("# first (X1 is 1X). Meters where they change; tempi in quarter notes a minute, with the quarter notes before them in the bar.\n")
    table.write(f"# Source: music21 {music21.__version__} (BSD), https://www.music21.org; package: files of that package, fixture: tests/fixtures/scores\n")
    writer = csv.writer(table, lineterminator="\n")
    writer.writerow(["where", "file", "fact", "place", "number", "at", "value"])
    writer.writerows(rows)
    with open(os.path.join(HERE, "musicxml.csv"), "w", encoding="utf-8") as out:
        out.write(table.getvalue())
    print(f"{len(rows)} facts of {len({row[1] for row in rows})} files")


if __name__ == "__main__":
    main()
