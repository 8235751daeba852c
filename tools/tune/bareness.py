#!/usr/bin/env python3
"""Fits how surely an underside carries no mark, on what `tune` measured.

    target/release/tune LOT/library-clean LOT/photos --out features.jsonl
    python3 tools/tune/bareness.py LOT/truth.jsonl features.jsonl [TRUTH FEATURES ...]

A logistic regression of "bare" against "marked" on what src/verdict/bareness.rs reads. Prints its numbers, and
for some shares of marked undersides that may be called bare, how many bare ones then are; shares of those that are
looked at twice. Needs numpy.
"""
import json
import sys

import numpy as np

# As in src/verdict/bareness.rs.
LEAST = 1e-4
UNCOMPARED = -3.0
LOOK_MOST = 8.0
RIDGE = 1e-3
ROUNDS = 30


def log_odds(yes, no):
    return np.log(max(yes, LEAST) / max(no, LEAST))


def evidence(photo):
    marked, bare, _ = photo["scene"]
    place = photo["regions"][0]["score"] if photo["regions"] else 0.0
    look = max(r["second_look"] for r in photo["regions"])
    odds = [4 * c["features"][6] for r in photo["regions"] for c in r["candidates"]]
    return [log_odds(bare, marked), log_odds(place, 1 - place), min(max(look, -LOOK_MOST), LOOK_MOST), max(odds, default=UNCOMPARED)]


def main():
    pairs = list(zip(sys.argv[1::2], sys.argv[2::2]))
    if not pairs:
        sys.exit(__doc__)
    rows, bare, sure = [], [], []
    for truth_file, features_file in pairs:
        truth = {t["file"]: t for t in map(json.loads, open(truth_file))}
        for photo in map(json.loads, open(features_file)):
            kind = truth[photo["file"]]["kind"]
            if not photo["regions"] or photo["regions"][0]["second_look"] is None:
                # It shows a mark so surely that nobody looks twice.
                sure.append(kind)
            elif kind in ("known", "unknown", "unknown-sibling", "bare"):
                rows.append(evidence(photo))
                bare.append(kind == "bare")
    x, y = np.c_[np.array(rows), np.ones(len(rows))], np.array(bare)
    w = np.zeros(x.shape[1])
    for _ in range(ROUNDS):
        p = 1 / (1 + np.exp(-np.clip(x @ w, -30, 30)))
        slope = x.T @ (p - y) + RIDGE * w
        curve = (x * (p * (1 - p))[:, None]).T @ x + RIDGE * np.eye(len(w))
        w -= np.linalg.solve(curve, slope)
    print(f"{(~y).sum()} looks at marked undersides, {y.sum()} at bare ones")
    print(f"{len(sure)} more need no second look, {sure.count('bare')} of them bare")
    print("scene, place, look, fit, bias", [round(float(v), 2) for v in w])
    score = x @ w
    for share in (0.003, 0.005, 0.0075, 0.01, 0.015, 0.02):
        at = np.quantile(score[~y], 1 - share)
        print(f"from {at:.2f}: {100 * (score[~y] > at).mean():.1f} % of the marked, {100 * (score[y] > at).mean():.1f} % of the bare")


if __name__ == "__main__":
    main()
