#!/usr/bin/env python3
"""Measures sheet plans and writes the board, boards/cutting.md.

    python3 tests/cutting_board.py [--check] [--shared PATH] [--time SECONDS | --rounds N]

Builds the program (release), has it plan every job of the corpus with the
scorer that lies beside it, one at a time, and writes what came out. With
--check nothing is written: a sample of the jobs is planned in a fixed number
of rounds, which gives the same plans on any machine, held against the floors
below, and the exit code is 1 when one is missed. That takes less than a
minute; the whole board takes some ten on a machine that is not busy. On a busy
one --rounds makes a board that does not depend on the clock.

The corpus and the scorer are expected in ../shared, seen from the repository:
--shared says where else they are.

Exit codes: 0 all well, 1 a floor is missed, 2 something needed is not there.
"""
import argparse
import importlib.util
import shlex
import statistics
import sys
from pathlib import Path

import boards
from boards import Missing, table

BOARD = boards.ROOT / "boards" / "cutting.md"
# Rounds of search in a check, and every how many-th job of a set is in it.
ROUNDS = 20_000
SAMPLE = {"2bp-o": 20, "2bp-r": 20, "csp": 4, "furniture": 5, "knapsack": 4, "vs-csp": 5, "vs-ps": 25, "vs-ort": 34, "craft": 1}
# Seconds a job may take before it counts as a failure; searching time comes on top.
TIMEOUT_S = 20
# What is let pass, by set, in a board of so many seconds and in one of so many rounds, where the search is shorter. Sums
# are in per cent of the best known ones, or of the lower bound; use is pieces' area in per cent of sheets'.
FLOORS = {
    "2bp-o": ("over best known", 0.18, 1.0), "2bp-r": ("over best known", 0.22, 1.0),
    "csp": ("over best known", 1.0, 1.5), "furniture": ("over best known", 2.0, 3.0),
    "knapsack": ("under best known", 0.1, 0.5), "vs-ps": ("use", 88.0, 85.0), "vs-ort": ("use", 93.0, 85.0),
}
# Sheets of card-making jobs over the lower bound, and their cost over the least one measured, in per
# cent, in a board of seconds and in one of rounds.
CRAFT_SHEETS_OVER, CRAFT_COST_OVER = (2.0, 3.0), (2.0, 5.0)
# Settings of the trimmer over the number of different sides, in per cent: as the plans tell them, and as the
# scorer counts them, which takes sheets apart in an order of its own.
SETTINGS_OVER_SIDES, COUNTED_OVER_SIDES = 5.0, 40.0
# How many per cent fewer settings the scorer counts than for the first plans, of plans with equal sheets; the
# whole board alone makes first plans.
SETTINGS_FEWER = 25.0


