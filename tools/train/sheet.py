"""Contact sheets of composed samples, to look at before training.

    python3 tools/train/sheet.py [--atlas target/train/atlas.npz] [--out target/train/sheets]

Each sheet shows, in rows of three: the reference's crop, a photo's crop, the
photo's ink (dark) with unknown parts grey.
"""

import argparse
import pathlib

import numpy as np
import torch
from PIL import Image

import compose
import layout
import photograph
from inkmap import ink_map

ROOT = pathlib.Path(__file__).resolve().parents[2]


def picture(rgb: torch.Tensor) -> np.ndarray:
    return (rgb.permute(0, 2, 3, 1).cpu().numpy() * 255).round().astype(np.uint8)


def ink_picture(maps: torch.Tensor) -> np.ndarray:
    """Ink dark on white, unknown grey."""
    ink, valid = maps[:, :1], maps[:, 1:]
    grey = 1 - ink
    shown = torch.where(valid > 0, grey, torch.full_like(grey, 0.6)).repeat(1, 3, 1, 1)
    return picture(shown)


def save(rows: list[np.ndarray], across: int, path: pathlib.Path) -> None:
    """Triples of pictures side by side, `across` triples a row."""
    triples = np.concatenate(rows, 2)
    n, h, w, _ = triples.shape
    triples = triples[: n // across * across].reshape(-1, across, h, w, 3)
    sheet = triples.transpose(0, 2, 1, 3, 4).reshape(-1, across * w, 3)
    Image.fromarray(sheet).save(path)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--atlas", default=str(ROOT / "target/train/atlas.npz"))
    parser.add_argument("--out", default=str(ROOT / "target/train/sheets"))
    parser.add_argument("--count", type=int, default=48)
    parser.add_argument("--seed", type=int, default=5)
    parser.add_argument("--names", nargs="*", default=["training", *photograph.CONDITIONS])
    options = parser.parse_args()
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    file = np.load(options.atlas)
    atlas = compose.Atlas(file, device)
    out = pathlib.Path(options.out)
    out.mkdir(parents=True, exist_ok=True)
    table, boxes = next(iter(layout.Layouts(layout.Artwork(file, 0), options.count, options.seed)))
    canvas = compose.draw(atlas, table, options.count, device)
    box = torch.from_numpy(boxes).to(device)
    generator = torch.Generator(device).manual_seed(options.seed)
    for name in options.names:
        dice = photograph.Dice(options.count, device, generator)
        first = photograph.reference(dice)
        reference, _ = photograph.photograph(atlas, canvas, box, first, dice)
        take = photograph.photo(dice) if name == "training" else photograph.condition(dice, name)
        taken, inside = photograph.photograph(atlas, canvas, box, take, dice)
        maps = ink_map(taken, inside)
        count = options.count if name == "training" else 12
        save([picture(reference)[:count], picture(taken * inside)[:count], ink_picture(maps)[:count]], 4,
             out / f"{name}.png")


if __name__ == "__main__":
    main()
