#!/usr/bin/env python3
"""Makes the samples that are documents rather than pictures, from the sample
pictures beside it and a drawing of its own, each with its answer: fax-and-scan.tif
(a fax and a grey scan stored on its side), scan-and-lines.pdf (a scan that the page
turns, and a drawing in lines), phone.heic (turned by its container, with EXIF
saying so too). Run it with the Python of the outside checks:
target/outside/bin/python sample-images/make_documents.py"""

import io
import json
import zlib
from pathlib import Path

import cv2
import numpy as np
import pillow_heif
from PIL import Image, ImageOps, TiffImagePlugin

HERE = Path(__file__).parent
ORIENTATION = 274
MOST_BYTES = 100_000


def answer(name):
    return json.loads((HERE / f"{name}.json").read_text())


def upright(name):
    return ImageOps.exif_transpose(Image.open(HERE / f"{name}.jpg"))


def keep(name, data, truth):
    """Writes a document and its answer; made again they are the same."""
    assert len(data) <= MOST_BYTES, f"{name}: {len(data)} bytes"
    (HERE / name).write_bytes(data)
    text = json.dumps({"photo": name} | truth, separators=(",", ":"))
    (HERE / name).with_suffix(".json").write_text(text + "\n")
    print(f"{name}: {len(data)} bytes")


def page_answer(name, picture):
    """The answer of a sample picture for a page of this size made of it."""
    page = answer(name)
    scale = picture.width / page["width_px"]

    def scaled(value, key=""):
        if isinstance(value, dict):
            return {k: scaled(v, k) for k, v in value.items()}
        if key.endswith("_px") and isinstance(value, list):
            return [[round(v * scale, 2) for v in point] for point in value]
        return [scaled(v) for v in value] if isinstance(value, list) else value

    return {"made_of": page["photo"], "width_px": picture.width, "height_px": picture.height,
            "layouts": scaled(page["layouts"])}


def fax(name):
    """Black and white, as an office scanner decides it."""
    grey = cv2.GaussianBlur(np.asarray(upright(name).convert("L")), (3, 3), 0)
    black = cv2.adaptiveThreshold(grey, 255, cv2.ADAPTIVE_THRESH_MEAN_C, cv2.THRESH_BINARY, 51, 18)
    return Image.fromarray(black).convert("1", dither=Image.Dither.NONE)


def fax_and_scan():
    first, second = fax("flat-scan"), upright("pen-tilted").convert("L").resize((900, 1200), Image.LANCZOS)
    file = io.BytesIO()
    with TiffImagePlugin.AppendingTiffWriter(file, True) as tiff:
        first.save(tiff, "TIFF", compression="group4", dpi=(150, 150))
        tiff.newFrame()
        # Stored a quarter turn to the left; 6 says to turn it right.
        second.transpose(Image.Transpose.ROTATE_90).save(
            tiff, "TIFF", compression="jpeg", quality=60, dpi=(150, 150), tiffinfo={ORIENTATION: 6})
        tiff.newFrame()
    pages = [page_answer("flat-scan", first), page_answer("pen-tilted", second)]
    keep("fax-and-scan.tif", file.getvalue(), {"pages": pages})


def phone_heic():
    stored = Image.open(HERE / "turned-by-exif.jpg")
    exif = Image.Exif()
    exif[ORIENTATION] = stored.getexif()[ORIENTATION]
    heif = pillow_heif.from_bytes("RGB", stored.size, stored.convert("RGB").tobytes())
    heif.info["exif"] = exif.tobytes()
    file = io.BytesIO()
    heif.save(file, quality=45)
    keep("phone.heic", file.getvalue(), {k: v for k, v in answer("turned-by-exif").items() if k != "photo"})


# A drawing in lines: a card on letter paper, in inches, and what is on it.
PAGE = (8.5, 11)
CARD = (2.125, 2.5)
DRAWN = [("rectangle", 0.5, 0.5, 3.25, 4.5), ("rectangle", 1.125, 0.875, 2, 1.75), ("circle", 1.375, 3.0, 1.5, 1.5)]


