"""Emblems, each drawn by rule from random numbers into the square ±1 of a sheet. `draw` picks one of them."""

import math

import numpy as np

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
        tip, side = (long * math.cos(t), long * math.sin(t)), [(0.24 * math.cos(t + u), 0.24 * math.sin(t + u)) for u in (-d, d)]
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


def leaf(s: Sheet, x: float, y: float, angle: float, size: float, fat: float, ink: int = INK) -> None:
    c, d = math.cos(angle), math.sin(angle)
    local = bezier((0, 0), (0.5, fat), (1, 0)) + bezier((1, 0), (0.5, -fat), (0, 0))
    s.fill([(x + size * (u * c - v * d), y + size * (u * d + v * c)) for u, v in local], ink)


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


def rosette(s: Sheet, rng: Rng) -> None:
    """A flower seen from above."""
    n, fat = int(rng.integers(5, 10)), rng.uniform(0.35, 0.7)
    for k in range(n):
        leaf(s, 0, 0, 2 * math.pi * k / n, 0.95, fat)
        leaf(s, 0, 0, 2 * math.pi * k / n, 0.62, fat * 0.35, NONE)
    s.disc(0, 0, 0.26, NONE)
    s.disc(0, 0, rng.uniform(0.12, 0.2))


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
            s.fill([(x - wide, top), (x + wide, top), *bezier((x + wide, top), (x + wide + 0.2, (top + foot) / 2), (x + wide, foot)),
                    (x - wide, foot), *bezier((x - wide, foot), (x - wide + 0.17, (top + foot) / 2), (x - wide, top))])
        s.fill([(x, -tall), (x + 0.24, -tall + 0.05), (x, -tall + 0.12)])
    for k in range(2):
        y = 0.8 + 0.13 * k
        s.line([(x, y + 0.04 * math.sin(11 * x + 2 * k)) for x in np.linspace(-0.95, 0.95, 60)], 0.04)


def beast(s: Sheet, rng: Rng) -> None:
    """A four-legged animal out of thick strokes: hound, stag, horse or something between."""
    neck, head, w = rng.uniform(0.4, 0.75), rng.uniform(0.25, 0.4), rng.uniform(0.09, 0.13)
    s.fill(bezier((-0.6, -0.1), (-0.2, -0.25), (0.5, -0.25), (0.6, 0.0)) + bezier((0.55, 0.2), (0.1, 0.35), (-0.3, 0.1), (-0.62, 0.25)))
    top = (0.55 + 0.22, -neck)
    s.line(bezier((0.48, -0.02), (0.55, -0.3), top), 0.2)
    s.fill([(top[0] - 0.1, top[1] - 0.1), (top[0] + head, top[1] + 0.1), (top[0] + head - 0.06, top[1] + 0.2), (top[0] - 0.05, top[1] + 0.16)])
    s.fill([(top[0] - 0.08, top[1]), (top[0] - 0.18, top[1] - 0.25), (top[0] + 0.05, top[1] - 0.1)])
    lift = rng.random() < 0.5
    for x, knee, foot in ((-0.52, -0.62, -0.5), (-0.36, -0.3, -0.38), (0.36, 0.42, 0.36), (0.5, 0.75 if lift else 0.55, 0.62 if lift else 0.5)):
        end = 0.62 if lift and x == 0.5 else 0.88
        s.line([(x, 0.1), (knee, 0.5), (foot, end), (foot + 0.1, end)], w)
    s.line(bezier((-0.58, 0.0), (-0.95, -0.1 - rng.uniform(0, 0.7)), (-0.8, rng.uniform(-0.4, 0.5))), w * 0.8)
    if rng.random() < 0.4:
        for side in (0.0, 0.18):
            horn = bezier((top[0], top[1] - 0.08), (top[0] - 0.2 + side, top[1] - 0.3), (top[0] + side, top[1] - 0.5 + neck * 0.3))
            s.line(horn, 0.045)
            s.line([horn[12], (horn[12][0] + 0.12, horn[12][1] - 0.12)], 0.04)
    if rng.random() < 0.6:
        s.line([(-0.95, 0.93), (0.95, 0.93)], 0.05)


def bird(s: Sheet, rng: Rng) -> None:
    fat = rng.uniform(0.28, 0.42)
    s.fill(bezier((-0.6, 0.2), (-0.2, -fat), (0.4, -0.5), (0.55, -0.35)) + bezier((0.6, -0.2), (0.4, 0.3 + fat), (-0.3, 0.55), (-0.6, 0.2)))
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
        s.fill([(0.5 * math.cos(t - 0.12), 0.5 * math.sin(t - 0.12)), (long * math.cos(t), long * math.sin(t)), (0.5 * math.cos(t + 0.12), 0.5 * math.sin(t + 0.12))])


EMBLEMS = (shield, compass, knot, sprig, rosette, bell, jug, ship, beast, bird, fish, crown, tower, hive, oven, tree, initials, sun)


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
