"""Random textures without seams, sampled at any place and scale."""

import cv2
import numpy as np
from scipy.spatial import cKDTree

TILE = 512
# One place of so many each way is enough for a tile's kind.
COARSE = {"grain": 1, "rough": 2, "smooth": 4}


def tile(rng: np.random.Generator, slope: float) -> np.ndarray:
    """A square of `TILE` pixels that repeats; its spectrum falls with frequency to the power -`slope`. Mean 0,
    standard deviation 1."""
    f = np.hypot(np.fft.fftfreq(TILE)[:, None], np.fft.rfftfreq(TILE)[None]) * TILE
    spectrum = np.fft.rfft2(rng.standard_normal((TILE, TILE))) / np.maximum(f, 1.0) ** slope
    spectrum[0, 0] = 0
    out = np.fft.irfft2(spectrum, (TILE, TILE)).astype(np.float32)
    return out / out.std()


class Noise:
    """Three tiles: fine grain, rough and smooth."""

    def __init__(self, rng: np.random.Generator) -> None:
        self.tiles = {"grain": tile(rng, 0.25), "rough": tile(rng, 1.2), "smooth": tile(rng, 2.2)}
        self.rng = rng

    def at(self, kind: str, x: np.ndarray, y: np.ndarray, pixels: float) -> np.ndarray:
        """Noise at places in any unit of which one is `pixels` of the tile, from a random corner. What has no fine
        parts is worked out at fewer places."""
        coarse, whole = COARSE[kind], None
        if coarse > 1 and min(x.shape) > 64 * coarse:
            whole, size = x.shape, (x.shape[1] // coarse, x.shape[0] // coarse)
            x, y = cv2.resize(x, size), cv2.resize(y, size)
        ox, oy = self.rng.uniform(0, TILE, 2)
        u, v = cv2.addWeighted(x, pixels, x, 0, ox), cv2.addWeighted(y, pixels, y, 0, oy)
        out = cv2.remap(self.tiles[kind], u, v, cv2.INTER_LINEAR, borderMode=cv2.BORDER_WRAP)
        return cv2.resize(out, whole[::-1], interpolation=cv2.INTER_LINEAR) if whole else out

    def plane(self, kind: str, shape: tuple[int, int], pixels: float) -> np.ndarray:
        """Noise over a picture whose longer side is one unit."""
        k = np.float32(1 / max(shape))
        y, x = np.mgrid[: shape[0], : shape[1]].astype(np.float32) * k
        return self.at(kind, x, y, pixels)


def step(value: np.ndarray, low: float, high: float) -> np.ndarray:
    """0 below `low`, 1 above `high`, smooth between."""
    t = np.clip((value - low) / (high - low), 0, 1)
    return t * t * (3 - 2 * t)


def cracks(rng: np.random.Generator, side: int, cells: int) -> np.ndarray:
    """A net of fine lines, 1 on a line: borders of cells about random points, bent by noise."""
    points = rng.uniform(-0.05, 1.05, (cells, 2))
    half = side // 2
    y, x = np.mgrid[:half, :half] / half
    bend = cv2.resize(tile(rng, 2.0), (half, half))
    tree = cKDTree(points)
    near, _ = tree.query(np.stack([x + 0.012 * bend, y + 0.012 * bend.T], -1).reshape(-1, 2), k=2)
    gap = (near[:, 1] - near[:, 0]).reshape(half, half).astype(np.float32) * half
    line = np.clip(1.1 - gap, 0, 1)
    return cv2.resize(line, (side, side), interpolation=cv2.INTER_LINEAR)
