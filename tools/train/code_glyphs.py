"""Exports glyphs of the fit and tune fonts as one atlas for training the reader of codes.

    python3 tools/train/code_glyphs.py [--out target/train/glyphs.npz]

Every font gives letters, figures and signs as masks of one cap height, with their advance;
a last group holds drawn signs (stars, dots, dashes) that few fonts have. Fonts of the test
split never enter. Needs what `tools/artwork/fetch` lays, and numpy, Pillow and fonttools.
The fit split has thirteen designs only, so fonts of the Debian packages in `code_fonts.txt`
are taken for fit as well; `code_fonts.py` lays them.
"""

import argparse
import json
import math
import pathlib

import numpy as np
from fontTools.ttLib import TTFont, TTLibError
from PIL import Image, ImageDraw, ImageFont

HERE = pathlib.Path(__file__).resolve().parent
ROOT = HERE.parents[1]
FONTS = ROOT / "target" / "artwork" / "fonts"
MORE = ROOT / "target" / "train" / "code-fonts"

# A glyph's cell, the pen's start in it and the baseline, in pixels; capitals are CAP high.
HIGH, WIDE, PEN, BASE, CAP = 64, 80, 12, 50, 38
LEVELS = 15
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
SIGNS = ".*-/+"
# What the reader tells apart; column 0 of its answer is "nothing". `^` is a triangle and
# `~` a lozenge: signs without a key of their own.
CLASSES = LETTERS + "0123456789" + ".*-/+^~"
DRAWN = LETTERS + LETTERS.lower() + "0123456789" + SIGNS
SPLITS = {"fit": 0, "tune": 1}
# Drawn four times as large, then shrunk.
OVER = 4
# Files of one further design, the rest of a large family says little more.
FILES_A_DESIGN = 5
# No upright Latin capitals: symbols, other scripts, small capitals, a display of segments.
ODD = ("math", "symbol", "dingbat", "fraktur", "ornament", "emoji", "smcap", "initials", "glitch", "chancery",
       "sedmi", "swash", "gazis", "complutum", "drop", "expert", "music", "caps", "sc ", "box", "outline", "d050000l",
       "wasn", "museum", "ubuntu-title", "solothurn", "unifur")


def quantised(picture: Image.Image) -> np.ndarray:
    small = picture.resize((WIDE, HIGH), Image.Resampling.BOX)
    return np.round(np.asarray(small, np.float32) * (LEVELS / 255)).astype(np.uint8)


def font_glyphs(path: pathlib.Path) -> tuple[np.ndarray, np.ndarray] | None:
    """Masks and advances (in cap heights) of one font's glyphs; None where it lacks some."""
    probe = ImageFont.truetype(str(path), 400)
    box = probe.getbbox("H", anchor="ls")
    if box[3] - box[1] < 50:
        return None
    size = int(round(400 * CAP * OVER / (box[3] - box[1])))
    face = ImageFont.truetype(str(path), size)
    masks, advances = [], []
    for letter in DRAWN:
        canvas = Image.new("L", (WIDE * OVER, HIGH * OVER), 0)
        ImageDraw.Draw(canvas).text((PEN * OVER, BASE * OVER), letter, font=face, fill=255, anchor="ls")
        if canvas.getbbox() is None:
            return None
        masks.append(quantised(canvas))
        advances.append(face.getlength(letter) / OVER / CAP)
    return np.stack(masks), np.array(advances, np.float32)


def family(path: pathlib.Path) -> str | None:
    """The design of a font file; None where it is no face for letters and figures or lacks some."""
    try:
        font = TTFont(path, fontNumber=0, lazy=True)
        have = font.getBestCmap() or {}
        names = font["name"]
        name = names.getDebugName(16) or names.getDebugName(1) or ""
    except (TTLibError, KeyError, OSError, AssertionError):
        return None
    odd = any(word in f"{name} {path.stem} ".lower() for word in ODD)
    return None if odd or not name or any(ord(c) not in have for c in DRAWN) else name


def more_fonts() -> dict[str, list[pathlib.Path]]:
    """Further font files by design, a few of each, spread over its files."""
    designs: dict[str, list[pathlib.Path]] = {}
    for path in sorted(MORE.rglob("*")):
        if path.suffix.lower() in (".ttf", ".otf") and (name := family(path)):
            designs.setdefault(name, []).append(path)
    def spread(files):
        step = max(1.0, len(files) / FILES_A_DESIGN)
        return [files[int(i * step)] for i in range(min(len(files), FILES_A_DESIGN))]
    return {name: spread(files) for name, files in designs.items()}


