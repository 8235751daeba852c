"""Invented makers, places and lines. All words are put together from the syllables below and from nothing else."""

import numpy as np

FRONT = (
    "Quo",
    "Vesk",
    "Thra",
    "Ombe",
    "Zell",
    "Prun",
    "Iska",
    "Yol",
    "Drav",
    "Nux",
    "Fesp",
    "Gael",
    "Hurv",
    "Ulm",
    "Jask",
)
MIDDLE = ("ni", "ra", "lo", "dre", "mu", "sti", "va", "bro", "ki", "the")
CLOSE = ("vox", "zund", "tharl", "mek", "quist", "pell", "dorn", "vask", "nuth", "rimble", "gast", "wyk")
LINE_FRONT = (
    "Ama",
    "Bri",
    "Cele",
    "Dova",
    "Eni",
    "Flo",
    "Gri",
    "Hal",
    "Ivo",
    "Juni",
    "Lyo",
    "Mira",
    "Nor",
    "Oli",
    "Pae",
    "Sav",
    "Tiv",
)
LINE_CLOSE = (
    "zette",
    "rond",
    "lune",
    "vint",
    "nelle",
    "quay",
    "sprue",
    "thea",
    "dine",
    "mbrook",
    "lisse",
    "vanne",
    "rild",
    "xane",
)
TRADE = ("WARE", "POTTERY", "& SONS", "CHINA", "POTTERS", "WORKS", "CERAMIC CO", "BROS", "STONEWARE", "FAIENCE")
PLAIN = ("HAND PAINTED", "OVEN SAFE", "FAST COLOUR", "UNDER GLAZE", "FIRST CHOICE", "VITREOUS", "HAND FINISHED")
SHAPE = ("Nº", "SHAPE", "PATT.", "MODEL")


def slug(words: str) -> str:
    """A folder's name for `words`."""
    kept = "".join(c if c.isascii() and c.isalnum() else "-" for c in words.lower())
    return "-".join(part for part in kept.split("-") if part)


def place(rng: np.random.Generator) -> str:
    return str(rng.choice(FRONT)) + str(rng.choice(MIDDLE)) + str(rng.choice(CLOSE))


def line(rng: np.random.Generator) -> str:
    word = str(rng.choice(LINE_FRONT)) + str(rng.choice(LINE_CLOSE))
    if rng.random() < 0.25:
        word = f"{word} {rng.choice(LINE_FRONT)}{rng.choice(LINE_CLOSE)}"
    return word


def several(make, rng: np.random.Generator, count: int) -> list[str]:
    """`count` different words of `make`."""
    found: dict[str, None] = {}
    while len(found) < count:
        found[make(rng)] = None
    return list(found)
