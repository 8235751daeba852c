"""Lays out marks: which drawings and lines stand where, as plain numbers.

A mark is a list of elements in its own frame (x right, y down).  The frame is
moved and scaled so that the mark's box is centred and its corners lie on the unit
circle.  `Layouts` is an endless data set of batches in groups of four; of a group
some or all are siblings that share everything but one line of text.  Runs in
worker processes on the CPU; drawing them is `compose.py`, on the accelerator.
"""

import math
import random
from dataclasses import dataclass, replace

import numpy as np
import torch

STRIP_HIGH, STRIP_INK = 32, 28
GROUP = 4
# Most elements of one mark that are drawn: two frames, three icons, six lines.
SLOTS = 11
ICON, STRAIGHT, ARC, FRAME = range(4)
ELLIPSE, BOX, DIAMOND, SHIELD, RIBBON, POLYGON = range(6)
FIELDS = 13


@dataclass(frozen=True)
class Element:
    """One drawn thing; lengths in the mark's frame, angles in radians."""

    kind: int
    index: int  # icon, strip, or shape of a frame
    cx: float
    cy: float
    half_w: float  # negative: mirrored
    half_h: float
    angle: float = 0.0
    radius: float = 0.0  # arc: of the text's middle line; negative: reads along the bottom
    stroke: float = 0.0  # frame: half the line's width; 0: filled
    knock: float = 0.0  # 1: cuts out of what is there instead of adding
    extra: float = 0.0  # polygon: corners; box and ribbon: rounding or curl

    def corners(self) -> list[tuple[float, float]]:
        """Points whose box holds the element."""
        if self.kind == ARC:
            reach = abs(self.radius) + self.half_h
            spread = min(abs(self.half_w / self.radius), math.pi)
            middle = self.angle
            turns = [middle + spread * t / 4 for t in range(-4, 5)]
            return [(self.cx + reach * math.sin(t), self.cy - reach * math.cos(t)) for t in turns]
        c, s = math.cos(self.angle), math.sin(self.angle)
        w, h = abs(self.half_w) + self.stroke, self.half_h + self.stroke
        return [(self.cx + c * x - s * y, self.cy + s * x + c * y)
                for x, y in ((-w, -h), (w, -h), (w, h), (-w, h))]


class Artwork:
    """The atlas of one split, as the layout needs it: widths, faces, drawings."""

    def __init__(self, atlas, split: int):
        kind, drawing = atlas["icon_kind"], atlas["icon_drawing"]
        mine = atlas["icon_split"] == split
        self.drawings: list[list[int]] = []
        self.weights: list[float] = []
        for number in np.unique(drawing[mine]):
            members = np.nonzero(mine & (drawing == number))[0].tolist()
            self.drawings.append(members)
            # Emblem-like drawings come most; signs are there for variety.
            self.weights.append({0: 2.0, 1: 1.0, 2: 0.6}[int(kind[members[0]])])
        self.strips = np.nonzero(atlas["strip_split"] == split)[0].tolist()
        self.width = atlas["strip_width"].astype(float).tolist()
        self.cap = atlas["strip_cap"].astype(float).tolist()
        self.script = (atlas["strip_class"] == 2).tolist()
        self.font = atlas["strip_font"].tolist()
        self.by_font: dict[int, list[int]] = {}
        for strip in self.strips:
            self.by_font.setdefault(self.font[strip], []).append(strip)
        self.totals = np.cumsum(self.weights).tolist()

    def icon(self, rng: random.Random) -> int:
        return rng.choice(rng.choices(self.drawings, cum_weights=self.totals)[0])