def scorer(shared):
    """The scorer of cutting plans as a module, and the folder of jobs."""
    path, jobs = shared / "tools" / "score_cutting.py", shared / "corpora" / "cutting"
    if not path.is_file() or not jobs.is_dir():
        raise Missing(f"no cutting jobs and scorer in {shared}: say where they are with --shared PATH")
    spec = importlib.util.spec_from_file_location("score_cutting", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module, jobs


def planned(score, program, options, job, timeout):
    """The scorer's measures of a job, and what the program itself said of its plan."""
    command = f"{shlex.quote(str(program))} cut --instance {{file}} {options} --json"
    seconds, answer = score.run(command, job, timeout)
    row = score.result(job, seconds, answer)
    row["told"] = answer if isinstance(answer, dict) else {}
    row["sides"] = len({side for piece in job["pieces"] for side in (piece["width"], piece["height"])})
    if row["error"]:
        print(f"{row['name']}: {row['error']}", file=sys.stderr)
    return row


def settings_told(row):
    """How many settings the program itself tells."""
    return len(row["told"]["settings"])


def by_set(rows):
    sets = {}
    for row in rows:
        sets.setdefault(row["set"], []).append(row)
    return sets


# ------------------------------------------------------------------ figures

def total(rows, key):
    return sum(row[key] for row in rows)


def over(found, wanted):
    return 100 * (found - wanted) / wanted if wanted else 0.0


def counted(rows):
    """What the objective counts, as the scorer names it, and the scorer's name for the best known."""
    return {"sheets": ("sheets", "best_known_bins"), "cost": ("cost", "best_known_cost"),
            "value": ("value", "optimal_value")}[rows[0]["objective"]]


def over_best(rows):
    """By how many per cent a set is over the best known results, where there are any."""
    key, best = counted(rows)
    known = [row for row in rows if row[best] is not None]
    return over(total(known, key), total(known, best)) if known else None


def use(rows):
    return statistics.fmean(row["utilisation"] for row in rows)


def craft_figures(rows):
    """Per cent over the bound in sheets, and over the least cost measured."""
    sheets = [row for row in rows if row["objective"] == "sheets"]
    cost = [row for row in rows if row["objective"] == "cost" and row["best_known_cost"] is not None]
    return (over(total(sheets, "sheets"), total(sheets, "lower_bound")),
            over(total(cost, "cost"), total(cost, "best_known_cost")))


def missed(rows, sample):
    """One sentence for each floor that is missed."""
    out = [f"{row['name']}: no valid plan ({row['error']})" for row in rows if row["error"]]
    sets = by_set([row for row in rows if not row["error"]])
    for name, (figure, whole, short) in FLOORS.items():
        if name not in sets:
            continue
        floor = short if sample else whole
        found = use(sets[name]) if figure == "use" else over_best(sets[name])
        wrong = found < floor if figure == "use" else found > floor if figure == "over best known" else -found > floor
        if wrong:
            out.append(f"{name}: {figure} {found:.2f} %, the floor is {floor:.2f} %")
    craft = sets.get("craft", [])
    if craft:
        sheets, cost = craft_figures(craft)
        for what, found, most in (("sheets", sheets, CRAFT_SHEETS_OVER), ("cost", cost, CRAFT_COST_OVER)):
            if found > most[sample]:
                against = "lower bound" if what == "sheets" else "least cost measured"
                out.append(f"craft: {what} {found:.2f} % over the {against}, the floor is {most[sample]:.2f} %")
        sides = total(craft, "sides")
        for what, found, most in (("told", sum(settings_told(row) for row in craft), SETTINGS_OVER_SIDES),
                                  ("counted", total(craft, "settings"), COUNTED_OVER_SIDES)):
            if over(found, sides) > most:
                out.append(f"craft: settings {what} {over(found, sides):.2f} % over the number of sides, "
                           f"the floor is {most:.2f} %")
    return out


# ------------------------------------------------------------------ the board

def number(value, digits=1):
    if value is None:
        return "-"
    return f"{value:.0f}" if value == int(value) else f"{value:.{digits}f}"


def set_line(name, rows):
    valid = [row for row in rows if not row["error"]]
    key, best = counted(rows)
    known = [row for row in valid if row[best] is not None]
    as_good = sum(row[key] >= row[best] if key == "value" else row[key] <= row[best] + 1e-6 for row in known)
    bounds = [row["lower_bound"] for row in valid]
    times = sorted(1000 * row["seconds"] for row in rows)
    gap = over_best(valid)
    return [f"{name}, {key}", str(len(rows)), str(len(rows) - len(valid)), number(total(valid, key)),
            number(total(known, best)) if known else "-", "-" if gap is None else f"{gap:.2f}",
            f"{as_good} of {len(known)}" if known else "-",
            number(sum(bounds)) if all(b is not None for b in bounds) else "-",
            str(sum(bool(row["told"].get("optimal")) for row in valid)), f"{use(valid):.1f}",
            f"{statistics.median(times):.0f}", f"{times[min(len(times) - 1, int(0.95 * len(times)))]:.0f}"]


def fewer_settings(counts):
    """A sentence where too few settings were saved after the first plans."""
    fewer = -over(counts[1], counts[0])
    if fewer >= SETTINGS_FEWER:
        return []
    return [f"craft: {fewer:.1f} % fewer settings counted than for the first plans, the floor is {SETTINGS_FEWER:.0f} %"]


def craft_line(first, last):
    key = counted([last])[0]
    if first["error"] or last["error"]:
        return [last["name"]] + ["-"] * 8
    return [last["name"], number(first[key]), number(last[key]), str(last["sides"]), str(settings_told(first)),
            str(settings_told(last)), str(first["settings"]), str(last["settings"]), str(last["cuts"])]


def board(rows, first, effort, short):
    lines = []
    for name, found in by_set(rows).items():
        kinds = sorted({row["objective"] for row in found}, reverse=True)
        for kind in kinds:
            lines.append(set_line(name, [row for row in found if row["objective"] == kind]))
    craft = [row for row in rows if row["set"] == "craft"]
    valid = [(a, b) for a, b in zip(first, craft) if not (a["error"] or b["error"])]
    alike = [(a, b) for a, b in valid if a["sheets"] == b["sheets"]]
    told = [sum(settings_told(pair[k]) for pair in alike) for k in (0, 1)]
    counts = [sum(pair[k]["settings"] for pair in alike) for k in (0, 1)]
    sides = sum(last["sides"] for _, last in alike)
    misses = missed(rows, short) + fewer_settings(counts)
    floors = "\n".join(f"- {line}" for line in misses) or "None."
    return f"""# How well sheets are planned

Made by `python3 tests/cutting_board.py`, which has the built program plan every job in `../shared/corpora/cutting`, one
at a time, {effort} each, and the scorer beside the corpus check and measure every plan from the places of the
pieces alone. Written by that command alone: change the program, not the figures. Times depend on the machine.

The jobs are those of the literature (`README.md` of the corpus names each source) and made card-making jobs. *Best* is
the sum of the best known results, where there are any; *proven* counts the plans of which the program itself says that
none can do better; *use* is the mean of the pieces' area in per cent of the sheets'.

{table(["set, what counts", "jobs", "invalid", "sum", "best", "over %", "as good", "lower bound", "proven", "use %",
        "median ms", "95 % ms"], lines)}

## Card-making jobs

*First* is the first plan, found before any search; *sides* is how many different sides the pieces have, and each of
these has to be a setting of the trimmer unless it is everywhere what remains of a cut. Settings are *told* by the
program, as its list of cuts has them, and *counted* by the scorer, which takes sheets apart in an order of its own. Of
the {len(alike)} plans with as many sheets as the first: {told[0]} settings told for the first plans, {told[1]} for the
last, {counts[0]} and {counts[1]} counted, {sides} sides.

{table(["job", "first", "last", "sides", "told, first", "told, last", "counted, first", "counted, last", "cuts"],
       [craft_line(a, b) for a, b in zip(first, craft)])}

## Floors that are missed

{floors}
"""


def main():
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("--check", action="store_true", help="write nothing, hold a sample against the floors")
    ap.add_argument("--shared", type=Path, default=boards.ROOT.parent / "shared", help="where corpora and scorers are")
    effort = ap.add_mutually_exclusive_group()
    effort.add_argument("--time", type=float, default=1.0, help="seconds of search for each job of the board")
    effort.add_argument("--rounds", type=int, help="rounds of search instead: the same plans on any machine")
    arguments = ap.parse_args()
    score, folder = scorer(arguments.shared.resolve())
    program = boards.build()
    jobs = [job for _, job in score.find(str(folder), set(), 0)]
    if arguments.check:
        sample = [job for name, found in by_set(jobs).items() for job in found[::SAMPLE.get(name, 1)]]
        rows = [planned(score, program, f"--rounds {ROUNDS}", job, TIMEOUT_S) for job in sample]
        misses = missed(rows, True)
        for line in misses:
            print(f"cutting_board: {line}", file=sys.stderr)
        # One check a plan and a floor.
        checks = len(rows) + len(FLOORS) + 3
        print(f"{checks - len(misses)} passed, {len(misses)} failed")
        return 1 if misses else 0
    first = [planned(score, program, "--rounds 0", job, TIMEOUT_S) for job in jobs if job["set"] == "craft"]
    short = arguments.rounds is not None
    options, effort = f"--time {arguments.time:g}", f"{arguments.time:g} s"
    if short:
        options, effort = f"--rounds {arguments.rounds}", f"{arguments.rounds} rounds"
    rows = [planned(score, program, options, job, arguments.time + TIMEOUT_S) for job in jobs]
    BOARD.write_text(board(rows, first, effort, short))
    misses = missed(rows, short)
    print(f"written: {BOARD.relative_to(boards.ROOT)}")
    for line in misses:
        print(f"cutting_board: {line}", file=sys.stderr)
    return 1 if misses else 0


if __name__ == "__main__":
    try:
        sys.exit(main())
    except Missing as missing:
        print(f"cutting_board: {missing}", file=sys.stderr)
        sys.exit(2)
