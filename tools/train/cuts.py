"""What the imprint reads of marks as the tool itself found and cut them, on renders whose truth is known, and of
the library that they were compared with."""

import json
import math
import pathlib

import numpy as np
import torch
import torch.nn.functional as F

from inkmap import SIDE

TURNS = 8
# A photo counts where the tool's circle lies about the mark: distance of the middles over the box's diagonal.
NEAR = 0.35
PIXELS = 2 * SIDE * SIDE


class Cuts:
    """Lots, each with its photos' cuts and its exemplars', as bytes in memory."""

    def __init__(self, sources):
        """`sources` are folders of lots, with the names of the file of features, without ending, and of the
        folder of cuts (one name for both)."""
        self.lots = [lot for lot in (read(pathlib.Path(lot), name) for lot, name in sources) if lot is not None]

    def batch(self, count: int, device, generator):
        """Of one lot by chance: exemplars (TURNS E, 2, SIDE, SIDE), turn by turn, photos (count, 2, SIDE,
        SIDE), and the place (count,) of each photo's own among the E."""
        def chance(*size):
            return torch.rand(size, generator=generator)

        exemplars, photos, own = self.lots[int(chance(1) * len(self.lots))]
        pick = (chance(count) * len(own)).long()
        kind = (chance(count) * photos.shape[1]).long()
        seen = photos[pick, kind].to(device, non_blocking=True).float() / 255
        known = exemplars.to(device, non_blocking=True).float() / 255
        mirror = chance(1).item() < 0.5
        quarter, first = int(chance(1) * 4), chance(1).item() * 2 * math.pi / TURNS
        seen = torch.rot90(seen, quarter, (-2, -1))
        if mirror:
            seen, known = seen.flip(-1), known.flip(-1)
        all_turns = torch.cat([turned(known, first + k * 2 * math.pi / TURNS) for k in range(TURNS)])
        return all_turns, seen, own[pick].to(device)


def read(lot: pathlib.Path, name: str):
    """Exemplars (E, 2, SIDE, SIDE), photos (N, copies, 2, SIDE, SIDE) and own (N,); None without any."""
    folder = lot / name
    families = json.loads((folder / "exemplars.json").read_text())
    exemplars = np.fromfile(folder / "exemplars.bin", np.uint8).reshape(-1, 2, SIDE, SIDE)
    truths = {t["file"]: t for t in map(json.loads, (lot / "truth.jsonl").open())}
    photos, own = [], []
    for photo in map(json.loads, (lot / f"{name}.jsonl").open()):
        truth = truths[photo["file"]]
        if truth["family"] not in families or truth["second"] or truth["quad"] is None or not photo["regions"]:
            continue
        q = np.array(truth["quad"])
        away = np.hypot(*(q.mean(0) - np.mean(photo["regions"][0]["quad"], 0)))
        size = np.hypot(*(q[2] - q[0]))
        if away > NEAR * size:
            continue
        raw = np.fromfile(folder / (pathlib.Path(photo["file"]).stem + ".bin"), np.uint8)
        photos.append(raw.reshape(-1, 2, SIDE, SIDE))
        own.append(families.index(truth["family"]))
    if not own:
        return None
    return torch.from_numpy(exemplars), torch.from_numpy(np.stack(photos)), torch.tensor(own)


def turned(maps: torch.Tensor, angle: float) -> torch.Tensor:
    """Maps turned about the crop's centre; both stay 0 outside the disc, and validity yes or no."""
    c, s = math.cos(angle), math.sin(angle)
    matrix = torch.tensor([[c, -s, 0.0], [s, c, 0.0]], device=maps.device).expand(len(maps), 2, 3)
    out = F.grid_sample(maps, F.affine_grid(matrix, list(maps.shape), align_corners=False), align_corners=False)
    valid = (out[:, 1:] > 0.5).float()
    return torch.cat([out[:, :1] * valid, valid], 1)


def loss_of(vectors: torch.Tensor, exemplars: int, own: torch.Tensor, heat: torch.Tensor):
    """Cross-entropy of each photo among a library, every exemplar at its best turn; and the share ranked
    first. `vectors` are those of `Cuts.batch`, exemplars then photos."""
    library, photos = vectors[: TURNS * exemplars], vectors[TURNS * exemplars :]
    likeness = (photos @ library.T).reshape(len(photos), TURNS, exemplars).amax(1)
    return F.cross_entropy(likeness * heat, own), (likeness.argmax(1) == own).float().mean()
