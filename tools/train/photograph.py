"""Photographs drawn marks: ink, glaze, light, lens and camera, batched on the device.

Everything is a property of the whole batch: each sample has its own strengths
(`Take`), most of them nought, and every stage runs on all samples at once.
"""

import math
from dataclasses import dataclass, fields

import torch
import torch.nn.functional as F

import camera
import compose
import ground
from inkmap import SIDE

# A crop shows the circle around the mark's corners, this much wider.
MARGIN = 1.08
CONDITIONS = ("good", "weak", "blur", "tilt", "glare", "partial", "smudge", "lowlight", "small",
              "impressed", "light-on-dark")


@dataclass
class Take:
    """How one sample is photographed; every field is (N,) or (N, k) on the device."""

    turn: torch.Tensor  # radians, counter-clockwise as seen
    scale: torch.Tensor  # mark's size over what the crop expects
    shift: torch.Tensor  # (N, 2) in half crops
    tilt: torch.Tensor  # radians
    tilt_to: torch.Tensor  # radians: direction in the picture away from the camera
    near: torch.Tensor  # mark's radius over the camera's distance
    gain: torch.Tensor  # -1 thin .. 1 thick strokes
    fill: torch.Tensor  # 0..1 counters closed
    left: torch.Tensor  # share of ink left, 1: all
    grain: torch.Tensor  # softness of the loss's edge
    double: torch.Tensor  # (N, 2) offset of a second strike in half crops
    double_at: torch.Tensor  # its strength
    smear: torch.Tensor  # (N, 2) path of a smear in half crops
    smear_at: torch.Tensor  # its strength
    glaze: torch.Tensor  # (N, 3) linear
    ink: torch.Tensor  # (N, 3) linear
    cover: torch.Tensor  # opacity of ink
    relief: torch.Tensor  # depth of an impressed mark, 0: printed
    relief_to: torch.Tensor  # radians: where its light comes from
    flat: torch.Tensor  # 1: a scan: no base, light or texture
    blur: torch.Tensor  # pixels, sigma
    defocus: torch.Tensor  # pixels, radius
    motion: torch.Tensor  # (N, 2) pixels
    exposure: torch.Tensor  # gain on linear light
    cast: torch.Tensor  # (N, 3) white balance
    slope: torch.Tensor  # (N, 2) light falling off over the half crop
    glare: torch.Tensor  # strength of reflections, 0: none
    noise: torch.Tensor  # read noise, linear, at middle grey
    denoise: torch.Tensor  # 0..1
    sharpen: torch.Tensor  # halo strength
    curve: torch.Tensor  # tone contrast
    jpeg: torch.Tensor  # 0: none .. 1: quality 30
    clutter: torch.Tensor  # 0..1 chance-like weight of neighbours
    sticker: torch.Tensor  # half size of a label in half crops, 0: none
    cut: torch.Tensor  # (N,) distance of the frame's edge from the middle, > 2: none

    def rows(self, index: torch.Tensor) -> "Take":
        return Take(**{f.name: getattr(self, f.name)[index] for f in fields(self)})


