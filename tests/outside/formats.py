#!/usr/bin/env python3
"""Holds the pages that the reader sees of documents against other decoders:
HEIC against libheif (pillow-heif 1.8.1, BSD; its source package's own samples,
used in place), TIFF against libtiff (Pillow) and the sample of scikit-image,
PDF against PDFium (pypdfium2); and that `eighths capture` reads the same from
a PDF as from the picture that PDFium draws of it. EIGHTHS names the program,
PAGE_PICTURES the tool that writes pages as pictures."""

import io
import json
import os
import subprocess
import sys
import tarfile
import tempfile
from pathlib import Path

import numpy as np
import pillow_heif
import pypdfium2 as pdfium
from PIL import Image, ImageOps
from reportlab.lib.pdfencrypt import StandardEncryption
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen import canvas

ROOT = Path(__file__).resolve().parents[2]
PROGRAM = os.environ.get("EIGHTHS", str(ROOT / "target/release/eighths"))
TOOL = os.environ.get("PAGE_PICTURES", str(ROOT / "target/debug/page-pictures"))
SAMPLES = ROOT / "sample-images"
# Where `check` puts the source package of pillow-heif.
HEIF = Path(sys.prefix) / "heif"
# Grey levels: of the whole page, and of the worst of its 16 x 16 parts.
MEAN, PART = 1.5, 6.0
SHORTEST_SIDE = 200

passed = failed = 0


def check(what, holds, more=""):
    global passed, failed
    if holds:
        passed += 1
    else:
        failed += 1
        print(f"FAILED: {what} {more}")


def pages(path):
    """What the reader sees: a picture or a sentence for each page, or one sentence."""
    with tempfile.TemporaryDirectory() as out:
        run = subprocess.run([TOOL, str(path), out], capture_output=True, text=True)
        check(f"{path.name} ends with an answer", run.returncode in (0, 1) and not run.stderr, run.stderr[-300:])
        found = []
        for line in map(json.loads, run.stdout.splitlines()):
            if "error" in line:
                found.append(line["error"])
            else:
                found.append(Image.open(Path(out) / f"{line['page']}.png").convert("RGB").copy())
        return found


def seen(picture):
    """A picture of any mode as 8-bit colours on white paper."""
    if picture.mode.startswith("I"):
        return Image.fromarray((np.asarray(picture).astype(np.uint32) >> 8).astype(np.uint8)).convert("RGB")
    if picture.mode in ("LA", "RGBA", "PA"):
        white = Image.new("RGBA", picture.size, "white")
        return Image.alpha_composite(white, picture.convert("RGBA")).convert("RGB")
    return picture.convert("RGB")


def alike(what, ours, theirs, mean=MEAN, part=PART):
    """Whether a page is the other decoder's picture."""
    if isinstance(ours, str):
        return check(what, False, f"was refused: {ours}")
    if ours.size != theirs.size:
        return check(what, False, f"is {ours.size}, not {theirs.size}")
    a, b = (np.asarray(p).astype(np.float64).mean(axis=2) for p in (ours, seen(theirs)))
    parts = [np.array([[c.mean() for c in np.array_split(r, 16, axis=1)] for r in np.array_split(p, 16)]) for p in (a, b)]
    apart = abs(a.mean() - b.mean())
    worst = np.abs(parts[0] - parts[1]).max()
    check(what, apart <= mean and worst <= part, f"is {apart:.2f} apart, its worst part {worst:.2f}")


# --- HEIC

# Samples on which the decoders differ, of which it is only asked that they open.
ODD = {
    "guitar_cw90.hif",  # a camera's 10 bits in 4:2:2: the two are 3.6 grey levels apart as a whole
    "alpha.heic",  # laid together (iovl) of two others, which libheif counts as pictures and which are parts here
    "invalid_id.heic",  # its primary picture is a grid, which is read here; libheif finds the one beside it alone
}


