"""Emblems, each drawn by rule from random numbers into the square ±1 of a sheet. `draw` picks one of them."""

import math

import numpy as np

from .living import beast, bird, fish, rosette, sprig, tree, wreath
from .sheet import INK, NONE, Sheet, bezier, mirrored, oval, pick_face

Rng = np.random.Generator


def shield(s: Sheet, rng: Rng) -> None:
    """A shield with one to three charges, filled or in outline."""
    top = rng.uniform(-0.9, -0.75)
    half = mirrored([(0, top + rng.uniform(-0.1, 0.1)), (0.72, top), *bezier((0.72, top), (0.78, 0.4), (0, 0.98))])
    dark = rng.random() < 0.5
    if dark:
        s.fill(half)
        s.at(0, 0, 0.9).outline(half, 0.03, NONE)
    else:
        s.outline(half, rng.uniform(0.05, 0.1))
    pen = NONE if dark else INK
    charge = rng.integers(6)
    if charge == 0:
        for k in range(rng.integers(1, 4)):
            y = -0.35 + 0.3 * k
            s.line([(-0.5, y + 0.25), (0, y - 0.1), (0.5, y + 0.25)], 0.1, pen)
    elif charge == 1:
        s.line([(0, -0.7), (0, 0.8)], 0.12, pen)
        s.line([(-0.62, -0.15), (0.62, -0.15)], 0.12, pen)
    elif charge == 2:
        s.fill([(-0.7, -0.5), (-0.7, -0.75), (0.5, 0.45), (0.35, 0.6)], pen)
    elif charge == 3:
        for x, y in ((-0.32, -0.4), (0.32, -0.4), (0, 0.25)):
            star(s.at(x, y, 0.26), rng, pen)
    elif charge == 4:
        for x in (-0.4, -0.13, 0.13, 0.4):
            s.line([(x, -0.68), (x, 0.62 - abs(x))], 0.07, pen)
    else:
        for k in range(3):
            y = -0.45 + 0.35 * k
            wave = [(x, y + 0.06 * math.sin(9 * x + k)) for x in np.linspace(-0.55 + 0.09 * k, 0.55 - 0.09 * k, 30)]
            s.line(wave, 0.08, pen)


def star(s: Sheet, rng: Rng, ink: int = INK) -> None:
    """A star of four to nine points."""
    n, inner = int(rng.integers(4, 10)), rng.uniform(0.3, 0.55)
    turns = [(math.pi * k / n - math.pi / 2, 1.0 if k % 2 == 0 else inner) for k in range(2 * n)]
    s.fill([(r * math.cos(t), r * math.sin(t)) for t, r in turns], ink)


def compass(s: Sheet, rng: Rng) -> None:
    """A star whose points are split in light and dark."""
    n = int(rng.choice([4, 6, 8]))
    for k in range(n):
        long = 0.95 if k % 2 == 0 or n == 6 else 0.6
        t, d = 2 * math.pi * k / n - math.pi / 2, math.pi / n
        tip, side = (
            (long * math.cos(t), long * math.sin(t)),
            [(0.24 * math.cos(t + u), 0.24 * math.sin(t + u)) for u in (-d, d)],
        )
        s.fill([tip, side[0], (0, 0)])
        s.outline([tip, side[1], (0, 0)], 0.03)
    if rng.random() < 0.5:
        s.ring(0.66, 0.035)


def knot(s: Sheet, rng: Rng) -> None:
    """A closed band that crosses itself, over and under."""
    p, q = [(2, 3), (2, 5), (3, 4), (3, 5), (2, 7)][rng.integers(5)]
    a, b, w = 0.62, rng.uniform(0.24, 0.34), rng.uniform(0.08, 0.13)
    t = np.linspace(0, 2 * math.pi, 480)
    r = a + b * np.cos(q * t)
    path = list(zip(r * np.cos(p * t), r * np.sin(p * t)))
    height = np.sin(q * t)
    pieces = sorted(range(0, 480, 6), key=lambda i: height[i])
    for i in pieces:
        run = [path[j % 479] for j in range(i - 2, i + 9)]
        s.line(run, w * 1.7, NONE)
        s.line([path[j % 479] for j in range(i - 5, i + 12)], w)


