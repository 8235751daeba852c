"""Exports the fit and tune artwork as one compact atlas for training.

    python3 tools/train/atlas.py [--out target/train/atlas.npz] [--strips 9000] [--seed 1]

The atlas holds masks of icons (128 px, 16 grey levels) and strips of text (32 px
high), each tagged with its split. Test artwork never enters it. Needs what
`tools/artwork/fetch` lays, and numpy, Pillow and resvg-py.
"""

import argparse
import json
import pathlib
import random
import sys

import numpy as np
from PIL import Image, ImageDraw, ImageFont

HERE = pathlib.Path(__file__).resolve().parent
ROOT = HERE.parents[1]
sys.path.insert(0, str(HERE.parent / "artwork"))
import raster  # noqa: E402

ICON = 128
# Share of the square that an icon's ink fills, so that turning and blurring stay inside.
ICON_FILL = 0.94
STRIP_HIGH = 32
STRIP_PAD = 2
STRIP_WIDE = 512
# Grey levels kept: a mask's edge needs no more, and the file shrinks by half.
LEVELS = 15
KINDS = {"emblem": 0, "plain": 1, "sign": 2}
CLASSES = {"sans": 0, "serif": 1, "script": 2}
SPLITS = {"fit": 0, "tune": 1}
CONSONANTS, VOWELS = "bcdfghjklmnprstvwz", "aeiou"


def quantised(picture: np.ndarray) -> np.ndarray:
    """Grey levels 0..LEVELS of a coverage picture."""
    return np.round(picture.astype(np.float32) * (LEVELS / 255.0)).astype(np.uint8)


def icon_mask(sets: dict, member: str) -> np.ndarray:
    """An icon's mask with its ink box centred and brought to one size."""
    big = Image.fromarray(raster.mask(sets, member, 256))
    box = big.getbbox()
    if box is None:
        raise ValueError(f"{member} draws nothing")
    cx, cy = (box[0] + box[2]) / 2, (box[1] + box[3]) / 2
    half = max(box[2] - box[0], box[3] - box[1]) / 2 / ICON_FILL
    square = big.transform((2 * ICON, 2 * ICON), Image.Transform.EXTENT,
                           (cx - half, cy - half, cx + half, cy + half), Image.Resampling.BILINEAR)
    return quantised(np.asarray(square.resize((ICON, ICON), Image.Resampling.BOX)))


def syllables(rng: random.Random) -> str:
    """A made-up word of two to four syllables."""
    word = ""
    for _ in range(rng.randint(2, 4)):
        word += rng.choice(CONSONANTS) + rng.choice(VOWELS)
        if rng.random() < 0.4:
            word += rng.choice("lmnrst")
    return word


def phrase(rng: random.Random, words: dict[str, list[str]]) -> str:
    """A line of text as marks carry it."""
    kind = rng.random()
    if kind < 0.20:
        text = rng.choice(words["potteries"])
    elif kind < 0.40:
        text = rng.choice(words["lines"])
    elif kind < 0.50:
        text = rng.choice(words["places"])
    elif kind < 0.60:
        text = rng.choice(words["extras"])
    elif kind < 0.85:
        text = " ".join(syllables(rng) for _ in range(rng.randint(1, 2))).title()
    elif kind < 0.93:
        text = str(rng.randint(1, 99999))
    else:
        text = "".join(rng.choice("ABCDEFGHJKLMNPRSTUVWXYZ0123456789./-") for _ in range(rng.randint(2, 6)))
    style = rng.random()
    if style < 0.45:
        text = text.upper()
    elif style < 0.52:
        text = text.lower()
    return text


def strip(text: str, face: ImageFont.FreeTypeFont, tracking: float, small_caps: bool) -> np.ndarray | None:
    """A strip of text, its ink STRIP_HIGH less the padding high; None if void or too long."""
    size = face.size
    wide = int(face.getlength(text) * 1.3 + size * (2 + max(tracking, 0) * len(text)))
    canvas = Image.new("L", (wide + 2 * size, 3 * size), 0)
    pen = ImageDraw.Draw(canvas)
    if tracking == 0 and not small_caps:
        pen.text((size, size * 0.8), text, font=face, fill=255)
    else:
        lesser = face.font_variant(size=int(size * 0.78)) if small_caps else face
        x = float(size)
        base = size * 2.0
        for letter in text:
            one = lesser if small_caps and letter.islower() else face
            shown = letter.upper() if small_caps else letter
            pen.text((x, base), shown, font=one, fill=255, anchor="ls")
            x += one.getlength(shown) + tracking * size
    box = canvas.getbbox()
    if box is None or box[3] - box[1] < size * 0.15:
        return None
    inner = STRIP_HIGH - 2 * STRIP_PAD
    scale = inner / (box[3] - box[1])
    width = int(round((box[2] - box[0]) * scale))
    if not 8 <= width <= STRIP_WIDE - 2 * STRIP_PAD:
        return None
    out = np.zeros((STRIP_HIGH, width + 2 * STRIP_PAD), np.uint8)
    small = canvas.crop(box).resize((width, inner), Image.Resampling.BOX)
    out[STRIP_PAD:-STRIP_PAD, STRIP_PAD:-STRIP_PAD] = quantised(np.asarray(small))
    return out


