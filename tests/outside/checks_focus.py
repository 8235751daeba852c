"""Blur and movement of photographs spread by known kernels, beside OpenCV's focus measures."""

import pathlib

import cv2
import numpy as np
from probe import Skip

REAL = pathlib.Path(__file__).resolve().parents[3] / "shared" / "real" / "pairs"
# Photos are cut to this side round their middle.
SIDE = 360
# Sigmas of known blurs, each on the sharp photo, and lengths and directions (degrees) of known streaks.
SIGMAS = (0.0, 1.0, 1.5, 2.2, 3.2, 4.5)
STREAKS = ((9, 20.0), (13, 75.0), (17, 130.0), (21, 165.0))


def photographs():
    if not REAL.is_dir():
        raise Skip("the real photographs are not beside this checkout (../shared/real)")
    for path in sorted(REAL.glob("*A.*"))[:4]:
        grey = cv2.imread(str(path), cv2.IMREAD_GRAYSCALE)
        h, w = grey.shape
        side = min(SIDE, h, w)
        y, x = (h - side) // 2, (w - side) // 2
        yield grey[y : y + side, x : x + side]


def laplacian(grey):
    """Variance of the Laplacian (Pech-Pacheco and others 2000)."""
    return cv2.Laplacian(grey.astype(np.float64), cv2.CV_64F).var()


def tenengrad(grey):
    """Mean squared Sobel gradient (Tenenbaum 1970; Krotkov 1988)."""
    gx, gy = (cv2.Sobel(grey.astype(np.float64), cv2.CV_64F, *d, ksize=3) for d in ((1, 0), (0, 1)))
    return (gx**2 + gy**2).mean()


def streaked(grey, length, degrees):
    """Along a straight line: exact means of samples a quarter of a pixel apart."""
    angle, steps = np.radians(degrees), 4 * length + 1
    out = np.zeros(grey.shape)
    for t in np.linspace(-length / 2, length / 2, steps):
        shift = np.float64([[1, 0, t * np.cos(angle)], [0, 1, t * np.sin(angle)]])
        out += cv2.warpAffine(grey.astype(np.float64), shift, grey.shape[::-1], borderMode=cv2.BORDER_REFLECT)
    return out / steps


def check_blur_falls_as_opencvs_focus_measures_do(probe):
    # Progressive blur of photographs by known kernels; nothing is said of natural blur. Every step must raise
    # the engine's sigma where it lowers both focus measures, and variances must add up.
    worst, photos = 0.0, 0
    for grey in photographs():
        seen, focus = [], []
        for sigma in SIGMAS:
            soft = cv2.GaussianBlur(grey, (0, 0), sigma) if sigma else grey
            got = probe("spread", picture=probe.picture(soft))
            # All of the spread: grain that lies one way passes for a movement at times.
            seen.append(np.hypot(got["defocus"], got["streak"] / np.sqrt(12)))
            focus.append((laplacian(soft), tenengrad(soft)))
        for measure in (0, 1):
            values = [f[measure] for f in focus]
            assert values == sorted(values, reverse=True), f"the focus measure rises: {values}"
        assert seen == sorted(seen), f"the engine's sigma falls: {seen}"
        want = np.hypot(seen[0], SIGMAS[-1])
        worst, photos = max(worst, abs(seen[-1] / want - 1)), photos + 1
        assert worst < 0.4, f"sigma {SIGMAS[-1]} measured as {seen[-1]:.2f} of {want:.2f}"
    return f"{photos} photos, all {len(SIGMAS)} steps in order; the widest sigma {100 * worst:.0f} % off at most"


def check_movement_and_its_direction_on_known_kernels(probe):
    off, ratios, photos = [], [], 0
    for grey in photographs():
        photos += 1
        for length, degrees in STREAKS:
            moved = np.clip(streaked(grey, length, degrees), 0, 255).round().astype(np.uint8)
            got = probe("spread", picture=probe.picture(moved))
            assert got["streak"] > 0, f"a streak of {length} px at {degrees} degrees is not seen: {got}"
            off.append(abs((got["degrees"] - degrees + 90) % 180 - 90))
            ratios.append(got["streak"] / length)
    # Where a long streak has wiped all detail out along its way, what the scene shows by itself is left.
    near = np.mean(np.array(off) < 20)
    assert np.median(off) < 10 and near > 0.85, f"directions off by {np.round(off, 1)} degrees"
    return (
        f"{photos} photos: direction off by {np.median(off):.1f} degrees in the middle, within 20 in {near:.0%}; "
        f"length {min(ratios):.2f} to {max(ratios):.2f} of the true one"
    )
