"""Pieces seen from below: outline, profile, glaze and what the kiln and use left on them.

Frame of the piece: x to the right, y down, z towards the viewer, the unit is half the longer side. The crest of the
foot ring is at z = 0."""

import dataclasses

import cv2
import numpy as np

from .noise import Noise, cracks, step

# Samples of a profile, and its reach in outline units.
SAMPLES, REACH = 2048, 1.25
# Side of a piece's map of small things in pixels, and half its side in units.
MAP, MAP_HALF = 1200, 1.05

# Reflectance of glazes for red, green and blue light, and how much thicker glaze darkens each.
GLAZES = {
    "white": ((0.80, 0.81, 0.80), (0.05, 0.03, 0.02)),
    "cream": ((0.78, 0.72, 0.58), (0.05, 0.09, 0.16)),
    "ivory": ((0.80, 0.76, 0.66), (0.04, 0.06, 0.11)),
    "celadon": ((0.55, 0.66, 0.56), (0.30, 0.12, 0.22)),
    "brown": ((0.06, 0.028, 0.014), (0.3, 0.35, 0.4)),
    "cobalt": ((0.018, 0.028, 0.10), (0.4, 0.35, 0.2)),
}
DARK = ("brown", "cobalt")
PALE, PALE_OFTEN = ("white", "cream", "ivory", "celadon"), (0.36, 0.27, 0.25, 0.12)
# Reflectance of the bare body on the foot.
BODY = {
    "white": (0.72, 0.68, 0.62),
    "cream": (0.66, 0.55, 0.40),
    "ivory": (0.68, 0.60, 0.48),
    "celadon": (0.50, 0.42, 0.33),
    "brown": (0.42, 0.27, 0.17),
    "cobalt": (0.60, 0.54, 0.46),
}
OPEN, HOLLOW, TOP = "open", "hollow", "top"


