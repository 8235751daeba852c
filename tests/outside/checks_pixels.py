"""Resampling, smoothing, gradients and edges on the same pixels as OpenCV and scikit-image."""

import cv2
import numpy as np
from probe import stamp
from scipy import ndimage
from skimage import transform

# From a 300 x 260 result to the 320 x 320 picture, with perspective; pixel corners at whole numbers.
TO_SOURCE = np.array([[0.8, 0.25, 10.0], [-0.2, 0.9, 60.0], [4e-4, -2e-4, 1.0]])
WIDTH, HEIGHT = 300, 260


def check_warp_against_scikit_image(probe):
    # scikit-image 0.26 `transform.warp(order=1)`: exact bilinear weights, pixel centres at whole
    # numbers, so that the map is shifted by half a pixel on both sides.
    picture = stamp()
    got = probe.plane(
        "warp", picture=probe.picture(picture), to_source=TO_SOURCE, width=WIDTH, height=HEIGHT
    )
    half = np.array([[1, 0, 0.5], [0, 1, 0.5], [0, 0, 1]])
    centred = np.linalg.inv(half) @ TO_SOURCE @ half
    # Beyond the outermost pixel centres the two differ by design: the engine repeats the border.
    want = transform.warp(
        picture.astype(float), centred, output_shape=(HEIGHT, WIDTH), order=1, cval=-1.0
    )
    both = (got >= 0) & ndimage.binary_erosion(want >= 0, iterations=2)
    assert both.mean() > 0.6, f"only {both.mean():.2f} of the result is inside the picture"
    worst = np.abs(got - want)[both].max()
    assert worst < 0.05, f"largest difference {worst:.4f} grey levels"
    return f"largest difference {worst:.4f} grey levels over {both.sum()} pixels"


def check_warp_against_opencv(probe):
    # OpenCV `warpPerspective` rounds positions to 1/32 pixel: equal up to that times the gradient.
    picture = stamp()
    got = probe.plane(
        "warp", picture=probe.picture(picture), to_source=TO_SOURCE, width=WIDTH, height=HEIGHT
    )
    half = np.array([[1, 0, 0.5], [0, 1, 0.5], [0, 0, 1]])
    centred = np.linalg.inv(half) @ TO_SOURCE @ half
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    want = cv2.warpPerspective(
        picture.astype(np.float32), centred, (WIDTH, HEIGHT), flags=flags, borderValue=-1.0
    )
    both = (got >= 0) & ndimage.binary_erosion(want >= 0, iterations=2)
    difference = np.abs(got - want)[both]
    assert difference.mean() < 0.3 and difference.max() < 5.0, f"{difference.max():.2f}"
    return f"mean {difference.mean():.3f}, largest {difference.max():.2f} grey levels"


def check_blur_against_scipy(probe):
    # SciPy 1.17 `ndimage.gaussian_filter`, kernel cut at three sigmas; inside, away from the border
    # rules. From some sigma on the engine takes three box filters: near, not equal.
    picture = stamp()
    path, notes = probe.picture(picture), []
    for sigma, limit in ((0.8, 0.2), (1.6, 0.2), (8.0, 3.0)):
        got = probe.plane("blur", picture=path, sigma=sigma)
        want = ndimage.gaussian_filter(picture.astype(float), sigma, truncate=3.0)
        edge = int(4 * sigma)
        worst = np.abs(got - want)[edge:-edge, edge:-edge].max()
        assert worst < limit, f"sigma {sigma}: largest difference {worst:.3f} grey levels"
        notes.append(f"{worst:.3f} at sigma {sigma}")
    return "largest difference " + ", ".join(notes)


def check_thinned_edges_against_opencv(probe):
    # OpenCV `Canny` on the very gradients of the engine (central differences, thresholds equal, so
    # that hysteresis adds nothing). OpenCV compares with the nearest of four directions, the engine
    # along the gradient itself, so edges are compared within one pixel.
    picture = cv2.GaussianBlur(stamp(), (0, 0), 1.2)
    got = probe.plane("edges", picture=probe.picture(picture), least=6.0) > 0
    wide = picture.astype(np.int16)
    dx, dy = np.zeros_like(wide), np.zeros_like(wide)
    dx[:, 1:-1] = wide[:, 2:] - wide[:, :-2]
    dy[1:-1] = wide[2:] - wide[:-2]
    want = cv2.Canny(dx, dy, 12, 12, L2gradient=True) > 0
    near = [cv2.dilate(e.astype(np.uint8), np.ones((3, 3))) > 0 for e in (got, want)]
    inner = np.s_[3:-3, 3:-3]
    precision = near[1][inner][got[inner]].mean()
    recall = near[0][inner][want[inner]].mean()
    assert precision > 0.97 and recall > 0.97, f"precision {precision:.3f}, recall {recall:.3f}"
    return f"within a pixel: precision {precision:.3f}, recall {recall:.3f}"
