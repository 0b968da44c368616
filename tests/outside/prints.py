#!/usr/bin/env python3
"""Opens printed layouts with PDFium (the renderer of a large browser, through
the package pypdfium2) and measures them as pictures: the bar to check a
printer by, the card and a panel, on letter and A4 paper; and that text of all
kinds is there, with its fonts inside. EIGHTHS names the program."""

import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import pypdfium2 as pdfium

PROGRAM = os.environ.get("EIGHTHS", "target/release/eighths")
DPI = 300
# A pixel of rounding at either end.
TOLERANCE_IN = 2.5 / DPI

passed = failed = 0


def check(what, holds):
    global passed, failed
    if holds:
        passed += 1
    else:
        failed += 1
        print(f"FAILED: {what}")


def layout(unit, card, width, height, panel, title="Thank you, Edith", notes=""):
    x, y, w, h = panel
    return {
        "schema": 1, "title": title, "unit": unit, "notes": notes,
        "card": {"name": card, "width": width, "height": height},
        "elements": [
            {"id": 1, "shape": "rectangle", "x": x, "y": y, "width": w, "height": h, "slot": "A"},
            {"id": 2, "shape": "mark", "kind": "heart", "x": x + w / 2, "y": y + h / 2, "width": 1 if unit == "in" else 20,
             "height": 1 if unit == "in" else 20},
        ],
    }


def printed(folder, record, *more):
    source, out = folder / "layout.json", folder / "out.pdf"
    source.write_text(json.dumps(record))
    subprocess.run([PROGRAM, "print", str(source), "--out", str(out), *more], check=True)
    return pdfium.PdfDocument(out)


def pixels(page):
    return np.asarray(page.render(scale=DPI / 72).to_pil().convert("RGB")).astype(int)


def longest(rows):
    """Longest run of true values in any row."""
    best = 0
    for row in rows:
        edges = np.flatnonzero(np.diff(np.concatenate(([0], row.astype(int), [0]))))
        if len(edges):
            best = max(best, int((edges[1::2] - edges[::2]).max()))
    return best


def measure(folder, record, paper, size_in, bar_in):
    document = printed(folder, record, "--paper", paper)
    page = document[0]
    width, height = (side / 72 for side in page.get_size())
    check(f"{paper} is {size_in}", abs(width - size_in[0]) < 0.001 and abs(height - size_in[1]) < 0.001)
    picture = pixels(page)
    unit = 1.0 if record["unit"] == "in" else 1 / 25.4
    # The bar is thicker than any other line: 0.03 in.
    dark = (picture < 90).all(axis=2)
    thick = np.logical_and.reduce([dark[row : len(dark) - 6 + row] for row in range(7)])
    bar = longest(thick) / DPI
    check(f"bar on {paper}: {bar:.4f} in, meant {bar_in:.4f}", abs(bar - bar_in) < TOLERANCE_IN)
    tint = (abs(picture - np.array([246, 223, 198])) < 6).all(axis=2)
    panel = record["elements"][0]
    for side, rows in (("width", tint), ("height", tint.T)):
        got = longest(rows) / DPI
        # The outline, 1.25 px of 1/96 in, covers half its width on both sides.
        meant = panel[side] * unit - 1.25 / 96
        check(f"panel {side} on {paper}: {got:.4f} in, meant {meant:.4f}", abs(got - meant) < TOLERANCE_IN)


with tempfile.TemporaryDirectory() as name:
    folder = Path(name)
    inches = layout("in", "A2", 4.25, 5.5, (0.5, 0.5, 3.25, 4.5))
    metric = layout("mm", "iso-a6", 105, 148, (10, 10, 80, 120))
    for paper, size in (("letter", (8.5, 11.0)), ("a4", (210 / 25.4, 297 / 25.4))):
        measure(folder, inches, paper, size, 4.0)
        measure(folder, metric, paper, size, 100 / 25.4)

    # Words of all kinds, as a program that searches a PDF sees them.
    for title in ("Get well, Zoë: ½ & <more> \"quoted\"", "תודה רבה", "Dziękuję, Łucja", "Спасибо"):
        document = printed(folder, layout("in", "A2", 4.25, 5.5, (0.5, 0.5, 3.25, 4.5), title))
        text = document[0].get_textpage().get_text_bounded()
        found = all(word in text or word[::-1] in text for word in title.split())
        check(f"the title {title!r} is text: {text[:80]!r}", found)
        check(f"{title!r} is the document's title", document.get_metadata_dict()["Title"] == title)

    # Long notes go on to more pages, and stay inside every one.
    long = layout("in", "A2", 4.25, 5.5, (0.5, 0.5, 3.25, 4.5), "W" * 200, "soup " * 3900)
    document = printed(folder, long)
    check(f"{len(document)} pages of notes", 3 <= len(document) <= 12)
    for number in range(len(document)):
        picture = pixels(document[number])
        edge = int(0.4 * DPI)
        margins = np.concatenate([picture[:edge].ravel(), picture[-edge:].ravel(), picture[:, :edge].ravel(), picture[:, -edge:].ravel()])
        check(f"page {number + 1} keeps its margins", (margins == 255).all())

print(f"{passed} passed, {failed} failed")
sys.exit(failed > 0)
