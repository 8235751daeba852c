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


def check_sobel_gradients_against_opencv(probe):
    # OpenCV `Sobel`, 3 x 3: integers, so equal.
    picture = stamp()
    path, files = probe.picture(picture), [probe.folder / n for n in ("x", "y")]
    size = probe("gradients", picture=path, out_x=files[0], out_y=files[1])
    for file, (dx, dy) in zip(files, ((1, 0), (0, 1))):
        got = np.fromfile(file, "<f4").reshape(size["height"], size["width"])
        want = cv2.Sobel(picture, cv2.CV_32F, dx, dy, ksize=3)
        assert np.array_equal(got[1:-1, 1:-1], want[1:-1, 1:-1])
    return f"equal on {picture.size} pixels"


def check_canny_against_opencv(probe):
    # OpenCV `Canny` (L2 gradient) after the same Gaussian, sigma 1.4. The two round differently, so
    # edges are compared within one pixel.
    picture = stamp()
    low, high = 60.0, 120.0
    got = probe.plane("canny", picture=probe.picture(picture), low=low, high=high) > 0
    smooth = cv2.GaussianBlur(picture, (0, 0), 1.4)
    want = cv2.Canny(smooth, low, high, L2gradient=True) > 0
    near = [cv2.dilate(e.astype(np.uint8), np.ones((3, 3))) > 0 for e in (got, want)]
    precision, recall = near[1][got].mean(), near[0][want].mean()
    assert precision > 0.95 and recall > 0.95, f"precision {precision:.3f}, recall {recall:.3f}"
    return f"within a pixel: precision {precision:.3f}, recall {recall:.3f}"
