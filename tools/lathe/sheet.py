"""A sheet on which marks are drawn: filled shapes, strokes, and lettering along lines and arcs."""

import functools
import math
import pathlib

import numpy as np
from PIL import Image, ImageChops, ImageDraw, ImageFont

HERE = pathlib.Path(__file__).resolve().parent
FACES = HERE.parents[1] / "target" / "lathe" / "faces"
# Side of a sheet in pixels, and half of it in units: strokes are drawn without smoothing and then shrunk by half.
SIDE = 2400
HALF = 1.6
INK, NONE = 255, 0

Points = list[tuple[float, float]]


@functools.cache
def faces(kind: str) -> tuple[str, ...]:
    """Files of the faces of one kind, as listed in faces.tsv."""
    rows = [r.split("\t") for r in (HERE / "faces.tsv").read_text().splitlines() if not r.startswith("#")]
    return tuple(f"{r[0]}-{face}.woff" for r in rows if r[3] == kind for face in r[4].split(","))


def pick_face(rng: np.random.Generator, *kinds: str) -> str:
    return str(rng.choice([face for kind in kinds for face in faces(kind)]))


@functools.lru_cache(256)
def font(face: str, cap: int) -> ImageFont.FreeTypeFont:
    """The face at the size at which an H is `cap` pixels high."""
    path = FACES / face
    if not path.exists():
        raise SystemExit(f"error: {path.name} is missing; run tools/lathe/fetch")
    box = ImageFont.truetype(path, 400).getbbox("H")
    return ImageFont.truetype(path, max(6, round(400 * cap / (box[3] - box[1]))))


