"""Writes splits.json: which drawings, fonts and words may be seen where.

    python3 tools/artwork/split.py            write splits.json
    python3 tools/artwork/split.py --sheets   also contact sheets, target/artwork/sheets

The unit of the split is the *drawing*, not the file: one drawing comes as
outline, filled, bold, thin and light and in several sets. Names without their
style words that are equal across sets are one drawing; so are drawings of which
any two members correlate near 1 over eight turns. A drawing falls to fit, tune
or test by the hash of the first name of its group, so that dropping one drawing
moves no other.
"""

import hashlib
import json
import pathlib
import re
import sys
from collections import defaultdict

import numpy as np
from PIL import Image, ImageDraw, ImageFilter

import raster
import words

HERE = pathlib.Path(__file__).resolve().parent
STYLE = {"outline", "filled", "bold", "thin", "light", "duotone", "variant", "fill", "alt", "simple"}
SHARES = (("fit", 0.60), ("tune", 0.15), ("test", 0.25))
# Correlation of two 32 x 32 masks, centred, of one size and high-passed (solid shapes
# would all resemble each other), from which two drawings count as one. Read off
# contact sheets of joined pairs: above it redrawings of one picture, below it
# different pictures inside the same circle or shield.
JOIN_AT = 0.87
# Width of that high-pass, in pixels of the 32: two strokes of an outlined icon.
HIGH_PASS = 3.0
# A mark hung on another drawing is a command, not a picture of its own ...
BADGE = re.compile(r"-(bolt|spark|heart|star|dot|auto)$")
# ... except where it is the picture.
NO_BADGE = {"shield-star", "shield-heart", "hand-heart", "cards-heart", "heart-star", "crown-star"}
SIDE = 32
TURNS = 8
# Most members kept of a drawing of the kind "sign": variety, not weight.
SIGN_MEMBERS = 3
# A mask that fills less or more of its square than this is no picture.
LEAST_INK, MOST_INK = 0.015, 0.93

FONTS = [
    # design, class, split, prefixes of file names
    ("Lato", "sans", "fit", ["Lato-"]),
    ("Inter", "sans", "fit", ["Inter-", "InterDisplay-"]),
    ("Cantarell", "sans", "fit", ["Cantarell-"]),
    ("Bebas Neue", "sans", "fit", ["BebasNeue-"]),
    ("Comfortaa", "sans", "fit", ["Comfortaa-"]),
    ("Linux Biolinum", "sans", "fit", ["LinBiolinum_R"]),
    ("Linux Libertine", "serif", "fit", ["LinLibertine_R", "LinLibertine_DR", "LinLibertine_M"]),
    ("Courier Prime", "serif", "fit", ["Courier Prime"]),
    ("Gentium", "serif", "fit", ["Gentium"]),
    ("Kristi", "script", "fit", ["Kristi"]),
    ("Comic Neue", "script", "fit", ["ComicNeue-"]),
    ("Ecolier", "script", "fit", ["Ecolier-court"]),
    ("Breip", "script", "fit", ["Breip", "breipfont"]),
    ("Oxygen", "sans", "tune", ["Oxygen"]),
    ("Jura", "sans", "tune", ["Jura-"]),
    ("Prociono", "serif", "tune", ["Prociono"]),
    ("DKG Handwriting", "script", "tune", ["dkg"]),
    ("Open Sans", "sans", "test", ["OpenSans-"]),
    ("Yanone Kaffeesatz", "sans", "test", ["YanoneKaffeesatz-"]),
    ("GFS Neohellenic", "sans", "test", ["GFSNeohellenic"]),
    ("Fanwood", "serif", "test", ["Fanwood"]),
    ("GFS Artemisia", "serif", "test", ["GFSArtemisia"]),
    ("Leckerli One", "script", "test", ["LeckerliOne"]),
    ("Isabella", "script", "test", ["Isabella"]),
]
# Faces too thin to survive on any stamp.
HAIRLINES = re.compile(r"Hairline|Thin|ExtraLight")


def listed(name: str) -> tuple[set[str], set[str]]:
    """Words of a list file: those before and those after its `# ==` line."""
    sections: tuple[set[str], set[str]] = (set(), set())
    at = 0
    for line in (HERE / name).read_text().splitlines():
        if line.startswith("# =="):
            at = 1
        elif not line.startswith("#"):
            sections[at].update(line.split())
    return sections


def base_name(icon: str) -> str:
    """An icon's name without style words and counters."""
    kept = [w for w in icon.split("-") if w not in STYLE and not re.fullmatch(r"\d+", w)]
    return "-".join(kept)


