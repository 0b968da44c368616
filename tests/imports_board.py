#!/usr/bin/env python3
"""Measures imports and writes the board, boards/imports.md.

    python3 tests/imports_board.py [--check] [--shared PATH]

Builds the program (release), fills a folder with some 300 files made of the
corpora - exact duplicates, turned copies, broken files, blank backs, PDFs and
TIFFs of several pages, zip archives - and imports it: at the command line,
over HTTP, and killed at 20 moments without pattern and gone on with. Then it
measures throughput with one worker and with as many as there are processors,
memory on 12-megapixel photos, and memory along 1000 files. With --check
nothing is written, and the exit code is 1 when a floor is missed.

Pillow has to be there (PyPI); the corpora are expected in ../shared, seen from
the repository: --shared says where else they are.

Exit codes: 0 all well, 1 a floor is missed, 2 something needed is not there.
"""
import argparse
import http.client
import io
import json
import os
import random
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
import zipfile
from pathlib import Path

import boards
from boards import Missing, table

BOARD = boards.ROOT / "boards" / "imports.md"
SEED = 20261127
KILLS = 20
# Of single-core reading with N processors, per N.
LEAST_SCALING = 0.9
# Peak memory with two workers on photos of 12 megapixels, in MB.
MOST_MEMORY_MB = 400
# Peak memory along 1000 files over that along the first 250, as a factor.
MOST_GROWTH = 1.15


def with_pillow():
    """Starts anew with a Python that has Pillow, where this one has not."""
    try:
        import PIL  # noqa: F401
    except ImportError:
        other = boards.ROOT / "target" / "outside" / "bin" / "python"
        if not other.exists() or Path(sys.prefix) == other.parent.parent:
            raise Missing("Pillow is not there: pip install pillow") from None
        os.execv(other, [str(other), *sys.argv])


def pictures(shared):
    """Every photo of the corpora, in order."""
    found = []
    for corpus in ("layouts", "layouts-more", "hand-drawn"):
        folder = shared / "corpora" / corpus
        found += sorted(p for p in folder.rglob("*") if p.suffix.lower() in (".jpg", ".jpeg", ".png"))
    if len(found) < 100:
        raise Missing(f"too few photos in {shared}: say where the corpora are with --shared PATH")
    return found


