#!/usr/bin/env python3
"""Long runs that try to lose, break or exhaust something, and their board.

    python3 tests/reliability.py faults [--times FACTOR]    pulled plugs: 600 kills
    python3 tests/reliability.py load [--seconds N]         64 clients for a minute
    python3 tests/reliability.py fuzz [--minutes N]         bytes of all sorts: 33 minutes
                                      [--only NAME,NAME]    some targets; the rows of the others stay
    python3 tests/reliability.py contract [--examples N]    requests of all sorts
    python3 tests/reliability.py program                    the program's size and start

Each ends with an error at the first loss, crash or limit missed; where all is
well it writes its part of boards/reliability.md, with the date. `--no-board`
leaves the board alone. Fuzzing needs cargo-fuzz (cargo install cargo-fuzz),
the contract schemathesis (./check installs it).

Inputs that broke a target are in target/fuzz/artifacts: when the fault is
mended they go to tests/fuzz/regressions, which every ./check tries.

Exit codes: 0 all well, 1 something was lost, broken or too slow, 2 something
needed is not there.
"""
import argparse
import datetime
import os
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import boards
from boards import Missing, table

BOARD = boards.ROOT / "boards" / "reliability.md"
FUZZ = boards.ROOT / "target" / "fuzz"
# Bytes in a MB, as disks are sold.
MB = 1_000_000
# The largest input that is tried at a target.
LONGEST_INPUT = 131_072
# A target that takes longer for one input hangs; more memory is a leak or a bomb.
HANGS_AFTER_S, MOST_MEMORY_MB = 45, 3_000
STARTS = 15

HEAD = """# What holds under load, faults and hostile bytes

Made by `python3 tests/reliability.py`, one part by each of its commands. Written by those commands alone, and only
when nothing was lost, broken or over its limit.
"""

PARTS = {
    "faults": ("Pulled plugs", """
The program is killed (`SIGKILL`) at moments without pattern, started again, and asked for everything it had answered;
`eighths check` has to find the notebook whole. A cutting has to be there whole or not at all, an import to end as one
that nobody killed. A loss ends the run.
"""),
    "load": ("Load", """
Clients search, look and save with pauses of up to 0.4 s while two others send photos without a pause, so that two
readings run all the time; twenty connections send a byte now and then in the head or the body of a request. Limits:
99 of 100 saves within 250 ms, no error but 503, nothing lost, memory flat, every dripping connection closed. At the
end the service is told to stop and has to do so in order. All of it on one machine, the clients too.
"""),
    "fuzz": ("Bytes of all sorts", """
libFuzzer (by cargo-fuzz) at every place where foreign bytes come in; what each target does stands in
`tests/src/fuzz.rs`. A crash, a wait of 45 s or 3 GB of memory ends the run.
"""),
    "contract": ("Requests of all sorts", """
schemathesis on the built program and its own description of the service: every status and body has to be one that the
description names, none a 5xx that nobody announced.
"""),
    "program": ("The program", """
The release build, and how long it takes from its start to its address, on an empty folder and on one with the
demo's layouts; the median of fifteen starts.
"""),
}


def rows_of(head, rows):
    """A table of values of any kind."""
    return table(head, [[str(value) for value in row] for row in rows])


def run(command, **options):
    """Runs a command to its end and gives what it said; what it complains of is shown."""
    done = subprocess.run([str(word) for word in command], cwd=boards.ROOT, stdout=subprocess.PIPE, text=True,
                          check=False, **options)
    if done.returncode:
        print(done.stdout)
        print(f"{Path(command[0]).name}: exit code {done.returncode}", file=sys.stderr)
        sys.exit(1)
    return done.stdout.strip()


def test_program(name, *words):
    """Runs one of the programs of the package `tests` on the release build of the program."""
    environment = {**os.environ, "EIGHTHS": str(boards.build())}
    return run(["cargo", "run", "--quiet", "--package", "tests", "--bin", name, "--", *words], env=environment)