def strips(splits: dict, split: str, count: int, seed: int) -> list[tuple]:
    """`count` strips in the fonts of a split: (pixels, font, class, cap height share)."""
    rng = random.Random(f"strips-{seed}-{split}")
    designs = [d for d in splits["fonts"] if d["split"] == split and d["files"]]
    # A design first, then one of its files: many weights do not crowd out the rest.
    found = []
    font_ids: dict[str, int] = {}
    seen: set[tuple[int, str]] = set()  # a line drawn twice would be a false stranger
    while len(found) < count:
        design = rng.choice(designs)
        file = rng.choice(design["files"])
        face = ImageFont.truetype(str(raster.ARTWORK / "fonts" / file), 72)
        # Siblings swap lines of one face, so a face is used for a run of lines.
        small_caps = design["class"] != "script" and rng.random() < 0.12
        tracking = 0.0
        if design["class"] != "script" and rng.random() < 0.35:
            tracking = rng.uniform(-0.02, 0.22)
        key = f"{file}-{tracking:.3f}-{small_caps}"
        font = font_ids.setdefault(key, len(font_ids))
        upper = face.getbbox("H", anchor="ls")
        for _ in range(12):
            text = phrase(rng, splits["words"][split])
            pixels = None if (font, text) in seen else strip(text, face, tracking, small_caps)
            if pixels is None:
                continue
            seen.add((font, text))
            ink = face.getbbox(text, anchor="ls")
            cap = (upper[3] - upper[1]) / max(ink[3] - ink[1], 1)
            found.append((pixels, font, CLASSES[design["class"]], min(cap, 1.4)))
    return found[:count]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--out", default=str(ROOT / "target/train/atlas.npz"))
    parser.add_argument("--strips", type=int, default=9000)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    splits = json.loads((HERE.parent / "artwork" / "splits.json").read_text())
    sets = raster.load_sets()

    masks, icon_split, icon_kind, icon_drawing = [], [], [], []
    for number, entry in enumerate(splits["icons"]):
        if entry["split"] not in SPLITS:
            continue
        for member in entry["members"]:
            masks.append(icon_mask(sets, member))
            icon_split.append(SPLITS[entry["split"]])
            icon_kind.append(KINDS[entry["kind"]])
            icon_drawing.append(number)

    lines, strip_split = [], []
    for split, share in (("fit", 1.0), ("tune", 0.15)):
        some = strips(splits, split, int(options.strips * share), options.seed)
        offset = 1 + max((line[1] for line in lines), default=-1)
        lines += [(pixels, font + offset, style, cap) for pixels, font, style, cap in some]
        strip_split += [SPLITS[split]] * len(some)

    out = pathlib.Path(options.out)
    out.parent.mkdir(parents=True, exist_ok=True)
    np.savez_compressed(
        out,
        icons=np.stack(masks), icon_split=np.array(icon_split, np.uint8),
        icon_kind=np.array(icon_kind, np.uint8), icon_drawing=np.array(icon_drawing, np.int32),
        strips=np.concatenate([line[0] for line in lines], axis=1),
        strip_width=np.array([line[0].shape[1] for line in lines], np.int32),
        strip_font=np.array([line[1] for line in lines], np.int32),
        strip_class=np.array([line[2] for line in lines], np.uint8),
        strip_cap=np.array([line[3] for line in lines], np.float32),
        strip_split=np.array(strip_split, np.uint8), levels=np.array(LEVELS))
    megabytes = out.stat().st_size / 1e6
    print(f"{out}: {len(masks)} icons, {len(lines)} strips, {megabytes:.1f} MB")


if __name__ == "__main__":
    main()