def bell(s: Sheet, rng: Rng) -> None:
    flare = rng.uniform(0.62, 0.85)
    s.disc(0, 0.72, 0.15)
    s.fill(mirrored([(0, -0.62), *bezier((0.05, -0.62), (0.5, -0.55), (0.38, 0.25), (flare, 0.6)), (flare, 0.68)]))
    for y in (0.35, 0.47) if rng.random() < 0.6 else (0.1,):
        s.line([(-0.8, y), (0.8, y)], 0.04, NONE)
    s.at(0, -0.75, 0.14).ring(0.9, 0.35)


def jug(s: Sheet, rng: Rng) -> None:
    """A jug or ewer from a random profile."""
    neck, belly, low = rng.uniform(0.16, 0.3), rng.uniform(0.45, 0.62), rng.uniform(0.0, 0.3)
    side = bezier((neck + 0.1, -0.8), (neck - 0.12, -0.4), (belly * 1.5, low), (0.28, 0.8))
    body = mirrored([(0, -0.8), *side, (0.36, 0.92)])
    handle = bezier((0.2, -0.62), (1.15, -0.8), (1.0, 0.4), (0.4, 0.2))
    s.line(handle, 0.09)
    s.fill([(-neck, -0.8), (-neck - 0.32, -0.88), (-neck, -0.5)])
    if rng.random() < 0.5:
        s.fill(body)
        for y in rng.uniform(-0.3, 0.5, rng.integers(1, 4)):
            s.line([(-0.7, y), (0.7, y)], 0.045, NONE)
    else:
        s.fill(body, NONE)
        s.outline(body, 0.07)
        rosette(s.at(0, low, 0.3), rng)


def ship(s: Sheet, rng: Rng) -> None:
    masts = int(rng.integers(1, 4))
    s.fill([(-0.85, 0.3), (0.95, 0.22), *bezier((0.95, 0.22), (0.7, 0.7), (0.4, 0.68)), (-0.55, 0.68)])
    for k in range(masts):
        x = (k - (masts - 1) / 2) * 0.55
        tall = rng.uniform(0.75, 1.0)
        s.line([(x, 0.3), (x, -tall)], 0.05)
        for level in range(int(rng.integers(1, 3))):
            top, foot = -tall + 0.1 + 0.55 * level, -tall + 0.58 + 0.55 * level
            wide = 0.22 + 0.06 * level
            s.fill(
                [
                    (x - wide, top),
                    (x + wide, top),
                    *bezier((x + wide, top), (x + wide + 0.2, (top + foot) / 2), (x + wide, foot)),
                    (x - wide, foot),
                    *bezier((x - wide, foot), (x - wide + 0.17, (top + foot) / 2), (x - wide, top)),
                ]
            )
        s.fill([(x, -tall), (x + 0.24, -tall + 0.05), (x, -tall + 0.12)])
    for k in range(2):
        y = 0.8 + 0.13 * k
        s.line([(x, y + 0.04 * math.sin(11 * x + 2 * k)) for x in np.linspace(-0.95, 0.95, 60)], 0.04)


def crown(s: Sheet, rng: Rng) -> None:
    n = int(rng.integers(3, 6))
    s.fill([(-0.7, 0.35), (0.7, 0.35), (0.66, 0.65), (-0.66, 0.65)])
    for k in range(n):
        x = -0.75 + 1.5 * k / (n - 1)
        tip = -0.45 - 0.2 * (1 - abs(x))
        s.fill([(x * 0.8 - 0.2, 0.38), (x, tip), (x * 0.8 + 0.2, 0.38)])
        s.disc(x, tip - 0.06, 0.09)
    for k in range(5):
        s.disc(-0.48 + 0.24 * k, 0.5, 0.06, NONE)


def tower(s: Sheet, rng: Rng) -> None:
    wide = rng.uniform(0.36, 0.5)
    s.fill([(-wide, 0.9), (-wide * 0.9, -0.45), (wide * 0.9, -0.45), (wide, 0.9)])
    n = int(rng.integers(3, 6))
    s.fill([(-wide - 0.12, -0.45), (-wide - 0.12, -0.6), (wide + 0.12, -0.6), (wide + 0.12, -0.45)])
    for k in range(n):
        x = -wide - 0.02 + (2 * wide + 0.04) * k / (n - 1)
        s.fill([(x - 0.08, -0.58), (x - 0.08, -0.8), (x + 0.08, -0.8), (x + 0.08, -0.58)])
    s.fill(oval(0, 0.6, 0.17, 0.26, 180, 360) + [(0.17, 0.9), (-0.17, 0.9)], NONE)
    for y in (-0.2, 0.12):
        s.line([(0, y), (0, y + 0.12)], 0.07, NONE)
    if rng.random() < 0.5:
        s.line([(0, -0.6), (0, -1.0)], 0.04)
        s.fill([(0, -1.0), (0.4, -0.9), (0, -0.78)])


