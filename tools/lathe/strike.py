"""How a mark came out on the piece: from the clean drawing to the amount of ink, or to the depth of an impression."""

import dataclasses

import cv2
import numpy as np

from .design import OVERGLAZE, PRINTED, STAMPED
from .noise import Noise, step


@dataclasses.dataclass(frozen=True)
class Strike:
    """All lengths are shares of the mark's longer side."""

    # Amount of ink where the strike is full.
    density: float = 1.0
    # How unevenly it was pressed down, 0 to 1.
    uneven: float = 0.1
    # Share of the ink that did not take, in patches.
    missing: float = 0.0
    # Shares of the ink worn away by use, in scratches and rubbed places.
    worn: float = 0.0
    # Length of a smear while the ink was wet.
    smear: float = 0.0
    # Shift of a second strike, and its strength.
    double: float = 0.0
    second: float = 0.6
    # Spread of the ink.
    bleed: float = 0.0015


def _shift(mask: np.ndarray, dx: float, dy: float, turn: float) -> np.ndarray:
    h, w = mask.shape
    matrix = cv2.getRotationMatrix2D((w / 2, h / 2), turn, 1)
    matrix[:, 2] += (dx, dy)
    return cv2.warpAffine(mask, matrix, (w, h))


def _drag(ink: np.ndarray, length: float, turn: float) -> np.ndarray:
    """Ink dragged along one direction: each copy further on is fainter."""
    total, weight = np.zeros_like(ink), 0.0
    steps = max(2, int(length / 1.5))
    for k in range(steps):
        share = (1 - k / steps) ** 1.3
        total += share * _shift(ink, k * 1.5 * np.cos(turn), k * 1.5 * np.sin(turn), 0)
        weight += share
    return np.maximum(ink * 0.45, 1.6 * total / weight)


def padded(mask: np.ndarray) -> tuple[np.ndarray, float]:
    """The mask with room around it for smears, and that margin as a share of its longer side."""
    margin = 0.12
    px = round(margin * max(mask.shape))
    return cv2.copyMakeBorder(mask, px, px, px, px, cv2.BORDER_CONSTANT, value=0), px / max(mask.shape)


def apply(mask: np.ndarray, means: str, strike: Strike, rng: np.random.Generator) -> np.ndarray:
    """The amount of ink over a padded mask: 1 is a full layer."""
    noise, side = Noise(rng), max(mask.shape)
    ink = mask
    if strike.double > 0:
        turn, far = rng.uniform(0, 2 * np.pi), strike.double * side
        again = _shift(ink, far * np.cos(turn), far * np.sin(turn), rng.uniform(-2.5, 2.5))
        ink = np.maximum(ink, strike.second * again)
    if strike.smear > 0:
        ink = _drag(ink, strike.smear * side, rng.uniform(0, 2 * np.pi))
    spread = strike.bleed * side
    if means == STAMPED:
        # A rubber stamp squeezes the ink towards the edges of what is raised.
        ink = step(cv2.GaussianBlur(ink, (0, 0), spread * 1.5), 0.25, 0.75) if strike.smear == 0 else ink
        ink = ink * (0.72 + 0.55 * np.clip(ink - cv2.GaussianBlur(ink, (0, 0), 0.008 * side), 0, 1))
    if spread > 0.3:
        ink = cv2.GaussianBlur(ink, (0, 0), spread)
    grain = {PRINTED: 0.10, OVERGLAZE: 0.06, STAMPED: 0.22}.get(means, 0.05)
    ink = ink * np.clip(1 + grain * noise.plane("grain", mask.shape, side * 0.5), 0, 1.6)
    h, w = mask.shape
    y, x = np.mgrid[:h, :w].astype(np.float32)
    turn = rng.uniform(0, 2 * np.pi)
    lean = ((x - w / 2) * np.cos(turn) + (y - h / 2) * np.sin(turn)) / side
    press = 1 - strike.uneven * step(lean + 0.12 * noise.plane("smooth", mask.shape, 300), -0.35, 0.5)
    ink = ink * press
    if strike.missing > 0:
        field = noise.plane("rough", mask.shape, 330) + 1.5 * lean
        limit = np.quantile(field, 1 - strike.missing)
        ink = ink * (1 - step(field, limit - 0.35, limit + 0.35))
    if strike.worn > 0:
        rubbed = noise.plane("rough", mask.shape, 500) + 0.9 * noise.plane("grain", (h, w), side * 0.3)
        limit = np.quantile(rubbed, 1 - strike.worn)
        ink = ink * (1 - 0.95 * step(rubbed, limit - 0.3, limit + 0.3))
    return np.clip(ink * strike.density, 0, 1.4).astype(np.float32)


def relief(mask: np.ndarray, strike: Strike, rng: np.random.Generator) -> np.ndarray:
    """Depth of an impression, 1 is full: pressed into clay, its edges rounded by the glaze over it."""
    noise, side = Noise(rng), max(mask.shape)
    soft = cv2.GaussianBlur(mask, (0, 0), max(1.0, strike.bleed * 2.2 * side))
    lean = noise.plane("smooth", mask.shape, 260)
    press = 1 - strike.uneven * step(lean, -0.6, 1.2)
    if strike.missing > 0:
        press = press * (
            1 - step(lean, np.quantile(lean, 1 - strike.missing) - 0.3, np.quantile(lean, 1 - strike.missing) + 0.3)
        )
    return (soft * press * strike.density).astype(np.float32)