def line_drawing():
    """The page's operators: y goes up, 72 points to the inch."""
    def place(x, y):
        return (CARD[0] + x) * 72, (PAGE[1] - CARD[1] - y) * 72

    out = ["1.4 w 1 1 1 rg 0 0 0 RG"]
    for shape, x, y, width, height in [("rectangle", 0, 0, 4.25, 5.5), *DRAWN]:
        left, top = place(x, y)
        if shape == "rectangle":
            out.append(f"{left:.3f} {top - height * 72:.3f} {width * 72:.3f} {height * 72:.3f} re B")
            continue
        r, k = width * 36, width * 36 * 0.5523
        cx, cy = left + r, top - r
        out.append(f"{cx + r:.3f} {cy:.3f} m")
        for (ax, ay), (bx, by) in [((1, 0), (0, 1)), ((0, 1), (-1, 0)), ((-1, 0), (0, -1)), ((0, -1), (1, 0))]:
            c = [cx + ax * r + bx * k, cy + ay * r + by * k, cx + bx * r + ax * k, cy + by * r + ay * k, cx + bx * r, cy + by * r]
            out.append(" ".join(f"{v:.3f}" for v in c) + " c")
        out.append("b")
    left, top = place(0, -0.4)
    out.append(f"BT /F1 14 Tf 0 g {left:.3f} {top:.3f} Td (Get well soon, with a circle) Tj ET")
    return " ".join(out).encode()


def pdf(objects):
    """A PDF of these objects, the first of them its catalogue."""
    out, places = b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n", []
    for number, body in enumerate(objects, 1):
        places.append(len(out))
        out += b"%d 0 obj\n%s\nendobj\n" % (number, body)
    table = b"".join(b"%010d 00000 n \n" % place for place in places)
    size = len(objects) + 1
    return out + b"xref\n0 %d\n0000000000 65535 f \n%strailer\n<</Size %d/Root 1 0 R>>\nstartxref\n%d\n%%%%EOF\n" % (
        size, table, size, len(out))


def stream(data, more=b""):
    return b"<<%s/Length %d>>\nstream\n%s\nendstream" % (more, len(data), data)


def scan_and_lines():
    scan = upright("flat-scan").convert("L")
    jpeg = io.BytesIO()
    # Stored a quarter turn to the left; the page turns it right.
    lying = scan.transpose(Image.Transpose.ROTATE_90)
    lying.save(jpeg, "JPEG", quality=60, optimize=True)
    width, height = (v * 72 / 150 for v in lying.size)
    picture = b"/Type/XObject/Subtype/Image/Width %d/Height %d/ColorSpace/DeviceGray/BitsPerComponent 8/Filter/DCTDecode" % lying.size
    data = pdf([
        b"<</Type/Catalog/Pages 2 0 R>>",
        b"<</Type/Pages/Count 2/Kids[3 0 R 6 0 R]>>",
        b"<</Type/Page/Parent 2 0 R/Rotate 90/MediaBox[0 0 %.2f %.2f]/Contents 4 0 R/Resources<</XObject<</S 5 0 R>>>>>>" % (width, height),
        stream(b"%.2f 0 0 %.2f 0 0 cm /S Do" % (width, height)),
        stream(jpeg.getvalue(), picture),
        b"<</Type/Page/Parent 2 0 R/MediaBox[0 0 612 792]/Contents 7 0 R/Resources<</Font<</F1 8 0 R>>>>>>",
        stream(zlib.compress(line_drawing(), 9), b"/Filter/FlateDecode"),
        b"<</Type/Font/Subtype/Type1/BaseFont/Helvetica>>",
    ])
    drawing = {
        "made_of": "lines", "layouts": [{
            "unit": "in", "card": {"name": "A2", "width": 4.25, "height": 5.5},
            "elements": [{"shape": s, "x": x, "y": y, "width": w, "height": h, "rotation": 0.0} for s, x, y, w, h in DRAWN],
        }],
    }
    keep("scan-and-lines.pdf", data, {"pages": [page_answer("flat-scan", scan), drawing]})


fax_and_scan()
scan_and_lines()
phone_heic()