def hive(s: Sheet, rng: Rng) -> None:
    rows = int(rng.integers(4, 7))
    for k in range(rows):
        y, wide = -0.6 + 1.3 * k / rows, 0.35 + 0.38 * math.sin(1.5 * (k + 0.7) / rows)
        s.fill(oval(0, y, wide, 0.7 / rows))
    s.disc(0, 0.5, 0.13, NONE)
    s.line([(-0.9, 0.72), (0.9, 0.72)], 0.07)
    for _ in range(int(rng.integers(2, 6))):
        x, y = rng.uniform(0.6, 0.95) * rng.choice([-1, 1]), rng.uniform(-0.9, 0.2)
        s.disc(x, y, 0.05)
        s.line([(x - 0.07, y - 0.09), (x, y), (x + 0.07, y - 0.09)], 0.03)


def oven(s: Sheet, rng: Rng) -> None:
    """A bottle oven with smoke."""
    belly = rng.uniform(0.5, 0.68)
    s.fill(mirrored([(0, -0.5), (0.16, -0.5), *bezier((0.15, -0.45), (0.2, 0.0), (belly + 0.1, 0.2), (belly, 0.9))]))
    for y in np.linspace(0.05, 0.75, int(rng.integers(2, 6))):
        s.line([(-0.8, y), (0.8, y)], 0.03, NONE)
    s.fill(oval(0, 0.72, 0.13, 0.24, 180, 360) + [(0.13, 0.9), (-0.13, 0.9)], NONE)
    s.line(bezier((0, -0.58), (0.4, -0.6), (-0.2, -0.85), (rng.uniform(0.3, 0.8), -0.95)), 0.06)


def initials(s: Sheet, rng: Rng) -> None:
    """Two or three letters laced into one another."""
    face = pick_face(rng, "serif", "capitals", "script", "blackletter", "slab")
    letters = rng.choice(list("ABDEFGHKLMNPRSTVWZ"), rng.integers(2, 4), replace=False)
    places = [(-0.34, -0.1), (0.3, 0.1)] if len(letters) == 2 else [(-0.5, -0.12), (0, 0.2), (0.5, -0.12)]
    for letter, (x, y) in zip(letters, places):
        for dx, dy in ((0.05, 0), (-0.05, 0), (0, 0.05), (0, -0.05)):
            s.text(letter, face, x + dx, y + dy, 1.05, ink=NONE)
        s.text(letter, face, x, y, 1.05)


def sun(s: Sheet, rng: Rng) -> None:
    n = int(rng.integers(8, 20))
    s.disc(0, 0, 0.42)
    if rng.random() < 0.5:
        s.disc(rng.uniform(0.1, 0.2), -0.08, 0.34, NONE)
    for k in range(n):
        t = 2 * math.pi * k / n
        long = 0.95 if k % 2 else 0.75
        s.fill(
            [
                (0.5 * math.cos(t - 0.12), 0.5 * math.sin(t - 0.12)),
                (long * math.cos(t), long * math.sin(t)),
                (0.5 * math.cos(t + 0.12), 0.5 * math.sin(t + 0.12)),
            ]
        )


EMBLEMS = (
    shield,
    compass,
    knot,
    sprig,
    rosette,
    bell,
    jug,
    ship,
    beast,
    bird,
    fish,
    crown,
    tower,
    hive,
    oven,
    tree,
    initials,
    sun,
)


def draw(s: Sheet, seed: int) -> None:
    """The emblem of a number, with or without a frame of its own."""
    rng = np.random.default_rng([seed, 11])
    pick, frame = EMBLEMS[rng.integers(len(EMBLEMS))], rng.random()
    if frame < 0.12:
        wreath(s.at(0, 0, 0.85), rng)
        pick(s.at(0, -0.02, 0.56), rng)
    elif frame < 0.22:
        s.outline([(0, -1), (1, 0), (0, 1), (-1, 0)], 0.05)
        pick(s.at(0, 0, 0.5), rng)
    elif frame < 0.32:
        s.ring(0.98, 0.05)
        pick(s.at(0, 0, 0.66), rng)
    else:
        pick(s, rng)
