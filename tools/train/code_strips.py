"""Invents strips of code and photographs them, a whole batch at a time on the device.

A code is a list of glyphs on a canvas of 64 x 512. Eight canvases are laid one below the
other into a square, so that lines have neighbours, and the squares are struck, lit and
photographed: glazes are crazed and specked, light washes parts out, things lie over them.
Then each strip is cut out again, not quite straight and not quite in the
middle, and its ink is measured as the reader does it.
"""

import functools
import random
from dataclasses import dataclass, fields

import numpy as np
import torch
import torch.nn.functional as F

import camera
import code_damage
from code_glyphs import BASE, CAP, CLASSES, DRAWN, PEN
from code_glyphs import HIGH as CELL_HIGH
from code_glyphs import WIDE as CELL_WIDE

# The canvas of one line, the lines of one square, the strip that is read.
LINE_HIGH, LINE_WIDE, STACK = 64, 512, 8
STRIP_HIGH, STRIP_WIDE = 32, 256
MOST = 14
# Squares at full, half and a quarter of the pixels, in 16ths.
SHARES = ((1, 5), (2, 7), (4, 4))
# Ink: quantiles and the least contrast that counts as full ink, in grey levels 0..1.
HIGH_SHARE, FOOT, LEAST = 0.97, 0.5, 0.03
# Half of the window in which the local contrast of a pixel is measured, what is added to the spread
# there (grey levels 0..1), and how many spreads are 1.
NEAR, NEAR_LEAST, NEAR_SPAN = 10, 0.01, 2.5
ROMAN = ("I", "II", "III", "IV", "V", "VI", "VII", "VIII", "IX", "X", "XI", "XII")
SURE = "ABCDEFGHKLMNPRSTUVWXYZ"
# Cells of crazing across a square, and the resolution at which they are worked out.
CELLS, CRAZED, BANK = (5, 16), 256, 44


# --- text ----------------------------------------------------------------------


def code(rng: random.Random, words: list[str]) -> str:
    """A code as potters stamp them, or a scramble, or a word; spaces are gaps."""
    year = rng.randint(0, 99)
    letter = rng.choice(SURE)
    gap = rng.choice(("", " ", " ", "-", ".", "/", " . "))
    kind = rng.random()
    if kind < 0.08:
        return f"{letter}{gap}{year:02d}"
    if kind < 0.15:
        return f"{year:02d}{gap}{rng.randint(1, 4)}" if rng.random() < 0.5 else f"{rng.randint(1, 4)}{gap}{year:02d}"
    if kind < 0.24:
        return f"{rng.choice(ROMAN)}{gap}{year:02d}" if rng.random() < 0.7 else f"{year:02d}{gap}{rng.choice(ROMAN)}"
    if kind < 0.31:
        return letter + rng.choice(("", " ")) + "." * rng.randint(1, 5)
    if kind < 0.38:
        return rng.choice(("", letter, "D", "No")) + str(rng.randint(1, 99999)) + rng.choice(("", "", f"/{letter}"))
    if kind < 0.43:
        return rng.choice(("*", "**", "***", "^", "~", "+")) + gap + rng.choice((letter, f"{year:02d}"))
    if kind < 0.51:
        return f"{letter}{gap}{rng.randint(1, 12)}{gap}{year:02d}"
    if kind < 0.55:
        return f"{rng.choice(('1', '18', '19', '20'))}{year:02d}"
    if kind < 0.59:
        return rng.choice("ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789")
    if kind < 0.69:
        text = rng.choice(words) if rng.random() < 0.6 else f"{rng.choice(words)[:4]} {year:02d}"
        text = text[: rng.randint(3, MOST)].strip()
        text = "".join(c for c in text if c in DRAWN or c == " ").strip()
        return text.upper() if rng.random() < 0.75 else text
    if kind < 0.79:
        some = "IIII1111LJTVX0OQD8B3S5Z2669947UG"
        return "".join(rng.choice(some) for _ in range(rng.randint(1, 7)))
    figures = rng.random()
    pool = CLASSES[:36] if figures < 0.5 else CLASSES[26:36] if figures < 0.8 else CLASSES
    text = "".join(rng.choice(pool) for _ in range(rng.randint(1, 8)))
    if rng.random() < 0.3:
        text = "".join(c + (" " if rng.random() < 0.25 else "") for c in text).strip()
    return text.lower() if rng.random() < 0.06 else text


