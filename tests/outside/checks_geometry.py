"""Homographies and overlaps of quadrilaterals."""

import pathlib
import xml.etree.ElementTree as xml

import cv2
import numpy as np
from measure.quads import overlap
from probe import Skip
from skimage import measure as shapes

DOC = pathlib.Path("/usr/share/doc/opencv-doc/examples/data")


def graf():
    """graf1, graf3 and the published homography between them (Debian opencv-doc: H1to3p.xml; from
    the affine covariant regions set of Mikolajczyk et al. 2005)."""
    names = [DOC / name for name in ("graf1.png", "graf3.png", "H1to3p.xml")]
    missing = [p.name for p in names if not p.exists()]
    if missing:
        raise Skip(f"{missing[0]} is absent: install the Debian package opencv-doc")
    data = xml.parse(names[2]).find(".//data").text.split()
    return names[0], names[1], np.array(data, float).reshape(3, 3)


def carry(matrix, points):
    return cv2.perspectiveTransform(np.float64(points)[None], np.float64(matrix))[0]


def check_homography_recovers_the_published_matrix(probe):
    _, _, published = graf()
    # Corners of pixels and a grid inside the 800 x 640 picture.
    grid = [[x, y] for x in range(40, 800, 120) for y in range(40, 640, 100)]
    rows = probe("homography", **{"from": grid, "to": carry(published, grid)})["rows"]
    worst = np.abs(carry(rows, grid) - carry(published, grid)).max()
    assert worst < 1e-6, f"points land {worst:.2e} px apart"
    assert np.abs(np.array(rows) / published - 1).max() < 1e-6
    return f"points land within {worst:.1e} px of the published matrix"


def check_homography_of_noisy_points_against_opencv(probe):
    # OpenCV `findHomography(method=0)`: least squares over all points, then refined on the
    # reprojection error, so the two agree to a share of the noise, not exactly.
    _, _, published = graf()
    draw = np.random.default_rng(11)
    grid = np.array([[x, y] for x in range(40, 800, 60) for y in range(40, 640, 60)], float)
    noisy = carry(published, grid) + draw.normal(0, 1.0, grid.shape)
    rows = probe("homography", **{"from": grid, "to": noisy})["rows"]
    other, _ = cv2.findHomography(grid, noisy, 0)
    ours, theirs = (
        np.sqrt((np.linalg.norm(carry(m, grid) - carry(published, grid), axis=1) ** 2).mean())
        for m in (rows, other)
    )
    assert ours < 0.4, f"root mean square {ours:.3f} px off the truth, OpenCV {theirs:.3f}"
    assert ours < 1.5 * theirs + 0.02, f"{ours:.3f} px against OpenCV's {theirs:.3f}"
    return f"{ours:.3f} px off the truth under 1 px of noise, OpenCV {theirs:.3f}"


def check_homography_refuses_points_on_a_line(probe):
    line = [[float(i), 2.0 * i] for i in range(6)]
    rows = probe("homography", **{"from": line, "to": line})["rows"]
    if rows is not None:
        # Least squares may answer; then it must at least carry the points it was given.
        assert np.abs(carry(rows, line) - np.array(line)).max() < 1e-3
    return "no map" if rows is None else "a map that carries the points"


def check_overlap_against_opencv(probe):
    # OpenCV `intersectConvexConvex` on random convex quadrilaterals; the bench's own measure too.
    draw = np.random.default_rng(5)
    worst = 0.0
    for _ in range(40):
        quads = []
        for _ in range(2):
            turn = np.sort(draw.uniform(0, 2 * np.pi, 4))
            # Corners on an ellipse are convex whatever their angles.
            radius, centre = draw.uniform(20, 60, 2), draw.uniform(-15, 15, 2)
            quads.append(np.c_[np.cos(turn), np.sin(turn)] * radius + centre)
        one, other = quads
        shared, _ = cv2.intersectConvexConvex(np.float32(one), np.float32(other))
        areas = [cv2.contourArea(np.float32(q)) for q in quads]
        theirs = shared / (sum(areas) - shared)
        ours = probe("overlap", one=one, other=other)["overlap"]
        worst = max(worst, abs(ours - theirs), abs(overlap(one.tolist(), other.tolist()) - ours))
    assert worst < 1e-3, f"largest difference {worst:.2e}"
    return f"largest difference {worst:.1e} on 40 pairs"


def check_ellipse_against_scikit_image(probe):
    # scikit-image 0.26 `measure.EllipseModel`: the same direct fit (Halir and Flusser 1998), so equal
    # but for rounding, on whole curves and on arcs of a third.
    draw = np.random.default_rng(9)
    worst = 0.0
    for part in (1.0, 0.6, 0.34):
        for _ in range(10):
            centre, axes = draw.uniform(200, 400, 2), draw.uniform(80, 300, 2)
            turn, start = draw.uniform(0, np.pi, 2)
            t = start + np.linspace(0, 2 * np.pi * part, 90, endpoint=False)
            x, y = axes[0] * np.cos(t), axes[1] * np.sin(t)
            c, s = np.cos(turn), np.sin(turn)
            points = np.c_[c * x - s * y, s * x + c * y] + centre + draw.normal(0, 0.4, (90, 2))
            other = shapes.EllipseModel.from_estimate(points)
            ours = probe("ellipse", points=points)["ellipse"]
            assert ours and other, "one of the two found no ellipse"
            (x0, y0), (a, b) = other.center, other.axis_lengths
            got = np.array([ours["x"], ours["y"], ours["major"], ours["minor"]])
            worst = max(worst, np.abs(got - [x0, y0, max(a, b), min(a, b)]).max())
    assert worst < 1e-4, f"largest difference {worst:.2e} px"
    return f"largest difference {worst:.1e} px in centre and axes over 30 arcs"
