#!/usr/bin/env python3
"""Makes stages.jpg, the README's pictures of one reading, stage by stage.

    python3 sample-images/readme/stages.py

Needs a release build and Pillow.
"""
import subprocess
import tempfile
from pathlib import Path

from PIL import Image, ImageDraw

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent.parent
CELL = (420, 400)
WORDS = ["tone", "ink", "card", "rectify", "strokes", "shapes", "stack", "labels", "snap"]

with tempfile.TemporaryDirectory() as folder:
    subprocess.run(
        [ROOT / "target/release/eighths", "capture", ROOT / "sample-images/pen-tilted.jpg",
         "--card", "A2", "--stages", folder],
        check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    sheet = Image.new("RGB", (3 * CELL[0], 3 * CELL[1]), "white")
    draw = ImageDraw.Draw(sheet)
    for k, word in enumerate(WORDS):
        found = sorted(Path(folder).glob(f"*{word}*.png"))
        if not found:
            raise SystemExit(f"no picture of the stage {word} in {folder}")
        picture = Image.open(found[0]).convert("RGB")
        picture.thumbnail((CELL[0] - 16, CELL[1] - 40))
        x, y = k % 3 * CELL[0], k // 3 * CELL[1]
        sheet.paste(picture, (x + (CELL[0] - picture.width) // 2, y + 32))
        draw.text((x + 12, y + 10), f"{k + 2}  {word}", fill=(60, 60, 60))
    sheet.save(HERE / "stages.jpg", quality=82)
