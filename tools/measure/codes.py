"""The bench of date codes: photos of families with codes through the release binary, and what it
read beside what is printed.

A photo counts as read where the state is `read`; its readings are then what a person is shown.
Where the mark was not identified, or no code was looked for, nothing is read and the photo counts
as missed, so the figures are those of the whole way from the photo."""

import argparse
import dataclasses
import json
import pathlib

from . import lots, results
from .intervals import calibration_error
from .tally import Tally
from .truth import SEVEN

# A reading above this is one that a person would likely take over.
HALF = 0.5
# Readings from here on are called sure.
SURE = 0.9


@dataclasses.dataclass(frozen=True)
class Coded:
    """One photo of a piece whose family has a scheme of codes."""

    seed: int
    photo: str
    condition: str
    # The code without spaces; None where the piece carries none of the scheme.
    text: str | None
    # Whether something else stands in its place.
    other: bool
    # Whether kiln's rule says that the code can be read; None for lots of before that rule.
    legible: bool | None
    # Whether some code was looked for.
    looked: bool
    state: str
    # (text, probability), likeliest first; empty where nothing was read.
    readings: tuple[tuple[str, float], ...]
    # Milliseconds of the stage.
    ms: float


def contents_of(arguments: argparse.Namespace) -> lots.Contents:
    return lots.Contents(
        families=arguments.families,
        unknown=0,
        unknown_siblings=0,
        bare=0,
        tops=0,
        extras=False,
        thin=arguments.thin,
        codes=True,
    )


def coded(seed: int, true: dict, row: dict) -> Coded:
    dates = [d for mark in row["marks"] for d in mark["dates"]]
    dates.sort(key=lambda d: -(d["readings"][0]["probability"] if d["readings"] else 0.0))
    best = dates[0] if dates else {"state": "not-looked-for", "readings": []}
    told = best["readings"] if best["state"] == "read" else []
    code = true["code"]
    stages = {s["stage"]: s["ms"] for s in row.get("stages") or ()}
    return Coded(
        seed=seed,
        photo=true["file"],
        condition=true["condition"],
        text=code["text"].replace(" ", "") if code and code["of_scheme"] else None,
        other=bool(code) and not code["of_scheme"],
        legible=code.get("legible") if code else None,
        looked=best["state"] != "not-looked-for",
        state=best["state"],
        readings=tuple((r["text"], r["probability"]) for r in told),
        ms=stages.get("codes", 0.0),
    )


def collect(seed: int, arguments: argparse.Namespace) -> list[Coded]:
    lot = lots.render(arguments.split, seed, contents_of(arguments))
    photos = lots.photos_of(lot / "photos", arguments.every)
    out = lot / f"answers-codes-every{arguments.every}.jsonl"
    lots.match(lot / lots.PROTOCOLS["clean"], photos, out, jobs=arguments.jobs)
    lines = (lot / "truth.jsonl").read_text().splitlines()
    true = {row["file"]: row for row in map(json.loads, lines)}
    given = map(json.loads, out.read_text().splitlines())
    return [coded(seed, true[pathlib.PurePath(row["photo"]).name], row) for row in given]


def _with_code(tally: Tally, row: Coded) -> None:
    texts = [text for text, _ in row.readings]
    keys = ["all", f"condition.{row.condition}"]
    if row.condition in SEVEN:
        keys.append("seven")
    if row.looked:
        keys.append("looked")
    if row.legible:
        keys.append("legible")
        keys.append(f"legible_condition.{row.condition}")
    for key in keys:
        tally.add(f"code.{key}.first", row.seed, texts[:1] == [row.text])
        tally.add(f"code.{key}.three", row.seed, row.text in texts[:3])
    tally.add("code.looked_for", row.seed, row.looked)


def score(rows: list[Coded]) -> dict:
    tally, pairs = Tally(), []
    for row in rows:
        kind = "code" if row.text else "other" if row.other else "none"
        tally.add(f"states.{kind}.{row.state}", row.seed, True)
        if row.text:
            _with_code(tally, row)
        else:
            half = bool(row.readings) and row.readings[0][1] > HALF
            for key in (kind, "without"):
                tally.add(f"{key}.above_half", row.seed, half)
                if row.looked:
                    tally.add(f"{key}.above_half_where_looked", row.seed, half)
        if row.readings:
            text, probability = row.readings[0]
            pairs.append((probability, text == row.text))
            if probability >= SURE:
                tally.add("sure.right", row.seed, text == row.text)
    figures = tally.tree()
    counts = {kind: {s: v["n"] for s, v in states.items()} for kind, states in figures["states"].items()}
    figures["states"] = counts
    error = calibration_error(pairs)
    figures["calibration"] = {"error": error and round(error, 5), "readings": len(pairs)}
    looked = [row.ms for row in rows if row.looked]
    if looked:
        figures["time"] = {"codes_ms": round(sum(looked) / len(looked), 1), "most_ms": max(looked)}
    return figures


def render(figures: dict) -> str:
    code = figures["code"]
    lines = ["photos with a code      n   first  within three"]
    groups = [(name, code["condition"][name]) for name in SEVEN if name in code["condition"]]
    groups += [(name, code[name]) for name in ("seven", "looked", "legible") if name in code]
    for name, group in groups:
        first, three = group["first"], group["three"]
        lines.append(f"{name:<20}{first['n']:>5}{first['value']:>8.1%}{three['value']:>8.1%}")
    for key in ("none", "other", "without"):
        if key in figures:
            share = figures[key]["above_half"]
            lines.append(f"{key}: {share['k']} of {share['n']} get a reading above {HALF}")
    if "sure" in figures:
        share = figures["sure"]["right"]
        lines.append(f"readings from {SURE} on: {share['k']} of {share['n']} right")
    lines.append(f"calibration {figures['calibration']}, time {figures.get('time')}")
    lines.append(f"states {figures['states']}")
    return "\n".join(lines)


def run(arguments: argparse.Namespace) -> None:
    lots.build()
    seeds = arguments.seed or [1]
    rows = [row for seed in seeds for row in collect(seed, arguments)]
    figures = score(rows)
    print(render(figures))
    name = arguments.name or f"codes-{arguments.split}-{'-'.join(map(str, seeds))}"
    head = {
        "kind": "codes",
        "split": arguments.split,
        "seeds": seeds,
        "families": arguments.families,
        "thin": arguments.thin,
        "every": arguments.every,
        "photos": len(rows),
        **results.provenance(),
        "figures": figures,
    }
    kept = [
        [row.seed, row.photo.rpartition(".")[0], row.condition, row.text, row.state]
        + [value for text, p in row.readings[:3] for value in (text, round(p, 3))]
        for row in rows
    ]
    path = results.write(name, head, {"clean": kept})
    lots.say(f"wrote {path.relative_to(results.ROOT)}")
