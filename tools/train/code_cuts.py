"""Codes cut out of photos of kiln's fit lots, for training the reader beside drawn strips.

    python3 tools/train/code_cuts.py LOT... --out target/train/code-cuts.npz

Each code that lies in its photo is cut out straight along its true corners, at twice the size of a
strip and with room on all sides, in grey. `Cuts` gives random strips of them, never twice the same.
"""

import argparse
import json
import pathlib

import numpy as np
import torch
import torch.nn.functional as F

import camera
import code_strips
from code_glyphs import CLASSES

# A cut, and the height of its code in it.
HIGH, WIDE, CODE = 96, 512, 39.7
# The longest code, with room on both sides.
LONGEST = 440
# Share of a code's corners that must lie in the photo.
CORNERS = 3
# Twofold means that blur a cut at most: 2 px of it, or 1 px of a strip, as a Gaussian's sigma.
SOFTER = 8


def cut(photo, quad: list[list[float]]) -> tuple[np.ndarray, float] | None:
    """The grey of a code (HIGH, WIDE) uint8 and its width there; None where it is not in the photo."""
    from PIL import Image

    q = np.array(quad, float)
    within = (q >= 0).all(1) & (q[:, 0] < photo.width) & (q[:, 1] < photo.height)
    high = (np.linalg.norm(q[3] - q[0]) + np.linalg.norm(q[2] - q[1])) / 2
    wide = (np.linalg.norm(q[1] - q[0]) + np.linalg.norm(q[2] - q[3])) / 2
    if within.sum() < CORNERS or high < 4:
        return None
    scale = min(CODE / high, LONGEST / wide)
    half_w, half_h = wide * scale / 2, high * scale / 2
    left, top = WIDE / 2 - half_w, HIGH / 2 - half_h
    here = [(left, top), (left + 2 * half_w, top), (left + 2 * half_w, top + 2 * half_h), (left, top + 2 * half_h)]
    rows, right = [], []
    for (x, y), (u, v) in zip(here, q):
        rows += [[x, y, 1, 0, 0, 0, -u * x, -u * y], [0, 0, 0, x, y, 1, -v * x, -v * y]]
        right += [u, v]
    map_ = np.linalg.solve(np.array(rows), np.array(right))
    # Shrunk by averaging, since the transform only samples.
    fine = max(1, int(np.ceil(1 / scale)))
    big = map_ * np.array([1 / fine, 1 / fine, 1, 1 / fine, 1 / fine, 1, 1 / fine, 1 / fine])
    size = (WIDE * fine, HIGH * fine)
    straight = photo.transform(size, Image.Transform.PERSPECTIVE, big.tolist(), Image.Resampling.BILINEAR)
    return np.asarray(straight.resize((WIDE, HIGH), Image.Resampling.BOX)), 2 * half_w


def main() -> None:
    from PIL import Image

    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("lots", nargs="+", type=pathlib.Path)
    parser.add_argument("--out", required=True)
    options = parser.parse_args()
    cuts, widths, texts = [], [], []
    for lot in options.lots:
        for row in map(json.loads, (lot / "truth.jsonl").read_text().splitlines()):
            if not row["code"]:
                continue
            found = cut(Image.open(lot / "photos" / row["file"]).convert("L"), row["code"]["quad"])
            if found:
                cuts.append(found[0])
                widths.append(found[1])
                texts.append(row["code"]["text"].replace(" ", ""))
    np.savez_compressed(options.out, cuts=np.stack(cuts), widths=np.array(widths, np.float32), texts=np.array(texts))
    print(f"{options.out}: {len(cuts)} codes")


class Cuts:
    """The codes of a file on the device."""

    def __init__(self, paths: list[pathlib.Path], device: torch.device):
        files = [np.load(path) for path in paths]
        self.cuts = torch.from_numpy(np.concatenate([file["cuts"] for file in files]))[:, None].to(device)
        self.widths = torch.from_numpy(np.concatenate([file["widths"] for file in files])).to(device)
        texts = [str(t) for file in files for t in file["texts"]]
        labels = torch.zeros(len(texts), code_strips.MOST, dtype=torch.long)
        for row, text in zip(labels, texts):
            row[: len(text)] = torch.tensor([CLASSES.index(c) + 1 for c in text])
        self.labels = labels.to(device)
        self.lengths = torch.tensor([len(text) for text in texts], device=device)

    @torch.no_grad()
    def strips(self, count: int, generator: torch.Generator) -> tuple[torch.Tensor, torch.Tensor, torch.Tensor]:
        """Views of so many strips, not quite straight and not quite in the middle, their classes and lengths."""
        device = self.cuts.device
        dice = code_strips.Dice(count, device, generator)
        pick = (dice.u() * len(self.widths)).long().clamp_max(len(self.widths) - 1)
        grey, wide = self.cuts[pick].float() / 255, self.widths[pick]
        grey = grey ** code_strips.per(torch.exp(dice.normal() * 0.25))
        grey = torch.where(code_strips.per(dice.chance(0.15)) > 0, 1 - grey, grey)
        grey = grey + code_strips.per(dice.chance(0.3) * dice.u(0, 0.05)) * dice.normal(1, HIGH, WIDE)
        # Any photo of a code may have been taken from farther away.
        small = F.interpolate(F.avg_pool2d(grey, 2), size=(HIGH, WIDE), mode="bilinear", align_corners=False)
        grey = torch.where(code_strips.per(dice.chance(0.2)) > 0, small, grey)
        # Or blurred more, or with less contrast and more noise.
        soft = camera.soften(grey, SOFTER)
        grey = grey + (soft - grey) * code_strips.per(dice.chance(0.25) * dice.u())
        middle = grey.mean((2, 3), keepdim=True)
        weak = middle + (grey - middle) * code_strips.per(dice.u(0.25, 1)) + 0.03 * dice.normal(1, HIGH, WIDE)
        grey = torch.where(code_strips.per(dice.chance(0.15)) > 0, weak, grey).clamp(0, 1)
        stretch = torch.exp(dice.normal() * 0.1).clamp(0.75, 1.3)
        strip, ends = code_strips.place(grey, torch.full_like(wide, HIGH / 2), torch.full_like(wide, WIDE / 2), wide,
                                        dice, stretch)
        return code_strips.seen(strip, ends, dice)[0], self.labels[pick], self.lengths[pick]


if __name__ == "__main__":
    main()
