"""The underside around a mark: glaze, relief, clutter, light; linear RGB."""

import math

import torch
import torch.nn.functional as F

import compose

# Shares of photographs that carry each neighbour (times the take's clutter).
RING, RIM, CRAZED, SPECKLED, PENCILLED, SECOND = 0.45, 0.25, 0.25, 0.5, 0.2, 0.25


def per(x: torch.Tensor) -> torch.Tensor:
    """(N,) to (N, 1, 1, 1), (N, 3) to (N, 3, 1, 1)."""
    return x.reshape(len(x), -1, 1, 1)


def some(dice, share: float, take) -> torch.Tensor:
    """0 or 1 a sample: whether it carries a neighbour."""
    return per((dice.uniform() < share * take.clutter * 2).float() * (1 - take.flat))


def relief_shading(ink: torch.Tensor, take) -> torch.Tensor:
    """Light on an impressed mark: soft walls lit from one side, dim floors."""
    soft = F.avg_pool2d(F.avg_pool2d(ink, 3, 1, 1), 3, 1, 1)
    dx = F.pad(soft[..., 1:] - soft[..., :-1], (0, 1))
    dy = F.pad(soft[..., 1:, :] - soft[..., :-1, :], (0, 0, 0, 1))
    lit = per(take.relief_to.cos()) * dx + per(take.relief_to.sin()) * dy
    return (1 + per(take.relief) * (0.9 * lit - 0.10 * soft)).clamp(0.1, 1.9)


def words(atlas: compose.Atlas, dice, points: torch.Tensor, centre: torch.Tensor, half_h: torch.Tensor) -> torch.Tensor:
    """One random strip a sample, at a place and size in half crops, any turn."""
    strip = torch.randint(len(atlas.strips), (dice.count,), device=points.device, generator=dice.generator)
    turn = dice.uniform(0, 2 * math.pi)
    c, s = turn.cos()[:, None, None], turn.sin()[:, None, None]
    x = points[..., 0] - centre[:, 0, None, None]
    y = points[..., 1] - centre[:, 1, None, None]
    half_w = half_h * atlas.width[strip] / 32
    share = (atlas.width[strip] / compose.STRIP_WIDE)[:, None, None]
    u = ((c * x + s * y) / half_w[:, None, None] + 1) * share - 1
    v = (c * y - s * x) / half_h[:, None, None]
    return F.grid_sample(atlas.take(atlas.strips, strip), torch.stack([u, v], -1), align_corners=False)


def aside(dice, low: float, high: float) -> torch.Tensor:
    """A place (N, 2) at a distance from the middle, any direction."""
    turn, far = dice.uniform(0, 2 * math.pi), dice.uniform(low, high)
    return torch.stack([turn.cos(), turn.sin()], 1) * far[:, None]


def surface(ink: torch.Tensor, take, dice, radius: torch.Tensor, ring: torch.Tensor) -> torch.Tensor:
    """Reflectance of glaze and ink, with crazing, specks, mottling and the foot ring."""
    printed = per((take.relief <= 0).float())
    cover = ink * per(take.cover) * printed
    rough = 1 - per(take.flat)
    glaze = per(take.glaze) * (1 + rough * 0.035 * dice.field(5) * (1 + dice.normal(1, 1, 1).abs()))
    out = glaze * (1 - cover) + per(take.ink) * cover * (1 + 0.12 * rough * dice.field(10, False))
    out = torch.where(printed > 0, out, out * relief_shading(ink, take))
    cracks = torch.exp(-((dice.field(12) / 0.06) ** 2)) * dice.uniform(0.05, 0.4, 1, 1, 1)
    out = out * (1 - some(dice, CRAZED, take) * cracks)
    seeds = (torch.rand(out.shape[0], 1, *out.shape[2:], device=out.device, generator=dice.generator) < 0.0006).float()
    spots = F.avg_pool2d(F.max_pool2d(seeds, 3, 1, 1), 3, 1, 1)
    out = out * (1 - some(dice, SPECKLED, take) * spots * dice.uniform(0.2, 0.9, 1, 1, 1))
    # The foot ring: a bright unglazed crest with a shadow on its inner side.
    width = dice.uniform(0.02, 0.09, 1, 1, 1)
    at = (radius - ring) / width
    crest = torch.exp(-(at**2)) * dice.uniform(-0.3, 0.5, 1, 1, 1)
    shade = torch.exp(-((at + 1.6) ** 2)) * dice.uniform(0.0, 0.5, 1, 1, 1)
    return out * (1 + some(dice, RING, take) * (crest - shade))


