#!/usr/bin/env python3
"""Measures how well photos are read and writes the board, boards/reading.md.

    python3 tests/boards.py [--check] [--shared PATH] [--keep DIR]

Builds the program (release), runs it over the corpora with the scorers that
lie beside them, one photo at a time, and writes what came out. With --check
nothing is written: the figures are held against the floors below, and the
exit code is 1 when one is missed.

The corpora and scorers are expected in ../shared, seen from the repository:
--shared says where else they are. --keep puts the raw answers of the run into
a folder. The scorer of hand-drawn photos needs numpy and
opencv-python-headless; where ./check has made target/outside, that is used.

Exit codes: 0 all well, 1 a floor is missed, 2 something needed is not there.
"""
import argparse
import collections
import importlib.util
import json
import os
import re
import shlex
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
BOARD = ROOT / "boards" / "reading.md"

# The least element F1 that is let pass, by profile. A plain general-purpose
# reader has 0.63 on print and 0.51 on pen.
FLOORS = {"print-scan": 0.80, "print-photo": 0.80, "pen-photo": 0.65}
# Photos of any corpus that end without an answer: error, crash or time limit.
MOST_FAILURES = 0
# Seconds a photo may take before it counts as a failure, as the scorers have it.
TIMEOUT_S = 60
CORPORA = ("layouts", "layouts-more")
# Pixels of a phone's photo.
PHONE_PX = 12_000_000
# Corners further off than this, in per cent of the card's diagonal, are wrong.
CORNERS_OFF = 2
# How many of the largest photos are held against the memory's limit.
LARGEST = 8

# Figures of a profile: heading, key in the scorer's summary, form.
COLUMNS = [
    ("photos", "photos", "count"), ("layouts", "layouts", "count"), ("layouts found", "layouts_found", "%"),
    ("element F1", "f1", "%"), ("recall", "recall", "%"), ("precision", "precision", "%"),
    ("exact size of matched", "exact_size_of_matched", "%"), ("exact size", "exact_size", "%"),
    ("whole cards", "whole_card_right", "%"), ("order right", "order_right_not_drawn_through", "%"),
    ("marks recall", "mark_recall", "%"), ("marks precision", "mark_precision", "%"),
    ("corner median", "corner_error_median", "2"), ("failures", "failures", "count"),
]


class Missing(Exception):
    """Something the run needs is not there; the text says what to do."""


# ------------------------------------------------------------------ running

def build():
    """The program, built as its users build it."""
    try:
        done = subprocess.run(["cargo", "build", "--release", "--quiet"], cwd=ROOT, check=False)
    except FileNotFoundError:
        raise Missing("no cargo here: install Rust, then run this again") from None
    if done.returncode:
        raise Missing("the program does not build: see the messages above")
    target = Path(os.environ.get("CARGO_TARGET_DIR") or ROOT / "target")
    return (ROOT / target / "release" / "eighths").resolve()


