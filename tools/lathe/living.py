"""Plants and animals among the emblems, drawn by rule into the square ±1 of a sheet."""

import math

import numpy as np

from .sheet import INK, NONE, Sheet, bezier, oval

Rng = np.random.Generator


def leaf(s: Sheet, x: float, y: float, angle: float, size: float, fat: float, ink: int = INK) -> None:
    c, d = math.cos(angle), math.sin(angle)
    local = bezier((0, 0), (0.5, fat), (1, 0)) + bezier((1, 0), (0.5, -fat), (0, 0))
    s.fill([(x + size * (u * c - v * d), y + size * (u * d + v * c)) for u, v in local], ink)


def rosette(s: Sheet, rng: Rng) -> None:
    """A flower seen from above."""
    n, fat = int(rng.integers(5, 10)), rng.uniform(0.35, 0.7)
    for k in range(n):
        leaf(s, 0, 0, 2 * math.pi * k / n, 0.95, fat)
        leaf(s, 0, 0, 2 * math.pi * k / n, 0.62, fat * 0.35, NONE)
    s.disc(0, 0, 0.26, NONE)
    s.disc(0, 0, rng.uniform(0.12, 0.2))


def sprig(s: Sheet, rng: Rng) -> None:
    """A bent stem with leaves and berries or a bloom."""
    lean, fat, pairs = rng.uniform(-0.5, 0.5), rng.uniform(0.3, 0.8), int(rng.integers(3, 7))
    stem = bezier((-lean, 0.95), (lean * 1.4, 0.3), (lean * 0.5, -0.75), steps=40)
    s.line(stem, 0.05)
    for k in range(pairs):
        i = 5 + k * 28 // pairs
        (x, y), (u, v) = stem[i], stem[i + 1]
        ahead = math.atan2(v - y, u - x)
        size = rng.uniform(0.36, 0.55) * (1 - 0.06 * k)
        for side in (-1, 1):
            leaf(s, x, y, ahead + side * rng.uniform(0.6, 1.0), size, fat)
    x, y = stem[-1]
    if rng.random() < 0.5:
        rosette(s.at(x, y, 0.3), rng)
    else:
        for _ in range(6):
            s.disc(x + rng.uniform(-0.18, 0.18), y + rng.uniform(-0.14, 0.14), 0.07)


def tree(s: Sheet, rng: Rng) -> None:
    spread, shrink = rng.uniform(0.35, 0.6), rng.uniform(0.66, 0.76)

    def branch(x: float, y: float, angle: float, length: float, depth: int) -> None:
        u, v = x + length * math.cos(angle), y + length * math.sin(angle)
        s.line([(x, y), (u, v)], 0.025 + 0.022 * depth)
        if depth == 0:
            s.disc(u, v, 0.075)
            return
        for side in (-1, 1):
            branch(u, v, angle + side * spread * rng.uniform(0.7, 1.2), length * shrink, depth - 1)

    branch(0, 0.9, -math.pi / 2, 0.55, 4)


