"""The design of a family: emblem and maker's words, which siblings share, and a line's name that tells them apart."""

import dataclasses

import numpy as np

from . import emblem, words
from .sheet import HALF, INK, NONE, Sheet, bezier, faces, oval, pick_face

# How the mark is put on.
PRINTED, OVERGLAZE, STAMPED, IMPRESSED = "underglaze", "overglaze", "stamped", "impressed"
# Transmittance of each ink at full strength for red, green and blue light, estimated by eye for glazed colours.
INKS = {
    "black": (0.025, 0.025, 0.03),
    "green": (0.05, 0.26, 0.13),
    "blue": (0.05, 0.10, 0.42),
    "brown": (0.26, 0.12, 0.06),
    "red": (0.60, 0.09, 0.07),
    "gold": (0.62, 0.42, 0.14),
}


@dataclasses.dataclass(frozen=True)
class Family:
    maker: str
    line: str
    # Sets emblem, faces and layout: the same for all siblings.
    group: int
    seed: int
    ink: str
    means: str
    # A word or number below that siblings share.
    small_words: str

    @property
    def key(self) -> str:
        return f"{words.slug(self.maker)}/{words.slug(self.line)}"


@dataclasses.dataclass(frozen=True)
class Drawing:
    # Coverage, 0 to 1, cut to the ink.
    mask: np.ndarray
    # What tells the family from its siblings: left, top, right, bottom as shares of the mask.
    tell: tuple[float, float, float, float]


class Look:
    """What siblings share besides the emblem."""

    def __init__(self, family: Family) -> None:
        rng = np.random.default_rng([family.seed, family.group, 5])
        self.rng = rng
        self.face = pick_face(rng, "serif", "capitals", "slab", "sans", "blackletter")
        self.line_face = pick_face(
            rng, *(("script",) if rng.random() < 0.45 else ("serif", "slab", "sans", "capitals"))
        )
        self.small_face = pick_face(rng, "serif", "sans", "slab")
        self.emblem = int(rng.integers(1 << 30))
        self.layout = LAYOUTS[rng.integers(len(LAYOUTS))]
        if family.means == IMPRESSED:
            self.layout = IMPRESSED_LAYOUTS[rng.integers(len(IMPRESSED_LAYOUTS))]
        broken = self.face in faces("blackletter")
        if broken and self.layout in (roundel, garter, arch, blocks, tablet):
            # Words of broken capitals cannot be read.
            self.face, broken = self.small_face, False
        capitals = not broken and rng.random() < 0.75
        self.trade = str(rng.choice(words.TRADE))
        self.maker = family.maker.upper() if capitals else family.maker
        upper = not is_script(self.line_face) and rng.random() < 0.5
        self.line = family.line.upper() if upper else family.line
        self.quoted = rng.random() < 0.15


def is_script(face: str) -> bool:
    return face in faces("script")


def _line_of(look: Look) -> str:
    return f"“{look.line}”" if look.quoted else look.line


def stack(s: Sheet, look: Look, small: str) -> tuple:
    """Emblem, maker, line, one below the other."""
    r = look.rng.uniform(0.36, 0.52)
    emblem.draw(s.at(0, -0.55, r), look.emblem)
    s.text(look.maker, look.face, 0, 0.12, 0.16, 0.12 if look.maker.isupper() else 0, most=2.2)
    box = s.text(_line_of(look), look.line_face, 0, 0.48, 0.2, most=2.0)
    if small:
        s.text(small, look.small_face, 0, 0.78, 0.075, 0.15)
    return box


def roundel(s: Sheet, look: Look, small: str) -> tuple:
    """Words around the emblem between two rings; the line below or within."""
    outer, cap = 1.0, look.rng.uniform(0.13, 0.17)
    s.ring(outer, 0.035)
    if look.rng.random() < 0.6:
        s.ring(outer - cap * 1.9, 0.02)
    base = outer - cap * 1.45
    s.arc(look.maker.upper(), look.face, base, cap, 90, 0.2)
    s.arc(look.trade, look.face, base, cap * 0.9, -90, 0.2, most=1.8)
    inside = look.rng.random() < 0.5
    emblem.draw(s.at(0, -0.14 if inside else 0, 0.4 if inside else 0.58), look.emblem)
    if inside:
        return s.text(_line_of(look), look.line_face, 0, 0.42, 0.13, most=1.0)
    box = s.text(_line_of(look), look.line_face, 0, 1.25, 0.17, most=1.9)
    if small:
        s.text(small, look.small_face, 0, 1.48, 0.07, 0.1)
    return box


