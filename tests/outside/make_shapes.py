#!/usr/bin/env python3
"""Rectangles and ellipses measured by a general-purpose vision library, to hold the reader's measures against.

    make_shapes.py           measure the pictures in shapes/ again and compare with shapes.json
    make_shapes.py --make    draw the pictures anew and write both

Source: opencv-python-headless (Apache-2.0; its version stands in shapes.json). `findContours` follows both borders of
every stroke; the middle between them is the drawn line. Straight sides are `fitLine`s of the border's points and a
corner is where two of them cross; an upright or turned rectangle's sides come from `minAreaRect`, a round shape from
`fitEllipse`; `getPerspectiveTransform` of the card's four corners takes pixels to inches. Nothing that is written down
comes from the numbers the pictures were drawn by.

Pixel centres are whole numbers, as the library has it. Prints "N passed, N failed"; the exit code is 1 when one fails.
"""
import json
import math
import sys
from pathlib import Path

import cv2
import numpy as np

HERE = Path(__file__).resolve().parent
FIXTURE = HERE / "shapes.json"

# Two runs of the same library on the same picture agree to rounding; other versions of it to this much.
SAME_PX = 0.05
SAME_IN = 0.001

STROKE_PX = 3
# Drawn this much finer than the picture, then averaged down: smooth edges.
FINER = 4

# What is drawn: card name, card in inches, the card's corners in pixels, shapes in inches from the card's top-left.
UPRIGHT_A2 = [(90, 80), (515, 80), (515, 630), (90, 630)]
SCENES = {
    "panels": ("A2", (4.25, 5.5), UPRIGHT_A2,
               [("rectangle", .5, .5, 1.5, 2.25), ("rectangle", 2.375, .5, 1.375, 3), ("rectangle", .5, 4, 3.25, 1)]),
    "circle": ("A2", (4.25, 5.5), UPRIGHT_A2, [("circle", 1, .625, 2.25, 2.25), ("rectangle", .625, 3.5, 3, 1.25)]),
    "oval": ("A2", (4.25, 5.5), UPRIGHT_A2, [("rectangle", .5, .5, 3.25, 4.5), ("oval", 1, 1.25, 2.25, 3)]),
    "tilted": ("A2", (4.25, 5.5), [(112, 70), (548, 92), (516, 652), (84, 616)],
               [("rectangle", .5, .625, 3.25, 1.5), ("circle", .5, 2.875, 1.75, 1.75), ("rectangle", 2.75, 2.875, 1, 2)]),
    "nested": ("A7", (5, 7), [(98, 66), (572, 80), (590, 742), (76, 728)],
               [("rectangle", .375, .375, 4.25, 6.25), ("rectangle", .75, .75, 3.5, 3), ("oval", 1.25, 4.25, 2.5, 1.75)]),
    "square": ("square", (4.25, 4.25), [(70, 96), (574, 78), (600, 590), (92, 610)],
               [("oval", .5, .5, 3.25, 1.5), ("circle", .5, 2.375, 1.375, 1.375), ("rectangle", 2.375, 2.375, 1.375, 1.375)]),
    "lying": ("A6", (6.25, 4.5), [(86, 60), (708, 92), (685, 540), (63, 508)],
              [("rectangle", .5, .5, 2.5, 3.5), ("rectangle", 3.5, .5, 2.25, 1.25), ("oval", 3.5, 2.25, 2.25, 1.75)]),
    "slimline": ("slimline", (8.5, 3.5), [(60, 84), (762, 70), (772, 366), (54, 378)],
                 [("circle", .625, .875, 1.75, 1.75), ("rectangle", 3, .5, 2.5, 2.5), ("circle", 6.125, .875, 1.75, 1.75)]),
}


# ------------------------------------------------------------------ drawing

def outline(shape, x, y, width, height):
    if shape == "rectangle":
        return [(x, y), (x + width, y), (x + width, y + height), (x, y + height)]
    turn = np.linspace(0, 2 * math.pi, 720, endpoint=False)
    return np.stack([x + width / 2 * (1 + np.cos(turn)), y + height / 2 * (1 + np.sin(turn))], 1)


