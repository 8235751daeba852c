"""Drawings that collages are made of: marks, ornaments, pages of text and pencil notes, as coverage.

A `Bank` holds canvases of CANVAS pixels drawn once (`compose.py`), halved several times, so that each can be
sampled at any size without much aliasing.
"""

import math
import random

import torch
import torch.nn.functional as F

import compose
import layout
from textures import Dice, edge, per
from layout import ELLIPSE, FRAME, ICON, Element

DRAWN = 256  # canvases drawn at a time
LEVELS = 4  # each half the last


def ornament(art: layout.Artwork, rng: random.Random) -> list[Element]:
    """What decorates a top: a wreath, a spray, or scattered sprigs; of one colour."""
    def motif(x, y, half, angle, member):
        if member >= 0:
            return [Element(ICON, member, x, y, half, half, angle)]
        petals = -member
        turns = [angle + 2 * math.pi * k / petals for k in range(petals)]
        return [Element(FRAME, ELLIPSE, x + 0.55 * half * math.cos(t), y + 0.55 * half * math.sin(t), half * 0.45,
                        half * 0.17, t) for t in turns]

    member = art.icon(rng) if rng.random() < 0.6 else -rng.randint(4, 8)
    plan = rng.random()
    if plan < 0.5:
        count, far = rng.randint(3, 16), rng.uniform(0.6, 0.9)
        half = min(math.pi * far / count, 0.28) * rng.uniform(0.6, 1.0)
        start = rng.uniform(0, math.pi)
        places = [(start + 2 * math.pi * k / count, far) for k in range(count)]
        out = [e for t, r in places for e in motif(r * math.cos(t), r * math.sin(t), half, t + math.pi / 2, member)]
    elif plan < 0.75:
        out = []
        for _ in range(rng.randint(3, 8)):
            t, r, half = rng.uniform(0, 2 * math.pi), rng.uniform(0, 0.35), rng.uniform(0.12, 0.4)
            out += motif(r * math.cos(t), r * math.sin(t), half, rng.uniform(0, 2 * math.pi), member)
            member = art.icon(rng) if rng.random() < 0.3 else member
    else:
        out = []
        for _ in range(rng.randint(6, 20)):
            t, r = rng.uniform(0, 2 * math.pi), math.sqrt(rng.uniform(0, 0.9))
            out += motif(r * math.cos(t), r * math.sin(t), rng.uniform(0.06, 0.16), rng.uniform(0, 6.3), member)
    if rng.random() < 0.3:
        far = rng.uniform(0.35, 0.97)
        out.append(Element(FRAME, ELLIPSE, 0, 0, far, far, stroke=rng.uniform(0.004, 0.03)))
    # Something at the very rim keeps the canvas's circle the plate's.
    return out + [Element(FRAME, ELLIPSE, 0, 0, 0.7, 0.7, stroke=1e-4)]


def page(art: layout.Artwork, rng: random.Random) -> list[Element]:
    """Lines of text, some in columns, as receipts, letters and labels bear them."""
    sketch = layout.Sketch(art, rng)
    y, columns = 0.0, rng.choice((1, 1, 1, 2))
    for _ in range(rng.randint(6, 26)):
        cap = rng.choice((0.06, 0.08, 0.08, 0.1, 0.2))
        for column in range(columns):
            sketch.line(y, cap, 1.9 / columns, x=(column - (columns - 1) / 2) * 1.05)
        y += cap * rng.uniform(1.5, 2.5)
    return sketch.elements


def scribbles(count: int, device: torch.device, generator: torch.Generator) -> torch.Tensor:
    """Canvases of a few pen strokes side by side: prices and notes in pencil."""
    side = compose.CANVAS // 2
    dice = Dice(count, (side, side), device, generator)
    t = torch.linspace(0, 1, 40, device=device)
    out = torch.zeros(count, 1, side, side, device=device)
    signs = dice.uniform(1, 6)
    points = dice.points()
    thick = dice.uniform(0.02, 0.05)
    for k in range(5):
        nodes = dice.normal(5, 2) * torch.tensor([0.12, 0.22], device=device)
        weights = torch.stack([math.comb(4, j) * t**j * (1 - t) ** (4 - j) for j in range(5)], 1)
        line = torch.einsum("tj,njc->ntc", weights, nodes * 1.8)
        line[..., 0] += ((k + 0.5) * 2 / signs.ceil() - 1)[:, None] * 0.75
        near = torch.full((count, side, side), 9.0, device=device)
        for j in range(len(t)):
            near = torch.minimum(near, (points - line[:, j, None, None]).square().sum(-1))
        ink = edge((near.sqrt() - thick[:, None, None])[:, None], torch.full_like(thick, 0.01))
        out = torch.maximum(out, ink * per((k < signs.ceil()).float()))
    return F.interpolate(out, scale_factor=2, mode="bilinear", align_corners=False)


class Bank:
    """Canvases drawn once, as a pyramid, and their half boxes."""

    def __init__(self, canvases: torch.Tensor, boxes: torch.Tensor):
        self.boxes = boxes
        self.levels = [canvases]
        while len(self.levels) < LEVELS:
            self.levels.append((F.avg_pool2d(self.levels[-1].float(), 2)).round().byte())

    def __len__(self):
        return len(self.boxes)

    def seen(self, index: torch.Tensor, points: torch.Tensor, pixels: torch.Tensor) -> torch.Tensor:
        """Coverage at points in the canvas's unit circle; `pixels` (N,) of the picture to its unit."""
        level = (compose.CANVAS / (2 * compose.REACH) / pixels).log2().round().clamp(0, LEVELS - 1)
        out = 0
        for k, canvases in enumerate(self.levels):
            some = F.grid_sample(canvases[index].float() / 255, points / compose.REACH, align_corners=False)
            out = out + some * per((level == k).float())
        return out


def bank(atlas: compose.Atlas, art: layout.Artwork, plan, count: int, seed: str, device: torch.device) -> Bank:
    rng = random.Random(seed)
    canvases, boxes = [], []
    for at in range(0, count, DRAWN):
        table, box = layout.table([plan(art, rng) for _ in range(min(DRAWN, count - at))])
        canvases.append((compose.draw(atlas, table, len(box), device) * 255).round().byte())
        boxes.append(torch.from_numpy(box).to(device))
    return Bank(torch.cat(canvases), torch.cat(boxes))
