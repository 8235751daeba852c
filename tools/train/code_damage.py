"""Signs that might be others: blends of look-alikes, and local loss and growth of ink.

A blend is a sign of which, wherever it differs from a look-alike, only a part of the ink is left, and of
the look-alike's the other part is laid. Nobody can tell which of the two was struck; so both are its label,
by the share that is left, and what the reader learns to say of such a sign is how likely it is either.
Damage takes ink away or lays some at one or two places of a line: scratches, worn patches, a sign that
fades to one side, specks, a bridge between strokes, a counter that filled. There the label stays: how often
a damaged `8` and how often a whole `3` looks so is what the reader learns.
"""

import random

import torch
import torch.nn.functional as F

from code_glyphs import CAP, DRAWN

# Signs that differ in a stroke or two.
ALIKE = ("38", "68", "08", "17", "49", "I1", "0O", "0D", "OQ", "OD", "5S", "8B", "6G", "56", "35", "89", "09", "06",
         "2Z", "27", "39", "3B", "PR", "BR", "EF", "CG", "CO", "IL", "IT", "1L", "UV", "MN", "VY", "KX", "14", "LE",
         "FP", "HN", "IJ", "CL", "7T", "VN", "DP", "S8", "S6")
RIVALS: dict[str, str] = {}
for _a, _b in ALIKE:
    RIVALS[_a] = RIVALS.get(_a, "") + _b
    RIVALS[_b] = RIVALS.get(_b, "") + _a
# Share of lines with a blend.
BLENDED = 0.3
# Its shares of ink.
SHARES = (0.1, 0.9)
# Shares of ink between which the odds go from none to all: what is left of a worn stroke, or grey of dirt,
# says little below and much above.
EVEN = (0.12, 0.88)
# How uneven ink is left over a blend: its spread about the share, and how often it comes in grains.
UNEVEN, GRAINY = 0.22, 0.25
# Chance of a first and a second damaged place on a line, and how often it is of each kind.
PLACES = (0.28, 0.3)
SCRATCH, PATCH, FADE, SPECK, BRIDGE, FILL = range(6)
KINDS = (0.24, 0.30, 0.16, 0.10, 0.10, 0.10)


def chance_of(share: float) -> float:
    """How likely a sign is the one of which so much ink is left where it differs from its rival."""
    return min(1.0, max(0.0, (share - EVEN[0]) / (EVEN[1] - EVEN[0])))


def blend(rng: random.Random, text: str) -> tuple[int, str, float] | None:
    """Place of a sign that is to be a blend, its rival, and the share of the sign."""
    if rng.random() >= BLENDED:
        return None
    places = [i for i, letter in enumerate(text) if letter in RIVALS]
    if not places:
        return None
    at = rng.choice(places)
    return at, rng.choice(RIVALS[text[at]]), rng.uniform(*SHARES)


def shift_of(advances, font: int, sign: str, rival: str) -> float:
    """How much farther right in its cell the rival's middle is, in the cell's pixels."""
    return float(advances[font][DRAWN.index(rival)] - advances[font][DRAWN.index(sign)]) * CAP / 2


def blended(ours: torch.Tensor, theirs: torch.Tensor, share: torch.Tensor, dice) -> torch.Tensor:
    """Ink (N, 1, H, W) of two signs laid over one another, so much of the first (N,)."""
    def each(values):
        return values.reshape(-1, 1, 1, 1)

    high, wide = ours.shape[-2:]
    field = dice.field(8, 64, high, wide)
    left = (each(share) + UNEVEN * each(dice.u()) * field).clamp(0, 1)
    grains = torch.sigmoid((left - torch.sigmoid(1.2 * dice.field(24, 192, high, wide))) * 9)
    left = torch.where(each(dice.chance(GRAINY)) > 0, grains, left)
    return ours * left + theirs * (1 - left)


def capsule(like: torch.Tensor, x: torch.Tensor, y: torch.Tensor, turn: torch.Tensor, half: torch.Tensor,
            radius: torch.Tensor, soft: torch.Tensor) -> torch.Tensor:
    """Thick segments (N, 1, H, W), 1 inside: middle, direction, half length, radius and width of the edge."""
    def each(values):
        return values.reshape(-1, 1, 1, 1)

    high, wide = like.shape[-2:]
    ys = (torch.arange(high, device=like.device) + 0.5).reshape(1, 1, -1, 1) - each(y)
    xs = (torch.arange(wide, device=like.device) + 0.5).reshape(1, 1, 1, -1) - each(x)
    c, s, h = each(turn.cos()), each(turn.sin()), each(half)
    along = xs * c + ys * s
    over = along - torch.minimum(torch.maximum(along, -h), h)
    away = (over**2 + (ys * c - xs * s) ** 2).sqrt()
    return ((each(radius) - away) / each(soft) + 0.5).clamp(0, 1)


def damage(ink: torch.Tensor, ends: torch.Tensor, dice, hardness: float = 1.0) -> torch.Tensor:
    """Lines of ink (N, 1, H, W) whose codes begin and end so, some damaged at a place or two, the more the harder."""
    high = ink.shape[-2]
    edges = torch.tensor(KINDS, device=ink.device).cumsum(0)
    hit = dice.chance(PLACES[0] * hardness)
    for number in range(len(PLACES)):
        some = hit.nonzero()[:, 0]
        hit = hit * dice.chance(PLACES[1])
        kind = torch.bucketize(dice.u(), edges).clamp_max(len(KINDS) - 1)
        x = ends[:, 0] + dice.u() * (ends[:, 1] - ends[:, 0])
        y, turn = dice.u(0.2, 0.8) * high, dice.u(0, 6.3)
        half, radius, soft = dice.u(), dice.u(), dice.u()

        def by_kind(*values):
            return torch.stack(values)[kind, torch.arange(len(kind), device=ink.device)]

        half = by_kind(12 + 50 * half, 8 * half, 4 + 10 * half, 3 * half, 5 + 9 * half, 4 * half)
        radius = by_kind(0.8 + 2.2 * radius**2, 4 + 9 * radius, 8 + 12 * radius, 1.5 + 3.5 * radius, 1.5 + 2.5 * radius,
                         8 + 8 * radius)
        soft = by_kind(1 + soft, 1 + 6 * soft, 14 + 16 * soft, 1 + 2 * soft, 1 + 2 * soft, 3 + 4 * soft)
        strong = dice.u(0.25, 1.0).sqrt()
        if not len(some):
            break
        few = ink[some]
        shape = capsule(few, *(v[some] for v in (x, y, turn, half, radius, soft)))
        shape = shape * strong[some].reshape(-1, 1, 1, 1)
        of = kind[some].reshape(-1, 1, 1, 1)
        closed = -F.max_pool2d(-F.max_pool2d(few, 11, 1, 5), 11, 1, 5)
        laid = torch.where(of == FILL, few + (closed - few).clamp_min(0) * shape, torch.maximum(few, shape))
        ink = ink.index_copy(0, some, torch.where(of <= FADE, few * (1 - shape), laid))
    return ink
