"""Lens and camera: blur in linear light, noise, tone, sharpening, JPEG."""

import functools
import math

import torch
import torch.nn.functional as F

# Quantisation tables of ITU-T T.81, annex K, tables K.1 (luminance) and K.2 (chrominance).
LUMA = [16, 11, 10, 16, 24, 40, 51, 61, 12, 12, 14, 19, 26, 58, 60, 55, 14, 13, 16, 24, 40, 57, 69, 56, 14, 17, 22, 29,
        51, 87, 80, 62, 18, 22, 37, 56, 68, 109, 103, 77, 24, 35, 55, 64, 81, 104, 113, 92, 49, 64, 78, 87, 103, 121,
        120, 101, 72, 92, 95, 98, 112, 100, 103, 99]
CHROMA = [17, 18, 24, 47, 99, 99, 99, 99, 18, 21, 26, 66, 99, 99, 99, 99, 24, 26, 56, 99, 99, 99, 99, 99, 47, 66,
          99, 99, 99, 99, 99, 99] + [99] * 32
# One in so many samples is taken at half the pixels: a mark small in its photo.
COARSE_SHARE = 8


def per(x: torch.Tensor) -> torch.Tensor:
    return x.reshape(len(x), -1, 1, 1)


# The disc's transfer function 2 J1(x) / x, tabulated so far and so finely.
DISC_END, DISC_STEPS = 40.0, 2000


@functools.lru_cache(maxsize=4)
def disc_table(device: str) -> torch.Tensor:
    x = torch.linspace(0, DISC_END, DISC_STEPS + 1).clamp_min(1e-4)
    return (2 * torch.special.bessel_j1(x) / x).to(device)


def lens(light: torch.Tensor, take) -> torch.Tensor:
    """Gaussian, disc and motion blur as one transfer function over the spectrum."""
    n, _, side, _ = light.shape
    fx = torch.fft.rfftfreq(side, device=light.device)[None, None]
    fy = torch.fft.fftfreq(side, device=light.device)[None, :, None]

    def p(x):
        return x[:, None, None]

    square = fx * fx + fy * fy
    transfer = torch.exp(-2 * math.pi**2 * p(take.blur) ** 2 * square)
    x = 2 * math.pi * p(take.defocus) * square.sqrt()
    index = (x * (DISC_STEPS / DISC_END)).round().long().clamp_max(DISC_STEPS)
    transfer = transfer * disc_table(str(light.device))[index]
    path = math.pi * (p(take.motion[:, 0]) * fx + p(take.motion[:, 1]) * fy).abs().clamp_min(1e-4)
    transfer = transfer * path.sin() / path
    return torch.fft.irfft2(torch.fft.rfft2(light) * transfer[:, None], s=(side, side)).clamp_min(0)


def soften(x: torch.Tensor, times: int = 1) -> torch.Tensor:
    """A 3 x 3 binomial blur: two 2 x 2 means, so many times."""
    x = F.pad(x, (times,) * 4, mode="replicate")
    for _ in range(2 * times):
        x = F.avg_pool2d(x, 2, 1)
    return x


def expose(light: torch.Tensor, take, dice) -> torch.Tensor:
    """Shot and read noise in linear light, then the denoiser."""
    light = light.clamp(0, 4)
    # Denoisers take the colour out of noise first.
    noise = 0.45 * torch.randn(light.shape, device=light.device, generator=dice.generator)
    noise = noise + 0.85 * torch.randn(light[:, :1].shape, device=light.device, generator=dice.generator)
    raw = light + noise * per(take.noise) * (0.25 + light).sqrt() * 1.6
    return raw + (soften(raw, 2) - raw) * per(take.denoise * (take.noise * 40).clamp(0, 1))