def scorer(shared):
    """The scorer of layouts as a module."""
    path = shared / "tools" / "score_layouts.py"
    if not path.is_file() or not all((shared / "corpora" / name).is_dir() for name in (*CORPORA, "hand-drawn")):
        raise Missing(f"no corpora and scorers in {shared}: say where they are with --shared PATH")
    spec = importlib.util.spec_from_file_location("score_layouts", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def interpreter():
    """A Python that has what the scorer of hand-drawn photos needs."""
    for python in (ROOT / "target" / "outside" / "bin" / "python", Path(sys.executable)):
        if python.exists() and not subprocess.run([python, "-c", "import cv2, numpy"], capture_output=True, check=False).returncode:
            return python
    raise Missing("the scorer of hand-drawn photos needs numpy and opencv-python-headless: "
                  "pip install numpy opencv-python-headless==5.0.0.93")


class Row:
    """One photo of a corpus, read and scored."""

    def __init__(self, score, photo, truth, profile, program, keep):
        self.photo, self.truth, self.profile = Path(photo), truth, profile
        # Odd pictures are what constants were tuned on, even ones are held out.
        self.held_out = int(self.photo.stem) % 2 == 0
        command = shlex.quote(str(program)) + " capture {photo} --card {card} --json"
        self.answer, self.seconds, self.failure, raw = score.run_one(command, photo, truth, TIMEOUT_S)
        if keep and raw:
            (keep / f"{self.photo.parent.name}-{self.photo.stem}.json").write_bytes(raw)
        self.counts, self.pairs = scored(score, truth, self.answer, self.seconds)


def scored(score, truth, answer, seconds):
    """The scorer's counts of a photo and the (truth, answer) layouts it paired."""
    pairs, whole = [], score.score_layout

    def noted(wanted, got, through):
        pairs.append((wanted, got))
        return whole(wanted, got, through)
    score.score_layout = noted
    try:
        return score.score_photo(truth, answer, seconds), pairs
    finally:
        score.score_layout = whole


def read_corpus(score, folder, program, keep):
    rows = []
    for photo, truth, profile in score.photos_in([str(folder)]):
        rows.append(Row(score, photo, truth, profile, program, keep))
        if rows[-1].failure:
            print(f"{folder.name}/{rows[-1].photo.name}: {rows[-1].failure}", file=sys.stderr)
    return rows


def read_hand_drawn(shared, program):
    """What the scorer of hand-drawn photos says."""
    command = shlex.quote(str(program)) + " capture {photo} --frame photo --json"
    done = subprocess.run([interpreter(), shared / "tools" / "score_hand_drawn.py", shared / "corpora" / "hand-drawn",
                           "--json", "--jobs", "1", "--timeout", str(TIMEOUT_S), "--cmd", command],
                          stdout=subprocess.PIPE, check=False)
    if done.returncode:
        raise Missing("the scorer of hand-drawn photos did not end well: see the messages above")
    return json.loads(done.stdout)


def stage_times(row, program, score):
    """Milliseconds of each stage, cards together, from the program's own timings."""
    with tempfile.TemporaryDirectory() as folder:
        command = shlex.quote(str(program)) + " capture {photo} --card {card} --json --stages " + shlex.quote(folder)
        if score.run_one(command, str(row.photo), row.truth, TIMEOUT_S)[2]:
            return None
        times = collections.Counter()
        for line in (Path(folder) / "timings.txt").read_text().splitlines():
            stage, milliseconds = re.match(r"(\w+)(?: card \d+)? +([\d.]+) ms$", line).groups()
            times[stage] += float(milliseconds)
        return times


def most_memory(rows, program):
    """Peak memory in MB over the photos with most pixels, and that photo's row."""
    size = lambda row: row.truth["width_px"] * row.truth["height_px"]
    most = (0.0, None)
    for row in sorted(rows, key=size)[-LARGEST:]:
        run = subprocess.Popen([program, "capture", row.photo, "--json"], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        _, run.returncode, used = os.wait4(run.pid, 0)
        most = max(most, (used.ru_maxrss / 1024, row), key=lambda known: known[0])
    return most


# ------------------------------------------------------------------ figures

def corners_off(score, rows):
    """Pictures with one layout whose corners are off, and of how many."""
    alone = [row for row in rows if len(score.layouts_of(row.truth)) == 1]
    errors = [error for row in alone for error in row.counts["corner"] or [100.0]]
    return sum(error > CORNERS_OFF for error in errors), len(alone)


def summed(score, rows):
    total = score.empty()
    for row in rows:
        score.add(total, row.counts)
    return score.summary(total)


def verdicts(score, rows):
    """(confidence, found, exact size) of every element read that is no mark."""
    out = []
    for row in rows:
        paired = [id(got) for _, got in row.pairs]
        for wanted, got in row.pairs:
            if got is None:
                continue
            truth = [score.normal(e) for e in wanted["elements"]]
            truth = [e for e in truth if e["shape"] != "mark"]
            placed = score.in_truth_frame(got, wanted)[0]
            elements = got.get("elements") or []
            if len(placed) != len(elements):
                continue
            read = [(e, given["confidence"]) for e, given in zip(placed, elements) if e["shape"] != "mark"]
            match = {j: i for i, j in score.match_elements(truth, [e for e, _ in read]).items()}
            for j, (element, confidence) in enumerate(read):
                same = j in match and all(abs(truth[match[j]][k] - element[k]) < score.EPS for k in ("width", "height"))
                out.append((confidence, j in match, same))
        # Layouts that are not there: every element of them is wrong, save where the frame cuts a true one off.
        cut = [score.hull(score.corners_of(t)) for t in score.layouts_of(row.truth) if t.get("optional")]
        for got in score.layouts_of(row.answer) if row.answer else []:
            corners = score.hull(score.corners_of(got))
            if id(got) in paired or any(score.overlap(corners, c) >= 0.5 * score.area(corners) for c in cut):
                continue
            out += [(e["confidence"], False, False) for e in got["elements"] if e["shape"] != "mark"]
    return out


def short(value, form):
    """A figure as the board shows it: a count, a share in per cent or a number with two decimals."""
    if value is None:
        return "-"
    return f"{value:d}" if form == "count" else f"{100 * value:.1f}" if form == "%" else f"{value:.2f}"


def table(head, rows):
    lines = [head, ["---"] + ["---:"] * (len(head) - 1), *rows]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines)


def profile_table(score, rows):
    halves = [("", lambda r: True), (", tuned", lambda r: not r.held_out), (", held out", lambda r: r.held_out)]
    profiles = sorted({row.profile for row in rows})
    lines = []
    for name in [*profiles, "all"]:
        for half, keep in halves:
            figures = summed(score, [r for r in rows if keep(r) and name in (r.profile, "all")])
            title = f"**{name}**" if not half else f"{name}{half}"
            lines.append([title] + [short(figures[key], form) for _, key, form in COLUMNS])
    return table(["profile"] + [heading for heading, _, _ in COLUMNS], lines)


def hand_drawn_table(result):
    lines = []
    for name, t in [*result["classes"].items(), ("all", result["all"])]:
        lines.append([name, str(t["truths"]), str(t["found"]), str(t["false"]), str(t["excused"]),
                      short(t["recall"], "%"), short(t["precision"], "%"), short(t["f1"], "%"), short(t["mean_iou"], "2")])
    return table(["shape", "drawn", "found", "false", "excused", "recall", "precision", "F1", "mean IoU"], lines)


def calibration_table(told):
    lines = []
    for tenth in range(10):
        inside = [v for v in told if min(int(v[0] * 10 + 1e-9), 9) == tenth]
        if not inside:
            continue
        share = lambda k: short(sum(v[k] for v in inside) / len(inside), "%")
        lines.append([f"{tenth / 10:.1f} to {(tenth + 1) / 10:.1f}", str(len(inside)),
                      short(sum(v[0] for v in inside) / len(inside), "%"), share(1), share(2)])
    return table(["confidence", "elements", "mean confidence", "found", "of exact size"], lines)


def time_tables(timed):
    """timed: (row, times of its stages)."""
    ratios = sorted((row.seconds * 1000 / times["photo"], row) for row, times in timed)
    over, worst = ratios[-1]
    stages = [stage for stage in timed[0][1] if stage != "all"]
    middle = {stage: statistics.median(times[stage] for _, times in timed) for stage in stages}
    whole = sum(middle.values())
    text = (f"Median {statistics.median(r for r, _ in ratios):.1f}, worst {over:.1f} "
            f"(`{worst.photo.parent.name}/{worst.photo.name}`); over 20: {sum(r > 20 for r, _ in ratios)} of {len(ratios)}.")
    phone = [r for r, row in ratios if row.truth["width_px"] * row.truth["height_px"] >= PHONE_PX]
    if phone:
        text += f" Photos of {PHONE_PX // 10**6} megapixels and more: median {statistics.median(phone):.1f}."
    return text, table(["stage", "share of the time"], [[s, short(t / whole, "%")] for s, t in middle.items()])


# ------------------------------------------------------------------ the board

def missed(score, corpora, hand):
    """One sentence for each floor that is missed."""
    out = []
    for profile, floor in FLOORS.items():
        f1 = summed(score, [r for r in corpora["layouts"] if r.profile == profile])["f1"] or 0.0
        if f1 < floor:
            out.append(f"{profile}: element F1 {f1:.3f} is below the floor of {floor:.2f}")
    for name, rows in corpora.items():
        failed = [row.photo.name for row in rows if row.failure]
        if len(failed) > MOST_FAILURES:
            out.append(f"{name}: {len(failed)} photos gave no answer: {', '.join(failed)}")
    failed = [row["photo"] for row in hand["failures"]]
    if len(failed) > MOST_FAILURES:
        out.append(f"hand-drawn: {len(failed)} photos gave no answer: {', '.join(failed)}")
    return out


def board(score, corpora, hand, timed, memory):
    everything = [row for rows in corpora.values() for row in rows]
    # The program names the photo by its path, which is nothing to keep.
    told = lambda failure, photo: re.sub(r"exit \d+: eighths: |\S*" + re.escape(photo) + ": ", "", failure)
    failures = [f"- `{row.photo.parent.name}/{row.photo.name}`: {told(row.failure, row.photo.name)}"
                for row in everything if row.failure]
    failures += [f"- `hand-drawn/{row['photo']}`: {told(row['failure'], row['photo'])}" for row in hand["failures"]]
    spent, stages = time_tables(timed)
    off, alone = corners_off(score, everything)
    hungriest = f"`{memory[1].photo.parent.name}/{memory[1].photo.name}`"
    return f"""# How well photos are read

Made by `python3 tests/boards.py`, which runs the built program over the corpora in `../shared/corpora` with their own
scorers. Written by that command alone: change the program, not the figures.

Figures are percentages; *corner median* is the corners' distance from the true ones in per cent of the card's
diagonal. An element counts as matched where shape and place agree (IoU of at least 0.5), its size as exact where
width and height are right to the eighth. *Exact size of matched* asks only about the elements that were matched,
*exact size* about all that are drawn. *Order right* is asked of every overlapping pair, on drawings without hidden
lines. A whole card has every element at its exact size and none too many. *Tuned* pictures have odd numbers:
constants were fitted on them. *Held out* pictures have even numbers: one number, how far the paper's
level may sink (`SUNK` of `tone.rs`), was chosen over both halves, and they were looked at while the method was made.

Floors, held by `python3 tests/boards.py --check`: element F1 {", ".join(f"{100 * f:.0f} on {p}" for p, f in FLOORS.items())};
no photo without an answer.

## layouts

{profile_table(score, corpora["layouts"])}

## layouts-more: the harder pictures

{profile_table(score, corpora["layouts-more"])}

Of the {alone} pictures of one layout in both corpora, {off} have corners that are off by more than {CORNERS_OFF} % of the
card's diagonal, or no card found.

## hand-drawn: photos of real diagrams, the whole photo as the card

{hand["photos"]} photos; shapes that are drawn as rectangles or circles.

{hand_drawn_table(hand)}

## What a confidence means

Elements of both layout corpora except marks, by the confidence they were given, and the share of them that is really
on the drawing, and there at that size.

{calibration_table(verdicts(score, everything))}

The same for the held-out pictures alone:

{calibration_table(verdicts(score, [row for row in everything if row.held_out]))}

## Time

Time of the program from start to end, as a multiple of the time it takes to decode the same picture and turn it
upright. {spent}

Where it goes (median over the photos, decoding included; the pictures that `--stages` draws count with the stage
after them):

{stages}

Peak memory over the {LARGEST} photos with most pixels: {memory[0]:.0f} MB ({hungriest}).

## Photos without an answer

{chr(10).join(failures) or "None."}
"""


def main():
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--check", action="store_true", help="hold the figures against the floors, write nothing")
    options.add_argument("--shared", type=Path, default=ROOT.parent / "shared", help="where corpora and scorers are")
    options.add_argument("--keep", type=Path, help="folder for the program's raw answers")
    args = options.parse_args()
    shared = args.shared.resolve()
    score = scorer(shared)
    interpreter()
    program = build()
    if args.keep:
        args.keep.mkdir(parents=True, exist_ok=True)
    corpora = {name: read_corpus(score, shared / "corpora" / name, program, args.keep) for name in CORPORA}
    hand = read_hand_drawn(shared, program)
    if not args.check:
        timed = [(row, times) for row in corpora["layouts"] if (times := stage_times(row, program, score))]
        if not timed:
            raise Missing("no photo of the corpus could be read: nothing to write")
        BOARD.parent.mkdir(exist_ok=True)
        memory = most_memory([row for rows in corpora.values() for row in rows], program)
        BOARD.write_text(board(score, corpora, hand, timed, memory))
        print(f"written: {BOARD.relative_to(ROOT)}")
    faults = missed(score, corpora, hand)
    for fault in faults:
        print(f"boards: {fault}", file=sys.stderr)
    if args.check:
        # One check a floor: each profile's F1 and each corpus without failures.
        checks = len(FLOORS) + len(corpora) + 1
        print(f"{checks - len(faults)} passed, {len(faults)} failed")
        return 1 if faults else 0
    return 0


if __name__ == "__main__":
    try:
        sys.exit(main())
    except Missing as missing:
        print(f"boards: {missing}", file=sys.stderr)
        sys.exit(2)