def polygon(points: list[tuple[float, float]], line: float) -> Image.Image:
    """A closed shape in cap heights from the baseline's start, filled, or a line so wide."""
    canvas = Image.new("L", (WIDE * OVER, HIGH * OVER), 0)
    pen = ImageDraw.Draw(canvas)
    at = [((PEN + x * CAP) * OVER, (BASE - y * CAP) * OVER) for x, y in points]
    if line:
        pen.line([*at, at[0], at[1]], fill=255, width=int(line * CAP * OVER), joint="curve")
    else:
        pen.polygon(at, fill=255)
    return canvas


def star(points: int, inner: float, size: float, high: float) -> list[tuple[float, float]]:
    out = []
    for k in range(2 * points):
        r = size if k % 2 == 0 else size * inner
        a = math.pi * k / points
        out.append((size + r * math.sin(a), high + r * math.cos(a)))
    return out


def signs() -> list[tuple[np.ndarray, float, int]]:
    """Drawn signs: mask, advance, class."""
    found = []

    def add(sign: str, picture: Image.Image, wide: float) -> None:
        found.append((quantised(picture), wide, CLASSES.index(sign)))

    for points, inner in ((5, 0.4), (5, 0.5), (6, 0.5), (6, 0.35), (8, 0.5), (4, 0.3)):
        for size, high in ((0.5, 0.5), (0.36, 0.45), (0.3, 0.7)):
            for line in (0.0, 0.07):
                add("*", polygon(star(points, inner, size, high), line), 2 * size + 0.12)
    for size in (0.06, 0.09, 0.13):
        for high in (size, 0.3, 0.5, 0.9):
            add(".", polygon(star(12, 1.0, size, high), 0.0), 2 * size + 0.14)
    for wide in (0.25, 0.4, 0.6):
        for thick in (0.06, 0.1, 0.15):
            for high in (0.4, 0.5):
                box = [(0, high), (wide, high), (wide, high + thick), (0, high + thick)]
                add("-", polygon(box, 0.0), wide + 0.15)
    for lean in (0.25, 0.45, 0.6):
        for thick in (0.07, 0.13):
            for low, top in ((0.0, 1.0), (-0.15, 1.1)):
                box = [(0, low), (thick, low), (lean + thick, top), (lean, top)]
                add("/", polygon(box, 0.0), lean + thick + 0.1)
    for size in (0.3, 0.42):
        for line in (0.0, 0.08):
            three = [(0, 0.1), (size * 2, 0.1), (size, 0.1 + 1.7 * size)]
            add("^", polygon(three, line), 2 * size + 0.14)
            four = [(0, 0.5), (size, 0.5 + size), (2 * size, 0.5), (size, 0.5 - size)]
            add("~", polygon(four, line), 2 * size + 0.14)
            tall = [(0, 0.5), (size * 0.7, 1.0), (1.4 * size, 0.5), (size * 0.7, 0.0)]
            add("~", polygon(tall, line), 1.4 * size + 0.14)
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--out", default=str(ROOT / "target/train/glyphs.npz"))
    options = parser.parse_args()
    splits = json.loads((HERE.parent / "artwork" / "splits.json").read_text())
    masks, advances, fonts, left_out = [], [], [], []
    for number, design in enumerate(d for d in splits["fonts"] if d["split"] in SPLITS and d["files"]):
        for file in design["files"]:
            glyphs = font_glyphs(FONTS / file)
            if glyphs is None:
                left_out.append(file)
                continue
            masks.append(glyphs[0])
            advances.append(glyphs[1])
            fonts.append((number, SPLITS[design["split"]], design["class"] == "script"))
    first = len(splits["fonts"])
    for number, (name, files) in enumerate(more_fonts().items(), first):
        for file in files:
            glyphs = font_glyphs(file)
            if glyphs is None:
                left_out.append(file.name)
                continue
            masks.append(glyphs[0])
            advances.append(glyphs[1])
            fonts.append((number, SPLITS["fit"], False))
    drawn = signs()
    words = {s: [w for group in splits["words"][s].values() for w in group] for s in SPLITS}
    out = pathlib.Path(options.out)
    out.parent.mkdir(parents=True, exist_ok=True)
    np.savez_compressed(
        out, glyphs=np.stack(masks), advances=np.stack(advances), fonts=np.array(fonts, np.int32),
        signs=np.stack([d[0] for d in drawn]), sign_advances=np.array([d[1] for d in drawn], np.float32),
        sign_classes=np.array([d[2] for d in drawn], np.int32), levels=np.array(LEVELS),
        fit_words=np.array(words["fit"]), tune_words=np.array(words["tune"]))
    print(f"{out}: {len(masks)} fonts, {len(drawn)} signs, {out.stat().st_size / 1e6:.1f} MB; left out {left_out}")


if __name__ == "__main__":
    main()