def draw(size_in, corners_px, shapes):
    to_px = cv2.getPerspectiveTransform(np.float32([(0, 0), (size_in[0], 0), size_in, (0, size_in[1])]), np.float32(corners_px))
    extent = np.max(corners_px, axis=0) + np.min(corners_px, axis=0)
    paper = np.full((int(extent[1]) * FINER, int(extent[0]) * FINER), 252, np.uint8)
    for points in [outline("rectangle", 0, 0, *size_in), *(outline(*s) for s in shapes)]:
        px = cv2.perspectiveTransform(np.float64(points)[None], to_px.astype(np.float64))[0]
        fine = np.round(((px + .5) * FINER - .5) * 16).astype(np.int32)
        cv2.polylines(paper, [fine], True, 40, STROKE_PX * FINER, cv2.LINE_AA, 4)
    return cv2.resize(paper, None, fx=1 / FINER, fy=1 / FINER, interpolation=cv2.INTER_AREA)


# ------------------------------------------------------------------ measuring

def strokes(picture):
    """(outer border, inner border) of every closed stroke, the largest (the card's outline) first."""
    _, ink = cv2.threshold(picture, 0, 255, cv2.THRESH_BINARY_INV | cv2.THRESH_OTSU)
    contours, tree = cv2.findContours(ink, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    pairs = [(contours[i], contours[links[2]]) for i, links in enumerate(tree[0]) if links[3] < 0 <= links[2]]
    return sorted(pairs, key=lambda pair: -cv2.contourArea(pair[0]))


def is_round(contour):
    """Whether a border, smoothed by a fiftieth of its length, has other than four corners."""
    return len(cv2.approxPolyDP(contour, .02 * cv2.arcLength(contour, True), True)) != 4


def corners(contour):
    """Four corners, each where the lines fitted to two sides cross, from the top-left one clockwise."""
    rough = cv2.approxPolyDP(contour, .02 * cv2.arcLength(contour, True), True).reshape(-1, 2).astype(float)
    middle = rough.mean(0)
    rough = rough[np.argsort(np.arctan2(*(rough - middle).T[::-1]))]
    points = contour.reshape(-1, 2).astype(float)
    lines = []
    for a, b in zip(rough, np.roll(rough, -1, 0)):
        along, length = (b - a) / np.linalg.norm(b - a), np.linalg.norm(b - a)
        t = (points - a) @ along
        off = np.abs((points - a) @ [-along[1], along[0]])
        side = points[(t > .08 * length) & (t < .92 * length) & (off < 3)]
        lines.append(cv2.fitLine(side.astype(np.float32), cv2.DIST_L2, 0, 1e-4, 1e-4).ravel().astype(float))
    out = []
    for (ux, uy, px, py), (vx, vy, qx, qy) in zip(np.roll(lines, 1, 0), lines):
        t = ((qx - px) * vy - (qy - py) * vx) / (ux * vy - uy * vx)
        out.append((px + t * ux, py + t * uy))
    return np.array(out)


def ellipse(points):
    """Width and height of an ellipse and of its upright box: (sides, box), by `fitEllipse`."""
    (x, y), (first, second), turn = cv2.fitEllipse(points.reshape(-1, 1, 2).astype(np.float32))
    # Axis `first` lies at `turn` degrees from the x axis; name the more level one the width.
    a = math.radians(turn)
    half = [math.hypot(first / 2 * math.cos(a), second / 2 * math.sin(a)), math.hypot(first / 2 * math.sin(a), second / 2 * math.cos(a))]
    level = abs(math.cos(a)) > abs(math.sin(a))
    return np.array([first, second] if level else [second, first]), np.array([x - half[0], y - half[1], x + half[0], y + half[1]])


def sides(quad):
    """Width and height: the means of opposite sides."""
    length = [np.linalg.norm(quad[(i + 1) % 4] - quad[i]) for i in range(4)]
    return np.array([(length[0] + length[2]) / 2, (length[1] + length[3]) / 2])


def least_rectangle(contour):
    """Width and height by `minAreaRect`, the more level side first."""
    _, (first, second), turn = cv2.minAreaRect(contour)
    return np.array([first, second] if abs(math.cos(math.radians(turn))) > math.sqrt(.5) else [second, first])


def measured(picture, size_in):
    (outer, inner), *rest = strokes(picture)
    card = (corners(outer) + corners(inner)) / 2
    to_in = cv2.getPerspectiveTransform(card.astype(np.float32), np.float32([(0, 0), (size_in[0], 0), size_in, (0, size_in[1])]))
    inches = lambda points: cv2.perspectiveTransform(points.reshape(1, -1, 2).astype(np.float64), to_in.astype(np.float64))[0]
    found = []
    for pair in rest:
        if is_round(pair[0]):
            box_px = sum(ellipse(c)[1] for c in pair) / 2
            size = sum(ellipse(inches(c))[0] for c in pair) / 2
            shape = "circle" if max(size) / min(size) < 1.05 else "oval"
            found.append({"shape": shape, "box_px": rounded(box_px, 2), "size_in": rounded(size, 4)})
        else:
            quad = sum(corners(c) for c in pair) / 2
            size = sides(inches(quad))
            one = {"shape": "rectangle", "corners_px": rounded(quad, 2), "size_in": rounded(size, 4)}
            unslanted = np.ptp(quad[[0, 3], 0]) < .5 and np.ptp(quad[[0, 1], 1]) < .5
            if unslanted:
                # The library's own rectangle fits only where nothing is slanted.
                one["least_rectangle_px"] = rounded(sum(least_rectangle(c) for c in pair) / 2, 2)
            found.append(one)
    return {"card_corners_px": rounded(card, 2), "shapes": found}


def rounded(values, digits):
    return np.round(np.asarray(values, float), digits).tolist()


# ------------------------------------------------------------------ both ways

def make():
    (HERE / "shapes").mkdir(exist_ok=True)
    pictures = []
    for name, (card, size_in, corners_px, shapes) in SCENES.items():
        path = HERE / "shapes" / f"{name}.png"
        cv2.imwrite(str(path), draw(size_in, corners_px, shapes), [cv2.IMWRITE_PNG_COMPRESSION, 9])
        picture = cv2.imread(str(path), cv2.IMREAD_GRAYSCALE)
        pictures.append({"picture": f"shapes/{name}.png", "card": card, "card_in": list(size_in), **measured(picture, size_in)})
    fixture = {"library": "opencv-python-headless", "version": version(), "licence": "Apache-2.0",
               "made_by": "tests/outside/make_shapes.py", "pictures": pictures}
    FIXTURE.write_text(json.dumps(fixture, indent=1) + "\n")
    print(f"{len(pictures)} pictures written")


def version():
    from importlib.metadata import version as of
    return of("opencv-python-headless")


def agree(now, then):
    if sorted(now) != sorted(then) or now["shape"] != then["shape"]:
        return False
    return all(np.allclose(now[k], then[k], atol=SAME_IN if k == "size_in" else SAME_PX, rtol=0) for k in now if k != "shape")


def check():
    passed = failed = 0
    for entry in json.loads(FIXTURE.read_text())["pictures"]:
        picture = cv2.imread(str(HERE / entry["picture"]), cv2.IMREAD_GRAYSCALE)
        now = measured(picture, entry["card_in"])
        pairs = list(zip(now["shapes"], entry["shapes"]))
        good = len(now["shapes"]) == len(entry["shapes"]) and all(agree(a, b) for a, b in pairs) \
            and np.allclose(now["card_corners_px"], entry["card_corners_px"], atol=SAME_PX, rtol=0)
        passed, failed = passed + good, failed + (not good)
        if not good:
            print(f"{entry['picture']}: measured {now}, written {entry}")
    print(f"{passed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    if sys.argv[1:] not in ([], ["--make"]):
        sys.exit("make_shapes.py takes --make or nothing")
    sys.exit(make() if sys.argv[1:] else check())
