"""The ink map: the one definition that training and the shipped tool share.

`ink_map` (torch, batched) is what the net is trained on; `ink_map_numpy` is its
twin on one crop, written plainly as the model for any other implementation.
Whoever changes one changes the other, `tools/train/check.py` compares them.

Input: a crop of SIDE x SIDE pixels (another side scales BOXES only), sRGB values 0..1, around a mark's
circumscribed circle (x 1.08), and a validity mask (1 inside the photo).
Output, per pixel: ink 0..1 (0 where unknown) and validity 0 or 1.

 1. Glare: all three channels over GLARE_LEVEL in a whole GLARE_CORE square; that
    core, dilated back by the same square and grown by GROW pixels, is unknown.
    Where such areas would take more than GLARE_MOST of the valid pixels they are
    white ground, not glare, and nothing is taken.  What lies outside the photo is
    unknown too, grown by the same GROW.
 2. Lab: CIELAB, D65, 2 degrees, from linearised sRGB (IEC 61966-2-1).
 3. Ground B = blur(w Lab) / blur(w), w = validity.  `blur` is three box means in
    a row along x, then y (BOXES wide; sigma 15.8 pixels); outside the crop counts
    as nothing in both parts.
 4. d = sqrt((L-BL)^2 + CHROMA^2 ((a-Ba)^2 + (b-Bb)^2)).
 5. Once more with w = validity / (1 + (d / (2 median(d)))^2), and d again.
 6. Noise n = 2 median(|L - mean3x3(L)|) + NOISE_FLOOR (borders replicated).
 7. q = max(97th percentile of d/n, LEAST_SCALE);
    ink = clip((d/n - FOOT) / (q - FOOT), 0, 1), 0 where unknown.
 8. Outside the inscribed circle both maps are 0: a turned crop shows nothing else.

Percentiles are over the *valid* pixels of the grid that starts at STRIDE // 2 and
takes each STRIDE-th row and column; of n sorted values the one at floor(q (n-1)).
"""

import functools

import numpy as np
import torch
import torch.nn.functional as F

SIDE = 160
GLARE_LEVEL = 0.985
GLARE_CORE = 5
GLARE_MOST = 0.40
GROW = 3
BOXES = (31, 33, 31)
CHROMA = 1.5
NOISE_GAIN = 2.0
NOISE_FLOOR = 0.4
FOOT = 2.0
LEAST_SCALE = 6.0
HIGH = 0.97
STRIDE = 3
# Where less than this share of blurred weight is left, the ground is not known.
LEAST_WEIGHT = 1e-4

SRGB_TO_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
WHITE = np.array([0.9505, 1.0, 1.0890])


def boxes(side: int = SIDE) -> list[int]:
    """Widths of the three box means for a crop of `side` pixels: BOXES to scale, odd."""
    return [2 * round((width * side / SIDE - 1) / 2) + 1 for width in BOXES]