def garter(s: Sheet, look: Look, small: str) -> tuple:
    """Light words on a solid ring."""
    width = look.rng.uniform(0.24, 0.3)
    s.fill(oval(0, 0, 1, 1))
    s.fill(oval(0, 0, 1 - width, 1 - width), NONE)
    s.arc(look.maker.upper(), look.face, 1 - width * 0.74, width * 0.5, 90, 0.2, NONE)
    box = s.arc(
        look.line.upper() if not is_script(look.line_face) else look.line,
        look.small_face,
        1 - width * 0.74,
        width * 0.5,
        -90,
        0.2,
        NONE,
        2.2,
    )
    emblem.draw(s.at(0, 0, 0.5), look.emblem)
    if small:
        s.text(small, look.small_face, 0, 1.2, 0.08, 0.1)
    return box


def ribbon(s: Sheet, look: Look, small: str) -> tuple:
    """Emblem over a ribbon that bears the line's name."""
    emblem.draw(s.at(0, -0.5, 0.5), look.emblem)
    bend, h = look.rng.uniform(-0.12, 0.12), 0.15
    top, foot = (
        bezier((-0.95, 0.3), (0, 0.3 + 2 * bend), (0.95, 0.3)),
        bezier((0.95, 0.3 + 2 * h), (0, 0.3 + 2 * h + 2 * bend), (-0.95, 0.3 + 2 * h)),
    )
    dark = look.rng.random() < 0.5
    for side in (-1, 1):
        tail = [(side * 0.8, 0.42), (side * 1.25, 0.46), (side * 1.12, 0.6), (side * 1.25, 0.78), (side * 0.8, 0.72)]
        s.fill(tail) if dark else s.outline(tail, 0.03)
    s.fill(top + foot, INK if dark else NONE)
    if not dark:
        s.outline(top + foot, 0.035)
    box = s.text(look.line, look.line_face, 0, 0.3 + h + bend + 0.02, 0.14, ink=NONE if dark else INK, most=1.6)
    s.text(look.maker, look.face, 0, 0.98, 0.13, 0.1 if look.maker.isupper() else 0, most=2.2)
    if small:
        s.text(small, look.small_face, 0, 1.22, 0.07, 0.1)
    return box


def signature(s: Sheet, look: Look, small: str) -> tuple:
    """The line in large script with a flourish; a small emblem before the maker."""
    box = s.text(look.line, look.line_face, 0, -0.15, 0.32, most=2.4, slope=look.rng.uniform(0, 7))
    s.line(bezier((-0.8, 0.28), (-0.2, 0.1), (0.3, 0.4), (0.95, 0.12)), 0.03)
    s.text(look.maker, look.face, 0.12, 0.55, 0.14, 0.15 if look.maker.isupper() else 0, most=1.9)
    emblem.draw(s.at(0, 0.98, 0.26), look.emblem)
    if small:
        s.text(small, look.small_face, 0, 1.4, 0.07, 0.15)
    return box


def cartouche(s: Sheet, look: Look, small: str) -> tuple:
    """Words and a small emblem in an oval or cornered border."""
    tall = look.rng.uniform(0.72, 0.86)
    if look.rng.random() < 0.5:
        for r, w in ((1.28, 0.04), (1.2, 0.015)):
            s.outline(oval(0, 0, r, r * tall), w)
    else:
        c = 0.25
        edge = [
            (-1.2 + c, -tall),
            (1.2 - c, -tall),
            (1.2, -tall + c),
            (1.2, tall - c),
            (1.2 - c, tall),
            (-1.2 + c, tall),
            (-1.2, tall - c),
            (-1.2, -tall + c),
        ]
        s.outline(edge, 0.04)
        s.at(0, 0, 0.93).outline(edge, 0.015)
    emblem.draw(s.at(0, -0.42, 0.3), look.emblem)
    s.text(look.maker, look.face, 0, 0.08, 0.15, 0.1 if look.maker.isupper() else 0, most=1.9)
    s.line([(-0.5, 0.24), (0.5, 0.24)], 0.015)
    box = s.text(_line_of(look), look.line_face, 0, 0.4, 0.14, most=1.5)
    if small:
        s.text(small, look.small_face, 0, 1.1, 0.07, 0.1)
    return box


