"""What collages show beside drawings: textures, clutter, hands, soil and light, as procedural pictures.

Everything is batched: a `Dice` throws for N pictures of one size at once, points are (N, H, W, 2) in half
longer sides of the picture (x right, y down, middle 0), fields (N, 1, H, W), colours (N, 3) and pictures
(N, 3, H, W) in sRGB 0..1.
"""

import math

import torch
import torch.nn.functional as F

# Cells of the random picture behind smooth noise.
NOISE = 64


class Dice:
    """Random numbers for N pictures of one size on one device."""

    def __init__(self, count: int, size: tuple[int, int], device: torch.device, generator: torch.Generator):
        self.count, self.size, self.device, self.generator = count, size, device, generator

    def uniform(self, low: float = 0.0, high: float = 1.0, *more: int) -> torch.Tensor:
        thrown = torch.rand((self.count, *more), device=self.device, generator=self.generator)
        return low + (high - low) * thrown

    def powers(self, low: float, high: float, *more: int) -> torch.Tensor:
        """Uniform in the logarithm."""
        return self.uniform(math.log(low), math.log(high), *more).exp()

    def normal(self, *more: int) -> torch.Tensor:
        return torch.randn((self.count, *more), device=self.device, generator=self.generator)

    def chance(self, share: float) -> torch.Tensor:
        """1 in this share of the pictures, 0 else."""
        return (self.uniform() < share).float()

    def choice(self, weights) -> torch.Tensor:
        """An index each, by weight."""
        weights = torch.tensor(weights, dtype=torch.float32, device=self.device)
        return torch.multinomial(weights, self.count, True, generator=self.generator)

    def points(self) -> torch.Tensor:
        """Middles of the pixels, (1, H, W, 2)."""
        h, w = self.size
        half = max(h, w) / 2
        ys = (torch.arange(h, device=self.device) + 0.5 - h / 2) / half
        xs = (torch.arange(w, device=self.device) + 0.5 - w / 2) / half
        return torch.stack(torch.meshgrid(ys, xs, indexing="ij")[::-1], -1)[None]


def per(x: torch.Tensor) -> torch.Tensor:
    """Numbers (N,) or colours (N, 3) that stand against pictures."""
    return x.reshape(len(x), -1, 1, 1)


def mixed(under: torch.Tensor, over: torch.Tensor, cover: torch.Tensor) -> torch.Tensor:
    return under + (over - under) * cover


def turned(points: torch.Tensor, angle: torch.Tensor) -> torch.Tensor:
    c, s = angle.cos()[:, None, None], angle.sin()[:, None, None]
    return torch.stack([c * points[..., 0] + s * points[..., 1], c * points[..., 1] - s * points[..., 0]], -1)


def noise(dice: Dice, points: torch.Tensor, across, along=None) -> torch.Tensor:
    """Smooth noise of about unit variance, so many cells to a unit (numbers or (N,))."""
    pair = []
    for cells in (across, across if along is None else along):
        pair.append(cells if torch.is_tensor(cells) else torch.full((dice.count,), float(cells), device=dice.device))
    grid = points * torch.stack(pair, 1)[:, None, None] * (2 / NOISE) + dice.uniform(-1, 1, 1, 1, 2)
    picture = dice.normal(1, NOISE, NOISE)
    return 1.3 * F.grid_sample(picture, grid, mode="bicubic", padding_mode="reflection", align_corners=False)


def tint(dice: Dice, low: float, high: float, chroma: float) -> torch.Tensor:
    """Colours of a lightness between two, more or less colourful."""
    lean = dice.normal(3)
    lean = lean - lean.mean(1, keepdim=True)
    return (dice.uniform(low, high, 1) + lean * dice.uniform(0, chroma, 1)).clamp(0.01, 0.99)


def edge(distance: torch.Tensor, soft: torch.Tensor) -> torch.Tensor:
    """1 inside (distance below 0), 0 outside, over a soft edge (N,)."""
    return torch.sigmoid(-distance / per(soft))


def rounded(points: torch.Tensor, half_w: torch.Tensor, half_h: torch.Tensor, power: torch.Tensor) -> torch.Tensor:
    """Distance from a superellipse (Lame 1818) in units of its size, below 0 inside (N, 1, H, W)."""
    p = power[:, None, None]
    x = (points[..., 0] / half_w[:, None, None]).abs().clamp(1e-4, 30)
    y = (points[..., 1] / half_h[:, None, None]).abs().clamp(1e-4, 30)
    return ((x**p + y**p) ** (1 / p) - 1)[:, None]


