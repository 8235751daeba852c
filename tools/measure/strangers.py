"""How unknown marks are grouped: a workspace with an empty library takes a season's photos in, and
`footring strangers --json` is held against the truth by the B-cubed figures of Bagga and Baldwin (1998):
for each mark, how much of its group is of its design (precision), and how much of its design is in its group
(recall), averaged over marks. A mark alone in truth and answer counts 1 in both, so the same is told for the
marks that have companions. What is split too finely is told as the merges that a person would have to make."""

import argparse
import json
import pathlib
import subprocess
import tempfile
from collections import Counter

from . import lots, results

# Sixty marks of which 24 have siblings, half of them once; sixty more that come once. Photos are easy and medium: hard
# ones are to be taken again.
SEASON = lots.Contents(
    families=60, unknown=96, unknown_siblings=24, bare=0, tops=0, extras=False, season=True
)


def designs(truth: pathlib.Path) -> dict[str, str]:
    """The design of each photo, by file name."""
    rows = [json.loads(line) for line in truth.read_text().splitlines()]
    return {r["file"]: r["design"] for r in rows}


def b_cubed(groups: list[list[str]], design: dict[str, str]) -> dict:
    """Precision and recall over all marks of the groups, and over those with companions."""
    size = Counter(design[m] for group in groups for m in group)
    scores = []
    for group in groups:
        counts = Counter(design[m] for m in group)
        for mark in group:
            alike = counts[design[mark]]
            scores.append((alike / len(group), alike / size[design[mark]], size[design[mark]] > 1))

    def mean(place: int, rows: list[tuple]) -> float:
        return round(sum(r[place] for r in rows) / len(rows), 4) if rows else 1.0

    some = [s for s in scores if s[2]]
    figures = {"marks": len(scores), "designs": len(size), "groups": sum(len(g) > 1 for g in groups)}
    figures |= {"precision": mean(0, scores), "recall": mean(1, scores)}
    apart = {d: sum(any(design[m] == d for m in g) for g in groups) for d in size}
    figures |= {"merges_needed": sum(apart.values()) - len(apart)}
    figures |= {"with_companions": {"marks": len(some), "precision": mean(0, some), "recall": mean(1, some)}}
    return figures


def groups_of(photos: pathlib.Path, names: list[str]) -> list[list[str]]:
    """What the release binary says of these photos, by file name."""
    with tempfile.TemporaryDirectory() as folder:
        desk, sale = pathlib.Path(folder, "desk"), pathlib.Path(folder, "sale")
        sale.mkdir()
        for name in names:
            (sale / name).symlink_to((photos / name).resolve())
        tool = lots.program("footring")
        subprocess.run([tool, "init", desk], check=True, capture_output=True)
        intake = [tool, "intake", sale, "--lot", "sale", "--workspace", desk]
        subprocess.run(intake, check=True, capture_output=True)
        grouped = [tool, "strangers", "--json", "--workspace", desk]
        out = subprocess.run(grouped, check=True, capture_output=True, text=True).stdout
    return [[m["photo"] for m in json.loads(line)["marks"]] for line in out.splitlines()]


def run(arguments: argparse.Namespace) -> None:
    lots.build()
    figures = {}
    for seed in arguments.seed or [1]:
        lot = lots.render(arguments.split, seed, SEASON)
        design = designs(lot / "truth.jsonl")
        groups = groups_of(lot / "photos", sorted(design)[:: arguments.every])
        figures[str(seed)] = b_cubed(groups, design)
    print(json.dumps(figures, indent=1))
    head = {"kind": "strangers", "split": arguments.split, "seeds": arguments.seed or [1]}
    head |= results.provenance() | {"figures": figures}
    path = results.write(arguments.name or "strangers", head)
    lots.say(f"wrote {path.relative_to(results.ROOT)}")