class Sketch:
    """Draws up one mark."""

    def __init__(self, art: Artwork, rng: random.Random):
        self.art, self.rng, self.elements = art, rng, []

    def add(self, *args, **named) -> Element:
        element = Element(*args, **named)
        self.elements.append(element)
        return element

    def sized(self, strip: int, cap: float, widest: float) -> tuple[float, float]:
        """Half width and half height of a strip set at a cap height, kept under a width."""
        half_h = cap / self.art.cap[strip] / 2 * STRIP_HIGH / STRIP_INK
        half_w = half_h * self.art.width[strip] / STRIP_HIGH
        shrink = min(1.0, widest / 2 / half_w)
        return half_w * shrink, half_h * shrink

    def line(self, y: float, cap: float, widest: float, knock: float = 0.0, x: float = 0.0) -> float:
        """A straight line whose top is at y; returns its bottom."""
        strip = self.rng.choice(self.art.strips)
        half_w, half_h = self.sized(strip, cap * (1.35 if self.art.script[strip] else 1.0), widest)
        angle = self.rng.uniform(-0.12, 0.12) if self.art.script[strip] and self.rng.random() < 0.5 else 0.0
        self.add(STRAIGHT, strip, x, y + half_h, half_w, half_h, angle, knock=knock)
        return y + 2 * half_h

    def lines(self, y: float, count: int, cap: float, widest: float) -> float:
        """Lines under one another; returns the bottom of the last."""
        for _ in range(count):
            y = self.line(y + cap * self.rng.uniform(0.15, 0.6), cap * self.rng.uniform(0.65, 1.3), widest)
        return y

    def emblem(self, x: float, y: float, half: float) -> None:
        """One drawing, or now and then several together."""
        rng = self.rng
        many = rng.random()
        stretch = math.exp(rng.gauss(0, 0.07))
        flip = rng.choice((-1, 1))
        angle = rng.gauss(0, 0.15) if rng.random() < 0.3 else 0.0
        if many < 0.84:
            self.add(ICON, self.art.icon(rng), x, y, flip * half * stretch, half / stretch, angle)
        elif many < 0.92:
            other = self.art.icon(rng)
            for side in (-1, 1):
                self.add(ICON, other, x + side * half * 0.75, y, side * half * 0.6, half * 0.6, side * angle)
        else:
            self.add(ICON, self.art.icon(rng), x, y + half * 0.2, flip * half * 0.75, half * 0.75, angle)
            self.add(ICON, self.art.icon(rng), x, y - half * 0.8, half * 0.3, half * 0.3)

    def frame(self, shape: int, x: float, y: float, w: float, h: float, filled: bool = False) -> None:
        """A frame, at times with a second line inside."""
        rng = self.rng
        stroke = 0.0 if filled else rng.uniform(0.012, 0.045)
        extra = {POLYGON: float(rng.choice((5, 6, 8, 12))), BOX: rng.uniform(0, 0.5),
                 RIBBON: rng.uniform(-0.3, 0.3)}.get(shape, 0.0)
        self.add(FRAME, shape, x, y, w, h, stroke=stroke, extra=extra)
        if not filled and rng.random() < 0.35:
            gap = 1 - rng.uniform(0.06, 0.14)
            self.add(FRAME, shape, x, y, w * gap, h * gap, stroke=stroke * rng.uniform(0.4, 1), extra=extra)

    def arc(self, radius: float, cap: float, top: bool, most: float) -> None:
        """A line of text on a circle round the origin, at most `most` radians wide."""
        strip = self.rng.choice([s for s in self.rng.sample(self.art.strips, 8) if not self.art.script[s]]
                                or self.art.strips)
        half_w, half_h = self.sized(strip, cap, most * radius)
        self.add(ARC, strip, 0.0, 0.0, half_w, half_h, 0.0 if top else math.pi, radius if top else -radius)


def stacked(sketch: Sketch) -> None:
    """Emblem with lines under it, over it, or both; the commonest mark."""
    rng = sketch.rng
    half = rng.uniform(0.45, 0.9)
    if rng.random() < 0.25:
        sketch.frame(rng.choice((ELLIPSE, SHIELD, DIAMOND, BOX, POLYGON)), 0, 0, half * 1.35, half * 1.35,)
        sketch.emblem(0, 0, half * 0.85)
        half *= 1.4
    else:
        sketch.emblem(0, 0, half)
    cap = rng.uniform(0.2, 0.42)
    widest = rng.uniform(1.6, 3.0)
    where = rng.random()
    if where < 0.8:
        sketch.lines(half, rng.choice((1, 1, 2, 2, 3, 4)), cap, widest)
    if where > 0.65:
        sketch.line(-half - cap * 1.6, cap, widest)


def ringed(sketch: Sketch) -> None:
    """A ring, text along it, something in the middle."""
    rng = sketch.rng
    cap = rng.uniform(0.14, 0.28)
    inner = 1 - 1.9 * cap
    if rng.random() < 0.7:
        sketch.frame(ELLIPSE, 0, 0, 1, 1)
    if rng.random() < 0.5:
        sketch.frame(ELLIPSE, 0, 0, inner, inner)
    middle = (1 + inner) / 2
    sketch.arc(middle, cap, True, rng.uniform(1.8, 3.6))
    if rng.random() < 0.7:
        sketch.arc(middle, cap * rng.uniform(0.8, 1.0), False, 2.4)
    if rng.random() < 0.8:
        sketch.emblem(0, 0, inner * rng.uniform(0.5, 0.75))
    else:
        sketch.line(-0.12, 0.25, inner * 1.7)
    if rng.random() < 0.3:
        sketch.line(1.1, rng.uniform(0.15, 0.25), 2.0)


