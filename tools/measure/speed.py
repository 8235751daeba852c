"""What a match costs on twelve-megapixel photos, as a ratio to decoding and shrinking the same
files in the same run."""

import argparse
import json
import pathlib
import subprocess

from . import answers, environment, lots, results
from .accuracy import contents_of
from .score import DECODING, time_figures

WIDTH, HEIGHT, QUALITY = 4032, 3024, 90
# Photos measured: enough that one slow file does not decide, few enough for a coffee.
PHOTOS = 30

# Runs in the outside environment, which has Pillow.
ENLARGE = """
import pathlib, sys
from PIL import Image
source, target, width, height, quality = pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2]), *map(int, sys.argv[3:6])
for name in sys.argv[6:]:
    picture = Image.open(source / name).convert("RGB")
    size = (width, height) if picture.width >= picture.height else (height, width)
    picture.resize(size, Image.Resampling.BICUBIC).save(target / name, quality=quality, subsampling="4:2:0")
"""


def enlarge(photos: list[pathlib.Path], folder: pathlib.Path) -> list[pathlib.Path]:
    """Copies of the photos at the size that a phone writes."""
    folder.mkdir(exist_ok=True)
    missing = [p.name for p in photos if not (folder / p.name).exists()]
    if missing:
        lots.say(f"enlarging {len(missing)} photos to {WIDTH}x{HEIGHT}")
        command = [environment.python(), "-c", ENLARGE, photos[0].parent, folder]
        command += [str(n) for n in (WIDTH, HEIGHT, QUALITY)] + missing
        subprocess.run(command, check=True)
    return [folder / p.name for p in photos]


def run(arguments: argparse.Namespace) -> None:
    lots.build()
    seed = (arguments.seed or [1])[0]
    lot = lots.render(arguments.split, seed, contents_of(arguments))
    every = max(1, len(lots.photos_of(lot / "photos", 1)) // PHOTOS)
    small = lots.photos_of(lot / "photos", every)[:PHOTOS]
    photos = enlarge(small, lot / "photos-12mp")
    library = lot / lots.PROTOCOLS["clean"]
    out = lots.match(library, photos, lot / "answers-12mp.jsonl", jobs=arguments.jobs or 1)
    figures = time_figures(list(answers.read(out).values()))
    print(json.dumps(figures, indent=1))
    head = {"kind": "speed", "split": arguments.split, "seeds": [seed]}
    head |= {"families": arguments.families, "width": WIDTH, "height": HEIGHT}
    head |= {"decoding_is": list(DECODING), **results.provenance(), "figures": figures}
    path = results.write(arguments.name or "speed", head)
    lots.say(f"wrote {path.relative_to(results.ROOT)}")