def heic():
    archive = next(HEIF.glob("pillow_heif-*.tar.gz"))
    broken = opened = 0
    with tempfile.TemporaryDirectory() as folder, tarfile.open(archive) as tar:
        for member in tar.getmembers():
            name = Path(member.name).name
            if "/tests/images/" not in member.name or not name.endswith((".heic", ".heif", ".hif")):
                continue
            path = Path(folder) / name
            path.write_bytes(tar.extractfile(member).read())
            try:
                theirs = pillow_heif.open_heif(path, convert_hdr_to_8bit=True)
                picture = theirs.to_pillow()
                count = len(theirs)
            except Exception:
                picture = None
            ours = pages(path)
            if picture is None or "corrupted" in member.name or "truncated" in member.name:
                broken += 1
                check(f"{name}, which is broken, is refused with a sentence", isinstance(ours[0], str) and ": " in ours[0], ours[0])
            elif picture.width * picture.height > 64_000_000:
                check(f"{name} is over the limit", "over the limit of 64 megapixels" in ours[0], ours[0])
            elif min(picture.size) < SHORTEST_SIDE:
                # It is told by its header, before it is cropped.
                words = "a layout needs at least 200 on its shorter side"
                check(f"{name} is too small", isinstance(ours[0], str) and words in ours[0], ours[0])
            elif name in ODD:
                check(f"{name} opens", not isinstance(ours[0], str), ours[0])
            else:
                opened += 1
                alike(name, ours[0], picture)
                check(f"{name} has {count} pictures", len(ours) == count, len(ours))
            path.unlink()
    check("there were samples to compare", opened >= 9 and broken >= 4, f"{opened} and {broken}")


# --- TIFF

def tiff():
    photo = ImageOps.exif_transpose(Image.open(SAMPLES / "pen-tilted.jpg")).resize((300, 400))
    kinds = [
        ("1", "group4"), ("1", "packbits"), ("1", None), ("L", "tiff_lzw"), ("L", "jpeg"), ("P", "tiff_deflate"),
        ("RGB", "jpeg"), ("RGB", "tiff_adobe_deflate"), ("RGBA", "tiff_lzw"), ("CMYK", "tiff_lzw"), ("I;16", None), ("LA", None),
    ]
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "page.tif"
        for mode, compression in kinds:
            if mode == "I;16":
                page = Image.fromarray(np.asarray(photo.convert("L")).astype(np.uint16) * 257)
            else:
                page = photo.convert(mode)
            page.save(path, compression=compression)
            alike(f"a TIFF of {mode}, {compression}", pages(path)[0], Image.open(path), mean=0.6, part=1.0)
        photo.convert("1").save(path, compression="group3")
        check("a group 3 fax is refused with what to do", "save it as JPEG or PNG" in str(pages(path)[0]), pages(path))
        several = [photo.rotate(angle, expand=True) for angle in (0, 90, 180)]
        several[0].save(path, save_all=True, append_images=several[1:], compression="tiff_lzw")
        ours = pages(path)
        check("a TIFF of three pages has three", len(ours) == 3, len(ours))
        for number, (page, theirs) in enumerate(zip(ours, several), 1):
            alike(f"page {number} of a TIFF", page, theirs, mean=0.01, part=0.01)
    sample = next(Path(sys.prefix).glob("lib/python*/site-packages/skimage/data/multipage.tif"))
    theirs = Image.open(sample)
    words = f"only {theirs.width} x {theirs.height} pixels"
    ours = pages(sample)
    check("the two tiny pages of scikit-image are counted and refused", len(ours) == theirs.n_frames and all(words in str(p) for p in ours), ours)


# --- PDF

def drawn_by_pdfium(path):
    document = pdfium.PdfDocument(path)
    return [document[index] for index in range(len(document))]


