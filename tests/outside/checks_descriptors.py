"""Local edge descriptors against OpenCV's SIFT, from which they differ by unsigned gradients, and
the coarse shape code against scikit-image's HOG."""

import math

import cv2
import numpy as np
from probe import stamp
from skimage import feature

# Points whose whole grid lies inside the picture, for both programs.
MARGIN = 60
# Blur of the first level and levels per octave, the same in both (Lowe 2004).
BASE_SIGMA, INTERVALS = 1.6, 3


def described(probe, limit=150):
    picture = stamp(400)
    points = probe("describe", picture=probe.picture(picture), limit=limit)["points"]
    inside = [
        p for p in points if MARGIN < p["x"] < 400 - MARGIN and MARGIN < p["y"] < 400 - MARGIN
    ]
    assert len(inside) >= 30, f"only {len(inside)} points"
    return picture, inside


def check_strongest_points_lie_where_opencv_finds_them(probe):
    # OpenCV 4.14 SIFT (Lowe 2004), which doubles the picture first and refines in scale too: weak
    # points differ, the strongest thirty must not.
    picture, points = described(probe)
    found = cv2.SIFT_create(0, contrastThreshold=0.01, edgeThreshold=25).detect(picture)
    # OpenCV counts from pixel centres and states the diameter.
    theirs = np.array([(p.pt[0] + 0.5, p.pt[1] + 0.5, p.size / 2) for p in found])
    strongest = points[:30]
    near = 0
    for p in strongest:
        apart = np.hypot(theirs[:, 0] - p["x"], theirs[:, 1] - p["y"])
        octaves = np.abs(np.log2(theirs[:, 2] / p["sigma"]))
        near += bool(((apart < 0.25 * p["sigma"] + 0.5) & (octaves < 0.5)).any())
    assert near >= 26, f"{near} of {len(strongest)}"
    return f"{near} of {len(strongest)} within a quarter of their scale"


def as_opencv(point):
    """The same place, scale and direction as OpenCV writes it: pixel centres at whole numbers, the
    pyramid level packed into `octave`."""
    step = round(INTERVALS * math.log2(point["sigma"] / BASE_SIGMA))
    octave, level = divmod(step - 1, INTERVALS)
    packed = octave + ((level + 1) << 8)
    angle = math.degrees(point["axis"])
    x, y, size = point["x"] - 0.5, point["y"] - 0.5, 2 * point["sigma"]
    return cv2.KeyPoint(x, y, size, angle, 1.0, packed)


def check_histograms_are_opencv_s_with_the_sign_folded(probe):
    # OpenCV's 4 x 4 x 8 signed bins at the same place, scale and direction. Its angles run the
    # other way round; folded modulo pi they make four bins. The engine has eight over pi, which
    # the same triangular weights bring to four. Rounding to bytes and the place of clipping differ.
    picture, points = described(probe)
    kept, signed = cv2.SIFT_create().compute(picture, [as_opencv(p) for p in points])
    assert len(kept) == len(points)
    signed = signed.reshape(-1, 16, 8)
    theirs = (signed[:, :, :4] + signed[:, :, 4:])[:, :, [0, 3, 2, 1]]
    # The engine keeps square roots.
    ours = np.array([p["descriptor"] for p in points]).reshape(-1, 16, 8) ** 2
    odd = ours[:, :, 1::2]
    ours = ours[:, :, 0::2] + (odd + np.roll(odd, 1, axis=2)) / 2
    alike = [np.corrcoef(a.ravel(), b.ravel())[0, 1] for a, b in zip(ours, theirs)]
    tenth, middle = np.percentile(alike, [10, 50])
    assert middle > 0.97 and tenth > 0.93, f"correlation {middle:.3f}, tenth percentile {tenth:.3f}"
    return f"correlation {middle:.3f}, tenth percentile {tenth:.3f}, over {len(points)} points"


def check_shape_code_is_scikit_image_s_hog(probe):
    # scikit-image 0.26 `feature.hog` (Dalal and Triggs 2005), unsigned, cells of 4 x 4 pixels. Its
    # bins are hard, so it is asked for one a degree, which triangular weights bring to the engine's
    # four; one block over the whole picture normalises nothing but the sum. The engine takes roots,
    # keeps the cells of the inscribed disc and centres each channel.
    cells, directions, channels = 16, 4, 5
    picture = cv2.GaussianBlur(stamp(256), (0, 0), 2.0)[::4, ::4]
    code = np.array(probe("shape", picture=probe.picture(picture))["code"])
    ours = code.reshape(cells, cells, channels)[:, :, :directions]
    fine = feature.hog(
        1.0 - picture / 255.0,
        orientations=180,
        pixels_per_cell=(4, 4),
        cells_per_block=(cells, cells),
        block_norm="L1",
        feature_vector=False,
    )[0, 0]
    away = (np.arange(180)[:, None] + 0.5) / 45 - np.arange(directions)
    away = np.abs((away + directions / 2) % directions - directions / 2)
    theirs = np.sqrt(fine @ np.clip(1 - away, 0, None))
    middle = np.arange(cells) + 0.5 - cells / 2
    # Cells on the border see pixels that the two treat apart.
    disc = np.hypot(*np.meshgrid(middle, middle)) <= cells / 2 - 1
    alike = [np.corrcoef(ours[disc][:, d], theirs[disc][:, d])[0, 1] for d in range(directions)]
    assert min(alike) > 0.995, f"correlations {np.round(alike, 4)}"
    return f"correlation at least {min(alike):.4f} in each of {directions} directions"
