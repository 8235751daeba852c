"""How well the descriptor ranks: tune artwork only, per condition."""

import math

import numpy as np
import torch

import compose
import layout
import photograph
from cuts import TURNS, turned
from inkmap import ink_map

CHUNK = 256
BASE_SEED = 90_001


class Bench:
    """A fixed library of tune marks, drawn once."""

    def __init__(self, file, atlas: compose.Atlas, device: torch.device, marks: int):
        self.atlas, self.device = atlas, device
        self.count = marks // layout.GROUP * layout.GROUP
        art = layout.Artwork(file, 1)
        table, boxes = next(iter(layout.Layouts(art, self.count, BASE_SEED)))
        self.boxes = torch.from_numpy(boxes).to(device)
        self.canvas = torch.cat([self.drawn(table, s) for s in range(0, self.count, CHUNK)])

    def drawn(self, table: np.ndarray, start: int) -> torch.Tensor:
        """Canvases of one chunk, kept in half precision."""
        end = min(start + CHUNK, self.count)
        mine = table[(table[:, 2] >= start) & (table[:, 2] < end)].copy()
        mine[:, 2] -= start
        return compose.draw(self.atlas, mine, end - start, self.device).half()

    def crops(self, kind: str, seed: int):
        """Chunks of (sRGB, inside) of every mark: `scan`, `photo`, `ordinary`, or a condition."""
        for start in range(0, self.count, CHUNK):
            end = min(start + CHUNK, self.count)
            generator = torch.Generator(self.device).manual_seed(BASE_SEED + 131 * seed + start)
            dice = photograph.Dice(end - start, self.device, generator)
            if kind == "scan":
                take = photograph.scan(dice)
            elif kind == "ordinary":
                take = photograph.photo(dice, 0.3)
            elif kind == "photo":
                take = photograph.photo(dice)
            else:
                take = photograph.condition(dice, kind)
            canvas, box = self.canvas[start:end].float(), self.boxes[start:end]
            yield photograph.photograph(self.atlas, canvas, box, take, dice)

    def vectors(self, net, kind: str, seed: int, turns: int = 1) -> torch.Tensor:
        """Vectors (marks, turns, OUTPUT)."""
        found = []
        for rgb, inside in self.crops(kind, seed):
            maps = ink_map(rgb, inside)
            found.append(torch.stack([net(turned(maps, t * 2 * math.pi / TURNS) if t else maps) for t in range(turns)], 1).float())
        return torch.cat(found)

    def ranks(self, library: torch.Tensor, photos: torch.Tensor) -> tuple[torch.Tensor, torch.Tensor]:
        """Rank of the true mark for each photo, and whether the first is of its group."""
        scores = torch.stack([photos[:, 0] @ library[:, t].T for t in range(library.shape[1])]).amax(0)
        own = scores.diagonal()[:, None]
        best = scores.argmax(1)
        at = torch.arange(self.count, device=self.device)
        return (scores > own).sum(1), best // layout.GROUP == at // layout.GROUP

    @torch.no_grad()
    def report(self, net) -> list[str]:
        """Lines of text: per condition top-1, top-5, top-20 and right group, in per cent."""
        net.eval()
        lines = []
        scans = self.vectors(net, "scan", 0, TURNS)
        ordinary = self.vectors(net, "ordinary", 1, TURNS)
        tests = [("photo", scans, "photo"), ("photo, ordinary refs", ordinary, "photo")]
        tests += [(c, scans, c) for c in photograph.CONDITIONS]
        for number, (name, library, kind) in enumerate(tests):
            rank, group = self.ranks(library, self.vectors(net, kind, 2 + number))
            top = [100 * (rank < k).float().mean().item() for k in (1, 5, 20)]
            lines.append(f"  {name:22s} top-1 {top[0]:5.1f}  top-5 {top[1]:5.1f}  top-20 {top[2]:5.1f}"
                         f"  group {100 * group.float().mean().item():5.1f}")
        net.train()
        return lines

    def probe(self, count: int) -> tuple[torch.Tensor, torch.Tensor]:
        """A few photo crops and their masks, for another implementation to agree with."""
        rgb, inside = next(self.crops("photo", 77))
        return rgb[:count], inside[:count]
