"""One pottery whose lines share an emblem, some of them with variants: how often the line is named, and how often the
right variant of it, where the photo shows by what variants differ, where it lost that, and where that was taken away.

What is scored is the first candidate of the first mark: its `variant` is a folder name, null for the main form, or
`undecided`. A variant is only scored where the family came first; where the deciding part was taken away `undecided` is
wanted.
"""

import json
import pathlib
import shutil
import subprocess
import sys
from collections import Counter

from . import answers, lots, results, table, truth
from .score import right_at
from .tally import Tally
from .truth import SEVEN

UNDECIDED = "undecided"


def render(split: str, seed: int, thin: int) -> pathlib.Path:
    """The folder of a lot of one pottery; rendered where it is not there yet."""
    lot = lots.BENCH / (f"{split}-{seed}-pottery" + (f"-thin-{thin}" if thin > 1 else ""))
    if (lot / "truth.jsonl").exists():
        return lot
    shutil.rmtree(lot, ignore_errors=True)
    lot.mkdir(parents=True)
    lots.say(f"rendering {lot.relative_to(lots.ROOT)}")
    subprocess.run([lots.ROOT / "tools" / "artwork" / "fetch"], check=True, stdout=sys.stderr)
    command = [lots.program("kiln"), "pottery", "--split", split, "--seed", str(seed), "--every", str(thin)]
    subprocess.run([*command, "--out", lot], check=True, stdout=sys.stderr, cwd=lots.ROOT)
    return lot


def rows_of(path: pathlib.Path) -> dict[str, dict]:
    """Truths or answers by the name of the photo."""
    rows = [json.loads(line) for line in path.read_text().splitlines() if line.strip()]
    return {pathlib.PurePath(row.get("file") or row["photo"]).name: row for row in rows}


def first(answer: dict) -> dict:
    """The first candidate of the first mark; without a family where nothing was answered."""
    listed = [c for mark in answer["marks"][:1] for c in mark["candidates"][:1]]
    return listed[0] if listed else {"family": None, "variant": None}


def _lines(tally: Tally, seed: int, row: dict, fact: truth.Truth, answer: dict) -> None:
    """Whether the line was named, over photos of which nothing was taken away."""
    told = answers.from_row(answer)
    right, named = right_at(fact, told, 1), answer["verdict"] == "named"
    leads = first(answer)["family"] == row["family"]
    for key in ("seven", f"condition.{row['condition']}"):
        tally.add(f"lines.{key}.top1", seed, right)
        tally.add(f"lines.{key}.ranked_first", seed, leads)
        if fact.decidable:
            tally.add(f"lines.{key}.top1_decidable", seed, right)
            tally.add(f"lines.{key}.named_rightly", seed, named and right)
        if named:
            tally.add(f"lines.{key}.right_among_named", seed, right)
    if not fact.decidable:
        tally.add("lines.undecidable.named", seed, named)


def _variants(tally: Tally, seed: int, row: dict, answer: dict) -> None:
    """Whether the variant was told, over photos whose family came first."""
    deciding, best = row["deciding"], first(answer)
    state = deciding["state"]
    tally.add(f"families.{state}.first", seed, best["family"] == row["family"])
    if best["family"] != row["family"]:
        return
    said = best.get("variant")
    keys = ["all", f"differs.{deciding['differs'] or 'main-form'}"]
    keys += [f"by.{deciding['by']}"] if deciding["by"] else [f"condition.{row['condition']}"]
    for key in keys:
        tally.add(f"variants.{state}.{key}.right", seed, said == row["variant"])
        tally.add(f"variants.{state}.{key}.undecided", seed, said == UNDECIDED)
        tally.add(f"variants.{state}.{key}.wrong", seed, said not in (row["variant"], UNDECIDED))


def score(photos: list[tuple[int, dict, truth.Truth, dict]]) -> dict:
    """All figures over (seed, row of the truth, the same as a `Truth`, row of the answer)."""
    tally = Tally()
    for seed, row, fact, answer in photos:
        deciding = row.get("deciding")
        if row["kind"] == "unknown-sibling":
            tally.add("unknown_siblings.named", seed, answer["verdict"] == "named")
            continue
        if not (deciding and deciding["by"]) and row["condition"] in SEVEN:
            _lines(tally, seed, row, fact, answer)
        if deciding:
            _variants(tally, seed, row, answer)
    return tally.tree()


def measure(lot: pathlib.Path, seed: int, protocol: str, arguments) -> list[tuple[int, dict, truth.Truth, dict]]:
    photos = lots.photos_of(lot / "photos", arguments.every)
    out = lot / f"answers-{protocol}-every{arguments.every}.jsonl"
    lots.match(lot / lots.PROTOCOLS[protocol], photos, out, jobs=arguments.jobs)
    rows, facts, given = rows_of(lot / "truth.jsonl"), truth.read(lot / "truth.jsonl"), rows_of(out)
    missing = [p.name for p in photos if p.name not in given]
    if missing:
        raise SystemExit(f"error: no answer about {len(missing)} photos, first {missing[0]}")
    return [(seed, rows[p.name], facts[p.name], given[p.name]) for p in photos]


def compact(photos: list[tuple[int, dict, truth.Truth, dict]]) -> list[list]:
    """A line a photo: seed, photo, verdict, first family and variant; then what is true: kind, family, variant, state
    of the deciding part and how it was taken away."""
    lines = []
    for seed, row, _, answer in photos:
        deciding, best = row.get("deciding") or {}, first(answer)
        said = [row["file"].rpartition(".")[0], answer["verdict"], best["family"], best.get("variant")]
        true = [row["kind"], row["family"], row["variant"], deciding.get("state"), deciding.get("by")]
        lines.append([seed, *said, *true])
    return lines


def shown(figures: dict, at: str = "") -> list[str]:
    """Every share on a line of its own."""
    if "k" in figures and "n" in figures:
        return [f"{at:<58} {table.percent(figures)}"]
    return [line for key, node in figures.items() for line in shown(node, f"{at}.{key}" if at else key)]


def run(arguments) -> int:
    lots.build()
    seeds = arguments.seed or [1]
    wanted = list(lots.PROTOCOLS) if arguments.protocol == "both" else [arguments.protocol]
    figures, kept, counts = {}, {}, {}
    for protocol in wanted:
        photos = []
        for seed in seeds:
            lot = render(arguments.split, seed, arguments.thin)
            photos += measure(lot, seed, protocol, arguments)
        figures[protocol], kept[protocol] = score(photos), compact(photos)
        counts = Counter((row.get("deciding") or {}).get("state", row["kind"]) for _, row, _, _ in photos)
        print(f"{protocol}\n" + "\n".join(f"  {line}" for line in shown(figures[protocol])))
    head = {
        "kind": "pottery",
        "split": arguments.split,
        "seeds": seeds,
        "every": arguments.every,
        "photos": dict(sorted(counts.items())),
        **results.provenance(),
        "figures": figures,
    }
    path = results.write(arguments.name or f"pottery-{arguments.split}", head, kept)
    lots.say(f"wrote {path.relative_to(results.ROOT)}")
    return 0