class Codes(torch.utils.data.IterableDataset):
    """Batches of laid-out codes: glyph tables and labels, without end."""

    def __init__(self, file: dict, split: int, batch: int, seed: int, blends: bool = True):
        self.advances = file["advances"]
        self.sign_advances, self.sign_classes = file["sign_advances"], file["sign_classes"]
        rows = [i for i, f in enumerate(file["fonts"]) if split == 2 or f[1] == split]
        designs: dict[int, list[int]] = {}
        for row in rows:
            designs.setdefault(int(file["fonts"][row][0]), []).append(row)
        # A script design less often than the rest: codes are seldom written.
        self.designs = [(files, 0.35 if file["fonts"][files[0]][2] else 1.0) for files in designs.values()]
        self.words = [str(w) for w in (file["tune_words"] if split == 1 else file["fit_words"])]
        self.batch, self.seed, self.blends = batch, seed, blends
        self.by_class: dict[int, list[int]] = {}
        for i, c in enumerate(self.sign_classes):
            self.by_class.setdefault(int(c), []).append(i)

    def __iter__(self):
        info = torch.utils.data.get_worker_info()
        rng = random.Random(f"codes-{self.seed}-{info.id if info else 0}")
        while True:
            yield self.lay(rng)

    def lay(self, rng: random.Random):
        # Glyph rows: picture (-1 none), x of the pen, y of the baseline, height, width over
        # height, lean, turn; the picture it is blended with (-1 none), how much farther right
        # that one's middle is in its cell, and the share of the first.
        table = np.zeros((self.batch, MOST, 10), np.float32)
        table[..., 0] = table[..., 7] = -1
        ends = np.zeros((self.batch, 2), np.float32)
        # What a line says, what it says as likely or less, and how likely the first is of the two.
        texts = np.zeros((self.batch, 2, MOST), np.int64)
        lengths, chances = np.zeros(self.batch, np.int64), np.ones(self.batch, np.float32)
        for at in range(self.batch):
            said, other, chances[at] = self.line(rng, table[at], ends[at])
            lengths[at] = len(said)
            texts[at, :, : len(said)] = [[CLASSES.index(c) + 1 for c in text] for text in (said, other)]
        return table, ends, texts, lengths, chances

    def line(self, rng: random.Random, rows: np.ndarray, ends: np.ndarray) -> tuple[str, str, float]:
        """Lays one code; gives its classes, those of what it might be as well, how likely it is the first,
        and in `ends` where it begins and stops."""
        if rng.random() < 0.10:
            ends[:] = (rng.uniform(0, 200), rng.uniform(280, LINE_WIDE))
            return "", "", 1.0
        text = code(rng, self.words)
        (files,) = rng.choices([d[0] for d in self.designs], [d[1] for d in self.designs])
        font = rng.choice(files)
        cap = rng.uniform(30, 50)
        stretch = rng.uniform(0.72, 1.3)
        lean = rng.gauss(0, 0.08)
        tracking = rng.choice((0.0, 0.0, rng.uniform(-0.04, 0.4)))
        loose = rng.choice((0.0, 0.0, rng.uniform(0, 1)))
        base = LINE_HIGH / 2 + cap / 2
        x, slot, said, other, chance, first = 0.0, 0, "", "", 1.0, None
        mixed = code_damage.blend(rng, text) if self.blends else None
        for at, letter in enumerate(text):
            if letter == " ":
                x += cap * stretch * rng.uniform(0.25, 1.1)
                continue
            if slot == MOST:
                break
            sign = CLASSES.find(letter)
            mix = mixed if mixed and mixed[0] == at else None
            drawn = not mix and sign in self.by_class and (letter not in DRAWN or rng.random() < 0.6)
            if drawn:
                pick = rng.choice(self.by_class[sign])
                glyph, advance = len(self.advances) * len(DRAWN) + pick, float(self.sign_advances[pick])
            else:
                key = DRAWN.index(letter)
                glyph, advance = font * len(DRAWN) + key, float(self.advances[font][key])
            size = cap * (1 + 0.05 * loose * rng.gauss(0, 1))
            step = max(advance + tracking, 0.12) * size * stretch
            if x + step > LINE_WIDE - 16:
                break
            rows[slot, :7] = (glyph, x, base + 0.06 * loose * cap * rng.gauss(0, 1), size, stretch, lean,
                              0.06 * loose * rng.gauss(0, 1))
            rival = letter
            if mix:
                _, rival, share = mix
                chance = code_damage.chance_of(share)
                rows[slot, 7:] = (font * len(DRAWN) + DRAWN.index(rival),
                                  code_damage.shift_of(self.advances, font, letter, rival), share)
            first = x if first is None else first
            x += step
            said += letter.upper()
            other += rival.upper()
            slot += 1
        shift = rng.uniform(6, max(LINE_WIDE - x - 6, 7))
        rows[:slot, 1] += shift
        ends[:] = (shift + (first or 0.0), shift + x)
        return said, other, chance


