#!/usr/bin/env python3
"""Holds the service against its own description, with schemathesis.

    python3 tests/contract.py [--examples N]

Starts the built program (release) on an empty folder with the demo's data,
and has schemathesis (PyPI, MIT) make requests of /api/openapi.json: every
status, type and body that comes back has to be one that the description
names, and none may be a 5xx. The seed is fixed, so a failure comes again.

One check is left out: that every request that fits the schemas is taken. A
panel has to lie on its card and a batch has to name layouts that are there,
which no JSON Schema says; such requests are answered 422 with a sentence.

Exit codes: 0 all well, 1 an answer is not as described, 2 something needed is
not there.
"""
import argparse
import subprocess
import sys
import tempfile
from pathlib import Path

import boards
from boards import Missing

SEED = 20261127
CHECKS_LEFT_OUT = "positive_data_acceptance"


def schemathesis():
    """The program of that name, beside this Python or in the checks' own folder."""
    for folder in (Path(sys.executable).parent, boards.ROOT / "target" / "outside" / "bin"):
        if (folder / "schemathesis").exists():
            return folder / "schemathesis"
    raise Missing("schemathesis is not there: pip install schemathesis")


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--examples", type=int, default=12, help="requests tried for each operation and phase")
    args = parser.parse_args()
    try:
        tester, program = schemathesis(), boards.build()
    except Missing as missing:
        print(missing, file=sys.stderr)
        return 2
    with tempfile.TemporaryDirectory() as folder:
        command = [program, "serve", "--data", folder, "--demo", "--listen", "127.0.0.1:0"]
        service = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        try:
            address = service.stdout.readline().split("eighths is at ")[1].strip()
            done = subprocess.run([
                tester, "run", f"{address}api/openapi.json", "--seed", str(SEED), "--max-examples", str(args.examples),
                "--exclude-checks", CHECKS_LEFT_OUT, "--no-color",
            ], check=False, cwd=folder)
        finally:
            service.terminate()
            service.wait(60)
    return 1 if done.returncode else 0


if __name__ == "__main__":
    sys.exit(main())