def fill(folder, shared):
    """Fills a folder with files; gives what is known of them by name."""
    from PIL import Image, ImageDraw, ImageFilter

    dice = random.Random(SEED)
    photos = pictures(shared)
    layouts = [p for p in photos if "layouts" in p.parent.name]
    known = {}

    def put(name, data, kind):
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
        known[name] = kind

    def encoded(picture, form, **options):
        out = io.BytesIO()
        picture.save(out, form, **options)
        return out.getvalue()

    for path in photos:
        put(f"drawer/{path.parent.name}/{path.name}", path.read_bytes(), "photo")
    for path in dice.sample(photos, 35):
        put(f"twice/{path.parent.name} {path.name}", path.read_bytes(), "duplicate")
    for index, path in enumerate(dice.sample(layouts, 40)):
        picture = Image.open(path).convert("RGB").rotate((90, 180, 270)[index % 3], expand=True)
        put(f"turned/{path.parent.name} {path.stem}.jpg", encoded(picture, "JPEG", quality=82), "turned")
    for index in range(12):
        grey = dice.randrange(225, 250)
        picture = Image.effect_noise((1240, 1600), 6).point(lambda v, grey=grey: min(255, v - 128 + grey)).convert("RGB")
        if index % 3 == 1:
            draw = ImageDraw.Draw(picture)
            for y in range(90, 1600, 62):
                draw.line([(0, y), (1240, y)], fill=(150, 180, 215), width=2)
        elif index % 3 == 2:
            other = Image.open(layouts[index]).convert("L").resize(picture.size).filter(ImageFilter.GaussianBlur(3))
            # The other side shines through: mirrored, and a twentieth as dark.
            shine = other.transpose(Image.FLIP_LEFT_RIGHT).point(lambda v: 242 + v // 20)
            picture = Image.merge("RGB", [shine] * 3)
        put(f"backs/back {index}.jpg", encoded(picture, "JPEG", quality=88), "blank")
    broken = [b"", b"Cards for the Thursday round", b"<html><body>not here</body></html>", bytes(range(256)) * 40,
              b"GIF89a" + bytes(200), b"%PDF-1.7\n%%EOF", b"PK\x03\x04 nothing", b"\x89PNG\r\n\x1a\n" + bytes(60)]
    for index in range(16):
        data = photos[index].read_bytes()
        broken.append(data[: len(data) * dice.randrange(5, 90) // 100])
    for index, data in enumerate(broken):
        put(f"broken/{index:02}.jpg", data, "broken")
    for index in range(12):
        pages = [Image.open(path).convert("RGB") for path in dice.sample(layouts, dice.randrange(2, 6))]
        for page in pages:
            page.thumbnail((2000, 2000))
        put(f"scans/scan {index}.pdf", encoded(pages[0], "PDF", save_all=True, append_images=pages[1:], resolution=200), "pdf")
    for index in range(12):
        pages = [Image.open(path).convert("L") for path in dice.sample(layouts, dice.randrange(2, 5))]
        for page in pages:
            page.thumbnail((1600, 1600))
        put(f"scans/fax {index}.tif", encoded(pages[0], "TIFF", save_all=True, append_images=pages[1:], compression="tiff_deflate"), "tiff")
    for index in range(5):
        out = io.BytesIO()
        with zipfile.ZipFile(out, "w") as archive:
            for number, path in enumerate(dice.sample(layouts, 8)):
                picture = Image.open(path).convert("RGB")
                picture.thumbnail((1400 + 10 * index, 1400 + 10 * index))
                archive.writestr(f"page {number}.jpg", encoded(picture, "JPEG", quality=85))
        put(f"more/archive {index}.zip", out.getvalue(), "zip")
    return known


def imported(program, folder, data, report, jobs, kill_after=None):
    """Imports a folder; seconds, or None where it was killed."""
    command = [program, "import", folder, "--data", data, "--jobs", str(jobs), "--report", report]
    started = time.monotonic()
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
    try:
        _, said = process.communicate(timeout=kill_after)
    except subprocess.TimeoutExpired:
        process.kill()
        process.communicate()
        return None
    if process.returncode not in (0, 1, 3):
        raise Missing(f"the import failed: {said.decode()}")
    return time.monotonic() - started


def seconds_of(command):
    """How long a program takes."""
    started = time.monotonic()
    subprocess.run([str(word) for word in command], stdout=subprocess.DEVNULL, check=False)
    return time.monotonic() - started


def memory_of(command):
    """Peak memory in MB of a program and of all that it starts, together."""
    process = subprocess.Popen([str(word) for word in command], stdout=subprocess.DEVNULL)
    most = 0
    while process.poll() is None:
        memory, parents = {}, {}
        for folder in Path("/proc").glob("[0-9]*"):
            try:
                status = dict(line.split(":", 1) for line in (folder / "status").read_text().splitlines() if ":" in line)
            except OSError:
                continue
            parents[int(folder.name)] = int(status["PPid"])
            memory[int(folder.name)] = int(status.get("VmRSS", "0 kB").split()[0])
        most = max(most, sum(rss for pid, rss in memory.items() if process.pid in (pid, parents[pid])))
        time.sleep(0.02)
    return most / 1024


def outcomes(files):
    """What a report says, file by file, without what may differ between notebooks."""
    return [
        (file["number"], file["name"], [(p["page"], p["outcome"], p["reason"], p.get("photo"), p["layouts"]) for p in file["pages"]])
        for file in sorted(files, key=lambda file: file["number"])
    ]


class Service:
    """The built program, serving."""

    def __init__(self, program, data, workers):
        self.process = subprocess.Popen([program, "serve", "--data", data, "--listen", "127.0.0.1:0", "--workers", str(workers)],
                                        stdout=subprocess.PIPE, text=True)
        self.address = self.process.stdout.readline().split("//")[1].strip().strip("/")

    def ask(self, method, path, body=None, headers=None):
        connection = http.client.HTTPConnection(self.address, timeout=300)
        connection.request(method, path, body, headers or {})
        answer = connection.getresponse()
        return answer.status, json.loads(answer.read())

    def stop(self):
        self.process.terminate()
        self.process.wait(60)


def sent(program, folder, data, workers):
    """Sends a folder to a service, in parts, and waits for the end; the outcomes."""
    service = Service(program, data, workers)
    try:
        names = [path for path in sorted(folder.rglob("*"), key=lambda p: p.relative_to(folder).parts) if path.is_file()]
        place = "/api/imports"
        for start in range(0, len(names), 25):
            part = names[start:start + 25]
            body = b""
            fields = {"card": "A2", "open": "true" if start + 25 < len(names) else "false"}
            for name, value in fields.items():
                body += f'--between\r\ncontent-disposition: form-data; name="{name}"\r\n\r\n{value}\r\n'.encode()
            for path in part:
                name = path.relative_to(folder).as_posix()
                body += f'--between\r\ncontent-disposition: form-data; name="file"; filename="{name}"\r\n\r\n'.encode()
                body += path.read_bytes() + b"\r\n"
            body += b"--between--\r\n"
            status, answer = service.ask("POST", place, body, {"content-type": "multipart/form-data; boundary=between"})
            if status != 202:
                raise Missing(f"the service answered {status}: {answer}")
            place = f"/api/imports/{answer['id']}/files"
        place = place.removesuffix("/files")
        while service.ask("GET", place)[1]["state"] != "done":
            time.sleep(0.3)
        files, after = [], 0
        while True:
            more = service.ask("GET", f"{place}/files?limit=500&after={after}")[1]["files"]
            if not more:
                return files
            files += more
            after = more[-1]["sequence"]
    finally:
        service.stop()


def large_photos(folder, shared, count):
    """Photos of 12 megapixels."""
    from PIL import Image

    folder.mkdir()
    layouts = [p for p in pictures(shared) if p.parent.name == "layouts"]
    for index, path in enumerate(layouts[:count]):
        picture = Image.open(path).convert("RGB")
        size = (4000, 3000) if picture.width > picture.height else (3000, 4000)
        picture.resize(size).save(folder / f"{index}.jpg", quality=88)


def many_files(folder, shared, count):
    """So many small files that are all different."""
    from PIL import Image

    folder.mkdir()
    layouts = [p for p in pictures(shared) if "layouts" in p.parent.name]
    for index in range(count):
        picture = Image.open(layouts[index % len(layouts)]).convert("L")
        picture.thumbnail((620 + index // len(layouts), 620))
        picture.save(folder / f"{index:04}.jpg", quality=70)


def along(program, folder, data):
    """Memory in MB of an import after each quarter of its files."""
    process = subprocess.Popen([program, "import", folder, "--data", data, "--jobs", "2"], stdout=subprocess.DEVNULL,
                               stderr=subprocess.DEVNULL)
    quarters, total, memory = [], len(list(folder.iterdir())), 0
    import sqlite3
    while process.poll() is None:
        time.sleep(0.2)
        try:
            memory = next(int(line.split()[1]) for line in Path(f"/proc/{process.pid}/status").read_text().splitlines() if line.startswith("VmHWM"))
            with sqlite3.connect(f"file:{data}/notebook.sqlite?mode=ro", uri=True, timeout=5) as notebook:
                done = notebook.execute("SELECT count(sequence) FROM import_files").fetchone()[0]
        except (OSError, StopIteration, sqlite3.Error):
            continue
        while len(quarters) < 3 and done >= total * (len(quarters) + 1) // 4:
            quarters.append(memory / 1024)
    # What was seen last stands for the end.
    return [*quarters, memory / 1024]


def measure(shared, program, work):
    folder = work / "drawer"
    known = fill(folder, shared)
    cores = os.cpu_count() or 1
    report = work / "report.json"
    imported(program, folder, work / "whole", report, cores)
    whole = json.loads(report.read_text())
    expected = outcomes(whole["files"])
    over_http = outcomes(sent(program, folder, work / "sent", cores))
    dice, kills, seconds = random.Random(SEED), 0, None
    report.unlink()
    while kills < KILLS and seconds is None:
        seconds = imported(program, folder, work / "cut", report, cores, kill_after=dice.uniform(0.05, 4.0))
        kills += seconds is None
    if seconds is None:
        imported(program, folder, work / "cut", report, cores)
    cut = outcomes(json.loads(report.read_text())["files"])
    # Turned copies of a drawing, and originals of which none is a copy.
    first = {}
    for file in whole["files"]:
        for page in file["pages"]:
            for layout in page["layouts"]:
                first[layout["id"]] = file["name"]
    turned, found, false, originals = 0, 0, 0, 0
    for file in whole["files"]:
        kind = known.get(file["name"])
        for page in file["pages"]:
            for layout in page["layouts"]:
                like = first.get(layout.get("like"))
                if kind == "turned":
                    turned += 1
                    stem = Path(file["name"]).stem
                    found += like is not None and Path(like).stem in stem
                elif kind == "photo" and file["name"].startswith("drawer/layouts"):
                    originals += 1
                    false += like is not None
    blank = [page["outcome"] for file in whole["files"] if known.get(file["name"]) == "blank" for page in file["pages"]]
    wrongly_blank = [file["name"] for file in whole["files"] if known.get(file["name"]) in ("photo", "turned", "pdf", "tiff")
                     for page in file["pages"] if page["outcome"] == "blank"]
    large, many = work / "large", work / "many"
    large_photos(large, shared, 24)
    # By turns, so that what else the machine does falls on both; the middle one of three counts.
    turns = []
    for turn in range(3):
        one = seconds_of([program, "import", large, "--data", work / f"one-{turn}", "--jobs", 1])
        every = seconds_of([program, "import", large, "--data", work / f"all-{turn}", "--jobs", cores])
        turns.append(one / every / cores)
    memory = memory_of([program, "import", large, "--data", work / "large-two", "--jobs", 2])
    many_files(many, shared, 1000)
    quarters = along(program, many, work / "many-data")
    return {
        "counts": whole["counts"], "files": len(whole["files"]), "http": over_http == expected, "cut": cut == expected, "kills": kills,
        "turned": turned, "found": found, "originals": originals, "false": false,
        "blank": blank.count("blank"), "blanks": len(blank), "wrongly_blank": len(wrongly_blank),
        "cores": cores, "scaling": statistics.median(turns), "memory": memory, "quarters": quarters,
    }


def written(m):
    counts = m["counts"]
    words = [("read", "read"), ("doubtful", "doubtful"), ("already_there", "already there"), ("blank", "blank"),
             ("no_layout", "no layout found"), ("unreadable", "unreadable")]
    return f"""# How imports go

Made by `python3 tests/imports_board.py`, which runs the built program. Written by that command alone.

{m["files"]} files made of the corpora in `../shared/corpora`: exact duplicates, turned copies, broken files, blank backs, PDFs and
TIFFs of several pages, zip archives.

{table(["outcome", "pages"], [[title, str(counts[key])] for key, title in words])}

| question | answer |
| --- | ---: |
| the same files sent over HTTP have the same outcome, page by page | {"yes" if m["http"] else "NO"} |
| killed {m["kills"]} times at moments without pattern and gone on with, the report and every layout's number are the same | {"yes" if m["cut"] else "NO"} |
| layouts of turned copies for which their original was offered as the same | {m["found"]} of {m["turned"]} |
| layouts of different drawings that were offered as the same | {m["false"]} of {m["originals"]} |
| blank backs (plain, ruled, the other side shining through) told as blank | {m["blank"]} of {m["blanks"]} |
| drawings told as blank | {m["wrongly_blank"]} |
| {m["cores"]} workers on {m["cores"]} processors, of {m["cores"]} times one worker's throughput (floor {LEAST_SCALING}) | {m["scaling"]:.2f} |
| peak memory of the program and its reading processes together, 2 workers, photos of 12 megapixels, MB (floor {MOST_MEMORY_MB}) | {m["memory"]:.0f} |
| peak memory of the program itself after each quarter of 1000 files, MB | {", ".join(f"{q:.0f}" for q in m["quarters"])} |
"""


def misses(m):
    found = []
    if not m["http"]:
        found.append("over HTTP the outcome is another one")
    if not m["cut"]:
        found.append("cut off and gone on with, the outcome is another one")
    if m["scaling"] < LEAST_SCALING:
        found.append(f"throughput: {m['scaling']:.2f} of {m['cores']} times one worker's")
    if m["memory"] > MOST_MEMORY_MB:
        found.append(f"memory: {m['memory']:.0f} MB")
    if len(m["quarters"]) < 4 or m["quarters"][3] > MOST_GROWTH * m["quarters"][0]:
        found.append(f"memory grows along many files: {m['quarters']}")
    return found


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--check", action="store_true")
    parser.add_argument("--shared", type=Path, default=boards.ROOT.parent / "shared")
    args = parser.parse_args()
    try:
        with_pillow()
        program = boards.build()
        work = Path(tempfile.mkdtemp())
        try:
            m = measure(args.shared, program, work)
        finally:
            shutil.rmtree(work, ignore_errors=True)
    except Missing as missing:
        print(missing, file=sys.stderr)
        return 2
    print(written(m))
    if not args.check:
        BOARD.write_text(written(m))
    for miss in misses(m):
        print("missed:", miss, file=sys.stderr)
    return 1 if misses(m) else 0


if __name__ == "__main__":
    sys.exit(main())
