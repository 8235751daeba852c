"""Fits the weights of src/same_piece/evidence.rs: a logistic regression with a small ridge on the pairs that
`footring piece propose --pairs` prints, joined with the truth of the lots.

    python3 tools/tune/same_piece.py LOT/truth.jsonl pairs.jsonl [LOT2/truth.jsonl pairs2.jsonl ...]

Prints the weights, then for every lot, judged by weights fitted to all pairs: how the log-odds of pairs of one piece and
of pairs of different pieces lie. Plain numpy."""

import json
import pathlib
import sys

import numpy as np

RIDGE = 1.0
NAMES = ("bias", "peak", "texture", "pose", "no_pose", "strike", "mark")
# Spread of each, so that the ridge holds all of them alike.
SPREAD = (1.0, 3.0, 0.2, 1.5, 0.5, 0.04, 2.0)


def features(e: dict) -> list[float]:
    """The same as in `Evidence::log_odds`."""
    t, g, pose = e["texture"], e["gaps"], e["pose"]
    row = [1.0]
    row += [max(min(t["peak"], 12.0) - 3.0, 0.0), t["correlation"]] if t else [0.0, 0.0]
    row += [max(min(pose, 1.5), -4.0), 0.0] if pose is not None else [0.0, 1.0]
    row += [max(0.15 - g["differs"], 0.0)] if g else [0.0]
    return row + [max(min(e["odds"], 0.0), -6.0)]


def table(truth: str, pairs: str) -> tuple[np.ndarray, np.ndarray, list[dict]]:
    of = {}
    for line in pathlib.Path(truth).read_text().splitlines():
        row = json.loads(line)
        of[row["file"]] = row["piece"]
    rows = [json.loads(line) for line in pathlib.Path(pairs).read_text().splitlines()]
    # Retakes in which nothing could be compared are asked about without evidence.
    rows = [r for r in rows if r["evidence"]]
    x = np.array([features(r["evidence"]) for r in rows])
    y = np.array([float(of[r["photos"][0]] == of[r["photos"][1]]) for r in rows])
    return x, y, [{"a": of[r["photos"][0]], "b": of[r["photos"][1]]} | r for r in rows]


def fit(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Newton's method; pairs of either kind count for as much as the other. The bias is not held back."""
    x = x / SPREAD
    weight = np.where(y > 0, 0.5 / max(y.mean(), 1e-9), 0.5 / max(1 - y.mean(), 1e-9))
    w = np.zeros(x.shape[1])
    ridge = RIDGE * np.eye(x.shape[1])
    ridge[0, 0] = 1e-6
    for _ in range(60):
        p = 1 / (1 + np.exp(-x @ w))
        gradient = x.T @ (weight * (y - p)) - ridge @ w
        curve = (x * (weight * p * (1 - p))[:, None]).T @ x + ridge
        w += np.linalg.solve(curve, gradient)
    return w / SPREAD


def main() -> None:
    lots = list(zip(sys.argv[1::2], sys.argv[2::2]))
    tables = [table(*lot) for lot in lots]
    x, y = np.vstack([t[0] for t in tables]), np.concatenate([t[1] for t in tables])
    w = fit(x, y)
    for name, value in zip(NAMES, w):
        print(f"{name} {value:.3f}")
    parts = np.arange(len(y)) % 5
    odds = np.zeros(len(y))
    for part in range(5):
        odds[parts == part] = x[parts == part] @ fit(x[parts != part], y[parts != part])
    apart, same = np.sort(odds[y == 0]), np.sort(odds[y == 1])
    print(f"{len(same)} pairs of one piece, {len(apart)} of two; cross-validated")
    for share in (0.05, 0.1, 0.2, 0.5):
        print(f"{share:.0%} of one piece below {np.quantile(same, share):.2f}")
    for share in (0.5, 0.9, 0.95, 0.99, 0.995, 1.0):
        print(f"{share:.1%} of two below {np.quantile(apart, share):.2f}")


if __name__ == "__main__":
    main()
