"""sRGB to CIELAB."""

import numpy as np
from skimage import color

# Computed, not published: IEC 61966-2-1:1999 fixes the RGB to XYZ matrix (four decimals) and the
# encoding, not these values. Reckoned from that matrix with its row sums as white.
COMPUTED = {
    (255, 255, 255): (100, 0, 0),
    (0, 0, 0): (0, 0, 0),
    (255, 0, 0): (53.2329, 80.1053, 67.2228),
    (0, 255, 0): (87.7370, -86.1884, 83.1861),
    (0, 0, 255): (32.3026, 79.1936, -107.8537),
    (0, 255, 255): (91.1165, -48.0840, -14.1278),
    (255, 0, 255): (60.3199, 98.2497, -60.8330),
    (255, 255, 0): (97.1382, -21.5608, 94.4877),
    (128, 128, 128): (53.5850, 0, 0),
    (119, 119, 119): (50.0344, 0, 0),
}
# Published variants of the matrix (four or seven decimals) differ by up to 0.02 here.
TOLERANCE = 0.05


def check_lab_of_primaries_and_greys(probe):
    got = np.array(probe("lab", rgb=list(COMPUTED))["lab"])
    worst = np.abs(got - np.array(list(COMPUTED.values()))).max()
    assert worst < TOLERANCE, f"largest difference {worst:.4f}"
    return f"largest difference {worst:.4f} from values computed from IEC 61966-2-1"


def check_lab_of_random_colours(probe):
    # scikit-image 0.26 `color.rgb2lab`, D65, 2 degree observer.
    rgb = np.random.default_rng(3).integers(0, 256, (500, 3))
    got = np.array(probe("lab", rgb=rgb)["lab"])
    worst = np.abs(got - color.rgb2lab(rgb[None] / 255.0)[0]).max()
    # rgb2lab takes the white of the standard observer, (0.95047, 1, 1.08883), not the row sums.
    assert worst < 0.1, f"largest difference {worst:.4f}"
    return f"largest difference {worst:.4f} from scikit-image on 500 colours"