# --- drawing -------------------------------------------------------------------


class Atlas:
    """All glyphs and signs on the device, (N, 1, CELL_HIGH, CELL_WIDE) uint8."""

    def __init__(self, file: dict, device: torch.device):
        fonts = file["glyphs"].reshape(-1, 1, CELL_HIGH, CELL_WIDE)
        both = np.concatenate([fonts, file["signs"][:, None]])
        self.tiles = torch.from_numpy(both).to(device)
        self.scale = 1.0 / float(file["levels"])


def draw(atlas: Atlas, table: torch.Tensor, dice: "Dice") -> torch.Tensor:
    """Lines (N, 1, LINE_HIGH, LINE_WIDE) of coverage."""
    n, device = len(table), table.device
    canvas = torch.zeros(n, 1, LINE_HIGH, LINE_WIDE, device=device)
    ys = (torch.arange(LINE_HIGH, device=device) + 0.5)[None, :, None]
    xs = (torch.arange(LINE_WIDE, device=device) + 0.5)[None, None, :]
    for slot in range(table.shape[1]):
        some = (table[:, slot, 0] >= 0).nonzero()[:, 0]
        if not len(some):
            break
        rows = table[some, slot]
        glyph, x0, y0, size, stretch, lean, turn = [c[:, None, None] for c in rows[:, :7].unbind(1)]
        dx, dy = xs - x0, ys - y0
        dx, dy = dx + turn * dy, dy - turn * dx
        zoom = CAP / size
        u = PEN + (dx + lean * dy) * zoom / stretch
        v = BASE + dy * zoom

        def sampled(glyph, u, v):
            grid = torch.stack([u * (2 / CELL_WIDE) - 1, v * (2 / CELL_HIGH) - 1], -1)
            return F.grid_sample(atlas.tiles[glyph.long()].float() * atlas.scale, grid, align_corners=False)

        signs = sampled(glyph[:, 0, 0], u, v)
        mixed = (rows[:, 7] >= 0).nonzero()[:, 0]
        if len(mixed):
            _, shift, share = rows[mixed, 7:].unbind(1)
            rivals = sampled(rows[mixed, 7], u[mixed] + shift[:, None, None], v[mixed])
            signs[mixed] = code_damage.blended(signs[mixed], rivals, share, dice.some(len(mixed)))
        canvas[some] = torch.maximum(canvas[some], signs)
    return canvas


@dataclass
class Take:
    """How squares are photographed; every field is (N,) or (N, k)."""

    blur: torch.Tensor
    defocus: torch.Tensor
    motion: torch.Tensor
    noise: torch.Tensor
    denoise: torch.Tensor
    sharpen: torch.Tensor
    curve: torch.Tensor
    jpeg: torch.Tensor

    def rows(self, index: torch.Tensor) -> "Take":
        return Take(**{f.name: getattr(self, f.name)[index] for f in fields(self)})


