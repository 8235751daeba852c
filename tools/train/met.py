"""Pairs of a photo's mark and an exemplar that the tool itself laid over one another, on renders whose truth
is known: what the verifier meets in use."""

import json
import pathlib

import numpy as np
import torch

import layout

# Pixels a side of the maps, and photos of a group, as in verifier.py.
SIDE = 224
GROUP = layout.GROUP
# Candidates kept of each photo, the best ones.
RIVALS = 7


class Met:
    """Pairs that the tool laid itself, as bytes in memory: of each photo the best candidates, from which
    four are drawn anew each time."""

    def __init__(self, sources, part: int, parts: int):
        """Part `part` of `parts` of the photos of `sources`, folders of lots with a protocol each."""
        maps, counts, known = [], [], []
        pixels = 4 * SIDE * SIDE
        for lot, protocol in sources:
            lot = pathlib.Path(lot)
            truths = {t["file"]: t for t in map(json.loads, (lot / "truth.jsonl").open())}
            for number, line in enumerate((lot / f"{protocol}.jsonl").open()):
                photo = json.loads(line)
                truth = truths[photo["file"]]
                if number % parts != part or truth["second"] or not photo["regions"]:
                    continue
                first = photo["regions"][0]
                if truth["quad"] is not None:
                    q = np.array(truth["quad"])
                    if np.hypot(*(q.mean(0) - np.mean(first["quad"], 0))) > 0.4 * np.hypot(*(q[2] - q[0])):
                        continue
                families = [c["family"] for c in first["candidates"]]
                order = sorted(range(len(families)), key=lambda i: -first["candidates"][i]["score"])
                own = [i for i in order if families[i] == truth["family"]]
                if truth["family"] is not None and not own:
                    continue
                others = [i for i in order if families[i] != truth["family"]]
                chosen = (own[:1] + others)[:RIVALS]
                if len(chosen) < GROUP:
                    continue
                raw = np.memmap(lot / protocol / (pathlib.Path(photo["file"]).stem + ".bin"), np.uint8, "r")
                kept = np.zeros((RIVALS, pixels), np.uint8)
                kept[: len(chosen)] = raw.reshape(-1, pixels)[chosen]
                maps.append(kept)
                counts.append(len(chosen))
                known.append(bool(own))
        self.maps = torch.from_numpy(np.stack(maps)).reshape(-1, RIVALS, 4, SIDE, SIDE)
        self.counts, self.known = torch.tensor(counts), torch.tensor(known)

    def batch(self, count: int, device, generator):
        """Maps (4 count, 4, SIDE, SIDE) turned by quarters or mirrored with their exemplars, and the place
        of each photo's own among its four, -1 where there is none."""
        pick = torch.randint(len(self.known), (count,), generator=generator)
        known = self.known[pick]
        # A known photo's own is always drawn, the others by chance.
        chance = torch.rand(count, RIVALS, generator=generator)
        chance[torch.arange(RIVALS) >= self.counts[pick, None]] = 2.0
        chance[:, 0] -= known.float()
        drawn = chance.argsort(1)[:, :GROUP]
        drawn = drawn.gather(1, torch.rand(count, GROUP, generator=generator).argsort(1))
        target = torch.where(known, (drawn == 0).float().argmax(1), -1)
        maps = self.maps[pick[:, None], drawn].to(device, non_blocking=True).float() / 255
        turn, mirror = int(torch.randint(4, (1,), generator=generator)), int(torch.randint(2, (1,), generator=generator))
        maps = torch.rot90(maps, turn, (-2, -1))
        maps = maps.flip(-1) if mirror else maps
        return maps.flatten(0, 1), target.to(device)
