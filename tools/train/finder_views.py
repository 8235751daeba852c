"""What the finder is trained on: kiln's lots and collages as overview maps, and random views of them.

A set of views is maps (N, 3, SQUARE, SQUARE) in 255 steps, marks (N, 3; x, y, radius in map pixels, radius
0 where there is none), circles (N, 2, 3) of which nothing is said, and the scene of each (N,).
"""

import concurrent.futures
import json
import math
import pathlib
import random

import numpy as np
import torch
import torch.nn.functional as F

from collage import KINDS, SIZES, Collage, developed, maps_of
from textures import Dice
from overview import SIDE, SQUARE, overview

READERS = 12
TOGETHER = 64
MARKED = ("known", "unknown", "unknown-sibling")
BARE = ("bare", "cut-base")
# Longer side of photos that are developed once more before they become maps.
LARGER = 384


def circle(quad):
    """Centre and radius around a quad's corners (about the corners' box, as the tool does)."""
    q = np.asarray(quad)
    centre = (q[:, 0].min() + q[:, 0].max()) / 2, (q[:, 1].min() + q[:, 1].max()) / 2
    return *centre, float(np.hypot(q[:, 0] - centre[0], q[:, 1] - centre[1]).max())


def scene_of(kind: str) -> int:
    """Index in SCENES of a kind of kiln's."""
    return 0 if kind in MARKED else 1 if kind in BARE else 2


def photos_of(lots, limit=None):
    """Paths and truths; marked photos whose mark lies outside are left out."""
    for lot in map(pathlib.Path, lots):
        for line in (lot / "truth.jsonl").read_text().splitlines()[:limit]:
            truth = json.loads(line)
            if truth.get("quad") is not None or truth["kind"] not in MARKED:
                yield lot / "photos" / truth["file"], truth


def load(lots, device, limit=None, collage: Collage | None = None):
    """A lot's photos as they are, and their truths. Given a collage, each photo is there once more as
    another phone may give it, and bare bases once more with a mark of the collage's struck on them."""
    import torchvision.io

    def decoded(item):
        raw = torchvision.io.decode_jpeg(torchvision.io.read_file(str(item[0])))
        picture = raw.to(device)[None].float() / 255
        h, w = picture.shape[2:]
        k, larger = SIDE / max(h, w), LARGER / max(h, w)
        sizes = [[max(1, round(h * k)), max(1, round(w * k))], [8 * round(h * larger / 8), 8 * round(w * larger / 8)]]
        return [(F.interpolate(picture, s, mode="bilinear", antialias=True).clamp(0, 1) * 255).round().byte() for s in sizes]

    wanted = list(photos_of(lots, limit))
    with concurrent.futures.ThreadPoolExecutor(READERS) as pool:
        # A few at a time: whole photos are large.
        runs = [wanted[i : i + TOGETHER] for i in range(0, len(wanted), TOGETHER)]
        small = [s for run in runs for s in pool.map(decoded, run)]
    maps, marks, silent, truths = [], [], [], []
    shapes = {}
    for i, (plain, _) in enumerate(small):
        shapes.setdefault(tuple(plain.shape[2:]), []).append(i)
    for members in shapes.values():
        for at in range(0, len(members), TOGETHER):
            some = members[at : at + TOGETHER]
            facts = [wanted[i][1] for i in some]
            plain = torch.cat([small[i][0] for i in some]).float() / 255
            views = [(maps_rounded(plain), *circles_of(facts, device), facts)]
            if collage is not None:
                views += again(torch.cat([small[i][1] for i in some]).float() / 255, facts, views[0], collage)
            for m, c, s, f in views:
                maps.append(m)
                marks.append(c)
                silent.append(s)
                truths += f
    maps, marks, silent = torch.cat(maps), torch.cat(marks), torch.cat(silent)
    scenes = torch.tensor([scene_of(t["kind"]) for t in truths], device=device)
    return maps, marks, silent, scenes, truths


def maps_rounded(pictures):
    return (overview(pictures) * 255).round().byte()


def circles_of(facts, device):
    marks, silent = [], []
    for truth in facts:
        k = SIDE / max(truth["width"], truth["height"])
        marks.append([v * k for v in circle(truth["quad"])] if truth.get("quad") else [0, 0, 0])
        others = [[v * k for v in circle(s["quad"])] for s in truth["second"][:2]]
        silent.append((others + [[0, 0, 0]] * 2)[:2])
    return torch.tensor(marks, dtype=torch.float32, device=device), torch.tensor(silent, dtype=torch.float32, device=device)


def again(pictures, facts, plain, collage):
    """The photos developed once more, and the bare ones with a mark."""
    device, (n, _, h, w) = pictures.device, pictures.shape
    dice = Dice(n, (h, w), device, collage.generator)
    out = [(maps_of(developed(dice, pictures)), *plain[1:])]
    bare = [i for i, t in enumerate(facts) if t["kind"] in BARE]
    if bare:
        struck, marks = collage.stamped(pictures[bare])
        seen = maps_of(developed(Dice(len(bare), (h, w), device, collage.generator), struck))
        facts = [{"kind": "known", "condition": "stamped"}] * len(bare)
        out.append((seen, marks * (SIDE / LARGER), plain[2][bare], facts))
    return out


def collages(collage: Collage, kind: str, count: int, size):
    """Views of one kind: maps, marks, silent circles, scenes."""
    picture, mark, silent = collage.draw(kind, count, size)
    k = SIDE / max(size)
    silent = torch.stack([silent * k, torch.zeros_like(silent)], 1)
    return maps_of(picture), mark * k, silent, torch.full((count,), KINDS[kind], device=mark.device)