class Dice:
    """Random numbers on the device, so many at a time."""

    def __init__(self, count: int, device: torch.device, generator: torch.Generator):
        self.count, self.device, self.generator = count, device, generator

    def some(self, count: int) -> "Dice":
        """The same for another count."""
        return Dice(count, self.device, self.generator)

    def u(self, low: float = 0.0, high: float = 1.0, *more: int) -> torch.Tensor:
        size = (self.count, *more)
        return torch.rand(size, device=self.device, generator=self.generator) * (high - low) + low

    def normal(self, *more: int) -> torch.Tensor:
        return torch.randn((self.count, *more), device=self.device, generator=self.generator)

    def chance(self, share: float) -> torch.Tensor:
        return (self.u() < share).float()

    def field(self, rows: int, columns: int, high: int, wide: int) -> torch.Tensor:
        """Smooth noise (N, 1, high, wide) of about unit variance."""
        return 1.25 * F.interpolate(self.normal(1, rows, columns), size=(high, wide), mode="bilinear",
                                    align_corners=False)


def per(x: torch.Tensor) -> torch.Tensor:
    return x.reshape(len(x), -1, 1, 1)


def strike(ink: torch.Tensor, dice: Dice, hard: torch.Tensor) -> torch.Tensor:
    """Strokes swollen or thin, counters filled, a second strike, a smear, patchy loss; by line."""
    def swell(x, k):
        return F.max_pool2d(F.max_pool2d(x, (1, k), 1, (0, k // 2)), (k, 1), 1, (k // 2, 0))

    gain = per((dice.normal() * 0.5 * (0.3 + hard)).clamp(-1, 1.3))
    thick = ink + (swell(ink, 5) - ink) * gain.clamp(0, 1.3)
    thin = ink + (-swell(-ink, 3) - ink) * (-gain).clamp(0, 1)
    ink = torch.where(gain > 0, thick, thin).clamp(0, 1)
    filled = -swell(-swell(ink, 7), 7)
    patch = (dice.field(3, 24, LINE_HIGH, LINE_WIDE) + 0.6).clamp(0, 1)
    ink = ink + (filled - ink) * patch * per(dice.chance(0.2) * dice.u() * hard)
    two = torch.roll(ink, (2, 3), (2, 3)) * 0.5 + torch.roll(ink, (-1, 5), (2, 3)) * 0.5
    ink = torch.maximum(ink, two * per(dice.chance(0.1) * dice.u(0.3, 1) * hard))
    ink = smear(ink, dice, hard)
    grain = per(dice.u(0.1, 0.8))
    loss = dice.field(3, 12, LINE_HIGH, LINE_WIDE) + 0.8 * dice.field(6, 40, LINE_HIGH, LINE_WIDE)
    loss = (loss + 0.6 * grain * dice.field(28, 224, LINE_HIGH, LINE_WIDE)) / 1.4
    left = per(torch.where(dice.chance(0.4) > 0, 1 - 0.75 * dice.u() * hard, 1 - 0.1 * dice.u()))
    level = torch.logit(left.clamp(0.01, 0.995)) / 1.702
    return ink * torch.sigmoid((level - loss) / (0.08 + 0.4 * grain**2))


def smear(ink: torch.Tensor, dice: Dice, hard: torch.Tensor) -> torch.Tensor:
    """Ink dragged while wet: along the line, or another way, and fainter than the strike."""
    trail = F.avg_pool2d(F.pad(ink, (16, 0, 2, 2)), (5, 17), 1)
    ink = torch.maximum(ink, trail * per(dice.chance(0.12) * dice.u(0.4, 1.6) * hard)).clamp(0, 1)
    some = dice.chance(0.14).nonzero()[:, 0]
    if not len(some):
        return ink
    few = ink[some]
    turn, far = dice.u(0, 6.3)[some], (dice.u(4, 24) * (0.3 + hard))[some]
    total, n = torch.zeros_like(few), 8
    ys = torch.linspace(-1, 1, LINE_HIGH, device=ink.device) * (1 - 1 / LINE_HIGH)
    xs = torch.linspace(-1, 1, LINE_WIDE, device=ink.device) * (1 - 1 / LINE_WIDE)
    gy, gx = torch.meshgrid(ys, xs, indexing="ij")
    for k in range(n):
        dx, dy = (far * (k / n) * f(turn) for f in (torch.cos, torch.sin))
        grid = torch.stack([gx[None] + dx[:, None, None] * (2 / LINE_WIDE),
                            gy[None] + dy[:, None, None] * (2 / LINE_HIGH)], -1)
        total = total + F.grid_sample(few, grid, align_corners=False) * (1 - 0.5 * k / n)
    dragged = torch.maximum(few * per(dice.u(0.5, 1))[some], (total / (0.4 * n)).clamp(0, 1) * per(dice.u(0.4, 1))[some])
    return ink.index_copy(0, some, dragged)


@functools.lru_cache(maxsize=1)
def cells(device: torch.device) -> torch.Tensor:
    """Squares (BANK, 1, CRAZED, CRAZED) of cells: how much farther the second nearest of scattered points
    lies than the nearest (Worley 1996), in widths of the square."""
    out, generator = [], torch.Generator(device).manual_seed(5)
    axis = (torch.arange(CRAZED, device=device) + 0.5) / CRAZED
    for number in range(BANK):
        count = CELLS[0] + number % (CELLS[1] - CELLS[0])
        # One point in each cell of a grid that reaches over the square's edges.
        place = torch.arange(-1, count + 1, device=device)
        grid = torch.stack(torch.meshgrid(place, place, indexing="ij"), -1).float().reshape(-1, 2)
        points = (grid + torch.rand(grid.shape, device=device, generator=generator)) / count
        away = points[:, :, None] - axis[None, None]
        far = (away[:, 0, :, None] ** 2 + away[:, 1, None, :] ** 2).sqrt()
        two = far.topk(2, dim=0, largest=False)[0]
        out.append(two[1] - two[0])
    return torch.stack(out)[:, None]


def crazing(dice: Dice, side: int) -> torch.Tensor:
    """Fine cracks of a glaze (N, 1, side, side), 0 to 1."""
    some = cells(dice.device)[(dice.u() * BANK).long()]
    some = torch.where(per(dice.chance(0.5)) > 0, some.flip(2), some)
    some = torch.where(per(dice.chance(0.5)) > 0, some.transpose(2, 3), some)
    gap = F.interpolate(some, size=(side, side), mode="bilinear", align_corners=False) * side
    width = per(dice.u(0.7, 2.2))
    return (width + 0.5 - gap / 2).clamp(0, 1) * (0.6 + 0.5 * dice.field(8, 8, side, side)).clamp(0, 1)


def covered(lit: torch.Tensor, dice: Dice) -> torch.Tensor:
    """Light of squares with washed-out parts, and with something over a part of them."""
    side = lit.shape[-1]
    glare = (dice.field(4, 4, side, side) - per(dice.u(0.3, 1.5))) / per(dice.u(0.02, 0.5))
    lit = lit + glare.clamp(0, 1) * per(dice.chance(0.14) * dice.u(0.3, 3))
    edge = ((dice.field(3, 3, side, side) - per(dice.u(0.5, 1.6))) / 0.02).clamp(0, 1) * per(dice.chance(0.12))
    thing = torch.stack([dice.u(0.02, 0.9), dice.u(0.02, 0.8), dice.u(0.02, 0.7)], 1)
    return lit * (1 - edge) + per(thing) * edge


def clutter(ink: torch.Tensor, dice: Dice) -> torch.Tensor:
    """Rules, arcs and scratches across some lines."""
    xs = torch.linspace(-1, 1, LINE_WIDE, device=ink.device)[None, None, None]
    ys = torch.arange(LINE_HIGH, device=ink.device)[None, None, :, None].float()
    for share, steep in ((0.14, 3.0), (0.10, 60.0)):
        middle = per(torch.where(dice.chance(0.75) > 0, dice.u(-4, 8) + 56 * dice.chance(0.5), dice.u(8, 56)))
        bend = per(dice.normal() * 8) * xs**2 + per(dice.normal() * steep) * xs
        width = per(dice.u(0.6, 3.0))
        line = (width + 0.5 - (ys - middle - bend).abs()).clamp(0, 1) * per(dice.chance(share) * dice.u(0.3, 1))
        ink = torch.maximum(ink, line)
    return ink


def light(ink: torch.Tensor, dice: Dice) -> torch.Tensor:
    """Light (N, 3, H, W) of squares of ink: printed dark or light, faint, or impressed."""
    u, chance = dice.u, dice.chance
    dark = chance(0.18)[:, None]
    white = u(0.45, 0.85, 1) * torch.stack([u(0.95, 1), u(0.9, 1), u(0.7, 1)], 1)
    deep = u(0.01, 0.12, 3)
    body = torch.where(dark > 0, deep, white)
    strong = torch.where(dark > 0, u(0.3, 0.9, 1) * u(0.6, 1, 3), u(0.005, 0.2, 1) * u(0.3, 1, 3))
    faint = body * (0.55 + 0.3 * u(0, 1, 1))
    colour = torch.where(chance(0.12)[:, None] > 0, faint, strong)
    relief = per(chance(0.14) * u(0.15, 0.9))
    cover = per(torch.where(chance(0.3) > 0, u(0.3, 0.9), u(0.75, 1.0))) * (1 - relief.clamp(0, 1).ceil())
    soft = camera.soften(ink, 1)
    falls = chance(0.5)
    shade = torch.where(per(falls) > 0, soft - torch.roll(soft, (2, 2), (2, 3)), soft - torch.roll(soft, (-2, 3), (2, 3)))
    shade = shade * per(1 - 2 * chance(0.5))
    side = ink.shape[-1]
    slow = dice.field(4, 4, side, side) * per(u(0, 0.1)) + dice.field(60, 60, side, side) * per(u(0, 0.025))
    glaze = per(body) * (1 + slow).clamp_min(0.05)
    glaze = glaze * (1 - crazing(dice, side) * per(chance(0.22) * u(0.08, 0.6)))
    specks = (dice.field(160, 160, side, side) - per(u(2.0, 3.2))).clamp(0, 0.5) * 2
    glaze = glaze * (1 - specks * per(chance(0.15) * u(0.2, 0.9)))
    lit = glaze * (1 - cover * ink) + per(colour) * cover * ink
    lit = lit * (1 + relief * 0.8 * shade)
    lit = covered(lit, dice)
    return lit.clamp_min(0) * per(torch.where(chance(0.15) > 0, u(0.12, 0.5), u(0.55, 1.15)))


def develop(lit: torch.Tensor, dice: Dice, hard: torch.Tensor) -> torch.Tensor:
    """Grey 0..1 (N, 1, H, W) of a photograph, parts of the batch at fewer pixels."""
    u, chance = dice.u, dice.chance
    take = Take(
        blur=u(0.3, 0.9) + chance(0.35) * 2.2 * u() * hard + chance(0.22) * 6 * u() * hard,
        defocus=chance(0.25) * 4.5 * u() * hard,
        motion=dice.normal(2) * 3.5 * (chance(0.15) * hard)[:, None],
        noise=0.002 + 0.02 * u() ** 3 + chance(0.14) * 0.04 * u() * hard + chance(0.14) * 0.12 * u() ** 1.5 * hard,
        denoise=u(), sharpen=u() ** 2 * 1.1,
        curve=u(-0.1, 0.5), jpeg=u() ** 2)
    n, _, side, _ = lit.shape
    parts, start = [], 0
    for shrink, share in SHARES:
        stop = n if shrink == SHARES[-1][0] else start + n * share // 16
        index = torch.arange(start, stop, device=lit.device)
        some = F.avg_pool2d(lit[start:stop], shrink) if shrink > 1 else lit[start:stop]
        rows = take.rows(index)
        # What is small already is not blurred by as many pixels again.
        for name in ("blur", "defocus", "motion"):
            setattr(rows, name, getattr(rows, name) / (1.0, 1.3, 2.2)[shrink // 2])
        few = camera.shot(camera.lens(some, rows), rows, dice)
        few = 0.299 * few[:, :1] + 0.587 * few[:, 1:2] + 0.114 * few[:, 2:]
        few = (few * 255).round() / 255
        if shrink > 1:
            few = F.interpolate(few, size=(side, side), mode="bilinear", align_corners=False)
        parts.append(few)
        start = stop
    return torch.cat(parts)


def cut(squares: torch.Tensor, ends: torch.Tensor, dice: Dice) -> tuple[torch.Tensor, torch.Tensor]:
    """Strips (N, 1, STRIP_HIGH, STRIP_WIDE) out of squares, and where their codes begin and end (N, 2)."""
    line = torch.arange(dice.count, device=squares.device) % STACK
    pictures = squares.repeat_interleave(STACK, 0)
    return place(pictures, (line + 0.5) * LINE_HIGH, ends.mean(1), ends[:, 1] - ends[:, 0], dice)


def place(pictures: torch.Tensor, middle_y: torch.Tensor, middle_x: torch.Tensor, wide: torch.Tensor, dice: Dice,
          stretch: torch.Tensor | None = None) -> tuple[torch.Tensor, torch.Tensor]:
    """Strips around codes of a width and a middle in pictures of twice a strip's size, a little askew,
    and where their codes begin and end (N, 2)."""
    device = pictures.device
    high, across = pictures.shape[-2:]
    ys = (torch.arange(STRIP_HIGH, device=device) + 0.5)[None, :, None] - STRIP_HIGH / 2
    xs = (torch.arange(STRIP_WIDE, device=device) + 0.5)[None, None, :]
    zoom = 2 * torch.exp(dice.normal() * 0.12).clamp(0.75, 1.35)
    zoom = torch.maximum(zoom, wide / (STRIP_WIDE - 6))
    long = zoom if stretch is None else torch.maximum(zoom * stretch, wide / (STRIP_WIDE - 6))
    half = wide / (2 * long)
    centre = torch.minimum(torch.maximum(middle_x / 2, half + 2), STRIP_WIDE - half - 2)
    turn = (dice.normal() * (0.012 + 0.03 * dice.chance(0.2)))[:, None, None]
    bend = (dice.normal() * 2.5)[:, None, None]
    # Lines are found to a tenth of their height; corners carried over are seldom as exact.
    up = (dice.normal() * (3.0 + 5.0 * dice.chance(0.2)))[:, None, None]
    middle_y, middle_x = middle_y[:, None, None], middle_x[:, None, None]
    z, lz = zoom[:, None, None], long[:, None, None]
    # No two strikes have quite the same letters.
    loose = dice.u(0, 1.6)[:, None, None]
    warp_x = dice.field(4, 24, STRIP_HIGH, STRIP_WIDE)[:, 0] * loose
    warp_y = dice.field(4, 24, STRIP_HIGH, STRIP_WIDE)[:, 0] * loose
    total = 0
    for dx in (-0.25, 0.25):
        for dy in (-0.25, 0.25):
            x, y = xs + dx - centre[:, None, None], ys + dy
            px = middle_x + lz * (x - turn * y) + warp_x
            py = middle_y + up + z * (y + turn * x) + bend * (x / (STRIP_WIDE / 2)) ** 2 + warp_y
            grid = torch.stack([px * (2 / across) - 1, py * (2 / high) - 1], -1)
            total = total + F.grid_sample(pictures, grid, align_corners=False, padding_mode="border")
    return total / 4, torch.stack([centre - half, centre + half], 1)


# --- ink of a strip --------------------------------------------------------------


def quantile(values: torch.Tensor, count: torch.Tensor, share: float) -> torch.Tensor:
    """Floor-indexed quantile of the first `count` of sorted rows (N, M)."""
    index = (share * (count - 1)).floor().long()
    return values.gather(1, index[:, None])[:, 0]


def plane(grey: torch.Tensor, weight: torch.Tensor) -> torch.Tensor:
    """The residual of grey (N, 1, H, W) from its weighted plane in x and y, -1..1 each."""
    n, _, high, wide = grey.shape
    y = ((torch.arange(high, device=grey.device) + 0.5) * (2 / high) - 1)[:, None].expand(high, wide)
    x = ((torch.arange(wide, device=grey.device) + 0.5) * (2 / wide) - 1)[None].expand(high, wide)
    basis = torch.stack([torch.ones_like(x), x, y], -1).reshape(-1, 3)
    w, g = weight.reshape(n, -1), grey.reshape(n, -1)
    normal = torch.einsum("nm,mi,mj->nij", w, basis, basis)
    normal = normal + 1e-3 * torch.eye(3, device=grey.device)
    right = torch.einsum("nm,mi->ni", w * g, basis)
    flat = torch.linalg.solve(normal, right)
    return (g - flat @ basis.T).reshape(grey.shape)


def strip_ink(grey: torch.Tensor, keep: torch.Tensor) -> torch.Tensor:
    """Ink 0..1 of strips of grey 0..1 (N, 1, H, W) where `keep` (same shape) is 1, else 0."""
    n = len(grey)
    count = keep.reshape(n, -1).sum(1)

    def ranked(values):
        return values.masked_fill(keep == 0, float("inf")).reshape(n, -1).sort(1)[0]

    distance = plane(grey, keep).abs()
    middle = per(quantile(ranked(distance), count, 0.5).clamp_min(1e-3))
    distance = plane(grey, keep / (1 + (distance / (2 * middle)) ** 2)).abs()
    order = ranked(distance)
    foot = per(FOOT * quantile(order, count, 0.5))
    top = per(quantile(order, count, HIGH_SHARE)).clamp_min(LEAST)
    return ((distance - foot) / (top - foot).clamp_min(LEAST / 2)).clamp(0, 1) * keep


def strip_near(grey: torch.Tensor, keep: torch.Tensor) -> torch.Tensor:
    """How much each pixel of strips of grey differs from what is near it, -1..1, darker below 0: unlike
    the ink of `strip_ink` it knows no strip as a whole, so light that falls on a part does not matter."""
    def mean(values):
        return F.avg_pool2d(F.pad(values * keep, (NEAR,) * 4), 2 * NEAR + 1, 1)

    share = F.avg_pool2d(F.pad(keep, (NEAR,) * 4), 2 * NEAR + 1, 1).clamp_min(1e-6)
    centre = mean(grey) / share
    spread = ((mean(grey * grey) / share - centre * centre).clamp_min(0) + NEAR_LEAST**2).sqrt()
    return ((grey - centre) / (NEAR_SPAN * spread)).clamp(-1, 1) * keep


def views(grey: torch.Tensor, keep: torch.Tensor) -> torch.Tensor:
    """What the reader sees of strips of grey: (N, 2, H, W)."""
    return torch.cat([strip_ink(grey, keep), strip_near(grey, keep)], 1)


@torch.no_grad()
def strips(atlas: Atlas, table: torch.Tensor, ends: torch.Tensor, generator: torch.Generator,
           hardness: float = 1.0) -> tuple[torch.Tensor, torch.Tensor]:
    """Views of strips (N, 2, STRIP_HIGH, STRIP_WIDE) and their grey; `ends` are where codes begin and stop."""
    n, device = len(table), table.device
    lines, squares = Dice(n, device, generator), Dice(n // STACK, device, generator)
    hard = hardness * squares.u() ** 0.7
    by_line = hard.repeat_interleave(STACK)
    struck = strike(draw(atlas, table, lines), lines, by_line)
    ink = clutter(code_damage.damage(struck, ends, lines, hardness), lines)
    side = STACK * LINE_HIGH
    grey = develop(light(ink.reshape(n // STACK, 1, side, LINE_WIDE), squares), squares, hard)
    grey, ends = cut(grey, ends, lines)
    return seen(grey, ends, lines)


def seen(grey: torch.Tensor, ends: torch.Tensor, dice: Dice) -> tuple[torch.Tensor, torch.Tensor]:
    """Views of strips of grey whose codes begin and end so, and the grey."""
    # The finder keeps a margin around the line; what lies outside was not cut.
    xs = (torch.arange(STRIP_WIDE, device=grey.device) + 0.5)[None]
    margin = dice.u(4, 24)[:, None]
    inside = (xs >= ends[:, :1] - margin) & (xs <= ends[:, 1:] + margin)
    whole = dice.chance(0.35)[:, None] > 0
    keep = (inside | whole).float()[:, None, None].expand_as(grey)
    return views(grey, keep), grey