def arched(sketch: Sketch) -> None:
    """Text arched over an emblem, lines below."""
    rng = sketch.rng
    half = rng.uniform(0.5, 0.75)
    sketch.emblem(0, 0, half)
    sketch.arc(half + rng.uniform(0.25, 0.4), rng.uniform(0.18, 0.3), True, 3.0)
    sketch.lines(half, rng.choice((0, 1, 1, 2)), rng.uniform(0.16, 0.3), 2.0)


def boxed(sketch: Sketch) -> None:
    """Lines inside an oval, a box, a diamond or a shield; some cut out of a solid one."""
    rng = sketch.rng
    shape = rng.choice((ELLIPSE, ELLIPSE, BOX, BOX, DIAMOND, SHIELD, POLYGON))
    solid = rng.random() < 0.25
    w, h = rng.uniform(1.0, 1.6), rng.uniform(0.6, 1.0)
    sketch.frame(shape, 0, 0, w, h, solid)
    count = rng.choice((1, 2, 2, 3))
    room = 1.0 if shape in (DIAMOND, ELLIPSE) else 1.25
    cap = h * room / (count * 1.7)
    y = -h * room / 2 - (0.1 * h if shape == SHIELD else 0)
    for row in range(count):
        middle = abs(row - (count - 1) / 2) / max(count, 2)
        widest = w * (1.75 if shape == BOX else 1.5 - 0.9 * middle)
        y = sketch.line(y + cap * 0.25, cap, widest * (0.8 if shape == DIAMOND else 1), float(solid))
    if rng.random() < 0.35:
        sketch.emblem(0, -h - 0.45, 0.4)
    if rng.random() < 0.35:
        sketch.line(h + 0.12, 0.22, 2 * w)


def ribboned(sketch: Sketch) -> None:
    """An emblem over a ribbon that carries the name."""
    rng = sketch.rng
    sketch.emblem(0, 0, rng.uniform(0.5, 0.8))
    solid = rng.random() < 0.5
    high = rng.uniform(0.18, 0.28)
    sketch.frame(RIBBON, 0, 0.85, rng.uniform(1.1, 1.5), high, solid)
    sketch.line(0.85 - high * 0.62, high * 1.05, 1.9, float(solid))
    sketch.lines(0.85 + high, rng.choice((0, 1, 1, 2)), 0.2, 2.4)


def worded(sketch: Sketch) -> None:
    """Lines only, one now and then underlined."""
    rng = sketch.rng
    bottom = sketch.lines(0, rng.choice((1, 2, 2, 3, 3, 4)), rng.uniform(0.25, 0.45), rng.uniform(1.5, 3.2))
    if rng.random() < 0.2:
        sketch.add(FRAME, BOX, 0, bottom + 0.1, rng.uniform(0.5, 1.2), 0.015)


def lone(sketch: Sketch) -> None:
    """An emblem alone or in a frame."""
    if sketch.rng.random() < 0.6:
        sketch.frame(sketch.rng.randrange(4), 0, 0, 1, 1)
        sketch.emblem(0, 0, 0.62)
    else:
        sketch.emblem(0, 0, 1)
    if sketch.rng.random() < 0.4:
        sketch.line(1.1, 0.25, 1.5)


PLANS = ((stacked, 0.36), (ringed, 0.15), (arched, 0.09), (boxed, 0.15), (ribboned, 0.09), (worded, 0.12), (lone, 0.04))


def mark(art: Artwork, rng: random.Random) -> list[Element]:
    """A whole mark."""
    sketch = Sketch(art, rng)
    rng.choices([p for p, _ in PLANS], [w for _, w in PLANS])[0](sketch)
    return sketch.elements[:SLOTS]


def sibling(art: Artwork, base: list[Element], which: int, rng: random.Random,
            lacking: bool = False) -> list[Element]:
    """`base` with one line replaced by another of the same face, or left out (`lacking`)."""
    old = base[which]
    if lacking and len(base) > 1:
        return base[:which] + base[which + 1 :]
    choice = [s for s in art.by_font[art.font[old.index]] if s != old.index] or art.strips
    strip = rng.choice(choice)
    half_h = old.half_h * art.cap[old.index] / art.cap[strip]
    half_w = half_h * art.width[strip] / STRIP_HIGH
    shrink = min(1.0, 1.25 * old.half_w / half_w) if old.half_w > 0.8 else min(1.0, 1.0 / half_w)
    new = replace(old, index=strip, half_w=half_w * shrink, half_h=half_h * shrink)
    return base[:which] + [new] + base[which + 1 :]


