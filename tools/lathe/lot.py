"""A whole lot: families, a library in two forms, photos with their truth."""

import dataclasses
import json
import pathlib

import numpy as np
from PIL import Image

from . import design, framing, picture, words
from . import shot as shots
from .design import Drawing, Family
from .picture import Picture
from .strike import padded

# The line above which a photo decides between siblings; see `decidable`.
TELL_SEEN, LETTER_PX, BLUR_OF_LETTER, CLEAR = 0.6, 8.0, 0.5, 3.0


@dataclasses.dataclass(frozen=True)
class Wish:
    seed: int
    families: int
    photos: int
    unknown: int
    unknown_siblings: int
    bare: int
    tops: int
    extras: bool
    # Only every so many-th photo.
    every: int


@dataclasses.dataclass(frozen=True)
class Job:
    number: int
    kind: str
    family: Family | None
    condition: str
    severity: str | None


@dataclasses.dataclass(frozen=True)
class World:
    library: tuple[Family, ...]
    strangers: tuple[Family, ...]
    # Not in the library, but siblings of what is.
    strange_siblings: tuple[Family, ...]

    def siblings(self, family: Family) -> list[str]:
        """The library's other families with the same emblem."""
        return [f.key for f in self.library if f.group == family.group and f != family]


def world(wish: Wish) -> World:
    """Families of a seed. Groups of 2 to 4 siblings make up at least 40 % of the library."""
    rng = np.random.default_rng([wish.seed, 101])
    makers = iter(words.several(words.place, rng, wish.families + wish.unknown + 1))
    library: list[Family] = []
    extra: list[Family] = []
    group = 0
    while len(library) < wish.families:
        room = wish.families - len(library)
        grouped = len(library) < 0.45 * wish.families and room > 1
        count = min(room, int(rng.integers(2, 5))) if grouped else 1
        lines = words.several(words.line, rng, count + 2)
        first = design.make(next(makers), lines[0], group, wish.seed, rng)
        library += [first, *(design.sibling(first, line) for line in lines[1:count])]
        if grouped or rng.random() < 0.5:
            extra += [design.sibling(first, line) for line in lines[count:]]
        group += 1
    strangers = []
    for _ in range(max(1, wish.unknown // 2)):
        strangers.append(design.make(next(makers), words.line(rng), group, wish.seed, rng))
        group += 1
    return World(tuple(library), tuple(strangers), tuple(extra))


def jobs(wish: Wish, made: World) -> list[Job]:
    """All photos of a lot in a mixed order. Families, conditions and severities take turns."""
    rng = np.random.default_rng([wish.seed, 102])
    todo: list[tuple[str, Family | None, str, str | None]] = []
    many = len(made.library)
    impressed = [f for f in made.library if f.means == design.IMPRESSED]
    for k in range(wish.photos):
        family = made.library[(k // 7 + k % 7 * 5) % many]
        todo.append(("known", family, shots.SEVEN[k % 7], shots.SEVERITIES[(k // 7) % 3]))
    if wish.extras:
        each = max(3, wish.photos // 28)
        for condition in shots.FURTHER:
            among = impressed if condition == "impressed" and impressed else made.library
            for k in range(each):
                family = among[int(rng.integers(len(among)))]
                todo.append(("known", family, condition, shots.SEVERITIES[k % 3]))
    for kind, count, among in (
        ("unknown", wish.unknown, made.strangers),
        ("unknown-sibling", wish.unknown_siblings, made.strange_siblings),
    ):
        for k in range(count):
            todo.append((kind, among[k % len(among)], shots.SEVEN[k % 7], shots.SEVERITIES[(k // 7) % 2]))
    todo += [("bare", None, "good", None)] * wish.bare + [("top", None, "good", None)] * wish.tops
    order = rng.permutation(len(todo))
    return [Job(n, *todo[i]) for n, i in enumerate(order)][:: wish.every]


def decidable(seen: Picture, siblings: list[str]) -> bool:
    """Whether a photo shows what tells a family from its siblings in the library.

    Always so without siblings. Else four things must hold of the words that differ: at least `TELL_SEEN` of
    their ink took (to `picture.SEEN_INK` of a full layer) and is in the frame, not covered and not drowned by
    mirrored light; their letters are at least `LETTER_PX` pixels high; blur, shake, smear and the shift of a second
    strike together are below `BLUR_OF_LETTER` of that height; and their contrast over one stroke is `CLEAR` times
    the noise."""
    if not siblings:
        return True
    sharp = seen.blurred <= BLUR_OF_LETTER * seen.letters
    return seen.tell_seen >= TELL_SEEN and seen.letters >= LETTER_PX and sharp and seen.clear >= CLEAR


def shoot(wish: Wish, job: Job) -> tuple[Picture, shots.Shot]:
    rng = np.random.default_rng([wish.seed, 103, job.number])
    relief = job.family is not None and job.family.means == design.IMPRESSED
    level = job.severity or str(rng.choice(shots.SEVERITIES))
    shot = shots.make(job.condition, level, rng, relief)
    drawing = design.draw(job.family) if job.family else None
    views, often = (framing.WHOLE, framing.FOOT, framing.PART), (0.7, 0.15, 0.15)
    view = str(rng.choice(views, p=often)) if job.kind == "bare" else framing.WHOLE
    return picture.take(shot, rng, job.kind, job.family, drawing, view), shot


def truth(job: Job, seen: Picture, shot: shots.Shot, made: World, file: str) -> dict:
    family, siblings = job.family, made.siblings(job.family) if job.family else []
    height, width = seen.rgb.shape[:2]
    return {
        "file": file,
        "width": width,
        "height": height,
        "kind": job.kind,
        "family": family.key if family else None,
        "variant": None,
        "group": f"{family.group}" if family else None,
        "design": family.key if family else None,
        "siblings": siblings,
        "condition": job.condition,
        "severity": job.severity,
        "decidable": decidable(seen, siblings),
        "quad": seen.quad,
        "second": [],
        "measured": seen.measured,
        "attributes": {
            "glaze": seen.ware.glaze,
            "ink": seen.ink,
            "means": seen.means,
            "ware": seen.ware.kind,
            "light_on_dark": seen.light_on_dark,
            "impressed": seen.means == design.IMPRESSED,
            "hollow": seen.ware.kind == "hollow",
            "across_ring": shot.across_ring,
            "small": shot.small,
            "whole_base": seen.whole_base,
        },
        "distractors": list(shot.distractors),
        "code": None,
    }


def save(seen: Picture, path: pathlib.Path, rng: np.random.Generator) -> None:
    """A JPEG as phones write them; some lie on their side and say so in their EXIF data."""
    image, exif = Image.fromarray(seen.rgb), Image.Exif()
    turned = rng.random()
    if turned < 0.3:
        # 6: to be turned a quarter clockwise to stand upright; 8: the other way; 3: on its head.
        tag, turn = [(6, Image.Transpose.ROTATE_90), (8, Image.Transpose.ROTATE_270), (3, Image.Transpose.ROTATE_180)][
            rng.integers(3)
        ]
        image = image.transpose(turn)
        exif[0x0112] = tag
    image.save(path, quality=int(rng.integers(70, 96)), subsampling=2 if rng.random() < 0.7 else 0, exif=exif)


def clean(drawing: Drawing, family: Family) -> Image.Image:
    """A drawing of a mark on paper in its ink, with a margin."""
    mask, _ = padded(drawing.mask)
    tone = np.float32(design.INKS[family.ink]) if family.means != design.IMPRESSED else np.float32((0.2, 0.2, 0.2))
    light = 0.93 * (1 - mask[..., None] * (1 - tone))
    coded = np.uint8(255 * np.clip(light, 0, 1) ** (1 / 2.2))
    image = Image.fromarray(coded)
    image.thumbnail((900, 900), Image.Resampling.BOX)
    return image


def easy_photo(wish: Wish, family: Family, number: int) -> Picture:
    """An ordinary photo of another piece with the mark, on which the mark is whole and can be read."""
    drawing = design.draw(family)
    for attempt in range(4):
        rng = np.random.default_rng([wish.seed, 104, number, attempt])
        shot = shots.make("good", "easy", rng, family.means == design.IMPRESSED)
        seen = picture.take(shot, rng, "known", family, drawing)
        if seen.seen > 0.9 and seen.tell_seen > 0.9:
            break
    return seen


def library(wish: Wish, family: Family, number: int, out: pathlib.Path) -> None:
    title = f"{family.maker}, {family.line}"
    for form in ("library-clean", "library-photo"):
        (out / form / family.key).mkdir(parents=True, exist_ok=True)
    home = out / "library-clean" / family.key
    clean(design.draw(family), family).save(home / "mark.png")
    (home / "mark.toml").write_text(f'name = "{title}"\n')
    home = out / "library-photo" / family.key
    seen = easy_photo(wish, family, number)
    Image.fromarray(seen.rgb).save(home / "mark.jpg", quality=90)
    quad = [[round(x, 1), round(y, 1)] for x, y in seen.quad]
    (home / "mark.toml").write_text(f'name = "{title}"\n\n[[image]]\nfile = "mark.jpg"\nquad = {quad}\n')


def name_of(wish: Wish, job: Job) -> str:
    """A file name that means nothing."""
    rng = np.random.default_rng([wish.seed, 105, job.number])
    return f"IMG_{rng.integers(10_000_000, 99_999_999)}_{job.number:05d}.jpg"


def one(task: tuple) -> dict | None:
    """One task of `render`, in a process of its own: a photo with its truth, or a family of the library."""
    wish, made, out, job, number = task
    if job is None:
        library(wish, made.library[number], number, out)
        return None
    seen, shot = shoot(wish, job)
    file = name_of(wish, job)
    save(seen, out / "photos" / file, np.random.default_rng([wish.seed, 106, job.number]))
    return truth(job, seen, shot, made, file)


def tasks(wish: Wish, out: pathlib.Path) -> list[tuple]:
    made = world(wish)
    (out / "photos").mkdir(parents=True, exist_ok=True)
    return [(wish, made, out, None, n) for n in range(len(made.library))] + [
        (wish, made, out, job, -1) for job in jobs(wish, made)
    ]


def write_truth(rows: list[dict], out: pathlib.Path) -> None:
    """Written last: a lot without it was cut off."""
    rows = sorted(rows, key=lambda row: row["file"])
    (out / "truth.jsonl").write_text("".join(json.dumps(row) + "\n" for row in rows))