class Dice:
    """Random numbers of one batch size on one device."""

    def __init__(self, count: int, device: torch.device, generator: torch.Generator, side: int = SIDE):
        self.count, self.device, self.generator, self.side = count, device, generator, side
        self.all_coarse = False  # every picture at half the pixels (small marks)

    def uniform(self, low: float = 0.0, high: float = 1.0, *more: int) -> torch.Tensor:
        size = (self.count, *more)
        return torch.rand(size, device=self.device, generator=self.generator) * (high - low) + low

    def normal(self, *more: int) -> torch.Tensor:
        return torch.randn((self.count, *more), device=self.device, generator=self.generator)

    def chance(self, share: float) -> torch.Tensor:
        return (self.uniform() < share).float()

    def field(self, cells: int, smooth: bool = True) -> torch.Tensor:
        """Smooth noise (N, 1, side, side) of about unit variance, `cells` across."""
        small = self.normal(1, cells + 3, cells + 3)
        mode = "bicubic" if smooth else "bilinear"
        wide = F.interpolate(small, size=(self.side + 3 * self.side // cells,) * 2, mode=mode, align_corners=False)
        edge = self.side // cells
        return wide[..., edge : edge + self.side, edge : edge + self.side] * 1.25


def colours(dice: Dice, dark_ground: torch.Tensor, faint: torch.Tensor) -> tuple[torch.Tensor, torch.Tensor]:
    """Glaze and ink, linear (N, 3): dark on light, light on dark, or faint metal."""
    white = dice.uniform(0.5, 0.85, 1) * torch.stack(
        [dice.uniform(0.96, 1.0), dice.uniform(0.92, 1.0), dice.uniform(0.70, 1.0)], 1)
    tinted = white * torch.stack([dice.uniform(0.5, 1), dice.uniform(0.6, 1), dice.uniform(0.5, 1)], 1)
    light = torch.where(dice.chance(0.8)[:, None] > 0, white, tinted)
    deep = dice.uniform(0.01, 0.12, 3) * dice.uniform(0.3, 1.0, 1)
    dark = dice.uniform(0.005, 0.16, 1) * (0.35 + 0.65 * dice.uniform(0, 1, 3))
    pale = dice.uniform(0.3, 0.9, 1) * (0.6 + 0.4 * dice.uniform(0, 1, 3))
    gold = torch.tensor([1.0, 0.78, 0.42], device=dice.device) * dice.uniform(0.3, 0.75, 1)
    glaze = torch.where(dark_ground[:, None] > 0, deep, light)
    ink = torch.where(dark_ground[:, None] > 0, torch.where(dice.chance(0.4)[:, None] > 0, gold, pale), dark)
    warm = torch.tensor([1.05, 0.95, 0.75], device=dice.device)
    metal = glaze * (0.72 + 0.12 * dice.normal(1).clamp(-1.5, 1.5)) * warm
    return glaze, torch.where(faint[:, None] > 0, metal, ink)


def photo(dice: Dice, hardness: float = 1.0) -> Take:
    """Takes as a phone makes them; `hardness` scales how bad the bad ones are."""
    u, chance = dice.uniform, dice.chance
    hard = hardness * u() ** 0.7
    dark_ground, faint = chance(0.16), chance(0.06)
    glaze, ink = colours(dice, dark_ground, faint * (1 - dark_ground))
    weak, lowlight = chance(0.30), chance(0.15)
    cut = torch.where(chance(0.12 * hardness) > 0, u(0.15, 0.9), u(0.9, 4.0))
    return Take(
        turn=u(0, 2 * math.pi), scale=u(0.88, 1.15), shift=(dice.normal(2) * 0.045).clamp(-0.08, 0.08),
        tilt=torch.where(chance(0.45) > 0, u(0, math.radians(50)), u(0, math.radians(18))) * min(hardness, 1),
        tilt_to=u(0, 2 * math.pi), near=u(0.05, 0.35),
        gain=(dice.normal() * 0.45 * (0.4 + hard)).clamp(-1, 1.2), fill=chance(0.2) * u() * hard,
        left=torch.where(weak > 0, 1 - 0.75 * u() * hard, 1 - 0.12 * u()), grain=u(0.1, 0.8),
        double=dice.normal(2) * 0.02, double_at=chance(0.12) * u(0.4, 1) * hardness,
        smear=dice.normal(2) * 0.05 * (0.3 + hard[:, None]), smear_at=chance(0.15) * u(0.3, 1) * hardness,
        glaze=glaze, ink=ink, cover=torch.where(weak > 0, u(0.35, 0.9), u(0.75, 1.0)),
        relief=chance(0.12) * u(0.25, 1.0), relief_to=u(0, 2 * math.pi), flat=torch.zeros_like(hard),
        blur=u(0.25, 0.8) + chance(0.4) * 1.6 * u() * hard, defocus=chance(0.25) * 3.5 * u() * hard,
        motion=dice.normal(2) * 2.5 * (chance(0.15) * hard)[:, None],
        exposure=torch.where(lowlight > 0, u(0.12, 0.5), u(0.55, 1.35)), cast=1 + 0.06 * dice.normal(3),
        slope=dice.normal(2) * 0.16 * (0.3 + hard[:, None]), glare=chance(0.35) * u(0.2, 2.5) * hardness,
        noise=0.002 + 0.012 * u() ** 3 + lowlight * 0.035 * u() * hard, denoise=u(), sharpen=u() ** 2 * 1.1,
        curve=u(-0.1, 0.5), jpeg=u() ** 2, clutter=u() * min(hardness, 1),
        sticker=chance(0.12 * hardness) * u(0.25, 0.6), cut=cut)


def scan(dice: Dice) -> Take:
    """Takes of a clean reference: flat, sharp, another stroke gain; at times inverted."""
    take = photo(dice, 0.0)
    u, nought = dice.uniform, torch.zeros_like(take.turn)
    paper = dice.chance(0.7)[:, None]
    inverted = dice.chance(0.1)[:, None]
    ground = torch.where(paper > 0, u(0.75, 1.0, 1) * torch.ones_like(take.glaze), take.glaze)
    line = torch.where(paper > 0, u(0.0, 0.06, 1) * torch.ones_like(take.ink), take.ink)
    take.glaze = torch.where(inverted > 0, line, ground)
    take.ink = torch.where(inverted > 0, ground, line)
    take.gain, take.left, take.cover = dice.normal() * 0.45, torch.ones_like(nought), u(0.85, 1)
    take.relief, take.slope, take.tilt, take.flat = nought, take.slope * 0, nought, nought + 1
    take.scale, take.shift = u(0.96, 1.04), take.shift * 0.25
    take.exposure, take.cast, take.noise = nought + 1, torch.ones_like(take.cast), 0.003 * u() ** 2
    take.blur, take.sharpen, take.jpeg, take.clutter = u(0.2, 0.9), u(0, 0.3), u(0, 0.5), nought
    take.cut = nought + 9
    return take


def mixed(first: Take, second: Take, share: torch.Tensor) -> Take:
    """Sample by sample the second take where `share` is set."""
    parts = {}
    for f in fields(Take):
        a, b = getattr(first, f.name), getattr(second, f.name)
        parts[f.name] = torch.where((share if a.dim() == 1 else share[:, None]) > 0, b, a)
    return Take(**parts)


def reference(dice: Dice) -> Take:
    """What a library holds: mostly clean scans, some ordinary photos, some impressed."""
    ordinary = photo(dice, 0.3)
    return mixed(scan(dice), ordinary, dice.chance(0.4))


def condition(dice: Dice, name: str) -> Take:
    """Takes of one condition at medium to hard, for the evaluation only."""
    take = photo(dice, 0.25)
    u, nought = dice.uniform, torch.zeros_like(take.turn)
    take.relief, take.sticker, take.glare, take.cut = nought, nought, nought, nought + 9
    if name == "weak":
        take.left, take.cover = u(0.25, 0.6), u(0.4, 0.8)
    elif name == "blur":
        take.blur, take.defocus = u(1.0, 2.0), u(0, 2.5)
    elif name == "tilt":
        take.tilt = u(math.radians(30), math.radians(50))
    elif name == "glare":
        take.glare, take.tilt = u(1.0, 3.0), u(0.2, 0.5)
    elif name == "partial":
        half = dice.chance(0.5)
        take.cut = torch.where(half > 0, u(0.1, 0.5), take.cut)
        take.sticker = torch.where(half > 0, nought, u(0.4, 0.6))
    elif name == "smudge":
        take.smear, take.smear_at, take.fill = dice.normal(2) * 0.09, nought + 0.9, u(0.3, 1)
    elif name == "lowlight":
        take.exposure, take.noise, take.denoise = u(0.08, 0.25), u(0.01, 0.03), u(0.4, 1)
    elif name == "small":
        dice.all_coarse = True
        take.blur, take.jpeg = u(0.8, 1.6), u(0.5, 1)
    elif name == "impressed":
        take.relief = u(0.4, 1.0)
    elif name == "light-on-dark":
        take.glaze, take.ink = colours(dice, nought + 1, nought)
    return take


# --- drawing -------------------------------------------------------------------


def stroke_gain(canvas: torch.Tensor, take: Take, dice: Dice) -> torch.Tensor:
    """Strokes thickened, thinned, or closed up, on the canvas."""
    def pool(x, k):
        return F.max_pool2d(F.max_pool2d(x, (1, k), 1, (0, k // 2)), (k, 1), 1, (k // 2, 0))

    gain = take.gain[:, None, None, None]
    thick = canvas + (pool(canvas, 5) - canvas) * gain.clamp(0, 1)
    thin = canvas + (-pool(-canvas, 3) - canvas) * (-gain).clamp(0, 1)
    inked = torch.where(gain > 0, thick, thin)
    closed = -pool(-pool(inked, 7), 7)
    patch = F.interpolate(dice.normal(1, 6, 6), size=canvas.shape[-2:], mode="bilinear", align_corners=False)
    some = (patch * 3 + 1).clamp(0, 1) * take.fill[:, None, None, None]
    return inked + (closed - inked) * some


def pose(take: Take, box: torch.Tensor, points: torch.Tensor) -> torch.Tensor:
    """Frame coordinates (N, H, W, 2) seen by crop points (H, W, 2) in half crops."""
    corner = torch.stack([box * torch.tensor(s, device=box.device, dtype=box.dtype)
                          for s in ((-1, -1), (1, -1), (1, 1), (-1, 1))], 1)
    c, s = take.turn.cos(), take.turn.sin()
    spin = torch.stack([torch.stack([c, -s], 1), torch.stack([s, c], 1)], 1)
    dc, ds = take.tilt_to.cos(), take.tilt_to.sin()
    away = torch.stack([dc, ds], 1)
    across = torch.stack([-ds, dc], 1)
    flatten, sine = take.tilt.cos(), take.tilt.sin()
    turned = torch.einsum("nij,nkj->nki", spin, corner)
    # On the tilted plane the direction `away` is foreshortened and recedes.
    t = torch.einsum("nkj,nj->nk", turned, away)
    p = torch.einsum("nkj,nj->nk", turned, across)
    depth = 1 + take.near[:, None] * t * sine[:, None]
    seen = torch.stack([t * flatten[:, None] / depth, p / depth], -1)
    middle = (seen.amax(1) + seen.amin(1)) / 2
    radius = (seen - middle[:, None]).norm(dim=-1).amax(1)
    # Back from the crop to the frame, in (away, across) coordinates.
    zoom = radius * MARGIN / take.scale
    x = points - take.shift[:, None, None]
    local_t = (x * away[:, None, None]).sum(-1) * zoom[:, None, None] + middle[:, 0, None, None]
    local_p = (x * across[:, None, None]).sum(-1) * zoom[:, None, None] + middle[:, 1, None, None]
    k = (take.near * sine)[:, None, None]
    t = local_t / (flatten[:, None, None] - k * local_t).clamp_min(0.05)
    p = local_p * (1 + k * t)
    plane = t[..., None] * away[:, None, None] + p[..., None] * across[:, None, None]
    return torch.stack([(plane * spin[:, None, None, :, 0]).sum(-1), (plane * spin[:, None, None, :, 1]).sum(-1)], -1)


def crop_points(device: torch.device, side: int = SIDE) -> torch.Tensor:
    """Pixel centres (side, side, 2) of a crop in half crops, -1..1."""
    at = (torch.arange(side, device=device) + 0.5) * (2 / side) - 1
    ys, xs = torch.meshgrid(at, at, indexing="ij")
    return torch.stack([xs, ys], -1)


def seen_ink(canvas: torch.Tensor, box: torch.Tensor, take: Take, points: torch.Tensor) -> torch.Tensor:
    """The canvas as the crop sees it (N, 1, side, side), four samples a pixel."""
    total = 0
    for dx in (-0.25, 0.25):
        for dy in (-0.25, 0.25):
            offset = torch.tensor([dx, dy], device=points.device) * (2 / points.shape[0])
            grid = pose(take, box, points + offset) / compose.REACH
            total = total + F.grid_sample(canvas, grid, align_corners=False)
    return total / 4


def moved(picture: torch.Tensor, offset: torch.Tensor, points: torch.Tensor) -> torch.Tensor:
    """Each picture moved by its own offset in half crops."""
    return F.grid_sample(picture, points[None] - offset[:, None, None], align_corners=False)


def strike(ink: torch.Tensor, take: Take, dice: Dice, points: torch.Tensor) -> torch.Tensor:
    """Double strike, smear and patchy loss of ink."""
    def per(x):
        return x[:, None, None, None]

    ink = torch.maximum(ink, moved(ink, take.double, points) * per(take.double_at))
    trail = sum(moved(ink, take.smear * t, points) for t in (0.25, 0.5, 0.75, 1.0)) / 4
    ink = torch.maximum(ink, trail * per(take.smear_at) * 1.2).clamp(0, 1)
    loss = (dice.field(3) + 0.8 * dice.field(8) + 0.5 * dice.field(40, False) * per(take.grain)) / 1.35
    # Share left -> threshold of a unit normal, by the logistic law nearest to it.
    level = torch.logit(take.left.clamp(0.002, 0.998)) / 1.702
    kept = torch.sigmoid((per(level) - loss) / (0.08 + 0.5 * per(take.grain) ** 2))
    return ink * torch.where(per(take.left) > 0.995, torch.ones_like(kept), kept)


def photograph(atlas: compose.Atlas, canvas: torch.Tensor, box: torch.Tensor, take: Take,
               dice: Dice) -> tuple[torch.Tensor, torch.Tensor]:
    """Crops as 8-bit sRGB 0..1 (N, 3, side, side) and where they lie inside the photo."""
    points = crop_points(canvas.device, dice.side)
    ink = seen_ink(stroke_gain(canvas, take, dice), box, take, points)
    ink = strike(ink, take, dice, points)
    light, inside = ground.light(atlas, ink, take, dice, points)
    return camera.develop(light, take, dice), inside