def faults(args):
    return test_program("fault-loop", str(args.times))


def load(args):
    return test_program("load-run", str(args.seconds))


def fuzz(args):
    environment = {**os.environ, "CARGO_TARGET_DIR": str(FUZZ)}
    programs = sorted(path.stem for path in (boards.ROOT / "tests" / "fuzz" / "fuzz_targets").glob("*.rs"))
    seeds, corpora = FUZZ / "seeds", boards.ROOT.parent / "shared" / "corpora"
    if not args.built:
        if not shutil.which("cargo-fuzz"):
            raise Missing("cargo-fuzz is not there: cargo install cargo-fuzz")
        test_program("fuzz-seeds", str(seeds), *([str(corpora)] if corpora.is_dir() else []))
        # No sanitizer: the code has no unsafe of its own, and without one any Rust will do.
        built = subprocess.run(["cargo", "fuzz", "build", "--fuzz-dir", "tests/fuzz", "--sanitizer", "none", "--release"],
                               cwd=boards.ROOT, env=environment, check=False)
        if built.returncode:
            raise Missing("the fuzz targets do not build: see the messages above")
    host = re.search(r"host: (\S+)", run(["rustc", "-vV"])).group(1)
    rows = earlier_rows() if args.only else {}
    programs = [name for name in programs if not args.only or name in args.only.split(",")]
    for name in programs:
        found, broken = FUZZ / "corpus" / name, FUZZ / "artifacts" / name
        for folder in (found, broken):
            folder.mkdir(parents=True, exist_ok=True)
        before = set(broken.iterdir())
        folders = [found, seeds / name, boards.ROOT / "tests" / "fuzz" / "regressions" / name]
        command = [FUZZ / host / "release" / name, *[folder for folder in folders if folder.is_dir()],
                   f"-max_total_time={round(60 * args.minutes / len(programs))}", f"-max_len={LONGEST_INPUT}",
                   f"-timeout={HANGS_AFTER_S}", f"-rss_limit_mb={MOST_MEMORY_MB}", f"-artifact_prefix={broken}/",
                   f"-report_slow_units={HANGS_AFTER_S}", "-print_final_stats=1", "-verbosity=1"]
        start = time.monotonic()
        with tempfile.TemporaryDirectory(dir="/dev/shm" if Path("/dev/shm").is_dir() else None) as quick:
            done = subprocess.run(command, cwd=boards.ROOT, env={**environment, "TMPDIR": quick}, text=True,
                                  stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, check=False)
        runs = int((re.findall(r"number_of_executed_units: (\d+)", done.stderr) or ["0"])[-1])
        covered = (re.findall(r"cov: (\d+)", done.stderr) or ["0"])[-1]
        new = sorted(set(broken.iterdir()) - before)
        seconds = round(time.monotonic() - start)
        print(f"{name}: {runs} inputs in {seconds} s", flush=True)
        if done.returncode or new:
            print(done.stderr[-3000:], file=sys.stderr)
            print(f"{name} broke on {', '.join(map(str, new)) or 'an input that was not kept'}", file=sys.stderr)
            args.failed.append(name)
        regressions = boards.ROOT / "tests" / "fuzz" / "regressions" / name
        kept = len(list(regressions.iterdir())) if regressions.is_dir() else 0
        rows[name] = [name, runs, int(covered), kept, seconds]
    lines = [rows[name] for name in sorted(rows)]
    total = [sum(row[column] for row in lines) for column in range(1, 5)]
    lines.append(["**all**", total[0], "", total[2], total[3]])
    return rows_of(["target", "inputs tried", "edges covered", "inputs that once broke it", "seconds"], lines)


def earlier_rows():
    """The targets' rows that the board has, by their names."""
    text = BOARD.read_text() if BOARD.exists() else ""
    part = text.partition(f"## {PARTS['fuzz'][0]}")[2].partition("\n## ")[0]
    found = re.findall(r"^\| (\w+) \| (\d+) \| (\d+) \| (\d+) \| (\d+) \|$", part, re.MULTILINE)
    return {name: [name, *map(int, figures)] for name, *figures in found}