def contains(icon: str, barred: set[str]) -> bool:
    """Whether a barred word, or run of words, stands in the name at its hyphens."""
    parts = icon.split("-")
    runs = {"-".join(parts[i:j]) for i in range(len(parts)) for j in range(i + 1, min(i + 4, len(parts) + 1))}
    return not runs.isdisjoint(barred)


def drawings_by_name(sets: dict[str, dict]) -> dict[str, tuple[str, list[str]]]:
    """Kind and members of each drawing, joined by equal names."""
    barred, signs = listed("dropped.txt")
    unfit = listed("unfit.txt")[0]
    emblems = listed("emblems.txt")[0]
    found: dict[str, list[str]] = defaultdict(list)
    for prefix, icons in sets.items():
        for icon, entry in icons["icons"].items():
            name = base_name(icon)
            # The second tone of "duotone" is all that tells it from the plain face.
            if entry.get("hidden") or "duotone" in icon or not name:
                continue
            if contains(icon, barred) or not unfit.isdisjoint({name, icon, f"{prefix}:{icon}"}):
                continue
            if BADGE.search(name) and name not in NO_BADGE:
                continue
            found[name].append(f"{prefix}:{icon}")
    kinds = {}
    for name, members in found.items():
        parts = name.split("-")
        if contains(name, signs):
            kind = "sign"
        elif any("-".join(parts[:n]) in emblems for n in (1, 2, 3)):
            kind = "emblem"
        else:
            kind = "plain"
        kinds[name] = (kind, sorted(members))
    return kinds


def normalised(picture: np.ndarray) -> np.ndarray | None:
    """A mask moved to its centroid and scaled to one spread, SIDE x SIDE; None if void."""
    ink = picture.astype(np.float32) / 255.0
    total = ink.sum()
    if not LEAST_INK * ink.size < total < MOST_INK * ink.size:
        return None
    ys, xs = np.mgrid[0 : ink.shape[0], 0 : ink.shape[1]]
    cx, cy = (ink * xs).sum() / total, (ink * ys).sum() / total
    spread = np.sqrt((ink * ((xs - cx) ** 2 + (ys - cy) ** 2)).sum() / total)
    # The spread of a filled disc is 0.71 of its radius; the frame is 1.45 spreads wide.
    half = 2.1 * spread
    box = (cx - half, cy - half, cx + half, cy + half)
    blurred = Image.fromarray(picture).filter(ImageFilter.GaussianBlur(1.0))
    small = blurred.transform((SIDE, SIDE), Image.Transform.EXTENT, box, Image.Resampling.BILINEAR)
    wide = small.filter(ImageFilter.GaussianBlur(HIGH_PASS))
    return np.asarray(small, np.float32) - np.asarray(wide, np.float32)


def unit(pictures: np.ndarray) -> np.ndarray:
    """Rows of zero mean and unit length."""
    flat = pictures.reshape(len(pictures), -1)
    flat = flat - flat.mean(1, keepdims=True)
    return flat / (np.linalg.norm(flat, axis=1, keepdims=True) + 1e-6)


def turned(pictures: np.ndarray, turn: int) -> np.ndarray:
    """All pictures turned by `turn` eighths about their centre."""
    angle = 360.0 * turn / TURNS
    return np.stack([
        np.asarray(Image.fromarray(p).rotate(angle, Image.Resampling.BILINEAR)) for p in pictures])


def joined(names: list[str], owner: np.ndarray, pictures: np.ndarray) -> list[tuple[float, int, int]]:
    """Pairs of drawings near-equal under one of eight turns, best first."""
    upright = unit(pictures)
    best: dict[tuple[int, int], float] = {}
    for turn in range(TURNS):
        other = unit(turned(pictures, turn))
        for start in range(0, len(upright), 1024):
            block = upright[start : start + 1024] @ other.T
            for i, j in zip(*np.nonzero(block > JOIN_AT)):
                a, b = sorted((int(owner[start + i]), int(owner[j])))
                if a != b:
                    best[a, b] = max(best.get((a, b), 0.0), float(block[i, j]))
    return sorted(((c, a, b) for (a, b), c in best.items()), reverse=True)


def split_of(name: str) -> str:
    """The split a group of drawings falls to, by the hash of its first name."""
    share = int.from_bytes(hashlib.sha256(name.encode()).digest()[:4], "big") / 2**32
    for split, width in SHARES:
        if share < width:
            return split
        share -= width
    return SHARES[-1][0]


def fonts() -> list[dict]:
    """The faces of each design that hold the letters a mark needs."""
    from fontTools.ttLib import TTFont

    needed = {ord(c) for c in "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789&.,-"}
    listing = []
    have = sorted(p.name for p in (raster.ARTWORK / "fonts").iterdir())
    for design, style, split, prefixes in FONTS:
        files = [f for f in have if f.startswith(tuple(prefixes)) and not HAIRLINES.search(f)]
        files = [f for f in files
                 if needed <= set(TTFont(raster.ARTWORK / "fonts" / f, fontNumber=0).getBestCmap())]
        listing.append({"design": design, "class": style, "split": split, "files": files})
    return listing


