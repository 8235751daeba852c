#!/usr/bin/env python3
"""Fits the weights of the verdict's conditional logit on what `tune` measured.

    target/release/tune LOT/library-clean LOT/photos --out features.jsonl
    python3 tools/tune/fit.py LOT/truth.jsonl features.jsonl [TRUTH FEATURES ...]

Every photo offers its compared families, "a family that was not compared" and "none of these"; the
likelihood of what is true is maximised with a ridge, each weight held to the sign of its meaning.
Prints weights for src/verdict/weights.rs and what each threshold would name. Needs numpy.
"""
import collections
import json
import sys

import numpy as np

# In the order of src/verdict/features.rs: which sign a weight may have (0: left out).
SIGNS = np.array([1, 1, 1, 1, 1, 1, 1, 1])
RIDGE = 0.6
STEPS = 1500
KINDS = ("known", "unknown", "unknown-sibling", "bare", "top")


def read(pairs):
    rows = []
    for truth_file, features_file in pairs:
        truth = {t["file"]: t for t in map(json.loads, open(truth_file))}
        for photo in map(json.loads, open(features_file)):
            fact = truth[photo["file"]]
            if fact["kind"] not in KINDS:
                continue
            best = {}
            for region in photo["regions"]:
                for c in region["candidates"]:
                    if c["family"] not in best or c["score"] > best[c["family"]][0]:
                        best[c["family"]] = (c["score"], c["features"])
            families = sorted(best, key=lambda f: -best[f][0])
            rows.append((fact["kind"], fact.get("family"), families, [best[f][1] for f in families]))
    return rows


def tables(rows):
    wide, deep = max(len(r[2]) for r in rows), len(SIGNS)
    x, given = np.zeros((len(rows), wide, deep)), np.zeros((len(rows), wide), bool)
    y = np.zeros(len(rows), int)
    for i, (kind, family, families, features) in enumerate(rows):
        for j, f in enumerate(features):
            x[i, j], given[i, j] = f, True
        if kind != "known":
            y[i] = wide + 1
        else:
            y[i] = families.index(family) if family in families else wide
    return x, given, y


def posterior(p, x, given):
    deep = x.shape[2]
    score = np.where(given, x @ p[:deep] + p[deep], -1e9)
    score = np.concatenate([score, np.full((len(x), 1), p[deep + 1]), np.zeros((len(x), 1))], 1)
    score = np.exp(score - score.max(1, keepdims=True))
    return score / score.sum(1, keepdims=True)


def fit(x, given, y):
    deep, wide = x.shape[2], x.shape[1]
    p = np.zeros(deep + 2)
    p[deep], p[deep + 1] = -3, -2
    first, second = np.zeros_like(p), np.zeros_like(p)
    for step in range(1, STEPS + 1):
        error = posterior(p, x, given)
        error[np.arange(len(y)), y] -= 1
        own = error[:, :wide] * given
        slope = np.concatenate([np.einsum("nk,nkf->f", own, x) + 2 * RIDGE * p[:deep], [own.sum(), error[:, wide].sum()]])
        first, second = 0.9 * first + 0.1 * slope, 0.999 * second + 0.001 * slope**2
        p -= 0.03 * (first / (1 - 0.9**step)) / (np.sqrt(second / (1 - 0.999**step)) + 1e-8)
        p[:deep][p[:deep] * SIGNS < 0] = 0
        p[:deep][SIGNS == 0] = 0
    return p


def main():
    pairs = list(zip(sys.argv[1::2], sys.argv[2::2]))
    if not pairs:
        sys.exit(__doc__)
    rows = read(pairs)
    x, given, y = tables(rows)
    spread = np.maximum(x[given].std(0), 1e-3)
    p = fit(x / spread, given, y)
    deep, wide = x.shape[2], x.shape[1]
    print("photos", dict(collections.Counter(r[0] for r in rows)))
    print("weights", [round(float(w), 3) for w in p[:deep] / spread])
    print("bias", round(float(p[deep]), 3), "rest", round(float(p[deep + 1]), 3))
    share = posterior(p, x / spread, given)[:, :wide]
    top, right = share.max(1), share.argmax(1) == y
    kind = np.array([r[0] for r in rows])
    print("top-1 of known", round(float(right[kind == "known"].mean()), 3))
    for at in (0.5, 0.6, 0.7, 0.72, 0.8, 0.9):
        named = {k: round(float((top >= at)[kind == k].mean()), 3) for k in KINDS if (kind == k).any()}
        print(f"at {at}: right and named {((top >= at) & right)[kind == 'known'].mean():.3f}, named {named}")


if __name__ == "__main__":
    main()