def compare_pdf(path):
    ours, theirs = pages(path), drawn_by_pdfium(path)
    check(f"{path.name} has {len(theirs)} pages", len(ours) == len(theirs), len(ours))
    for number, (page, other) in enumerate(zip(ours, theirs), 1):
        if isinstance(page, str):
            check(f"{path.name}, page {number}", False, page)
            continue
        scale = page.width / other.get_width()
        picture = other.render(scale=scale).to_pil().convert("RGB")
        # One rounds the page's other side up, one to the nearest.
        near = abs(picture.width - page.width) <= 1 and abs(picture.height - page.height) <= 1
        check(f"{path.name}, page {number} has its proportions", near, f"{page.size} {picture.size}")
        alike(f"{path.name}, page {number}", page, picture.resize(page.size))
    return ours


def reportlab_pages(path):
    """Text, colours, clips, transparency, a rotated page, a small picture."""
    pdf = canvas.Canvas(str(path), pagesize=(612, 792))
    pdf.setFont("Times-Roman", 30)
    pdf.drawString(72, 700, "Thank you, Edith")
    pdf.setFillColorRGB(0.2, 0.5, 0.8, alpha=0.5)
    pdf.circle(300, 400, 150, fill=1)
    pdf.linearGradient(50, 50, 250, 250, ((1, 0, 0), (1, 1, 0)), extend=False)
    pdf.showPage()
    pdf.setPageRotation(270)
    pdf.saveState()
    clip = pdf.beginPath()
    clip.rect(100, 100, 300, 500)
    pdf.clipPath(clip, stroke=0)
    pdf.drawImage(ImageReader(Image.open(SAMPLES / "colour.jpg")), 60, 80, 400, 475)
    pdf.restoreState()
    pdf.setDash(6, 3)
    pdf.line(10, 10, 600, 780)
    pdf.showPage()
    pdf.save()


def sizes(record):
    """The sizes of a record's shapes, without marks."""
    return [
        [(e["shape"], e["x"], e["y"], e["width"], e["height"]) for e in layout["elements"] if e["shape"] != "mark"]
        for layout in record["layouts"]
    ]


def captured(path, *more):
    run = subprocess.run([PROGRAM, "capture", str(path), "--json", *more], capture_output=True, text=True)
    check(f"{path.name} is read", run.returncode == 0, run.stderr)
    return json.loads(run.stdout) if run.returncode == 0 else {"layouts": []}


def pdf():
    with tempfile.TemporaryDirectory() as folder:
        folder = Path(folder)
        compare_pdf(SAMPLES / "scan-and-lines.pdf")
        drawing = folder / "drawing.pdf"
        reportlab_pages(drawing)
        compare_pdf(drawing)
        # Locked with a password, as reportlab writes it after ISO 32000-1, 7.6.
        locked = folder / "locked.pdf"
        page = canvas.Canvas(str(locked), pagesize=(612, 792), encrypt=StandardEncryption("Thursday", strength=128))
        page.rect(100, 100, 200, 200)
        page.showPage()
        page.save()
        run = subprocess.run([PROGRAM, "capture", str(locked)], capture_output=True, text=True)
        check("a locked PDF is refused with what to do", run.returncode == 1 and "locked with a password" in run.stderr, run.stderr)
        # The program's own prints.
        read = captured(SAMPLES / "pen-tilted.jpg")
        (folder / "layout.json").write_text(json.dumps(read["layouts"][0]))
        printed = folder / "printed.pdf"
        subprocess.run([PROGRAM, "print", str(folder / "layout.json"), "--out", str(printed)], check=True)
        compare_pdf(printed)
        # The same is read from the PDF and from PDFium's pictures of it.
        for number, page in enumerate(drawn_by_pdfium(SAMPLES / "scan-and-lines.pdf"), 1):
            picture = folder / "page.png"
            page.render(scale=2800 / 792).to_pil().convert("RGB").save(picture)
            ours = captured(SAMPLES / "scan-and-lines.pdf", "--page", str(number))
            check(f"page {number} is read as PDFium's picture is", sizes(ours) == sizes(captured(picture)), sizes(ours))


if not Path(TOOL).exists():
    subprocess.run(["cargo", "build", "--quiet", "-p", "tests", "--bin", "page-pictures"], cwd=ROOT, check=True)
heic()
tiff()
pdf()
print(f"{passed} passed, {failed} failed")
sys.exit(failed > 0)