def clutter(atlas: compose.Atlas, out: torch.Tensor, take, dice, points: torch.Tensor) -> torch.Tensor:
    """Pencil, a second stamp beside the mark, and stickers that cover it."""
    pencil = words(atlas, dice, points, aside(dice, 0.3, 1.2), dice.uniform(0.05, 0.2))
    out = out * (1 - some(dice, PENCILLED, take) * pencil * dice.uniform(0.15, 0.6, 1, 1, 1))
    second = words(atlas, dice, points, aside(dice, 1.0, 1.3), dice.uniform(0.04, 0.15))
    second = second * some(dice, SECOND, take) * per(take.cover)
    out = out * (1 - second) + per(take.ink) * second
    # A label: a paper square or disc with writing, opaque.
    place = aside(dice, 0.2, 1.1)
    x, y = points[..., 0] - place[:, 0, None, None], points[..., 1] - place[:, 1, None, None]
    turn = dice.uniform(0, math.pi)
    c, s = turn.cos()[:, None, None], turn.sin()[:, None, None]
    u, v = (c * x + s * y).abs(), (c * y - s * x).abs() * dice.uniform(1, 1.8, 1, 1)
    reach = torch.where(dice.chance(0.4)[:, None, None] > 0, (u * u + v * v).sqrt(), torch.maximum(u, v))
    half = take.sticker[:, None, None]
    label = (((half - reach) / 0.02).clamp(0, 1) * (half > 0))[:, None]
    text = words(atlas, dice, points, place, (take.sticker * 0.3).clamp_min(0.02))
    paper = per(dice.uniform(0.35, 0.9, 3)) * (1 - text * dice.uniform(0.4, 0.95, 1, 1, 1))
    return out * (1 - label) + paper * label


def reflections(take, dice, points: torch.Tensor) -> torch.Tensor:
    """Light mirrored in the glaze: soft blobs and hard windows, added (N, 1, H, W)."""
    total = 0
    for hard in (False, True):
        place = aside(dice, 0.0, 1.1)
        x, y = points[..., 0] - place[:, 0, None, None], points[..., 1] - place[:, 1, None, None]
        turn = dice.uniform(0, math.pi)
        c, s = turn.cos()[:, None, None], turn.sin()[:, None, None]
        long, thin = dice.uniform(0.1, 0.6, 1, 1), dice.uniform(0.05, 0.3, 1, 1)
        u, v = (c * x + s * y) / long, (c * y - s * x) / thin
        if hard:
            # A window's edge is straight but bends with the base.
            v = v + dice.uniform(-0.4, 0.4, 1, 1) * u * u
            blob = torch.sigmoid((1 - torch.maximum(u.abs(), v.abs())) * dice.uniform(6, 40, 1, 1))
        else:
            blob = torch.exp(-(u * u + v * v))
        total = total + blob[:, None] * per(take.glare * (dice.uniform() < (0.4 if hard else 0.8)).float())
    return total


def light(atlas: compose.Atlas, ink: torch.Tensor, take, dice,
          points: torch.Tensor) -> tuple[torch.Tensor, torch.Tensor]:
    """Linear light reaching the lens (N, 3, H, W), and where the crop lies in the photo."""
    rough = 1 - per(take.flat)
    centre = aside(dice, 0.0, 1.5)
    dx, dy = points[..., 0] - centre[:, 0, None, None], points[..., 1] - centre[:, 1, None, None]
    radius = (dx * dx + dy * dy + 1e-9).sqrt()[:, None]
    away = centre.norm(dim=1)
    ring = per(away + dice.uniform(0.35, 1.5))
    out = surface(ink, take, dice, radius, ring)
    out = clutter(atlas, out, take, dice, points)
    # Past the rim lies the table, lit and grained in its own way.
    rim = per(away + dice.uniform(0.75, 1.7))
    past = some(dice, RIM, take) * ((radius - rim) / 0.015).clamp(0, 1)
    grain = 1 + 0.25 * dice.field(30, False) * dice.uniform(0, 1, 1, 1, 1) + 0.2 * dice.field(6)
    table = per(dice.uniform(0.02, 0.6, 3)) * grain.clamp(0.2, 2)
    lip = 1 - 0.5 * rough * torch.exp(-(((radius - rim) / 0.06) ** 2)) * some(dice, RIM, take)
    out = (out * (1 - past) + table * past) * lip
    slope = per(take.slope[:, 0]) * points[..., 0] + per(take.slope[:, 1]) * points[..., 1]
    hollow = 1 - 0.25 * per(dice.uniform()) * rough * (radius / (1 + per(away))) ** 2
    lamp = torch.exp(slope * rough) * hollow * (1 + 0.06 * rough * dice.field(2))
    mirrored = reflections(take, dice, points) * rough
    out = (out.clamp_min(0.001) * lamp + mirrored) * per(take.exposure) * per(take.cast)
    # The photo's edge: a half plane, its far side nothing.
    turn = dice.uniform(0, 2 * math.pi)
    along = turn.cos()[:, None, None] * points[..., 0] + turn.sin()[:, None, None] * points[..., 1]
    inside = (along[:, None] < per(take.cut)).float()
    return out, inside
