#!/usr/bin/env python3
"""Holds what `eighths pieces` tells of a layout against a general-purpose
geometry library (shapely, BSD): the area and the hidden share of every layer
of invented layouts, and that what may be cut out is hidden with its margin;
and opens the printed pages with PDFium to see that they keep their margins.
EIGHTHS names the program."""

import json
import os
import random
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import pypdfium2 as pdfium
from shapely import affinity
from shapely.geometry import Point, box
from shapely.ops import unary_union

PROGRAM = os.environ.get("EIGHTHS", "target/release/eighths")
CARD = (4.25, 5.5)
MARGIN = 0.25
# Curves are polygons within a thousandth of an inch of the same area: what is
# wrong grows with their outline, and no card has 30 in of it.
AREA_TOLERANCE = 0.005
DPI = 100

passed = failed = 0


def check(what, holds):
    global passed, failed
    if holds:
        passed += 1
    else:
        failed += 1
        print(f"FAILED: {what}")


def invented(dice):
    """A layout of a few shapes anywhere on the card and over its edges."""
    elements = []
    for number in range(dice.randint(2, 9)):
        shape = dice.choice(["rectangle", "rectangle", "rectangle", "circle", "oval"])
        width, height = dice.randint(4, 34) / 8, dice.randint(4, 44) / 8
        if shape == "circle":
            height = width
        element = {
            "id": number + 1, "shape": shape, "width": width, "height": height,
            "x": dice.randint(-8, 60) / 16, "y": dice.randint(-8, 80) / 16, "slot": "A",
            "rotation": dice.choice([0, 0, 0, 12.5, -30, 90]), "raised": dice.random() < 0.2,
            "mats": dice.choice([[], [], [0.125], [0.125, 0.375]]),
        }
        if shape == "rectangle" and dice.random() < 0.3:
            element["corner_radius"] = min(width, height) / 4 // 0.0625 * 0.0625
        elements.append(element)
    card = {"name": "A2", "width": CARD[0], "height": CARD[1]}
    return {"schema": 1, "title": "Get well soon", "unit": "in", "card": card, "elements": elements}


def outline(element, adds):
    """The same shape by the library's own means."""
    x, y = element["x"] - adds / 2, element["y"] - adds / 2
    width, height = element["width"] + adds, element["height"] + adds
    middle = (x + width / 2, y + height / 2)
    if element["shape"] in ("circle", "oval"):
        shape = affinity.scale(Point(middle).buffer(1, quad_segs=256), width / 2, height / 2)
    else:
        radius = element.get("corner_radius", 0)
        radius += adds / 2 if radius else 0
        shape = box(x, y, x + width, y + height)
        if radius:
            shape = box(x + radius, y + radius, x + width - radius, y + height - radius).buffer(radius, quad_segs=256)
    # Both turn clockwise as seen, with y down.
    return affinity.rotate(shape, element["rotation"], origin=middle)


def run(folder, record, *more):
    source = folder / "layout.json"
    source.write_text(json.dumps(record))
    done = subprocess.run([PROGRAM, "pieces", str(source), *more], check=True, capture_output=True)
    return done.stdout


def compare(folder, record, seed):
    told = json.loads(run(folder, record, "--json"))
    card = box(0, 0, *CARD)
    layers = []
    for element in record["elements"]:
        mats = list(enumerate(element["mats"], 1))
        for mat, adds in [*reversed(mats), (None, 0)]:
            layers.append((element["id"], mat, outline(element, adds).intersection(card)))
    answers = told["advice"]["layers"]
    check(f"{seed}: layers", [(a["element"], a["mat"]) for a in answers] == [layer[:2] for layer in layers])
    for index, ((number, mat, shape), answer) in enumerate(zip(layers, answers)):
        above = unary_union([layer[2] for layer in layers[index + 1:]])
        hidden = shape.intersection(above)
        what = f"{seed}: element {number}, mat {mat}"
        check(f"{what}: area {answer['area_in2']} for {shape.area:.4f}", abs(answer["area_in2"] - shape.area) < AREA_TOLERANCE)
        got = answer["hidden_share"] * answer["area_in2"]
        check(f"{what}: hidden {got:.4f} for {hidden.area:.4f}", abs(got - hidden.area) < AREA_TOLERANCE)
        findings = [f for f in told["advice"]["findings"] if f["kind"] == "cut_out" and f["element"] == number]
        if mat is None and findings:
            hole_stays_hidden(what, record["elements"], number, findings[0]["rectangles"][0], hidden)


def hole_stays_hidden(what, elements, number, hole, hidden):
    element = next(one for one in elements if one["id"] == number)
    # The piece of an upright panel begins at the card's edge.
    straight = element["shape"] == "rectangle" and element["rotation"] == 0
    left = max(element["x"], 0) if straight else element["x"]
    top = max(element["y"], 0) if straight else element["y"]
    middle = (element["x"] + element["width"] / 2, element["y"] + element["height"] / 2)
    x, y = left + hole["x"], top + hole["y"]
    cut = affinity.rotate(box(x, y, x + hole["width"], y + hole["height"]), element["rotation"], origin=middle)
    seen = cut.buffer(MARGIN, quad_segs=64).difference(hidden).area
    check(f"{what}: {seen:.4f} sq in of the margin around {hole} is seen", seen < AREA_TOLERANCE)


def pages_keep_their_margins(folder, record, seed):
    out = folder / "pieces.pdf"
    run(folder, record, "--out", str(out))
    document = pdfium.PdfDocument(out)
    check(f"{seed}: {len(document)} pages", 2 <= len(document) <= 8)
    for number, page in enumerate(document, 1):
        picture = np.asarray(page.render(scale=DPI / 72).to_pil().convert("L"))
        edge = int(0.4 * DPI)
        margins = [picture[:edge], picture[-edge:], picture[:, :edge], picture[:, -edge:]]
        check(f"{seed}: page {number} keeps its margins", all((part == 255).all() for part in margins))


with tempfile.TemporaryDirectory() as name:
    folder = Path(name)
    for seed in range(60):
        record = invented(random.Random(seed))
        compare(folder, record, seed)
        if seed % 10 == 0:
            pages_keep_their_margins(folder, record, seed)

print(f"{passed} passed, {failed} failed")
sys.exit(failed > 0)