def texture(dice: Dice, tile, weights) -> torch.Tensor:
    """A picture of something by weight: plain, clouds, wood, cloth, checks, stripes, marble, grain, print.
    `tile(points)` draws the ornament that a print repeats."""
    points = turned(dice.points().expand(dice.count, -1, -1, -1), dice.uniform(-math.pi, math.pi))
    points = points * dice.powers(0.6, 1.7, 1, 1, 1)
    u, v = points[..., 0][:, None], points[..., 1][:, None]
    clouds = 0.7 * noise(dice, points, 3) + 0.4 * noise(dice, points, 9)
    lines = (v + 0.05 * noise(dice, points, 2)) * per(dice.uniform(20, 90))
    plank = (torch.remainder(v * per(dice.uniform(1, 4)), 1) > 0.96).float() * per(dice.chance(0.5))
    wood = 0.6 * noise(dice, points, 2, 38) + 0.4 * lines.sin() - 2 * plank
    pitch = per(dice.uniform(50, 190))
    cloth = (u * pitch).sin() * (v * pitch).sin() + 0.8 * noise(dice, points, 2.5)
    coarse = per(dice.uniform(6, 40))
    checks = ((u * coarse).sin() > 0).float() + ((v * coarse).sin() > 0).float() - 1 + 0.2 * clouds
    stripes = (u * coarse + 0.3 * clouds).sin() + 0.2 * clouds
    marble = 2 * (1 - (noise(dice, points, 3) + 0.5 * noise(dice, points, 7)).abs()).clamp(0, 1) ** 5 + 0.2 * clouds
    grain = 0.7 * noise(dice, points, 28) + 0.6 * noise(dice, points, 14)
    printed = 1.5 * tile(torch.remainder(points * dice.uniform(1, 5, 1, 1, 1), 1) * 2 - 1) + 0.2 * clouds
    kind = dice.choice(weights)
    fields = torch.stack([0.05 * clouds, 0.5 * clouds, wood, cloth, checks, stripes, marble, grain, printed], 1)
    chosen = fields[torch.arange(dice.count, device=dice.device), kind]
    first = tint(dice, 0.05, 0.95, 0.2)
    second = tint(dice, 0.05, 0.95, 0.2)
    strength = per(dice.uniform(0.1, 0.7))
    return mixed(per(first), per(second), (strength * chosen).clamp(-0.5, 1.2)).clamp(0, 1)


def clutter(dice: Dice, picture: torch.Tensor, most: int, share: float) -> torch.Tensor:
    """Other things about: plates, books, tools, as ellipses, boxes and bars with some shading."""
    points = dice.points()
    for _ in range(most):
        here = turned(points - dice.uniform(-1.1, 1.1, 1, 1, 2), dice.uniform(-math.pi, math.pi))
        long, slim = dice.powers(0.08, 0.6), dice.powers(0.12, 1.0)
        away = rounded(here, long, long * slim, dice.uniform(2, 9))
        cover = edge(away, dice.powers(0.005, 0.05)) * per(dice.chance(share))
        shadow = edge(away - 0.15, torch.full_like(long, 0.12)) * per(dice.chance(share * 0.7))
        picture = picture * (1 - 0.35 * shadow * per(dice.uniform()))
        body = per(tint(dice, 0.03, 0.97, 0.3)) * (1 + 0.3 * here[..., 0][:, None] * per(dice.normal()))
        rim = torch.exp(-((away + per(dice.uniform(0.02, 0.3))) / 0.03) ** 2) * per(dice.normal() * 0.3)
        picture = mixed(picture, (body + rim).clamp(0, 1), cover)
    return picture


def hands(dice: Dice, picture: torch.Tensor, share: float) -> torch.Tensor:
    """Up to three fingers that reach in from the border."""
    some = dice.chance(share)
    turn = dice.uniform(-math.pi, math.pi)
    skin = torch.stack([dice.uniform(0.35, 0.95), dice.uniform(0.5, 0.8), dice.uniform(0.4, 0.75)], 1)
    skin = torch.cat([skin[:, :1], skin[:, :1] * skin[:, 1:2], skin[:, :1] * skin[:, 1:2] * skin[:, 2:]], 1)
    for finger in range(3):
        here = turned(dice.points(), turn + dice.normal() * 0.08)
        thick = dice.uniform(0.05, 0.13)
        tip = dice.uniform(0.55, 0.95)
        aside = (finger - 1) * 2.1 * thick
        x = (here[..., 0] - tip[:, None, None]).clamp_max(0)
        y = here[..., 1] - aside[:, None, None]
        away = ((x * x + y * y + 1e-6).sqrt() / thick[:, None, None])[:, None]
        shade = (1.05 - 0.35 * away.clamp(0, 1) ** 2)
        picture = mixed(picture, (per(skin) * shade).clamp(0, 1), edge(away - 1, torch.full_like(thick, 0.04)) * per(some))
    return picture