def tone(raw: torch.Tensor, take) -> torch.Tensor:
    """sRGB with auto gain, a contrast curve and a sharpening halo."""
    # Phones lift a dark picture most of the way.
    level = raw.mean((1, 2, 3), keepdim=True).clamp_min(0.01)
    raw = raw * (0.35 / level).clamp_min(1.0) ** 0.6
    raw = raw.clamp(0, 1)
    s = torch.where(raw <= 0.0031308, raw * 12.92, 1.055 * raw.clamp_min(1e-6) ** (1 / 2.4) - 0.055)
    s = s + per(take.curve) * s * (1 - s) * (2 * s - 1)
    blurred = soften(s, 2)
    return (s + per(take.sharpen) * (s - blurred)).clamp(0, 1)


@functools.lru_cache(maxsize=16)
def cosines(side: int, device: str) -> torch.Tensor:
    """The 8-point cosine transform of every block of an axis, as one matrix."""
    k = torch.arange(8.0)
    block = torch.cos((2 * k[None] + 1) * k[:, None] * math.pi / 16) * 0.5
    block[0] /= math.sqrt(2)
    return torch.block_diag(*[block] * (side // 8)).to(device)


@functools.lru_cache(maxsize=16)
def steps(chroma: bool, high: int, wide: int, device: str) -> torch.Tensor:
    """The quantisation table repeated over a plane."""
    table = torch.tensor(CHROMA if chroma else LUMA).float().reshape(8, 8)
    return table.repeat(high // 8, wide // 8).to(device)


def quantised(plane: torch.Tensor, chroma: bool, loss: torch.Tensor) -> torch.Tensor:
    """Planes (N, C, H, W; multiples of 8) through the quantised cosine transform."""
    high, wide, device = *plane.shape[-2:], str(plane.device)
    down, across = cosines(high, device), cosines(wide, device)
    step = (steps(chroma, high, wide, device) * per(loss)).clamp_min(0.5) / 255
    spectrum = torch.matmul(torch.matmul(down, plane), across.T)
    spectrum = (spectrum / step).round() * step
    return torch.matmul(torch.matmul(down.T, spectrum), across)


def jpeg(s: torch.Tensor, take) -> torch.Tensor:
    """4:2:0 JPEG of varied quality, without the entropy coder."""
    y = 0.299 * s[:, :1] + 0.587 * s[:, 1:2] + 0.114 * s[:, 2:]
    c = F.avg_pool2d(torch.cat([(s[:, 2:] - y) / 1.772, (s[:, :1] - y) / 1.402], 1), 2)
    loss = 0.08 + 1.4 * take.jpeg  # 1.0 is quality 50
    y = quantised(y, False, loss)
    c = F.interpolate(quantised(c, True, loss), scale_factor=2, mode="bilinear", align_corners=False)
    return torch.cat([y + 1.402 * c[:, 1:], y - 0.344136 * c[:, :1] - 0.714136 * c[:, 1:], y + 1.772 * c[:, :1]], 1)


def shot(light: torch.Tensor, take, dice) -> torch.Tensor:
    """From light on the sensor to a JPEG's pixels."""
    return jpeg(tone(expose(light, take, dice), take), take).clamp(0, 1)


def develop(light: torch.Tensor, take, dice) -> torch.Tensor:
    """8-bit sRGB 0..1 of the light, an eighth of the batch through half the pixels.

    The first samples of the batch are the coarse ones, or all (`dice.all_coarse`).
    """
    blurred = lens(light, take)
    n, _, side, _ = light.shape
    count = n if dice.all_coarse else n // COARSE_SHARE
    parts = []
    if count:
        few = take.rows(torch.arange(count, device=light.device))
        small = shot(F.avg_pool2d(blurred[:count], 2), few, dice)
        parts.append(F.interpolate(small, size=(side, side), mode="bicubic", align_corners=False).clamp(0, 1))
    if count < n:
        rest = take.rows(torch.arange(count, n, device=light.device))
        parts.append(shot(blurred[count:], rest, dice))
    return (torch.cat(parts) * 255).round() / 255
