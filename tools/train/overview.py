"""The overview map: what the finder of marks sees of a whole photo.

The one definition that training and the shipped tool share; `src/ink/overview.rs` is its twin.

Input: the photo shrunk so that its longer side is SIDE pixels (area-true), sRGB 0..1.
Output, in a SQUARE x SQUARE frame with the photo at the top left, three channels:

 1. Lab: CIELAB, D65, 2 degrees.
 2. Ground B = blur(w Lab) / blur(w), w = 1 in the photo.  `blur` is three box means in a row
    along x, then y (BOXES wide); outside counts as nothing in both parts.
 3. d = |Lab - B|; once more with w = 1 / (1 + (d / (2 median(d)))^2).
 4. Noise of a channel group n = 2 median(residual) + NOISE_FLOOR; the residual is |L - mean3x3(L)|,
    or the sum of both for a* and b* (borders replicated).
 5. light = tanh(|L - BL| / (REACH nL)); chroma = tanh(|ab - Bab| / (REACH nab)); inside = 1.

Medians are over the photo's pixels on the grid that starts at 1 and takes each third row and column,
the value at rank floor((n - 1) / 2).
"""

import torch
import torch.nn.functional as F

from inkmap import lab

SIDE = 300
SQUARE = 320
BOXES = (25, 27, 25)
NOISE_FLOOR = 0.4
REACH = 4.0
LEAST_WEIGHT = 1e-4


def box(x: torch.Tensor, width: int, axis: int) -> torch.Tensor:
    """Box mean along one axis, nothing outside."""
    size, pad = ((width, 1), (width // 2, 0)) if axis == 2 else ((1, width), (0, width // 2))
    return F.avg_pool2d(x, size, 1, pad)


def blur(x: torch.Tensor) -> torch.Tensor:
    for axis in (3, 2):
        for width in BOXES:
            x = box(x, width, axis)
    return x


def median(x: torch.Tensor) -> torch.Tensor:
    """Of each photo (N, 1, H, W); (N, 1, 1, 1)."""
    values = x[:, 0, 1::3, 1::3].flatten(1).sort(1).values
    return values[:, (values.shape[1] - 1) // 2, None, None, None]


def residual(x: torch.Tensor) -> torch.Tensor:
    return (x - F.avg_pool2d(F.pad(x, (1, 1, 1, 1), mode="replicate"), 3, 1)).abs()


def overview(rgb: torch.Tensor) -> torch.Tensor:
    """(N, 3, SQUARE, SQUARE) of shrunk photos of one size (N, 3, H, W)."""
    colour = lab(rgb)
    weight = torch.ones_like(colour[:, :1])
    for _ in range(2):
        ground = blur(colour * weight) / blur(weight).clamp_min(LEAST_WEIGHT)
        delta = colour - ground
        d = delta.square().sum(1, keepdim=True).sqrt()
        weight = 1 / (1 + (d / (2 * median(d).clamp_min(1e-3))) ** 2)
    noise = 2 * median(residual(colour[:, :1])) + NOISE_FLOOR
    noise_ab = 2 * median(residual(colour[:, 1:2]) + residual(colour[:, 2:])) + NOISE_FLOOR
    light = torch.tanh(delta[:, :1].abs() / (REACH * noise))
    chroma = torch.tanh(delta[:, 1:].square().sum(1, keepdim=True).sqrt() / (REACH * noise_ab))
    n, _, h, w = rgb.shape
    out = torch.zeros(n, 3, SQUARE, SQUARE, device=rgb.device)
    out[:, 0, :h, :w], out[:, 1, :h, :w], out[:, 2, :h, :w] = light[:, 0], chroma[:, 0], 1
    return out
