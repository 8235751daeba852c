"""Writes the small probe that the Rust tests read, from what code_train.py left.

    python3 tools/train/code_probe.py DIR/code-probe.npz src/date_code/probe.bin

One line of JSON, then bytes: for a few strips their ink and their contrast, the same again of the
unmasked grey, and that grey; then their log probabilities, column by column, as little-endian half
precision. Strips are chosen whose
text the net reads without fault.
"""

import json
import sys

import numpy as np

from code_glyphs import CLASSES

KEPT = 5


def greedy(scores: np.ndarray) -> str:
    best = scores.argmax(0)
    kept = best[np.insert(best[1:] != best[:-1], 0, True)]
    return "".join(CLASSES[c - 1] for c in kept if c)


def main() -> None:
    file = np.load(sys.argv[1])
    texts = [str(t) for t in file["texts"]]
    # In use a strip ends where it was cut, and a margin of nothing lies beside it, as in two of three strips of training.
    ends = (file["views"][:, 0, :, [0, -1]] == 0).all((0, 2))
    good = [i for i, t in enumerate(texts) if len(t) > 2 and ends[i] and greedy(file["scores"][i]) == t][:KEPT]
    head = {"texts": [texts[i] for i in good], "wide": int(file["grey"].shape[2])}
    with open(sys.argv[2], "wb") as out:
        out.write(json.dumps(head, separators=(",", ":")).encode() + b"\n")
        out.write(file["views"][good].tobytes())
        bare = np.stack([file["bare"][good][:, 0] * 255, file["bare"][good][:, 1] * 127.5 + 127.5], 1)
        out.write(np.round(bare).astype(np.uint8).tobytes())
        out.write(file["grey"][good].tobytes())
        out.write(file["scores"][good].transpose(0, 2, 1).astype("<f2").tobytes())
    print(head["texts"])


if __name__ == "__main__":
    main()
