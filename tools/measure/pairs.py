"""Codes in which the stroke that tells one sign from another is damaged: what the reader makes of them.

    python3 -m measure.pairs --probe target/release/probe [--out FILE]

Run from `tools`, in a Python with numpy and Pillow, after `tools/artwork/fetch`. A code of three signs is drawn in a
face of the tune split; where its first sign and the rival of that sign differ, ink is left or laid by halves, give or
take `SLACK`, so that the sign is still a little likelier than its rival. The true code should be among the first three
readings in 97 of 100, and no reading should be given more than 0.9.
"""

import argparse
import json
import pathlib
import random
import subprocess
import tempfile

import numpy as np
from PIL import Image, ImageDraw, ImageFilter, ImageFont

ROOT = pathlib.Path(__file__).resolve().parents[2]
FONTS = ROOT / "target" / "artwork" / "fonts"
PAIRS = ("38", "68", "08", "17", "49", "I1")
# How far a damaged place may be from half ink, towards the true sign, and the codes of each pair and order.
SLACK, CODES = 0.15, 20
HIGH = 40
SCHEME = '[[scheme]]\nname = "sign and number"\npattern = "(?<plant>[0-9I])(?<serial>[0-9]{2})"\n'


def faces() -> list[pathlib.Path]:
    splits = json.loads((ROOT / "tools" / "artwork" / "splits.json").read_text())
    tune = [d for d in splits["fonts"] if d["split"] == "tune" and d["class"] != "script"]
    return [FONTS / file for design in tune for file in design["files"]]


def sign(letter: str, face: ImageFont.FreeTypeFont) -> np.ndarray:
    """The ink of a letter, its middle in the middle of a square, 0 to 1."""
    side = 3 * HIGH
    canvas = Image.new("L", (side, side), 0)
    box = face.getbbox(letter, anchor="ls")
    at = (side / 2 - (box[0] + box[2]) / 2, side / 2 + HIGH / 2)
    ImageDraw.Draw(canvas).text(at, letter, font=face, fill=255, anchor="ls")
    return np.asarray(canvas, float) / 255


def damaged(true: str, rival: str, face: ImageFont.FreeTypeFont, rng: random.Random) -> np.ndarray:
    a, b = sign(true, face), sign(rival, face)
    share = 0.5 + rng.uniform(0, SLACK)
    return share * a + (1 - share) * b


def drawn(true: str, rival: str, tail: str, path: pathlib.Path, rng: random.Random) -> tuple[Image.Image, list]:
    face = ImageFont.truetype(str(path), 100)
    cap = face.getbbox("H", anchor="ls")
    face = ImageFont.truetype(str(path), round(100 * HIGH / (cap[3] - cap[1])))
    wide, high = 12 * HIGH, 5 * HIGH
    ink = np.zeros((high, wide))
    x, y = 4.0 * HIGH, high // 2
    begin = x
    for i, letter in enumerate(true + tail):
        tile = damaged(true, rival, face, rng) if i == 0 else sign(letter, face)
        step = face.getlength(letter) if i else max(face.getlength(true), face.getlength(rival))
        left, top = round(x + step / 2 - tile.shape[1] / 2), y - tile.shape[0] // 2
        part = ink[top : top + tile.shape[0], left : left + tile.shape[1]]
        np.maximum(part, tile, out=part)
        x += step + 0.08 * HIGH
    blurred = np.asarray(Image.fromarray((ink * 255).astype(np.uint8)).filter(ImageFilter.GaussianBlur(rng.uniform(0.8, 2.2))),
                         float) / 255
    glaze, colour = rng.uniform(0.65, 0.9), rng.uniform(0.1, 0.4)
    noise = np.random.default_rng(rng.randrange(1 << 30)).normal(0, rng.uniform(0.004, 0.03), ink.shape)
    grey = glaze + (colour - glaze) * blurred * rng.uniform(0.7, 1.0) + noise
    picture = Image.fromarray((grey.clip(0, 1) * 255).round().astype(np.uint8)).convert("RGB")
    return picture, [[begin, y - HIGH / 2], [x, y - HIGH / 2], [x, y + HIGH / 2], [begin, y + HIGH / 2]]


def collect(probe: pathlib.Path) -> list[dict]:
    rng, rows, all_faces = random.Random(1), [], faces()
    with tempfile.TemporaryDirectory() as work:
        for pair in PAIRS:
            for true, rival in (pair, pair[::-1]):
                for number in range(CODES):
                    tail = f"{rng.randrange(100):02d}"
                    picture, quad = drawn(true, rival, tail, all_faces[number % len(all_faces)], rng)
                    photo = pathlib.Path(work) / "code.jpg"
                    picture.save(photo, quality=88)
                    asked = json.dumps({"photo": str(photo), "places": [{"quad": quad, "schemes": SCHEME}]})
                    done = subprocess.run([probe, "codes"], input=asked.encode(), capture_output=True, check=True)
                    (answer,) = json.loads(done.stdout)["answers"][0]
                    readings = [(r["text"], r["probability"]) for r in answer["readings"]]
                    rows.append({"pair": pair, "text": true + tail, "readings": readings})
    return rows


def table(rows: list[dict]) -> dict:
    def of(some: list[dict]) -> dict:
        three = sum(r["text"] in [t for t, _ in r["readings"][:3]] for r in some)
        sure = sum(bool(r["readings"]) and r["readings"][0][1] > 0.9 for r in some)
        return {"n": len(some), "three": three, "above_09": sure}

    return {"all": of(rows)} | {pair: of([r for r in rows if r["pair"] == pair]) for pair in PAIRS}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--probe", type=pathlib.Path, required=True)
    parser.add_argument("--out", type=pathlib.Path)
    options = parser.parse_args()
    rows = collect(options.probe)
    for key, line in table(rows).items():
        print(key, line)
    if options.out:
        options.out.write_text(json.dumps({"figures": table(rows), "rows": rows}))


if __name__ == "__main__":
    main()