def arch(s: Sheet, look: Look, small: str) -> tuple:
    """The maker in an arch over the emblem, the line in an arch below."""
    s.arc(look.maker.upper(), look.face, 0.95, 0.18, 90, 0.15)
    emblem.draw(s.at(0, -0.05, 0.6), look.emblem)
    if is_script(look.line_face):
        return s.text(look.line, look.line_face, 0, 0.9, 0.2, most=1.9)
    box = s.arc(look.line.upper(), look.line_face, 0.85, 0.15, -90, 0.15, most=2.0)
    if small:
        s.text(small, look.small_face, 0, 1.3, 0.07, 0.1)
    return box


def blocks(s: Sheet, look: Look, small: str) -> tuple:
    """Plain words in capitals, as a stamp of loose type leaves them; a small emblem above or none."""
    if look.rng.random() < 0.6:
        emblem.draw(s.at(0, -0.6, 0.3), look.emblem)
    s.text(look.maker.upper(), look.face, 0, -0.08, 0.2, 0.12, most=2.2)
    box = s.text(look.line.upper(), look.small_face, 0, 0.25, 0.17, 0.12, most=2.0)
    s.text(small or look.trade, look.small_face, 0, 0.52, 0.12, 0.12)
    return box


def tablet(s: Sheet, look: Look, small: str) -> tuple:
    """A frame with the line in it, the emblem above."""
    emblem.draw(s.at(0, -0.5, 0.42), look.emblem)
    s.outline([(-0.95, 0.08), (0.95, 0.08), (0.95, 0.5), (-0.95, 0.5)], 0.035)
    box = s.text(
        look.line.upper() if not is_script(look.line_face) else look.line, look.line_face, 0, 0.3, 0.17, most=1.6
    )
    s.text(look.maker.upper(), look.face, 0, 0.75, 0.12, 0.2, most=1.9)
    return box


LAYOUTS = (stack, stack, roundel, roundel, garter, ribbon, ribbon, signature, cartouche, arch, arch, blocks)
IMPRESSED_LAYOUTS = (blocks, blocks, tablet, arch, roundel)


def draw(family: Family) -> Drawing:
    look, s = Look(family), Sheet()
    box = look.layout(s, look, family.small_words)
    full = s.shrunk()
    rows, columns = np.where(full.max(1) > 0.3)[0], np.where(full.max(0) > 0.3)[0]
    top, bottom, left, right = rows[0], rows[-1] + 1, columns[0], columns[-1] + 1
    k = full.shape[0] / (2 * HALF)
    tell = [
        (box[0] + HALF) * k - left,
        (box[1] + HALF) * k - top,
        (box[2] + HALF) * k - left,
        (box[3] + HALF) * k - top,
    ]
    size = (right - left, bottom - top) * 2
    tell = tuple(float(min(1, max(0, v / n))) for v, n in zip(tell, size))
    return Drawing(full[top:bottom, left:right].copy(), tell)


def make(maker: str, line: str, group: int, seed: int, rng: np.random.Generator) -> Family:
    """The first family of a group; its siblings are made by `sibling`."""
    means = str(rng.choice([PRINTED, OVERGLAZE, STAMPED, IMPRESSED], p=[0.5, 0.17, 0.21, 0.12]))
    ink = str(rng.choice(list(INKS), p=[0.3, 0.22, 0.2, 0.12, 0.09, 0.07]))
    if ink == "gold":
        means = OVERGLAZE
    small = ""
    if rng.random() < 0.5:
        small = (
            str(rng.choice(words.PLAIN))
            if rng.random() < 0.6
            else f"{rng.choice(words.SHAPE)} {rng.integers(100, 9999)}"
        )
    return Family(maker, line, group, seed, ink, means, small)


def sibling(of: Family, line: str) -> Family:
    return dataclasses.replace(of, line=line)