def group(art: Artwork, rng: random.Random) -> list[list[Element]]:
    """Four marks: all siblings, two siblings and two of other words, or strangers."""
    base = mark(art, rng)
    texts = [i for i, e in enumerate(base) if e.kind in (STRAIGHT, ARC)]
    kind = rng.random()
    if not texts or kind < 0.2:
        return [base] + [mark(art, rng) for _ in range(GROUP - 1)]
    which = rng.choice(texts)
    if kind < 0.6:
        # At most one lacks the line: two would be one mark.
        lacking = rng.random() < 0.4
        return [base, sibling(art, base, which, rng, lacking)] + [
            sibling(art, base, which, rng) for _ in range(GROUP - 2)]
    other = base
    for text in texts:
        if len(other) == len(base):
            other = sibling(art, other, text, rng)
    return [base, sibling(art, base, which, rng, rng.random() < 0.15), other, mark(art, rng)]


NO_LETTER = (0.0,) * 6
# Share of groups whose members differ in one letter only.
LETTERS = 0.25


def changed_letter(line: Element, rng: random.Random) -> tuple[float, ...]:
    """A window about a letter wide on a straight line, and from where along the line what stands in it
    comes: (x, y, half width, half height, dx, dy) in the mark's layout, before the line's turn."""
    half = line.half_h * rng.uniform(0.4, 0.7)
    reach = abs(line.half_w) - half
    place = rng.uniform(-reach, reach)
    source = max(-reach, min(reach, place + rng.choice((-1, 1)) * half * rng.uniform(2, 8)))
    c, s = math.cos(line.angle), math.sin(line.angle)
    shift = source - place
    return line.cx + c * place, line.cy + s * place, half, line.half_h * 1.1, c * shift, s * shift


def group_or_letters(art: Artwork, rng: random.Random) -> list[tuple[list[Element], tuple[float, ...]]]:
    """Four marks with their changed letters: as `group` gives them, or one mark with a letter changed
    in three copies."""
    marks = group(art, rng)
    lines = [e for e in marks[0] if e.kind == STRAIGHT and abs(e.half_w) > 3 * e.half_h]
    if not lines or rng.random() >= LETTERS:
        return [(m, NO_LETTER) for m in marks]
    line = rng.choice(lines)
    return [(marks[0], NO_LETTER)] + [(marks[0], changed_letter(line, rng)) for _ in range(GROUP - 1)]


def framing(elements: list[Element]) -> tuple[float, float, float, float, float]:
    """Middle of the mark as laid out, the scale to the unit circle, and the box's half sides there."""
    points = [p for e in elements for p in e.corners()]
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    w, h = (max(xs) - min(xs)) / 2, (max(ys) - min(ys)) / 2
    s = 1 / math.hypot(w, h)
    return (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2, s, w * s, h * s


def framed(elements: list[Element]) -> tuple[list[Element], tuple[float, float]]:
    """The mark moved and scaled to the unit circle, and its box's half sides."""
    cx, cy, s, w, h = framing(elements)
    moved = [replace(e, cx=(e.cx - cx) * s, cy=(e.cy - cy) * s, half_w=e.half_w * s, half_h=e.half_h * s,
                     radius=e.radius * s, stroke=e.stroke * s) for e in elements]
    return moved, (w, h)


def table(marks: list[list[Element]]) -> tuple[np.ndarray, np.ndarray]:
    """Elements (rows of FIELDS, by slot and kind) and half boxes (N, 2) of a batch."""
    rows, boxes = [], []
    for number, elements in enumerate(marks):
        elements, box = framed(elements)
        boxes.append(box)
        for slot, e in enumerate(elements):
            rows.append((slot, e.kind, number, e.index, e.cx, e.cy, e.half_w, e.half_h, e.angle,
                         e.radius, e.stroke, e.knock, e.extra))
    rows.sort(key=lambda r: (r[0], r[1], r[2]))
    return np.array(rows, np.float32), np.array(boxes, np.float32)


class Layouts(torch.utils.data.IterableDataset):
    """Endless batches of `count` marks; worker k of n lays batches k, k + n, ...

    With `pairs`, also (count, 9): middle and scale by which each mark was framed, so that siblings can be
    laid over one another as they were laid out, and the `changed_letter` of each (noughts: none)."""

    def __init__(self, art: Artwork, count: int, seed: int, pairs: bool = False):
        super().__init__()
        self.art, self.count, self.seed, self.pairs = art, count, seed, pairs

    def __iter__(self):
        info = torch.utils.data.get_worker_info()
        number, step = (info.id, info.num_workers) if info else (0, 1)
        while True:
            rng = random.Random(f"{self.seed}-{number}")
            if self.pairs:
                both = [m for _ in range(self.count // GROUP) for m in group_or_letters(self.art, rng)]
                marks = [m for m, _ in both]
                more = [(*framing(m)[:3], *letter) for m, letter in both]
                yield (*table(marks), np.array(more, np.float32))
            else:
                yield table([m for _ in range(self.count // GROUP) for m in group(self.art, rng)])
            number += step