def soiled(dice: Dice, picture: torch.Tensor, plane: torch.Tensor, size: torch.Tensor, much: float) -> torch.Tensor:
    """Specks, pits, crazing, hairlines, scratches, stains and stilt marks on a surface.

    `plane` are the surface's own points, `size` (N,) its radius there, `much` scales how often each comes.
    """
    near = plane / size[:, None, None, None]

    def paint(cover, colour, strength):
        nonlocal picture
        picture = mixed(picture, per(colour), (cover * per(strength)).clamp(0, 1))

    dark = tint(dice, 0.02, 0.45, 0.15)
    for cells, share in ((dice.uniform(14, 28), 0.5), (dice.uniform(7, 14), 0.25)):
        level = per(dice.uniform(1.9, 3.4))
        paint(torch.sigmoid((noise(dice, plane, cells) - level) * 9), dark, dice.chance(much * share) * dice.uniform(0.2, 1))
    ridges = (noise(dice, plane, dice.uniform(2, 9)) + 0.3 * noise(dice, plane, 12)).abs()
    paint(torch.exp(-(ridges / per(dice.uniform(0.02, 0.06))) ** 2), dark, dice.chance(much * 0.3) * dice.uniform(0.1, 0.6))
    for share in (0.3, 0.2, 0.2):
        here = turned(plane - dice.uniform(-0.6, 0.6, 1, 1, 2) * size[:, None, None, None], dice.uniform(-math.pi, math.pi))
        x, y = here[..., 0][:, None], here[..., 1][:, None]
        y = y + per(dice.normal() * 0.15) * x * x + 0.02 * noise(dice, plane, 4) * per(dice.uniform())
        line = torch.exp(-(y / per(dice.uniform(0.004, 0.012))) ** 2) * edge(x.abs() - per(dice.uniform(0.05, 0.9)), torch.full((dice.count,), 0.03, device=dice.device))
        paint(line, tint(dice, 0.02, 0.95, 0.1), dice.chance(much * share) * dice.uniform(0.15, 0.8))
    stain = torch.sigmoid((noise(dice, plane, dice.uniform(0.8, 3)) - per(dice.uniform(0.6, 1.8))) * per(dice.powers(2, 15)))
    paint(stain, tint(dice, 0.15, 0.7, 0.2), dice.chance(much * 0.3) * dice.uniform(0.1, 0.5))
    # Stilt marks: three or four spots on a circle, some with a pale ring.
    far, turn, spot = dice.uniform(0.3, 0.85), dice.uniform(-math.pi, math.pi), dice.uniform(0.012, 0.05)
    four = dice.chance(0.25)
    some, ring = dice.chance(much * 0.45), dice.uniform(0, 1.5)
    sides = 3 + four
    colour = tint(dice, 0.05, 0.85, 0.15)
    for k in range(4):
        there = turn + 2 * math.pi * k / sides + dice.normal() * 0.06
        x = near[..., 0] - (far * there.cos())[:, None, None]
        y = near[..., 1] - (far * there.sin())[:, None, None]
        away = ((x * x + y * y + 1e-6).sqrt() / spot[:, None, None])[:, None]
        away = away * (1 + 0.15 * noise(dice, plane, 12))
        shown = some * (four if k == 3 else 1)
        paint(edge(away - 1, torch.full_like(far, 0.2)), colour, shown * dice.uniform(0.4, 1))
        paint(torch.exp(-((away - 1.5) * 2.5) ** 2), (colour + 0.3).clamp(0, 1), shown * ring.clamp(0, 1) * 0.4)
    return picture


def lit(dice: Dice, picture: torch.Tensor) -> torch.Tensor:
    """Light that falls off, soft shadows across, and reflections."""
    points = dice.points()
    slope = (points * dice.normal(1, 1, 2) * 0.22).sum(-1)[:, None]
    picture = picture * (1 + slope).clamp(0.25, 2)
    across = turned(points, dice.uniform(-math.pi, math.pi))[..., 0][:, None] + 0.1 * noise(dice, points.expand(dice.count, -1, -1, -1), 1.5)
    shadow = edge(across - per(dice.uniform(-0.6, 0.6)), dice.powers(0.01, 0.2))
    picture = picture * (1 - shadow * per(dice.chance(0.35) * dice.uniform(0.1, 0.6)))
    for share in (0.3, 0.2):
        here = turned(points - dice.uniform(-0.7, 0.7, 1, 1, 2), dice.uniform(-math.pi, math.pi))
        wide = dice.powers(0.02, 0.25)
        away = rounded(here, wide, wide * dice.powers(0.2, 1), dice.uniform(2, 8))
        bloom = edge(away, dice.powers(0.05, 0.8)) * per(dice.chance(share) * dice.uniform(0.2, 1.2))
        picture = mixed(picture, torch.ones_like(picture), bloom.clamp(0, 1))
    return picture.clamp(0, 1)