class Sheet:
    """Unit frame: the middle is (0, 0), y runs down, the edges are at ±`HALF`."""

    def __init__(self) -> None:
        self.image = Image.new("L", (SIDE, SIDE), NONE)
        self.pen = ImageDraw.Draw(self.image)
        self.x, self.y, self.scale = 0.0, 0.0, 1.0

    def at(self, x: float, y: float, scale: float) -> "Sheet":
        """The same sheet with the origin at (x, y) and units `scale` times as large."""
        other = object.__new__(Sheet)
        other.image, other.pen = self.image, self.pen
        other.x, other.y = self.x + x * self.scale, self.y + y * self.scale
        other.scale = self.scale * scale
        return other

    def _px(self, length: float) -> float:
        return length * self.scale * SIDE / (2 * HALF)

    def _point(self, x: float, y: float) -> tuple[float, float]:
        k = SIDE / (2 * HALF)
        return (self.x + x * self.scale + HALF) * k, (self.y + y * self.scale + HALF) * k

    def fill(self, points: Points, ink: int = INK) -> None:
        self.pen.polygon([self._point(*p) for p in points], fill=ink)

    def line(self, points: Points, width: float, ink: int = INK) -> None:
        px = max(2, round(self._px(width)))
        at = [self._point(*p) for p in points]
        self.pen.line(at, fill=ink, width=px, joint="curve")
        for x, y in (at[0], at[-1]):
            self.pen.ellipse((x - px / 2, y - px / 2, x + px / 2, y + px / 2), fill=ink)

    def outline(self, points: Points, width: float, ink: int = INK) -> None:
        self.line([*points, points[0], points[1]], width, ink)

    def disc(self, x: float, y: float, r: float, ink: int = INK, squeeze: float = 1.0) -> None:
        self.fill(oval(x, y, r, r * squeeze), ink)

    def ring(self, r: float, width: float, squeeze: float = 1.0) -> None:
        self.outline(oval(0, 0, r, r * squeeze), width)

    def _stamp(self, tile: Image.Image, x: float, y: float, ink: int) -> None:
        """Lays a mask with its middle at the pixel (x, y)."""
        left, top = round(x - tile.width / 2), round(y - tile.height / 2)
        box = (left, top, left + tile.width, top + tile.height)
        under = self.image.crop(box)
        laid = ImageChops.lighter(under, tile) if ink else ImageChops.darker(under, ImageChops.invert(tile))
        self.image.paste(laid, box)

    def text_width(self, words: str, face: str, cap: float, spacing: float = 0.0) -> float:
        used = font(face, round(self._px(cap)))
        if spacing == 0:
            return used.getlength(words) / self._px(1)
        return sum(used.getlength(c) for c in words) / self._px(1) + spacing * cap * (len(words) - 1)

    def text(
        self,
        words: str,
        face: str,
        x: float,
        y: float,
        cap: float,
        spacing: float = 0.0,
        ink: int = INK,
        slope: float = 0.0,
        most: float = 9.0,
    ) -> tuple[float, float, float, float]:
        """Words centred on (x, y), capitals `cap` units high, no wider than `most`. Returns their box in units of the
        whole sheet."""
        width = self.text_width(words, face, cap, spacing)
        if width > most:
            cap, width = cap * most / width, most
        px = round(self._px(cap))
        used = font(face, px)
        tile = Image.new("L", (round(self._px(width) + 3 * px), 4 * px), NONE)
        pen, at = ImageDraw.Draw(tile), 1.5 * px
        for part in [words] if spacing == 0 else words:
            pen.text((at, 2.5 * px), part, font=used, fill=INK, anchor="ls")
            at += used.getlength(part) + spacing * px
        tile = tile.rotate(slope, Image.Resampling.BICUBIC, expand=True)
        px_x, px_y = self._point(x, y)
        self._stamp(tile, px_x, px_y, ink)
        found = tile.getbbox() or (0, 0, 1, 1)
        k, left, top = 2 * HALF / SIDE, px_x - tile.width / 2, px_y - tile.height / 2
        return tuple((v + o) * k - HALF for v, o in zip(found, (left, top, left, top)))

    def arc(
        self,
        words: str,
        face: str,
        radius: float,
        cap: float,
        middle: float,
        spacing: float = 0.12,
        ink: int = INK,
        most: float = 2.6,
    ) -> tuple[float, float, float, float]:
        """Words along a circle about the origin; `middle` is 90 for the top, -90 for the foot, where they read the
        other way round. They take at most `most` radians. Returns their box in units of the whole sheet."""
        turn = -1.0 if middle > 0 else 1.0
        base = radius if middle > 0 else radius + cap
        width = self.text_width(words, face, cap, spacing or 1e-6)
        cap = cap * min(1.0, most * radius / width)
        width = min(width, most * radius)
        px = round(self._px(cap))
        used = font(face, px)
        angle = math.radians(middle) - turn * width / radius / 2
        xs, ys = [], []
        for letter in words:
            step = used.getlength(letter) / self._px(1) / radius
            here = angle + turn * step / 2
            tile = Image.new("L", (4 * px, 4 * px), NONE)
            ImageDraw.Draw(tile).text((2 * px, 2 * px), letter, font=used, fill=INK, anchor="ms")
            lean = math.degrees(here) - 90 if middle > 0 else math.degrees(here) + 90
            tile = tile.rotate(lean, Image.Resampling.BICUBIC)
            x, y = self._point(base * math.cos(here), -base * math.sin(here))
            self._stamp(tile, x, y, ink)
            xs += [x - 0.7 * px, x + 0.7 * px]
            ys += [y - 1.2 * px, y + 0.4 * px]
            angle += turn * (step + spacing * cap / radius)
        k = 2 * HALF / SIDE
        return min(xs) * k - HALF, min(ys) * k - HALF, max(xs) * k - HALF, max(ys) * k - HALF

    def shrunk(self) -> np.ndarray:
        """Coverage 0 to 1 at half the sheet's side."""
        small = self.image.resize((SIDE // 2, SIDE // 2), Image.Resampling.BOX)
        return np.asarray(small, np.float32) / 255


def oval(x: float, y: float, a: float, b: float, start: float = 0, end: float = 360, steps: int = 72) -> Points:
    turns = np.radians(np.linspace(start, end, steps))
    return [(x + a * math.cos(t), y + b * math.sin(t)) for t in turns]


def bezier(*held: tuple[float, float], steps: int = 24) -> Points:
    """A curve of any degree by de Casteljau's construction."""
    out = []
    for t in np.linspace(0, 1, steps):
        row = np.array(held, float)
        while len(row) > 1:
            row = row[:-1] * (1 - t) + row[1:] * t
        out.append((float(row[0][0]), float(row[0][1])))
    return out


def mirrored(points: Points) -> Points:
    """A closed outline from its right half, top to foot."""
    return points + [(-x, y) for x, y in reversed(points)]
