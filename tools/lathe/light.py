"""Light: a broad one from all sides, one from one side, and what the glaze mirrors of the room."""

import dataclasses

import numpy as np

from .noise import step

# Reflectance of glaze looked at straight on (a refractive index of 1.5).
MIRROR = 0.04


@dataclasses.dataclass(frozen=True)
class Lamp:
    """Something bright that the glaze mirrors: where it is as slopes x/z and y/z of its direction."""

    x: float
    y: float
    wide: float
    high: float
    turn: float
    # Brightness against a white sheet in the same light.
    bright: float
    # `window` with bars, `lamp` round.
    form: str
    soft: float


@dataclasses.dataclass(frozen=True)
class Light:
    # Direction towards the main light: azimuth and height in radians.
    azimuth: float
    height: float
    main: float
    around: float
    # Colour of the main light; the broad one is its opposite by half.
    warm: float
    lamps: tuple[Lamp, ...]
    # Brightness of the ceiling that the glaze mirrors everywhere.
    ceiling: float
    # Roughness of the glaze's mirror: waves of its surface, as a slope.
    waves: float

    @property
    def towards(self) -> np.ndarray:
        c = np.cos(self.height)
        return np.array([c * np.cos(self.azimuth), c * np.sin(self.azimuth), np.sin(self.height)], np.float32)

    def colours(self) -> tuple[np.ndarray, np.ndarray]:
        """Of the main and of the broad light."""
        w = self.warm
        return np.float32((1 + 0.22 * w, 1.0, 1 - 0.3 * w)), np.float32((1 + 0.03 * w, 1.0, 1 - 0.05 * w))


def _bar(t: np.ndarray, soft: float) -> np.ndarray:
    """1 within ±1, fading over `soft`."""
    return 1 - step(np.abs(t), 1 - soft, 1 + soft)


def mirrored(lamp: Lamp, u: np.ndarray, v: np.ndarray) -> np.ndarray:
    """How much of a lamp is seen in the mirror directions of slopes `u`, `v`."""
    c, s = np.float32(np.cos(lamp.turn)), np.float32(np.sin(lamp.turn))
    x, y = u - np.float32(lamp.x), v - np.float32(lamp.y)
    x, y = (c * x + s * y) / np.float32(lamp.wide), (c * y - s * x) / np.float32(lamp.high)
    if lamp.form == "lamp":
        far = np.hypot(x, y)
        return (1 - step(far, 1 - lamp.soft, 1 + lamp.soft)) + 0.08 * np.exp(-far)
    pane = _bar(x, lamp.soft) * _bar(y, lamp.soft)
    bars = 1 - 0.85 * np.maximum(_bar(x / 0.06, 0.6 + lamp.soft), _bar((y - 0.2) / 0.06, 0.6 + lamp.soft))
    return pane * bars


def gloss(light: Light, normal: tuple[np.ndarray, ...], view: tuple[np.ndarray, ...], shiny: np.ndarray) -> np.ndarray:
    """Light mirrored towards the lens. `normal` and `view` are unit vectors by component; `shiny` 0 to 1."""
    (nx, ny, nz), (vx, vy, vz) = normal, view
    cosine = np.clip(nx * vx + ny * vy + nz * vz, 0.0, 1.0)
    up = 2 * cosine * nz - vz
    rz = np.maximum(up, 0.08)
    u, v = (2 * cosine * nx - vx) / rz, (2 * cosine * ny - vy) / rz
    fresnel = MIRROR + (1 - MIRROR) * (1 - cosine) ** 5
    # Low down there are walls and the table, which are darker.
    room = light.ceiling * (0.35 + 0.65 * step(up, -0.3, 0.7)) * (1 + 0.25 * np.tanh(u) - 0.15 * np.tanh(v))
    for lamp in light.lamps:
        room = room + np.float32(lamp.bright) * mirrored(lamp, u, v)
    return fresnel * room * shiny


def slopes(tilt: float, azimuth: float) -> tuple[float, float]:
    """Where a flat base mirrors to, seen from a tilt: slopes of the direction."""
    return -float(np.tan(tilt) * np.cos(azimuth)), -float(np.tan(tilt) * np.sin(azimuth))
