"""Whole pictures that no renderer of ours made, for the finder: composed on the accelerator.

Marks of one split's artwork lie at any place, turn, size and slant, in any colour, on surfaces with or
without a foot ring, on cards and on bare textures; beside them bare surfaces with all that may be taken for
a mark, and what is no underside: decorated tops, papers, boxes, textures and heaps of things. A picture is
developed as a phone might (tone, cast, blur, noise, JPEG) and becomes its overview, as a photo does.

    python3 tools/train/collage.py --atlas target/train/atlas.npz --out target/train/collage.png

draws a sheet to look at, a row a kind. That needs Pillow; the rest torch and numpy.
"""

import argparse
import math

import numpy as np
import torch
import torch.nn.functional as F

import compose
import layout
from camera import quantised, soften
from canvases import Bank, bank, ornament, page, scribbles
from textures import Dice, clutter, edge, hands, lit, mixed, noise, per, rounded, soiled, texture, tint, turned
from overview import SIDE, overview

# Kinds, and the scene each is: marked, bare, other (the order of the net's answers).
KINDS = {"piece": 0, "close": 0, "loose": 0, "bare": 1, "bare-close": 1, "top": 2, "top-close": 2, "paper": 2,
         "box": 2, "things": 2}
# Heights and widths of pictures; multiples of 8, for JPEG's blocks, and a little larger than the overview.
SIZES = ((288, 384), (384, 288), (384, 384), (384, 256), (216, 384))


class Plane:
    """A surface seen askew: its own points under the pixels, and its points' places in the picture."""

    def __init__(self, dice: Dice, middle: torch.Tensor, most: float):
        self.middle, self.turn = middle, dice.uniform(-math.pi, math.pi)
        tilt = most * dice.uniform() * dice.uniform()
        self.flat, self.near = tilt.cos(), dice.uniform(0, 0.35) * tilt.sin()
        seen = turned(dice.points() - middle[:, None, None], self.turn)
        k, s = self.near[:, None, None], self.flat[:, None, None]
        along = seen[..., 1] / (s - k * seen[..., 1]).clamp_min(0.1)
        self.points = turned(torch.stack([seen[..., 0] * (1 + k * along), along], -1), -self.turn)

    def seen(self, points: torch.Tensor) -> torch.Tensor:
        """Places in the picture (N, K, 2) of the surface's points (N, K, 2)."""
        there = turned(points[:, :, None], self.turn)[:, :, 0]
        depth = 1 + self.near[:, None] * there[..., 1]
        seen = torch.stack([there[..., 0] / depth, self.flat[:, None] * there[..., 1] / depth], -1)
        return turned(seen[:, :, None], -self.turn)[:, :, 0] + self.middle[:, None]


