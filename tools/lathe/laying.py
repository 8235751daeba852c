"""Lays on the piece, the table or the picture what else is there: decoration, stickers, writing, fingers, things."""

import cv2
import numpy as np

from . import emblem, scene, things
from . import ware as wares
from .design import INKS
from .framing import beside
from .scene import Place, Surface
from .sheet import Sheet

Rng = np.random.Generator


def decorate(ware: wares.Ware, s: Surface, rng: Rng) -> None:
    """Decorates a front: lines on the rim, a border that repeats, something in the middle."""
    sheets = []
    colours = [INKS[str(name)] for name in rng.choice(list(INKS), 3, replace=False)]
    border, middle, lines = Sheet(), Sheet(), Sheet()
    n, seed = int(rng.integers(6, 22)), int(rng.integers(1 << 30))
    kind = emblem.EMBLEMS[[3, 4, 9, 17][rng.integers(4)]]
    for k in range(n):
        t = 2 * np.pi * k / n
        kind(border.at(0.82 * np.cos(t), 0.82 * np.sin(t), 0.11), np.random.default_rng(seed))
    for r in rng.uniform(0.56, 0.97, int(rng.integers(1, 4))):
        lines.ring(r, rng.uniform(0.008, 0.03))
    if rng.random() < 0.6:
        emblem.EMBLEMS[[3, 4, 4, 9, 15][rng.integers(5)]](middle.at(0, 0, rng.uniform(0.25, 0.5)), rng)
    for sheet, colour, often in ((border, colours[0], 0.8), (middle, colours[1], 1.0), (lines, colours[2], 0.9)):
        if rng.random() < often:
            sheets.append((sheet.shrunk(), colour))
    for mask, colour in sheets:
        k = np.float32(mask.shape[0] / 3.2)
        amount = cv2.remap(mask, (s.x / ware.a + 1.6) * k, (s.y / ware.b + 1.6) * k, cv2.INTER_LINEAR)
        s.colour *= np.power(np.float32(colour), 0.9 * amount[..., None])


def distract(s: Surface, ware: wares.Ware, place: Place, thing: str, pixels: float, rng: Rng) -> None:
    if thing == "pencil price":
        art = things.writing(f"{rng.integers(2, 90)}/{rng.choice(['-', '6', '9'])}", (0.22, 0.22, 0.24), rng)
    elif thing == "handwritten number":
        art = things.writing(
            str(rng.integers(100, 99999)),
            [(0.45, 0.06, 0.05), (0.05, 0.05, 0.06), (0.05, 0.08, 0.35)][rng.integers(3)],
            rng,
            2,
        )
    elif thing == "repair staple":
        art = things.staple(rng)
    else:
        art = things.sticker(rng, thing)
    size = place.size * float(rng.uniform(0.4, 0.8))
    scene.lay_on(s, art, beside(place, ware, art.shape[:2], size, rng), pixels * size / place.size)


def stick(s: Surface, art: np.ndarray, place: Place, share: float, pixels: float, rng: Rng) -> np.ndarray:
    """A sticker over about `share` of the mark, from one side."""
    h, w = (n / max(place.shape) * place.size for n in place.shape)
    size = float(np.clip(np.sqrt(share) * 1.25, 0.35, 1.0)) * max(h, w)
    turn = rng.uniform(0, 2 * np.pi)
    u, v = 0.5 + np.cos(turn) * (1.05 - share) * 0.6, 0.5 + np.sin(turn) * (1.05 - share) * 0.6
    x, y = place.outside(np.float32(u), np.float32(v))
    at = Place(float(x), float(y), place.turn + rng.normal(0, 0.4), size, art.shape[:2])
    return scene.lay_on(s, art, at, pixels * size / place.size)


def finger(rgb: np.ndarray, hidden: float, quad: np.ndarray, rng: Rng) -> tuple[np.ndarray, np.ndarray]:
    """A finger over about the share `hidden` of the mark; the picture and what it covers."""
    centre, side = quad.mean(0), np.linalg.norm(quad[1] - quad[0]) + np.linalg.norm(quad[3] - quad[0])
    h, w = rgb.shape[:2]
    away = rng.uniform(0, 2 * np.pi)
    way = np.array([np.cos(away), np.sin(away)])
    radius = max(0.1 * min(w, h), 0.24 * side) * rng.uniform(0.85, 1.15)
    box = np.zeros((h, w), np.uint8)
    cv2.fillConvexPoly(box, np.int32(quad), 1)
    seed = int(rng.integers(1 << 30))
    low, high = -0.6 * side, 0.8 * side
    for _ in range(7):
        far = (low + high) / 2
        tip = centre + way * far
        root = tip + way * 2 * max(h, w)
        cover, colour, shadow = things.thumb(
            (h, w),
            (float(tip[0]), float(tip[1])),
            (float(root[0]), float(root[1])),
            float(radius),
            np.random.default_rng(seed),
        )
        share = float((cover * box).sum() / max(box.sum(), 1))
        low, high = (low, far) if share < hidden else (far, high)
    rgb = rgb * (1 - shadow * (1 - cover))[..., None]
    lit = np.quantile(rgb[::9, ::9].max(-1), 0.6) / 0.75
    return rgb * (1 - cover)[..., None] + colour * lit * cover[..., None], cover


def others(ground: np.ndarray, s: Surface, rng: Rng) -> np.ndarray:
    """Other things on the table: round and square ones, out of the piece's way."""
    for _ in range(int(rng.integers(1, 4))):
        turn, far, size = rng.uniform(0, 2 * np.pi), rng.uniform(1.5, 2.4), rng.uniform(0.2, 0.6)
        x, y = s.x - np.float32(far * np.cos(turn)), s.y - np.float32(far * np.sin(turn))
        away = np.hypot(x, y) if rng.random() < 0.6 else np.maximum(np.abs(x), np.abs(y) * 1.6)
        cover = (away < size).astype(np.float32)[..., None]
        ring = 1 - 0.25 * np.exp(-(((away - size * 0.75) / 0.02) ** 2))
        halo = 1 - 0.5 * np.exp(-np.clip(away - size, 0, 9) / 0.07)
        ground = (
            ground * (1 - cover) * halo[..., None] + cover * np.float32(rng.uniform(0.08, 0.8, 3)) * ring[..., None]
        )
    return ground
