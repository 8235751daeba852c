"""The accuracy bench: rendered lots through the release binary, scored against their truth."""

import argparse
from collections import Counter

from . import answers, environment, lots, results, table, truth
from .score import Row, score


def contents_of(arguments: argparse.Namespace) -> lots.Contents:
    return lots.Contents(
        families=arguments.families,
        unknown=arguments.unknown,
        unknown_siblings=arguments.unknown_siblings,
        bare=arguments.bare,
        tops=arguments.tops,
        extras=arguments.extras,
        thin=arguments.thin,
        renderer=arguments.renderer,
    )


def collect(
    seeds: list[int], arguments: argparse.Namespace, protocol: str, reference: bool
) -> list[Row]:
    """(seed, truth, answer) of every photo of every seed; a photo without an answer is an error."""
    rows: list[Row] = []
    for seed in seeds:
        lot = lots.render(arguments.split, seed, contents_of(arguments))
        library = lot / lots.PROTOCOLS[protocol]
        photos = lots.photos_of(lot / "photos", arguments.every)
        name = f"{protocol}-every{arguments.every}.jsonl"
        if reference:
            out = lots.yardstick(library, lot / "photos", arguments.every, lot / f"sift-{name}")
            if out is None:
                return []
        else:
            out = lots.match(library, photos, lot / f"answers-{name}", jobs=arguments.jobs)
        true, given = truth.read(lot / "truth.jsonl"), answers.read(out)
        missing = [p.name for p in photos if p.name not in given]
        if missing:
            raise SystemExit(f"error: no answer about {len(missing)} photos, first {missing[0]}")
        rows += [(seed, true[p.name], given[p.name]) for p in photos]
    return rows


def compact(rows: list[Row]) -> list[list]:
    """Every answer in few characters. Families are numbered in the order of their names, the list
    of which stands first; then a line a photo: seed, photo, verdict, and family and score by rank."""
    names = sorted({c.family for _, _, answer in rows for c in answer.candidates})
    number = {name: i for i, name in enumerate(names)}
    lines = [names]
    for seed, _, answer in rows:
        ranked = [v for c in answer.candidates for v in (number[c.family], round(c.score, 3))]
        lines.append([seed, answer.photo.rpartition(".")[0], answer.verdict, *ranked])
    return lines


def run(arguments: argparse.Namespace) -> None:
    lots.build()
    seeds = arguments.seed or [1]
    columns: dict[str, dict] = {}
    kept: dict[str, list] = {}
    photos: dict[str, int] = {}
    wanted = list(lots.PROTOCOLS) if arguments.protocol == "both" else [arguments.protocol]
    for protocol in wanted:
        rows = collect(seeds, arguments, protocol, reference=False)
        columns[protocol] = score(rows)
        photos = dict(sorted(Counter(truth.kind for _, truth, _ in rows).items()))
        kept[protocol] = compact(rows)
        if not arguments.yardstick:
            continue
        try:
            rows = collect(seeds, arguments, protocol, reference=True)
        except environment.NotAvailable as why:
            lots.say(f"skipped: the yardstick, because {why}")
            continue
        if rows:
            columns[f"yardstick-{protocol}"] = score(rows, probabilities=False)
            kept[f"yardstick-{protocol}"] = compact(rows)
    print(table.render(columns))
    if "yardstick-clean" in columns:
        print("\n" + table.difficulty(columns["yardstick-clean"]))
    renderer = "" if arguments.renderer == "kiln" else f"{arguments.renderer}-"
    name = arguments.name or f"{renderer}{arguments.split}-{'-'.join(map(str, seeds))}"
    head = {
        "kind": "accuracy",
        "split": arguments.split,
        "renderer": arguments.renderer,
        "seeds": seeds,
        "families": arguments.families,
        "every": arguments.every,
        "photos": photos,
        **results.provenance(),
        "figures": columns,
    }
    path = results.write(name, head, kept)
    lots.say(f"wrote {path.relative_to(results.ROOT)}")
