"""A pinhole with slight distortion, its lens and shake, and the sensor with the phone's own processing."""

import dataclasses
import functools

import cv2
import numpy as np


@dataclasses.dataclass(frozen=True)
class Camera:
    """Looks at `target` (piece frame) from `distance`. Angles in radians."""

    width: int
    height: int
    # Focal length in pixels.
    focal: float
    target: tuple[float, float, float]
    distance: float
    tilt: float
    # Towards where it is tilted, in the piece's plane, and the turn about its own axis.
    azimuth: float
    roll: float
    # Share by which the half diagonal is drawn out (or in).
    distortion: float

    def axes(self) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
        """Place, right, down and forward in the frame of the piece."""
        t, p = self.tilt, self.azimuth
        back = np.array([np.sin(t) * np.cos(p), np.sin(t) * np.sin(p), np.cos(t)])
        down = np.array([0.0, 1.0, 0.0]) - back[1] * back
        down /= np.linalg.norm(down)
        right = np.cross(down, back)
        c, s = np.cos(self.roll), np.sin(self.roll)
        right, down = c * right + s * down, c * down - s * right
        return np.array(self.target) + self.distance * back, right, down, -back

    def _stretch(self, u: np.ndarray, v: np.ndarray) -> np.ndarray:
        half = (self.width**2 + self.height**2) / (4 * self.focal**2)
        return 1 + self.distortion * (u * u + v * v) / half

    def rays(self) -> tuple[np.ndarray, tuple[np.ndarray, ...]]:
        """Place of the lens, and for each pixel the direction of its ray, by component."""
        place, right, down, forward = self.axes()
        u = np.float32((np.arange(self.width) + 0.5 - self.width / 2) / self.focal)[None]
        v = np.float32((np.arange(self.height) + 0.5 - self.height / 2) / self.focal)[:, None]
        k = self._stretch(u, v)
        u, v = u * k, v * k
        parts = zip(np.float32(forward), np.float32(right), np.float32(down))
        return place, tuple(f + u * r + v * d for f, r, d in parts)

    def project(self, points: np.ndarray) -> np.ndarray:
        """Pixels (n, 2) of places (n, 3), counted from the outer corner of the first pixel."""
        place, right, down, forward = self.axes()
        away = np.asarray(points, float) - place
        depth = away @ forward
        want = np.stack([away @ right / depth, away @ down / depth], -1)
        seen = want.copy()
        for _ in range(6):
            seen = want / self._stretch(seen[:, 0], seen[:, 1])[:, None]
        return seen * self.focal + (self.width / 2, self.height / 2)


def disc(radius: float) -> np.ndarray:
    """Kernel of a lens out of focus, `radius` in pixels."""
    n = int(np.ceil(radius)) * 2 + 3
    y, x = np.mgrid[:n, :n] - n // 2
    kernel = np.clip(radius + 0.5 - np.hypot(x, y), 0, 1).astype(np.float32)
    return kernel / kernel.sum()


def shake(length: float, rng: np.random.Generator) -> np.ndarray:
    """Kernel of a hand's tremor: a slightly bent path of `length` pixels."""
    n = int(length) + 7
    kernel, turn, bend = np.zeros((n, n), np.float32), rng.uniform(0, np.pi), rng.uniform(-0.8, 0.8)
    t = np.linspace(-0.5, 0.5, 40) * length
    path = np.stack(
        [
            t * np.cos(turn) - bend * t * t / length * np.sin(turn),
            t * np.sin(turn) + bend * t * t / length * np.cos(turn),
        ],
        -1,
    )
    cv2.polylines(kernel, [np.int32((path + n / 2) * 16)], False, 1.0, 1, cv2.LINE_AA, 4)
    kernel = cv2.GaussianBlur(kernel, (0, 0), 0.6)
    return kernel / kernel.sum()


# The least light that exposure is set by, 1 is about white: a dark piece does not come out as bright as a white one.
DIMMEST = 0.5


@dataclasses.dataclass(frozen=True)
class Sensor:
    # Electrons that a pixel takes before it is full, at the gain in use: fewer in low light.
    electrons: float = 6000
    # Noise of reading one pixel, in electrons.
    read: float = 4
    # What the brightest tenth of the picture comes to, 1 is full.
    exposure: float = 0.75
    # Gains of red and blue against green: the cast that is left.
    red: float = 1.0
    blue: float = 1.0
    # Light lost in the corners.
    vignette: float = 0.15
    # Blur of the phone's noise reduction in pixels, and how much it sharpens.
    smoothing: float = 0.5
    sharpening: float = 0.5


@functools.cache
def _curve() -> np.ndarray:
    """sRGB's curve with a phone's gentle S on top, as a table."""
    t = np.linspace(0, 1, 8192)
    out = np.where(t <= 0.0031308, 12.92 * t, 1.055 * np.power(np.maximum(t, 1e-6), 1 / 2.4) - 0.055)
    return np.float32(out + 0.06 * np.sin(2 * np.pi * (out - 0.5)) / np.pi)


def develop(light: np.ndarray, sensor: Sensor, rng: np.random.Generator) -> np.ndarray:
    """Linear light (any scale) to an 8-bit picture in sRGB."""
    h, w = light.shape[:2]
    y, x = np.mgrid[:h, :w].astype(np.float32)
    off = ((x - w / 2) ** 2 + (y - h / 2) ** 2) / ((w * w + h * h) / 4)
    light = light * (1 - sensor.vignette * off)[..., None]
    bright = max(np.quantile(light[::7, ::7].max(-1), 0.9), DIMMEST)
    light = np.minimum(light * np.float32(sensor.exposure / bright), 1.15)
    noise = rng.standard_normal(light.shape, dtype=np.float32)
    spread = np.sqrt(np.maximum(light, 0) * sensor.electrons + sensor.read**2) / sensor.electrons
    grey = noise[..., :1] * spread
    colour = cv2.GaussianBlur(noise * spread, (0, 0), 0.7 + sensor.smoothing)
    light = light + 0.75 * grey + 0.9 * colour
    if sensor.smoothing > 0:
        light = cv2.GaussianBlur(light, (0, 0), 0.3 + sensor.smoothing)
    light = light * np.float32((sensor.red, 1.0, sensor.blue))
    out = _curve()[np.uint16(np.clip(light, 0, 1) * 8191)]
    if sensor.sharpening > 0:
        out = out + sensor.sharpening * (out - cv2.GaussianBlur(out, (0, 0), 1.3))
    return np.uint8(np.clip(out * 255 + 0.5, 0, 255))