def blur_matrix(side: int = SIDE) -> np.ndarray:
    """The three box means of one axis as one matrix (rows: output pixels)."""
    whole = np.eye(side)
    at = np.arange(side)
    for width in boxes(side):
        box = (np.abs(at[:, None] - at[None, :]) <= width // 2) / width
        whole = box @ whole
    return whole


def disc(side: int = SIDE) -> np.ndarray:
    """1 inside the inscribed circle of the crop."""
    at = np.arange(side) - (side - 1) / 2
    return ((at[:, None] ** 2 + at[None, :] ** 2) <= (side / 2) ** 2).astype(np.float32)


# --- torch, batched ----------------------------------------------------------


@functools.lru_cache(maxsize=8)
def constants(device: str, side: int = SIDE) -> tuple[torch.Tensor, torch.Tensor, torch.Tensor]:
    """Blur matrix, disc and the sRGB matrix scaled by white, on a device."""
    scaled = SRGB_TO_XYZ / WHITE[:, None]
    return (torch.tensor(blur_matrix(side), dtype=torch.float32, device=device),
            torch.tensor(disc(side), device=device),
            torch.tensor(scaled, dtype=torch.float32, device=device))


def lab(rgb: torch.Tensor) -> torch.Tensor:
    """CIELAB (N, 3, H, W) of sRGB 0..1."""
    scaled = constants(str(rgb.device))[2]
    linear = torch.where(rgb <= 0.04045, rgb / 12.92, ((rgb.clamp_min(0) + 0.055) / 1.055) ** 2.4)
    n, _, h, w = rgb.shape
    xyz = torch.matmul(scaled, linear.reshape(n, 3, h * w)).reshape(n, 3, h, w)
    f = torch.where(xyz > 216 / 24389, xyz.clamp_min(1e-9) ** (1 / 3), xyz * (24389 / 27 / 116) + 16 / 116)
    return torch.stack([116 * f[:, 1] - 16, 500 * (f[:, 0] - f[:, 1]), 200 * (f[:, 1] - f[:, 2])], 1)


def dilate(mask: torch.Tensor, width: int) -> torch.Tensor:
    """Largest value in a square of odd width (N, 1, H, W)."""
    mask = F.max_pool2d(mask, (1, width), 1, (0, width // 2))
    return F.max_pool2d(mask, (width, 1), 1, (width // 2, 0))


def validity(rgb: torch.Tensor, inside: torch.Tensor) -> torch.Tensor:
    """1 where a pixel is neither glare nor outside the photo (N, 1, H, W)."""
    clipped = (rgb.amin(1, keepdim=True) > GLARE_LEVEL).float()
    core = 1 - dilate(1 - clipped, GLARE_CORE)
    glare = dilate(core, GLARE_CORE + 2 * GROW)
    good = 1 - dilate(1 - inside, 2 * GROW + 1)
    share = (glare * good).sum((1, 2, 3)) / good.sum((1, 2, 3)).clamp_min(1)
    kept = (share <= GLARE_MOST).float()[:, None, None, None]
    return good * (1 - glare * kept)


def quantile(values: torch.Tensor, valid: torch.Tensor, share: float) -> torch.Tensor:
    """The floor-indexed quantile of the valid pixels on the sparse grid (N, 1, 1, 1)."""
    sparse = values[:, 0, STRIDE // 2 :: STRIDE, STRIDE // 2 :: STRIDE].flatten(1)
    good = valid[:, 0, STRIDE // 2 :: STRIDE, STRIDE // 2 :: STRIDE].flatten(1) > 0
    ordered = torch.where(good, sparse, torch.inf).sort(1).values
    count = good.sum(1)
    index = (share * (count - 1).clamp_min(0)).floor().long()
    value = ordered.gather(1, index[:, None])[:, 0]
    return torch.where(count > 0, value, torch.ones_like(value))[:, None, None, None]


def distance(colour: torch.Tensor, weight: torch.Tensor) -> torch.Tensor:
    """Colour distance from the local ground under weights (N, 1, H, W)."""
    matrix = constants(str(colour.device), colour.shape[-1])[0]
    stack = torch.cat([colour * weight, weight], 1)
    blurred = torch.matmul(torch.matmul(matrix, stack), matrix.T)
    ground = blurred[:, :3] / blurred[:, 3:].clamp_min(LEAST_WEIGHT)
    delta = colour - ground
    square = delta[:, :1] ** 2 + CHROMA**2 * (delta[:, 1:2] ** 2 + delta[:, 2:] ** 2)
    return square.clamp_min(0).sqrt()


def ink_map(rgb: torch.Tensor, inside: torch.Tensor) -> torch.Tensor:
    """Ink and validity (N, 2, SIDE, SIDE) of crops (N, 3, ...) and their masks (N, 1, ...)."""
    valid = validity(rgb, inside)
    colour = lab(rgb)
    d = distance(colour, valid)
    middle = quantile(d, valid, 0.5).clamp_min(1e-3)
    d = distance(colour, valid / (1 + (d / (2 * middle)) ** 2))
    light = colour[:, :1]
    mean = F.avg_pool2d(F.pad(light, (1, 1, 1, 1), mode="replicate"), 3, 1)
    noise = NOISE_GAIN * quantile((light - mean).abs(), valid, 0.5) + NOISE_FLOOR
    ratio = d / noise
    top = quantile(ratio, valid, HIGH).clamp_min(LEAST_SCALE)
    round_ = constants(str(rgb.device), rgb.shape[-1])[1]
    valid = valid * round_
    ink = ((ratio - FOOT) / (top - FOOT)).clamp(0, 1) * valid
    return torch.cat([ink, valid], 1)


# --- numpy, one crop -----------------------------------------------------------


def lab_numpy(rgb: np.ndarray) -> np.ndarray:
    """CIELAB (H, W, 3) of sRGB 0..1."""
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    xyz = linear @ SRGB_TO_XYZ.T / WHITE
    f = np.where(xyz > 216 / 24389, np.cbrt(xyz), xyz * (24389 / 27 / 116) + 16 / 116)
    return np.stack([116 * f[..., 1] - 16, 500 * (f[..., 0] - f[..., 1]), 200 * (f[..., 1] - f[..., 2])], -1)


def dilate_numpy(mask: np.ndarray, width: int) -> np.ndarray:
    """True where a square of odd width around a pixel holds any True."""
    reach = width // 2
    padded = np.pad(mask, reach)
    windows = np.lib.stride_tricks.sliding_window_view(padded, (width, width))
    return windows.any((2, 3))


def box_mean(line: np.ndarray, width: int) -> np.ndarray:
    """Running sum over `width` along the first axis, divided by `width`; nothing outside."""
    reach = width // 2
    sums = np.concatenate([np.zeros((1, *line.shape[1:])), np.cumsum(line, 0)])
    last = len(line)
    at = np.arange(last)
    return (sums[np.minimum(at + reach + 1, last)] - sums[np.maximum(at - reach, 0)]) / width


def blur_numpy(picture: np.ndarray) -> np.ndarray:
    """Three box means along each axis of (H, W, C)."""
    for axis in (1, 0):
        picture = np.swapaxes(picture, 0, axis)
        for width in boxes(len(picture)):
            picture = box_mean(picture, width)
        picture = np.swapaxes(picture, 0, axis)
    return picture


def quantile_numpy(values: np.ndarray, valid: np.ndarray, share: float) -> float:
    """The floor-indexed quantile of the valid pixels on the sparse grid."""
    grid = np.s_[STRIDE // 2 :: STRIDE, STRIDE // 2 :: STRIDE]
    chosen = np.sort(values[grid][valid[grid]])
    return float(chosen[int(share * (len(chosen) - 1))]) if len(chosen) else 1.0


def ink_map_numpy(rgb: np.ndarray, inside: np.ndarray) -> np.ndarray:
    """Ink and validity (2, H, W) of one crop (H, W, 3) and its mask (H, W; bool)."""
    core = ~dilate_numpy(rgb.min(-1) <= GLARE_LEVEL, GLARE_CORE)
    # The border of the crop does not stand for unclipped pixels: nothing lies there.
    glare = dilate_numpy(core, GLARE_CORE + 2 * GROW)
    valid = ~dilate_numpy(~inside, 2 * GROW + 1)
    if (glare & valid).sum() <= GLARE_MOST * max(valid.sum(), 1):
        valid = valid & ~glare
    colour = lab_numpy(rgb.astype(np.float64))

    def away(weight: np.ndarray) -> np.ndarray:
        blurred = blur_numpy(np.concatenate([colour * weight[..., None], weight[..., None]], -1))
        delta = colour - blurred[..., :3] / np.maximum(blurred[..., 3:], LEAST_WEIGHT)
        return np.sqrt(delta[..., 0] ** 2 + CHROMA**2 * (delta[..., 1] ** 2 + delta[..., 2] ** 2))

    d = away(valid.astype(np.float64))
    middle = max(quantile_numpy(d, valid, 0.5), 1e-3)
    d = away(valid / (1 + (d / (2 * middle)) ** 2))
    light = colour[..., 0]
    windows = np.lib.stride_tricks.sliding_window_view(np.pad(light, 1, mode="edge"), (3, 3))
    noise = NOISE_GAIN * quantile_numpy(np.abs(light - windows.mean((2, 3))), valid, 0.5) + NOISE_FLOOR
    ratio = d / noise
    top = max(quantile_numpy(ratio, valid, HIGH), LEAST_SCALE)
    valid = valid & (disc(len(rgb)) > 0)
    ink = np.clip((ratio - FOOT) / (top - FOOT), 0, 1) * valid
    return np.stack([ink, valid.astype(np.float64)]).astype(np.float32)