@dataclasses.dataclass(frozen=True)
class Ware:
    kind: str
    glaze: str
    # Superellipse: half axes and exponent.
    a: float
    b: float
    power: float
    # Heights over the outline coordinate, 0 in the middle, 1 at the edge.
    profile: np.ndarray
    # Outline coordinates of the foot rings, the outermost last; empty for a top.
    feet: tuple[float, ...]
    # Transmittance and slope of small things over the piece's square.
    stains: np.ndarray
    bumps: np.ndarray
    bare_foot: bool

    def rho(self, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        """The outline coordinate of a place."""
        if self.power == 2:
            return np.hypot(x / self.a, y / self.b)
        n = np.float32(self.power)
        return (np.abs(x / self.a) ** n + np.abs(y / self.b) ** n) ** (1 / n)

    def height(self, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return self.profile[self.place(self.rho(x, y))]

    @staticmethod
    def place(rho: np.ndarray) -> np.ndarray:
        return np.minimum(rho * (SAMPLES / REACH), SAMPLES - 1).astype(np.int32)

    @property
    def floor(self) -> float:
        """Height of the table: the piece lies on its rim, or on its foot if it is seen from above."""
        inside = self.profile[: int(SAMPLES / REACH)]
        return float(inside.min()) - 0.005

    @property
    def foot(self) -> float:
        """The outermost foot ring, or where one would be."""
        return self.feet[-1] if self.feet else 0.55


def _profile(knots: list[tuple[float, float]], soft: float) -> np.ndarray:
    at = np.linspace(0, REACH, SAMPLES)
    heights = np.interp(at, *zip(*knots))
    mirrored = np.concatenate([heights[::-1], heights])
    smooth = cv2.GaussianBlur(mirrored[None], (0, 0), soft * SAMPLES / REACH)[0, SAMPLES:]
    return smooth.astype(np.float32)


def _open(rng: np.random.Generator) -> tuple[list, tuple[float, ...]]:
    """Plates, saucers, platters, bowls: a recess within a foot ring, the wall falling away outside."""
    foot, deep, thick = rng.uniform(0.52, 0.74), rng.uniform(0.02, 0.05), rng.uniform(0.012, 0.028)
    sag, drop = rng.uniform(-0.008, 0.012), (1 - foot) * rng.uniform(0.2, 0.75)
    knots = [
        (0, -deep + sag),
        (foot * 0.6, -deep + sag * 0.6),
        (foot - 2.2 * thick, -deep),
        (foot - thick, -0.004),
        (foot - thick / 2, 0.0),
        (foot + thick / 2, 0.0),
        (foot + thick, -0.004),
        (foot + 2 * thick, -deep * 0.9),
    ]
    feet: tuple[float, ...] = (foot,)
    if rng.random() < 0.15:
        inner = foot * rng.uniform(0.5, 0.62)
        knots[1:2] = [
            (inner - 2 * thick, -deep),
            (inner - thick / 2, -0.004),
            (inner + thick / 2, -0.004),
            (inner + 2 * thick, -deep),
        ]
        feet = (inner, foot)
    knots += [
        (foot + 0.4 * (1 - foot), -deep - drop * 0.45),
        (0.97, -deep - drop),
        (1.0, -deep - drop - 0.015),
        (REACH, -deep - drop - 0.05),
    ]
    return knots, feet


def _hollow(rng: np.random.Generator) -> tuple[list, tuple[float, ...]]:
    """Cups, jugs, pots: a small foot, the base within it a dome either way, the wall falling steeply."""
    foot, thick = rng.uniform(0.55, 0.72), rng.uniform(0.02, 0.035)
    dome = rng.choice([-1, 1]) * rng.uniform(0.05, 0.13)
    at = np.linspace(0, foot - 2 * thick, 12)
    base = -0.05 - max(dome, 0)
    knots = [(r, base + dome * (1 - (r / foot) ** 2)) for r in at]
    knots += [
        (foot - thick, -0.004),
        (foot + thick / 2, 0.0),
        (foot + 2 * thick, -0.05),
        (0.9, -0.25),
        (1.0, -0.5),
        (REACH, -0.6),
    ]
    return knots, (foot,)


def _top(rng: np.random.Generator) -> list:
    """A plate from above: a well, a slope, a rim."""
    well, deep = rng.uniform(0.5, 0.66), rng.uniform(0.06, 0.14)
    return [(0, -deep), (well, -deep), (well + 0.12, -deep * 0.25), (0.98, 0.0), (1.0, -0.01), (REACH, -0.05)]


def _scars(
    rng: np.random.Generator,
    stains: np.ndarray,
    bumps: np.ndarray,
    foot: float,
    body: np.ndarray,
    x: np.ndarray,
    y: np.ndarray,
) -> None:
    """Stilt or spur marks: three or four scars, single or in threes, where the piece stood in the kiln."""
    count, far, turn = int(rng.choice([3, 4])), foot * rng.uniform(0.45, 0.88), rng.uniform(0, 7)
    trio = rng.random() < 0.35
    for k in range(count):
        cx, cy = far * np.cos(turn + 2 * np.pi * k / count), far * np.sin(turn + 2 * np.pi * k / count)
        dots = [(0.0, 0.0)] if not trio else [(0.018, 0.0), (-0.009, 0.016), (-0.009, -0.016)]
        for dx, dy in dots:
            size = rng.uniform(0.005, 0.009) if trio else rng.uniform(0.008, 0.016)
            k = MAP / 2 / MAP_HALF
            row, column, reach = round((cy + dy + MAP_HALF) * k), round((cx + dx + MAP_HALF) * k), round(4 * size * k)
            here = (slice(row - reach, row + reach), slice(column - reach, column + reach))
            gap = np.hypot(x[here] - cx - dx, (y[here] - cy - dy) * rng.uniform(0.8, 1.2)) / size
            scar = np.exp(-(gap**2)) * rng.uniform(0.5, 1.0)
            stains[here] *= (1 - scar[..., None] * (1 - body)).astype(np.float32)
            bumps[here] -= (1.4 * size * np.exp(-((gap * 0.8) ** 2))).astype(np.float32)


def _lines(rng: np.random.Generator, shape: int, count: int, long: tuple[float, float]) -> np.ndarray:
    """Fine scratches, 1 on a line."""
    out = np.zeros((shape, shape), np.uint8)
    for _ in range(count):
        x, y, turn, n = rng.uniform(0.1, 0.9), rng.uniform(0.1, 0.9), rng.uniform(0, 7), rng.uniform(*long)
        bend = rng.uniform(-0.3, 0.3)
        t = np.linspace(0, n, 12)
        points = np.stack([x + t * np.cos(turn + bend * t), y + t * np.sin(turn + bend * t)], -1) * shape
        cv2.polylines(out, [np.int32(points * 16)], False, int(rng.integers(90, 255)), 1, cv2.LINE_AA, 4)
    return out.astype(np.float32) / 255


def _small_things(rng: np.random.Generator, glaze: str, foot: float, dirt: float) -> tuple[np.ndarray, np.ndarray]:
    noise = Noise(rng)
    axis = np.linspace(-MAP_HALF, MAP_HALF, MAP, dtype=np.float32)
    x, y = np.meshgrid(axis, axis)
    stains, bumps = np.ones((MAP, MAP, 3), np.float32), np.zeros((MAP, MAP), np.float32)
    brown = np.float32((0.45, 0.30, 0.17))
    if rng.random() < 0.35:
        net = cracks(rng, MAP, int(rng.integers(700, 6000)))
        where = step(noise.at("smooth", x, y, 90), -0.8, 0.9) * rng.uniform(0.15, 0.55)
        stains *= 1 - (np.float32(0.8) * net * where)[..., None] * (
            1 - brown * (0.7 if glaze not in ("brown", "cobalt") else 1.6)
        )
        bumps -= 0.0001 * net
    for count, size, colour in (
        (rng.poisson(14), (0.6, 1.6), (0.25, 0.18, 0.12)),
        (rng.poisson(9), (0.8, 2.6), (0.5, 0.35, 0.22)),
        (rng.poisson(6), (2.0, 4.5), (0.7, 0.58, 0.42)),
    ):
        dots = np.zeros((MAP, MAP), np.uint8)
        for px, py, r in zip(rng.integers(0, MAP, count), rng.integers(0, MAP, count), rng.uniform(*size, count)):
            cv2.circle(dots, (int(px * 16), int(py * 16)), int(r * 16), int(rng.integers(120, 255)), -1, cv2.LINE_AA, 4)
        dot = cv2.GaussianBlur(dots.astype(np.float32) / 255, (0, 0), 0.8)
        stains *= 1 - dot[..., None] * (1 - np.float32(colour))
        bumps -= 0.004 * dot
    if rng.random() < 0.45:
        _scars(rng, stains, bumps, foot, np.float32((0.6, 0.5, 0.4)), x, y)
    cloud = step(noise.at("rough", x, y, float(rng.uniform(90, 260))), 0.4, 2.4) * dirt * 0.7
    stains *= 1 - cloud[..., None] * (1 - np.float32((0.62, 0.52, 0.40)))
    scratch = _lines(rng, MAP, int(rng.integers(5, 60)), (0.03, 0.5)) * rng.uniform(0.05, 0.3)
    stains *= 1 - scratch[..., None] * np.float32((0.5, 0.5, 0.5))
    return stains, bumps


def make(rng: np.random.Generator, kind: str, glaze: str, dirt: float) -> Ware:
    """A random piece of a kind; `dirt` is 0 for a washed one, 1 for one from a barn."""
    form = rng.random()
    a, b, power = 1.0, 1.0, 2.0
    if form > 0.72 and kind != HOLLOW:
        b = rng.uniform(0.68, 0.85)
    elif form > 0.58:
        power = rng.uniform(3.2, 6.0)
        b = rng.choice([1.0, rng.uniform(0.75, 0.95)])
    if kind == TOP:
        knots, feet = _top(rng), ()
    else:
        knots, feet = _hollow(rng) if kind == HOLLOW else _open(rng)
    stains, bumps = _small_things(rng, glaze, feet[-1] if feet else 0.6, dirt)
    bare = kind != TOP and rng.random() < 0.7
    return Ware(
        kind, glaze, a, float(b), float(power), _profile(knots, rng.uniform(0.003, 0.007)), feet, stains, bumps, bare
    )