def wreath(s: Sheet, rng: Rng, open_top: float = 0.5) -> None:
    """Two rows of leaves that meet at the foot."""
    n, fat, size = int(rng.integers(7, 13)), rng.uniform(0.3, 0.6), rng.uniform(0.2, 0.3)
    for side in (-1, 1):
        arc = [(side * math.sin(t), math.cos(t)) for t in np.linspace(0.05, math.pi - open_top, 40)]
        s.line(arc, 0.03)
        for k in range(n):
            x, y = arc[2 + k * 36 // n]
            along = math.atan2(y, x) - side * math.pi / 2
            leaf(s, x, y, along - 0.5, size, fat)
            leaf(s, x, y, along + 0.5, size, fat)


def beast(s: Sheet, rng: Rng) -> None:
    """A four-legged animal out of thick strokes: hound, stag, horse or something between."""
    neck, head, w = rng.uniform(0.4, 0.75), rng.uniform(0.25, 0.4), rng.uniform(0.09, 0.13)
    s.fill(
        bezier((-0.6, -0.1), (-0.2, -0.25), (0.5, -0.25), (0.6, 0.0))
        + bezier((0.55, 0.2), (0.1, 0.35), (-0.3, 0.1), (-0.62, 0.25))
    )
    top = (0.55 + 0.22, -neck)
    s.line(bezier((0.48, -0.02), (0.55, -0.3), top), 0.2)
    s.fill(
        [
            (top[0] - 0.1, top[1] - 0.1),
            (top[0] + head, top[1] + 0.1),
            (top[0] + head - 0.06, top[1] + 0.2),
            (top[0] - 0.05, top[1] + 0.16),
        ]
    )
    s.fill([(top[0] - 0.08, top[1]), (top[0] - 0.18, top[1] - 0.25), (top[0] + 0.05, top[1] - 0.1)])
    lift = rng.random() < 0.5
    for x, knee, foot in (
        (-0.52, -0.62, -0.5),
        (-0.36, -0.3, -0.38),
        (0.36, 0.42, 0.36),
        (0.5, 0.75 if lift else 0.55, 0.62 if lift else 0.5),
    ):
        end = 0.62 if lift and x == 0.5 else 0.88
        s.line([(x, 0.1), (knee, 0.5), (foot, end), (foot + 0.1, end)], w)
    s.line(bezier((-0.58, 0.0), (-0.95, -0.1 - rng.uniform(0, 0.7)), (-0.8, rng.uniform(-0.4, 0.5))), w * 0.8)
    if rng.random() < 0.4:
        for side in (0.0, 0.18):
            horn = bezier(
                (top[0], top[1] - 0.08), (top[0] - 0.2 + side, top[1] - 0.3), (top[0] + side, top[1] - 0.5 + neck * 0.3)
            )
            s.line(horn, 0.045)
            s.line([horn[12], (horn[12][0] + 0.12, horn[12][1] - 0.12)], 0.04)
    if rng.random() < 0.6:
        s.line([(-0.95, 0.93), (0.95, 0.93)], 0.05)


def bird(s: Sheet, rng: Rng) -> None:
    fat = rng.uniform(0.28, 0.42)
    s.fill(
        bezier((-0.6, 0.2), (-0.2, -fat), (0.4, -0.5), (0.55, -0.35))
        + bezier((0.6, -0.2), (0.4, 0.3 + fat), (-0.3, 0.55), (-0.6, 0.2))
    )
    s.disc(0.56, -0.42, 0.2)
    s.fill([(0.7, -0.5), (0.98, -0.38), (0.72, -0.34)])
    s.disc(0.6, -0.46, 0.045, NONE)
    for k in range(int(rng.integers(3, 6))):
        leaf(s, -0.5, 0.2, math.pi - 0.5 + 0.25 * k, rng.uniform(0.4, 0.55), 0.25)
    raised = rng.random() < 0.5
    for k in range(5):
        angle = -2.2 + 0.22 * k if raised else 2.5 + 0.12 * k
        leaf(s, 0.15, -0.1, angle, 0.85 if raised else 0.6, 0.2, INK if raised else NONE)
    for x in (-0.02, 0.14):
        s.line([(x, 0.45), (x + 0.05, 0.85), (x + 0.2, 0.87)], 0.045)


def fish(s: Sheet, rng: Rng) -> None:
    h = rng.uniform(0.5, 0.75)
    s.fill(bezier((-0.55, 0), (0.2, -h), (0.95, 0)) + bezier((0.95, 0), (0.2, h), (-0.55, 0)))
    s.fill([(-0.45, 0), (-0.95, -0.38), (-0.8, 0), (-0.95, 0.38)])
    for k in range(3):
        s.line(oval(0.42 - 0.28 * k, 0, 0.13, 0.2, -90, 90, 16), 0.035, NONE)
    s.disc(0.68, -0.07, 0.05, NONE)