class Store:
    """Collages of each kind, drawn once and replaced little by little."""

    def __init__(self, collage: Collage, kept: dict[str, int], together: int, seed: int):
        self.collage, self.together, self.rng = collage, together, random.Random(seed)
        self.kept = {kind: max(together, n) for kind, n in kept.items()}
        self.views, self.next = {}, dict.fromkeys(kept, 0)
        for kind, most in self.kept.items():
            parts = [collages(collage, kind, together, self.rng.choice(SIZES)) for _ in range(most // together)]
            self.views[kind] = [torch.cat(p) for p in zip(*parts)]
            self.kept[kind] = len(self.views[kind][0])

    def renew(self):
        """Draws some of one kind anew."""
        kind = self.rng.choices(list(self.kept), list(self.kept.values()))[0]
        new = collages(self.collage, kind, self.together, self.rng.choice(SIZES))
        at = self.next[kind]
        for old, part in zip(self.views[kind], new):
            old[at : at + self.together] = part
        self.next[kind] = (at + self.together) % self.kept[kind]

    def take(self, counts: dict[str, int]):
        """A batch with so many of each kind."""
        parts = []
        for kind, n in counts.items():
            views = self.views[kind]
            pick = torch.randint(len(views[0]), (n,), device=views[0].device)
            parts.append([v[pick] for v in views])
        return [torch.cat(p) for p in zip(*parts)]


def augmented(maps, marks, others, device):
    """A batch of maps and circles under one random similarity each, dimmed, blurred, partly hidden."""
    n = len(maps)
    u = lambda a, b, *s: a + (b - a) * torch.rand(n, *s, device=device)  # noqa: E731
    angle, scale = u(-math.pi, math.pi), torch.exp(u(-0.45, 0.45))
    flip = torch.where(torch.rand(n, device=device) < 0.5, -1.0, 1.0)
    shift = u(-0.16, 0.16, 2)
    # Some are only turned by quarters, so that their pixels stay as sharp as a photo's.
    plain = torch.rand(n, device=device) < 0.3
    angle = torch.where(plain, (angle * (2 / math.pi)).round() * (math.pi / 2), angle)
    scale = torch.where(plain, torch.ones_like(scale), scale)
    shift = shift * (~plain)[:, None]
    c, s = angle.cos() / scale, angle.sin() / scale
    # Output place (-1..1) to input place, about the photo's middle.
    middle = (maps[:, 2:3].sum((2, 3)) > 0).float()  # keeps shapes together
    width = maps[:, 2].amax(1).sum(1) / SQUARE
    height = maps[:, 2].amax(2).sum(1) / SQUARE
    mx, my = width - 1, height - 1
    matrix = torch.stack([torch.stack([c * flip, -s, mx - shift[:, 0]], 1), torch.stack([s * flip, c, my - shift[:, 1]], 1)], 1)
    grid = F.affine_grid(matrix, list(maps.shape), align_corners=False)
    out = F.grid_sample(maps, grid, align_corners=False)
    inverse = torch.linalg.inv(matrix[:, :, :2])

    def moved(circles):
        place = circles[..., :2] / (SQUARE / 2) - 1
        back = torch.einsum("nij,n...j->n...i", inverse, place - matrix[:, :, 2].reshape(n, *([1] * (circles.dim() - 2)), 2))
        radius = circles[..., 2] * scale.reshape(n, *([1] * (circles.dim() - 2)))
        return torch.cat([(back + 1) * (SQUARE / 2), radius[..., None]], -1)

    gain = torch.exp(u(-0.6, 0.5, 2, 1, 1))
    ink = torch.atanh(out[:, :2].clamp(0, 0.995)) * gain
    # Colour is often left out: it must not be needed.
    ink = ink * (torch.rand(n, 2, 1, 1, device=device) > torch.tensor([0.0, 0.25], device=device).reshape(1, 2, 1, 1)).float()
    sigma = u(0.0, 1.6)
    taps = torch.exp(-(torch.arange(-4, 5, device=device) ** 2) / (2 * sigma[:, None].clamp_min(0.2) ** 2))
    taps = taps / taps.sum(1, keepdim=True)
    blurry = F.conv2d(ink.transpose(0, 1), taps[:, None, None, :], padding=(0, 4), groups=n)
    blurry = F.conv2d(blurry, taps[:, None, :, None], padding=(4, 0), groups=n).transpose(0, 1)
    some = (torch.rand(n, 1, 1, 1, device=device) < 0.4).float()
    ink = ink + some * (blurry - ink)
    ink = (ink + u(0, 0.12, 1, 1, 1) * torch.randn_like(ink)).abs()
    marks = moved(marks)
    for _ in range(2):
        x, y, r = u(0, SQUARE), u(0, SQUARE), u(0, 26)
        # A mark is never hidden whole.
        r = r * ~(((marks[:, 0] - x).abs() < r) & ((marks[:, 1] - y).abs() < r) & (r > 0.5 * marks[:, 2]))
        at = torch.arange(SQUARE, device=device)
        hole = (at[None, None, :] - x[:, None, None]).abs().lt(r[:, None, None]) & (at[None, :, None] - y[:, None, None]).abs().lt(r[:, None, None])
        ink = ink * (~hole[:, None]).float()
    inside = (out[:, 2:] > 0.5).float() * middle[:, :, None, None]
    return torch.cat([torch.tanh(ink) * inside, inside], 1), marks, moved(others)