def contract(args):
    python = boards.ROOT / "target" / "outside" / "bin" / "python"
    words = [python if python.exists() else sys.executable, "tests/contract.py"]
    said = run(words + (["--examples", str(args.examples)] if args.examples else []))
    cases = re.search(r"(\d+) generated, (\d+) passed", said)
    operations = re.search(r"Selected: (\d+)/", said) or re.search(r"(\d+) selected", said)
    if not cases:
        raise Missing("schemathesis says its result in other words than it used to: look at what `python3 tests/contract.py` prints")
    rows = [[operations.group(1) if operations else "all", cases.group(1), cases.group(2), 0]]
    return rows_of(["operations", "requests", "answered as described", "not"], rows)


def program(_):
    built = boards.build()
    rows = [["size of the program, MB", f"{built.stat().st_size / MB:.1f}"]]
    with tempfile.TemporaryDirectory() as folder:
        full = Path(folder) / "full"
        started(built, full, ["--demo"], 60)
        for name, data in (("empty folder", None), ("the demo's notebook", full)):
            times = []
            for index in range(STARTS):
                times.append(started(built, data or Path(folder) / f"empty-{index}", [], 0))
            rows.append([f"start to address, {name}, ms", f"{1000 * statistics.median(times):.0f}"])
    return rows_of(["what", "figure"], rows)


def started(built, data, words, patience):
    """Seconds from the start to the address; then stopped, `patience` seconds later at most."""
    start = time.monotonic()
    service = subprocess.Popen([built, "serve", "--data", data, "--listen", "127.0.0.1:0", *words],
                               stdout=subprocess.PIPE, text=True)
    line = service.stdout.readline()
    seconds = time.monotonic() - start
    if "eighths is at" not in line:
        raise Missing(f"the program does not start: {line}")
    if patience:
        # The demo's photos are read one after the other.
        time.sleep(min(patience, 20))
    service.terminate()
    service.wait(60)
    return seconds


def write(name, text):
    """Puts a part into the board, in the order of the parts."""
    found = {}
    if BOARD.exists():
        for part in BOARD.read_text().split("\n## ")[1:]:
            heading, _, rest = part.partition("\n")
            found[heading] = rest.strip("\n")
    heading, words = PARTS[name]
    found[heading] = f"{words}\nRun on {datetime.date.today().isoformat()}.\n\n{text}"
    parts = [f"\n## {heading}\n{found[heading]}\n" if found[heading].startswith("\n") else f"\n## {heading}\n\n{found[heading]}\n"
             for heading, _ in PARTS.values() if heading in found]
    BOARD.write_text(HEAD + "".join(parts))


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--no-board", action="store_true", help="leave the board alone")
    commands = parser.add_subparsers(dest="what", required=True)
    commands.add_parser("faults").add_argument("--times", type=float, default=1.0, help="how many times the usual rounds")
    commands.add_parser("load").add_argument("--seconds", type=int, default=60)
    fuzzing = commands.add_parser("fuzz")
    fuzzing.add_argument("--minutes", type=float, default=33, help="for all targets together")
    fuzzing.add_argument("--only", help="these targets, with commas between; for the minutes given")
    fuzzing.add_argument("--built", action="store_true", help="take the targets and seeds as they were built last")
    commands.add_parser("contract").add_argument("--examples", type=int, help="requests for each operation and phase")
    commands.add_parser("program")
    args = parser.parse_args()
    args.failed = []
    try:
        text = {"faults": faults, "load": load, "fuzz": fuzz, "contract": contract, "program": program}[args.what](args)
    except Missing as missing:
        print(missing, file=sys.stderr)
        return 2
    print(text)
    if args.failed:
        return 1
    if not args.no_board:
        write(args.what, text)
    return 0


if __name__ == "__main__":
    sys.exit(main())