def icons(sheets: bool) -> list[dict]:
    """Drawings with kind, split and members."""
    sets = raster.load_sets()
    kinds = drawings_by_name(sets)
    names, owner, pictures, members = sorted(kinds), [], [], defaultdict(list)
    for index, name in enumerate(names):
        for member in kinds[name][1]:
            picture = normalised(raster.mask(sets, member, 64))
            if picture is not None:
                owner.append(index)
                pictures.append(picture)
                members[index].append(member)
    pairs = joined(names, np.array(owner), np.stack(pictures))
    parent = list(range(len(names)))

    def root(i: int) -> int:
        while parent[i] != i:
            i = parent[i]
        return i

    signs = {i for i, name in enumerate(names) if kinds[name][0] == "sign"}
    for _, a, b in pairs:
        if not signs & {a, b}:
            a, b = sorted((root(a), root(b)))
            parent[b] = a
    # Signs are for training alone, and only those that resemble no drawing kept from it.
    spoilt = {s for _, a, b in pairs for s, other in ((a, b), (b, a))
              if s in signs and other not in signs and split_of(names[root(other)]) != "fit"}
    listing = []
    for index, name in enumerate(names):
        kind = kinds[name][0]
        if not members[index] or index in spoilt:
            continue
        if kind == "sign":
            listing.append({"drawing": name, "kind": kind, "split": "fit",
                            "members": members[index][:SIGN_MEMBERS]})
            continue
        entry = {"drawing": name, "kind": kind, "split": split_of(names[root(index)]),
                 "members": members[index]}
        if root(index) != index:
            entry["like"] = names[root(index)]
        listing.append(entry)
    if sheets:
        draw_sheets(sets, listing)
        draw_pairs(sets, names, members, pairs, signs)
    return listing


def draw_sheets(sets: dict[str, dict], listing: list[dict]) -> None:
    """Contact sheets, one tile a drawing with its name, by kind."""
    folder = raster.ARTWORK / "sheets"
    folder.mkdir(exist_ok=True)
    for kind in ("emblem", "plain", "sign"):
        chosen = [e for e in listing if e["kind"] == kind]
        for page, start in enumerate(range(0, len(chosen), 384)):
            sheet = Image.new("L", (24 * 78, 16 * 80), 255)
            pen = ImageDraw.Draw(sheet)
            for i, entry in enumerate(chosen[start : start + 384]):
                x, y = (i % 24) * 78, (i // 24) * 80
                ink = raster.mask(sets, entry["members"][0], 56)
                sheet.paste(Image.fromarray(255 - ink), (x + 10, y + 2))
                pen.text((x + 1, y + 62), entry["drawing"][:13], fill=0)
            sheet.save(folder / f"{kind}-{page}.png")


def draw_pairs(sets, names, members, pairs, signs) -> None:
    """The weakest joins, to judge JOIN_AT by eye."""
    weakest = [p for p in pairs[::-1] if not signs & {p[1], p[2]}]
    sheet = Image.new("L", (12 * 150, 14 * 84), 255)
    pen = ImageDraw.Draw(sheet)
    for i, (c, a, b) in enumerate(weakest[: 12 * 14]):
        x, y = (i % 12) * 150, (i // 12) * 84
        for k, index in enumerate((a, b)):
            ink = raster.mask(sets, members[index][0], 60)
            sheet.paste(Image.fromarray(255 - ink), (x + 4 + 68 * k, y + 2))
        pen.text((x + 1, y + 66), f"{c:.2f} {names[a][:9]}|{names[b][:9]}", fill=0)
    sheet.save(raster.ARTWORK / "sheets" / "joined.png")


def main() -> None:
    listing = icons("--sheets" in sys.argv)
    document = {"icons": listing, "fonts": fonts(),
                "words": {split: words.names(split) for split, _ in SHARES}}
    rows = []
    for key in ("icons", "fonts"):
        entries = ",\n".join(json.dumps(e, separators=(",", ":")) for e in document[key])
        rows.append(f'"{key}":[\n{entries}\n]')
    rows.append('"words":' + json.dumps(document["words"], separators=(",", ":")))
    (HERE / "splits.json").write_text("{" + ",\n".join(rows) + "}\n")
    for kind in ("emblem", "plain", "sign"):
        for split, _ in SHARES:
            some = [e for e in listing if e["kind"] == kind and e["split"] == split]
            print(kind, split, len(some), "drawings", sum(len(e["members"]) for e in some), "members")


if __name__ == "__main__":
    main()