class Collage:
    """Pictures of one split's artwork (0 fit, 1 tune), drawn on `device`."""

    def __init__(self, file, split: int, marks: int, seed: int, device: torch.device):
        self.device = device
        self.generator = torch.Generator(device).manual_seed(seed)
        art, atlas = layout.Artwork(file, split), compose.Atlas(file, device)
        name = f"collage-{seed}-{split}"
        self.marks = bank(atlas, art, layout.mark, marks, name + "-marks", device)
        self.ornaments = bank(atlas, art, ornament, max(8, marks // 3), name + "-ornaments", device)
        self.pages = bank(atlas, art, page, max(8, marks // 6), name + "-pages", device)
        some = max(8, marks // 8)
        notes = (scribbles(some, device, self.generator) * 255).round().byte()
        self.notes = Bank(notes, torch.full((some, 2), 0.7, device=device))

    def draw(self, kind: str, count: int, size: tuple[int, int]):
        """RGB (N, 3, H, W), the mark's circle (N, 3) and a circle of which nothing is said (N, 3), both as
        x, y, radius in pixels from the picture's corner; radius 0 where there is none."""
        dice = Dice(count, size, self.device, self.generator)
        with torch.no_grad():
            picture, mark, silent = getattr(self, "_" + kind.replace("-", "_"))(dice)
            picture = hands(dice, picture, 0.2)
            return developed(dice, lit(dice, picture)), self._pixels(dice, mark), self._pixels(dice, silent)

    def stamped(self, pictures: torch.Tensor):
        """Marks struck near the middle of given bare bases (N, 3, H, W); pictures and circles as above."""
        n, _, h, w = pictures.shape
        dice = Dice(n, (h, w), self.device, self.generator)
        with torch.no_grad():
            plane = Plane(dice, dice.normal(2) * 0.06, 0.6)
            middle, radius = dice.normal(2) * 0.12, dice.powers(0.08, 0.4)
            glaze = pictures[:, :, h // 3 : 2 * h // 3, w // 3 : 2 * w // 3].mean((2, 3))
            picture, circle = self._inked(dice, pictures, plane, middle, radius, glaze)
            return picture, self._pixels(dice, circle)

    def _pixels(self, dice, circles):
        h, w = dice.size
        half = max(h, w) / 2
        none = torch.zeros(dice.count, 3, device=self.device)
        if circles is None:
            return none
        middle = torch.tensor([w / 2, h / 2], device=self.device)
        return torch.cat([circles[:, :2] * half + middle, circles[:, 2:] * half], 1)

    # --- parts ---

    def _pick(self, dice, some: Bank):
        return torch.randint(len(some), (dice.count,), device=self.device, generator=self.generator)

    def _tile(self, dice):
        index = self._pick(dice, self.ornaments)
        fine = torch.full((dice.count,), 40.0, device=self.device)
        return lambda points: self.ornaments.seen(index, points, fine)

    def _around(self, dice, weights=(2, 1, 3, 2, 1, 1, 1.5, 1, 1), things=4, share=0.3):
        return clutter(dice, texture(dice, self._tile(dice), weights), things, share)

    def _laid(self, dice, plane, some: Bank, middle, size, angle):
        """Coverage of a drawn thing on a surface, its circle in the picture, and its own points."""
        index = self._pick(dice, some)
        own = turned(plane.points - middle[:, None, None], angle) / size[:, None, None, None]
        cover = some.seen(index, own, size * plane.flat * max(dice.size) / 2)
        signs = torch.tensor([[-1, -1], [1, -1], [1, 1], [-1, 1]], device=self.device)
        corner = (some.boxes[index][:, None] * signs * size[:, None, None])
        corner = plane.seen(turned(corner[:, :, None], -angle)[:, :, 0] + middle[:, None])
        centre = (corner.amax(1) + corner.amin(1)) / 2
        radius = (corner - centre[:, None]).norm(dim=-1).amax(1)
        return cover, torch.cat([centre, radius[:, None]], 1), own

    def _inked(self, dice, picture, plane, middle, size, glaze):
        """A mark struck on the surface: printed in one or two inks, worn, or impressed."""
        angle = dice.uniform(-math.pi, math.pi)
        cover, circle, own = self._laid(dice, plane, self.marks, middle, size, angle)
        light = (glaze.mean(1) > 0.45).float()[:, None]
        strong = light * tint(dice, 0.02, 0.4, 0.3) + (1 - light) * tint(dice, 0.6, 0.98, 0.2)
        ink = torch.where(dice.chance(0.25)[:, None] > 0, tint(dice, 0.02, 0.98, 0.45), strong)
        opaque = dice.uniform(0.3, 1)
        # What would hardly differ from its ground is taken in the strong ink.
        faint = ((ink - glaze).abs().amax(1) * opaque < 0.2).float()[:, None]
        ink = faint * strong + (1 - faint) * ink
        opaque = torch.maximum(opaque, faint[:, 0] * 0.6)
        second = torch.where(dice.chance(0.2)[:, None] > 0, tint(dice, 0.02, 0.98, 0.45), ink)
        upper = edge((own[..., 1] - dice.uniform(-0.5, 0.5, 1, 1))[:, None], torch.full_like(opaque, 0.03))
        wear = noise(dice, own, 3) + 0.6 * noise(dice, own, 12)
        left = torch.sigmoid((per(dice.uniform(0.2, 3.5)) - wear) * per(dice.uniform(1.5, 6)))
        printed = mixed(picture, mixed(per(ink), per(second), upper), cover * left * per(opaque))
        # A relief shows as light on one side of each stroke and shadow on the other.
        towards = dice.uniform(-math.pi, math.pi)
        step = torch.stack([towards.cos(), towards.sin()], 1)
        step = (step * 1.2).round()
        moved = F.grid_sample(cover, dice.points() / self._reach(dice) + (step / self._half(dice))[:, None, None], align_corners=False)
        pressed = (picture * (1 + (cover - moved) * per(dice.uniform(0.3, 0.8))) - 0.06 * cover).clamp(0, 1)
        return mixed(printed, pressed, per(dice.chance(0.08))), circle

    def _half(self, dice):
        h, w = dice.size
        return torch.tensor([w / 2, h / 2], device=self.device)

    def _reach(self, dice):
        h, w = dice.size
        return torch.tensor([w / max(h, w), h / max(h, w)], device=self.device)

    def _strewn(self, dice, picture, plane, size, much):
        """Pencil and stickers."""
        grey = tint(dice, 0.15, 0.5, 0.08)
        place = lambda: dice.uniform(-0.55, 0.55, 2) * size[:, None]  # noqa: E731
        cover, _, _ = self._laid(dice, plane, self.notes, place(), size * dice.uniform(0.12, 0.4), dice.uniform(-math.pi, math.pi))
        picture = mixed(picture, per(grey), cover * per(dice.chance(0.5 * much) * dice.uniform(0.2, 0.8)))
        middle, angle, half = place(), dice.uniform(-math.pi, math.pi), size * dice.uniform(0.08, 0.3)
        slim = dice.uniform(0.4, 1)
        own = turned(plane.points - middle[:, None, None], angle)
        away = rounded(own, half, half * slim, torch.where(dice.chance(0.6) > 0, dice.uniform(8, 14), dice.uniform(2, 3)))
        some = dice.chance(0.35 * much)
        paper = torch.where(dice.chance(0.6)[:, None] > 0, tint(dice, 0.8, 0.98, 0.08), tint(dice, 0.5, 0.9, 0.5))
        picture = picture * (1 - 0.25 * per(some) * edge(away - 0.06, torch.full_like(half, 0.04)))
        picture = mixed(picture, per(paper), per(some) * edge(away, torch.full_like(half, 0.02)))
        for drawn in (self.notes, self.pages):
            text, _, _ = self._laid(dice, plane, drawn, middle, half * slim, angle)
            picture = mixed(picture, per(tint(dice, 0.02, 0.4, 0.3)), text * per(some * dice.chance(0.6) * dice.uniform(0.5, 1)))
        return picture

    def _surface(self, dice, plane, size, rings: float):
        """A glazed surface, some with rings about its middle; its picture, cover and colour."""
        pick = dice.uniform()
        glaze = torch.where((pick < 0.62)[:, None], tint(dice, 0.6, 0.97, 0.08), tint(dice, 0.1, 0.9, 0.3))
        glaze = torch.where((pick > 0.84)[:, None], tint(dice, 0.02, 0.3, 0.15), glaze)
        near = plane.points / size[:, None, None, None]
        away = rounded(near, dice.uniform(0.9, 1.0), torch.ones_like(size), torch.where(dice.chance(0.85) > 0, torch.full_like(size, 2), dice.uniform(3, 8)))
        far = away + 1
        round_ = near[..., 1].atan2(near[..., 0])[:, None]
        body = per(glaze) * (1 + 0.06 * noise(dice, plane.points, 1.5) * per(dice.uniform()))
        body = body * (1 + (near * dice.normal(1, 1, 2) * 0.08).sum(-1)[:, None]).clamp(0.4, 1.6)
        body = body + 0.12 * noise(dice, plane.points, 30) * per(dice.uniform() * dice.chance(0.15))
        fade = dice.uniform(-0.35, 0.25)
        body = body * (1 + per(fade) * far.clamp(0, 1.2) ** 2)
        shown = dice.chance(rings)
        for k in range(5):
            at, wide = dice.uniform(0.4, 1.0), dice.powers(0.01, 0.12)
            bump = torch.exp(-(((far - per(at)) / per(wide)) ** 2) ** per(dice.uniform(1, 3)))
            sheen = 1 + per(dice.uniform(0, 1.5)) * torch.cos(round_ - per(dice.uniform(-math.pi, math.pi)))
            there = shown * dice.chance(0.9 if k == 0 else 0.45)
            body = body + per(there * dice.normal() * 0.18) * bump * sheen
            if k == 0:  # a foot without glaze
                body = mixed(body, per(tint(dice, 0.4, 0.95, 0.15)), bump * per(there * dice.chance(0.4)))
        return body.clamp(0, 1), edge(away, dice.powers(0.003, 0.02) / size), glaze, away

    def _piece_on(self, dice, around, body, cover, away):
        shadow = edge(away - per(dice.uniform(0, 0.2)), dice.uniform(0.02, 0.15)) * per(dice.uniform(0, 0.6))
        return mixed(around * (1 - shadow), body, cover)

    def _framing(self, dice, largest: float | None, most: float):
        """Plane and radius of a piece: within the frame, or larger than it, up to `largest`."""
        least = min(dice.size) / max(dice.size)
        if largest is None:
            size = least * dice.uniform(0.5, 1.12)
            return Plane(dice, dice.normal(2) * 0.1, most), size
        size = dice.powers(1.1, largest)
        towards = dice.uniform(-math.pi, math.pi)
        off = dice.uniform(0, 0.75) * size * dice.chance(0.7)
        return Plane(dice, torch.stack([towards.cos(), towards.sin()], 1) * off[:, None], most), size

    def _within(self, dice, plane, radius):
        """A point of the surface that lies in the frame, a mark's radius from its border or a little less."""
        room = (self._reach(dice)[None] - radius[:, None] * dice.uniform(0.5, 1, 1)).clamp_min(0.05)
        seen = dice.uniform(-1, 1, 2) * room - plane.middle
        seen = turned(seen[:, None, None], plane.turn)[:, 0, 0]
        along = seen[:, 1] / (plane.flat - plane.near * seen[:, 1]).clamp_min(0.1)
        there = torch.stack([seen[:, 0] * (1 + plane.near * along), along], 1)
        return turned(there[:, None, None], -plane.turn)[:, 0, 0]

    def _radius(self, dice):
        """4 to 45 % of the width, small ones more often."""
        return dice.powers(0.08, 0.9) * (dice.size[1] / max(dice.size))

    # --- kinds ---

    def _piece(self, dice, marked=True):
        plane, size = self._framing(dice, None, 1.0)
        body, cover, glaze, away = self._surface(dice, plane, size, 0.92)
        picture = self._piece_on(dice, self._around(dice), body, cover, away)
        surface = picture
        picture = soiled(dice, picture, plane.points, size, 0.5 if marked else 1.0)
        picture = self._strewn(dice, picture, plane, size, 0.25 if marked else 0.8)
        picture = mixed(surface, picture, (away < 0).float())
        if not marked:
            return picture, None, None
        radius = torch.minimum(self._radius(dice), size * dice.uniform(0.3, 0.75)).clamp_min(0.07)
        off = dice.uniform(0, 1) ** 0.7 * (0.85 * size - radius).clamp_min(0) * dice.chance(0.7)
        towards = dice.uniform(-math.pi, math.pi)
        middle = torch.stack([towards.cos(), towards.sin()], 1) * off[:, None]
        picture, circle = self._inked(dice, picture, plane, middle, radius, glaze)
        return picture, circle, None

    def _bare(self, dice):
        return self._piece(dice, marked=False)

    def _close(self, dice, marked=True):
        plane, size = self._framing(dice, 4.0, 1.1)
        body, _, glaze, _ = self._surface(dice, plane, size, 0.5)
        near = torch.ones_like(size) * 0.9
        radius = self._radius(dice)
        picture = soiled(dice, body, plane.points, near, 0.5 if marked else 1.1)
        picture = self._strewn(dice, picture, plane, near, 0.25 if marked else 0.8)
        if not marked:
            return picture, None, None
        return *self._inked(dice, picture, plane, self._within(dice, plane, radius), radius, glaze), None

    def _bare_close(self, dice):
        return self._close(dice, marked=False)

    def _loose(self, dice):
        """On a card, or straight on wood, cloth or paper."""
        plane = Plane(dice, dice.normal(2) * 0.1, 0.9)
        around = self._around(dice, (2, 2, 2, 2, 0.5, 0.5, 1, 2, 0.3), 3, 0.2)
        radius = torch.minimum(self._radius(dice), torch.tensor(0.7, device=self.device))
        middle = self._within(dice, plane, radius)
        own = turned(plane.points - middle[:, None, None] * 0.9, dice.uniform(-math.pi, math.pi))
        half = radius * dice.uniform(1.05, 2.5)
        away = rounded(own, half, half * dice.uniform(0.75, 1.2), dice.uniform(6, 14))
        card = dice.chance(0.6)
        paint = torch.where(dice.chance(0.6)[:, None] > 0, tint(dice, 0.55, 0.98, 0.12), tint(dice, 0.03, 0.9, 0.35))
        paint = torch.where(card[:, None] > 0, paint, around.mean((2, 3)))
        body = per(paint) * (1 + 0.05 * noise(dice, plane.points, 40) * per(dice.uniform()))
        picture = self._piece_on(dice, around, body, edge(away, torch.full_like(radius, 0.01)) * per(card), away + 9 * (1 - per(card)))
        return *self._inked(dice, picture.clamp(0, 1), plane, middle, radius, paint), None

    def _decorated(self, dice, plane, size):
        body, cover, glaze, away = self._surface(dice, plane, size, 0.8)
        for _ in range(3):
            at, wide = dice.uniform(0.55, 0.99), dice.powers(0.004, 0.05)
            band = edge((away + 1 - per(at)).abs() - per(wide), torch.full_like(wide, 0.005))
            body = mixed(body, per(tint(dice, 0.05, 0.9, 0.45)), band * per(dice.chance(0.45) * dice.uniform(0.4, 1)))
        nought = torch.zeros(dice.count, 2, device=self.device)
        turn, some = dice.uniform(-math.pi, math.pi), torch.ones_like(size)
        for k in range(4):
            drawn, _, _ = self._laid(dice, plane, self.ornaments, nought, size * dice.uniform(0.9, 1.0), turn + dice.normal() * 0.3)
            light = (glaze.mean(1) > 0.45).float()[:, None]
            paint = light * tint(dice, 0.05, 0.6, 0.5) + (1 - light) * tint(dice, 0.5, 0.95, 0.4)
            body = mixed(body, per(paint), drawn * per(some * dice.uniform(0.45, 1)))
            some = dice.chance((0.85, 0.5, 0.3, 0)[k])
        return body, cover, away

    def _top(self, dice):
        plane, size = self._framing(dice, None, 1.2)
        body, cover, away = self._decorated(dice, plane, size)
        return self._piece_on(dice, self._around(dice), body, cover, away), None, None

    def _top_close(self, dice):
        plane, size = self._framing(dice, 2.0, 1.1)
        body, cover, away = self._decorated(dice, plane, size)
        return self._piece_on(dice, self._around(dice), body, cover, away), None, None

    def _paper(self, dice):
        """Printed and written sheets that fill most of the frame."""
        plane, around = Plane(dice, dice.normal(2) * 0.15, 0.9), self._around(dice)
        turn, wide = dice.uniform(-math.pi, math.pi), dice.uniform(0.5, 1.3)
        own = turned(plane.points, turn)
        away = rounded(own, wide, dice.uniform(0.8, 1.8), torch.full_like(wide, 14))
        paint = torch.where(dice.chance(0.8)[:, None] > 0, tint(dice, 0.7, 0.98, 0.08), tint(dice, 0.1, 0.95, 0.3))
        body = per(paint) * (1 + 0.08 * noise(dice, plane.points, 2) * per(dice.uniform()))
        ink = torch.where((paint.mean(1) > 0.45)[:, None], tint(dice, 0.02, 0.4, 0.2), tint(dice, 0.6, 0.98, 0.2))
        for k in range(3):
            aside = torch.stack([dice.uniform(-0.1, 0.1) * k, dice.uniform(-0.5, 0.5) * k], 1)
            text, _, _ = self._laid(dice, plane, self.pages, turned(aside[:, None, None], -turn)[:, 0, 0], wide * dice.uniform(0.9, 1.5), turn)
            body = mixed(body, per(ink), text * per(dice.uniform(0.4, 1) * (1 if k == 0 else dice.chance(0.4))))
        return self._piece_on(dice, around, body.clamp(0, 1), edge(away, torch.full_like(wide, 0.008)), away), None, None

    def _box(self, dice):
        """A printed pack: panels, pictures, large and small print. Nothing is said of where it looks marked."""
        plane, around = Plane(dice, dice.normal(2) * 0.15, 0.9), self._around(dice)
        turn, wide, slim = dice.uniform(-0.5, 0.5), dice.uniform(0.45, 1.1), dice.uniform(0.6, 1.6)
        away = rounded(turned(plane.points, turn), wide, wide * slim, torch.full_like(wide, 16))
        body = per(tint(dice, 0.1, 0.95, 0.5)) * (1 + 0.1 * noise(dice, plane.points, 1.5))
        def place():
            spot = torch.stack([dice.uniform(-0.7, 0.7) * wide, dice.uniform(-0.7, 0.7) * wide * slim], 1)
            return turned(spot[:, None, None], -turn)[:, 0, 0]
        for _ in range(4):
            own = turned(plane.points - place()[:, None, None], turn)
            panel = rounded(own, wide * dice.uniform(0.2, 1), wide * dice.uniform(0.1, 0.6), dice.uniform(2, 16))
            body = mixed(body, per(tint(dice, 0.05, 0.97, 0.5)), edge(panel, torch.full_like(wide, 0.02)) * per(dice.chance(0.8)))
        for some, share in ((self.ornaments, 0.5), (self.marks, 0.9), (self.marks, 0.7), (self.pages, 0.9), (self.pages, 0.6)):
            ink, _, _ = self._laid(dice, plane, some, place(), wide * dice.uniform(0.25, 0.8), turn)
            body = mixed(body, per(tint(dice, 0.02, 0.98, 0.5)), ink * per(dice.chance(share) * dice.uniform(0.6, 1)))
        whole = torch.tensor([[0.0, 0.0, 2.0]], device=self.device).expand(dice.count, 3)
        return self._piece_on(dice, around, body.clamp(0, 1), edge(away, torch.full_like(wide, 0.008)), away), None, whole

    def _things(self, dice):
        """No piece at all: a strong texture, or a heap of things."""
        few = texture(dice, self._tile(dice), (0, 0, 3, 3, 2, 2, 2, 2, 3))
        many = clutter(dice, few, 9, 0.8)
        return mixed(few, many, per(dice.chance(0.6))), None, None


def developed(dice: Dice, picture: torch.Tensor) -> torch.Tensor:
    """As a phone gives it (N, 3, H, W): tone, cast, blur, noise, sharpening, JPEG. Sides are multiples of 8."""
    picture = picture.clamp(0.002, 1) ** per(dice.powers(0.6, 1.7))
    cast = (1 + dice.normal(3) * 0.05) * dice.powers(0.6, 1.15, 1)
    picture = (picture * per(cast)).clamp(0, 1)
    sigma = torch.where(dice.chance(0.15) > 0, dice.uniform(1.5, 4), dice.uniform(0.2, 1.3))
    at = torch.arange(-9, 10, device=dice.device)
    taps = torch.exp(-(at**2) / (2 * sigma[:, None] ** 2))
    taps = (taps / taps.sum(1, keepdim=True))[:, None, None, :]
    n, device = dice.count, dice.device
    soft = F.pad(picture.transpose(0, 1), (9, 9, 9, 9), mode="replicate")
    soft = F.conv2d(F.conv2d(soft, taps, groups=n), taps.transpose(2, 3), groups=n).transpose(0, 1)
    grain = 0.6 * dice.normal(1, *dice.size) + 0.4 * dice.normal(3, *dice.size)
    grain = torch.where(per(dice.chance(0.4)) > 0, 2 * soften(grain), grain)
    noisy = soft + grain * per(dice.uniform(0, 1) ** 3 * 0.07)
    sharp = noisy + per(dice.chance(0.5) * dice.uniform(0, 0.8)) * (noisy - soften(noisy))
    turn = torch.tensor([[0.299, 0.587, 0.114], [-0.168736, -0.331264, 0.5], [0.5, -0.418688, -0.081312]], device=device)
    planes = torch.einsum("ij,njhw->nihw", turn, sharp.clamp(0, 1))
    loss = 0.08 + dice.uniform(0, 1) ** 2 * 1.6
    planes = torch.cat([quantised(planes[:, :1], False, loss), quantised(planes[:, 1:], True, loss)], 1)
    return torch.einsum("ij,njhw->nihw", torch.linalg.inv(turn), planes).clamp(0, 1)


def maps_of(picture: torch.Tensor) -> torch.Tensor:
    """Overviews, in 255 steps, of pictures (N, 3, H, W) larger than they."""
    h, w = picture.shape[2:]
    k = SIDE / max(h, w)
    small = F.interpolate(picture, [round(h * k), round(w * k)], mode="bilinear", antialias=True)
    return (overview(small.clamp(0, 1)) * 255).round().byte()


def main():
    from PIL import Image, ImageDraw

    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--atlas", required=True)
    parser.add_argument("--out", required=True)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--columns", type=int, default=10)
    options = parser.parse_args()
    collage = Collage(np.load(options.atlas), 0, 96, options.seed, torch.device("cpu"))
    sheet = Image.new("RGB", (options.columns * 192, 2 * len(KINDS) * 192))
    for row, kind in enumerate(KINDS):
        size = SIZES[row % 3]
        picture, circles, _ = collage.draw(kind, options.columns, size)
        maps = maps_of(picture)
        for column in range(options.columns):
            image = Image.fromarray((picture[column].permute(1, 2, 0) * 255).byte().numpy())
            x, y, r = circles[column].tolist()
            ImageDraw.Draw(image).ellipse((x - r, y - r, x + r, y + r), outline=(255, 0, 0))
            seen = Image.fromarray(maps[column].permute(1, 2, 0).numpy())
            for k, tile in enumerate((image, seen)):
                tile.thumbnail((190, 190))
                sheet.paste(tile, (column * 192, (2 * row + k) * 192))
    sheet.save(options.out)


if __name__ == "__main__":
    main()
