"""The bench of quality: photos with one fault each, from hardly there to beyond rescue.

Two questions. Does each measure follow its own fault and no other (a table of Spearman's rank
correlations)? And is each photo treated as its fault deserves: what is beyond rescue goes to a
person or back, what is good does not, and the fault that was rendered is the one that is named?
"""

import argparse
import json
import math
from collections import Counter, defaultdict

from . import chance, intervals, lots, results

# Contents of the lot: photos of each fault unless told otherwise, and four times as many without.
FAMILIES = 30
FAULTS = 11

# Beyond rescue, settled before the first run. Letters: their height in pixels that the blur leaves
# apart. A blur of sigma s passes a tenth of the contrast at one cycle in 3 s pixels (the limit of
# resolution of ISO 12233, from memory), so that a pixel worth the name is 1.5 s wide.
LETTER_PX = 5.0
RESOLVED_SIGMA = 1.5
# Share of the ink that is there, in the frame, and neither covered nor under a reflection.
INK_LEFT = 0.20
# Contrast of the ink over the noise of its ground.
CONTRAST = 1.0
# Sigma of a uniform streak, in its lengths.
STREAK = 12**-0.5

# What is asked of the figures.
WANTED = {"beyond_rescue_sent": 0.90, "good_sent_back": 0.02, "weak_sent_back": 0.05, "cause_first": 0.85}
OFF_DIAGONAL = 0.2
# Photos for a correlation, at least.
LEAST = 8

# The reason that names each fault.
NAMED_BY = {
    "defocus": {"blurred"},
    "motion": {"moved"},
    "dark": {"too-dark"},
    "bright": {"too-bright"},
    "glare": {"glare"},
    "far": {"too-small"},
    "cut": {"cut-off", "show-whole-base"},
    "label": {"covered"},
    "tilt": {"slanted"},
    "weak": {"weak-strike"},
    "worn": {"worn"},
    "scratch": {"defaced"},
    "hole": {"defaced"},
}
CAUSES = set().union(*NAMED_BY.values())
# The measure that follows each fault, and whether it rises with it.
MEASURES = {
    "defocus": ("quality.defocus", 1),
    "motion": ("quality.motion", 1),
    "dark": ("quality.exposure", -1),
    "bright": ("quality.clipped", 1),
    "glare": ("quality.glare", 1),
    "far": ("quality.letters", -1),
    "cut": ("quality.cut", 1),
    "label": ("state.covered", 1),
    "tilt": ("quality.tilt", 1),
    "weak": ("state.faded", 1),
    "worn": ("state.worn", 1),
    "scratch": ("state.scratched", 1),
    "hole": ("state.spotted", 1),
}
# Too little and too much light are two ends of one thing.
ONE_AXIS = ({"dark", "bright"},)
SENT = {"reshoot", "choose", "unknown"}
# What is named and said not to be legible, or hardly there, lies on the pile to look at (`Pile::of_answer`).
UNREAD = {"blurred", "moved", "too-small", "covered", "cut-off", "glare", "weak-strike", "worn"}


def severity(row: dict, cause: str) -> float:
    """How much of a fault a photo has: as measured on it where the lot says so, else as asked for; 0 where it
    has another one or none."""
    m, fault = row["measured"], row["fault"]
    if not fault or fault["cause"] != cause:
        return 0.0
    measured = {
        "far": -m["letter_px"],
        "glare": m["glare_share"],
        "cut": m["cut_share"],
        "label": m["cut_share"],
        "weak": 1.0 - m["ink_left"],
        "worn": 1.0 - m["ink_left"],
    }
    return measured.get(cause, fault["amount"])


def is_beyond_rescue(m: dict) -> bool:
    sigma = math.hypot(m["defocus_px"], STREAK * m["moved_px"])
    letters = m["letter_px"] / max(1.0, RESOLVED_SIGMA * sigma)
    ink = m["ink_left"] * (1.0 - m["cut_share"]) * (1.0 - m["glare_share"])
    return letters < LETTER_PX or ink < INK_LEFT or m["contrast_noise"] < CONTRAST


def spearman(a: list[float], b: list[float]) -> float | None:
    """Rank correlation; None for fewer than `LEAST` pairs or where one side does not vary."""
    if len(a) < LEAST:
        return None
    x, y = chance.centred(a), chance.centred(b)
    xx, yy = sum(u * u for u in x), sum(v * v for v in y)
    return sum(u * v for u, v in zip(x, y)) / math.sqrt(xx * yy) if xx > 0 and yy > 0 else None


def look_up(answer: dict, path: str) -> float | None:
    """A measure of the first mark."""
    node = answer["marks"][0] if answer["marks"] else None
    for part in path.split("."):
        node = node.get(part) if node else None
    return node


def pairs_of(rows: list[tuple[dict, dict]], own: str, cause: str) -> list[tuple[float, float]]:
    """(severity, measure) of the photos in which the measure of `own` was taken: with its own fault over the photos
    of that fault, with another over those and the sound ones."""
    path, sign = MEASURES[own]
    among = {cause} if cause == own else {cause, None}
    pairs = []
    for truth, answer in rows:
        value = look_up(answer, path)
        fault = truth["fault"]["cause"] if truth["fault"] else None
        if value is not None and fault in among:
            pairs.append((amount_of(truth, cause), sign * value))
    return pairs


def correlation(pairs: list[tuple[float, float]]) -> float | None:
    """Spearman's; a measure that stays as it is, is not moved by the fault."""
    still = len(pairs) >= LEAST and len({p[1] for p in pairs}) == 1
    return 0.0 if still else spearman([p[0] for p in pairs], [p[1] for p in pairs])


def cross_table(rows: list[tuple[dict, dict]]) -> dict[str, dict[str, float | None]]:
    """Rank correlation of every measure with every fault."""
    table: dict[str, dict[str, float | None]] = {}
    for own, (path, _) in MEASURES.items():
        cells = {cause: correlation(pairs_of(rows, own, cause)) for cause in MEASURES}
        table[path] = {cause: None if rho is None else round(rho, 3) for cause, rho in cells.items()}
    return table


def off_diagonal(rows: list[tuple[dict, dict]]) -> dict:
    """How far measures follow the faults of others: how many cells lie above the limit, how many of those would if no
    measure followed any, and how many do beyond chance."""
    cells = []
    for own in MEASURES:
        for cause in MEASURES:
            if cause == own or {cause, own} in ONE_AXIS:
                continue
            pairs = pairs_of(rows, own, cause)
            rho = correlation(pairs)
            if rho is not None:
                cells.append(chance.Cell(own, cause, pairs, rho))
    above = [c for c in cells if abs(c.rho) > OFF_DIAGONAL]
    sure = sorted((c for c in above if chance.least(abs(c.rho), len(c.pairs)) > OFF_DIAGONAL), key=lambda c: -abs(c.rho))
    faulty = Counter(t["fault"]["cause"] for t, _ in rows if t["fault"])
    return {
        "largest": round(max(abs(c.rho) for c in cells), 3),
        "above_limit": len(above),
        "n": len(cells),
        "photos_a_cause": min(faulty.values()),
        "sound_photos": sum(not t["fault"] for t, _ in rows),
        **chance.of_noise(cells, OFF_DIAGONAL),
        "beyond_chance": len(sure),
        "beyond_chance_cells": [[MEASURES[c.own][0], c.cause, round(c.rho, 3)] for c in sure],
    }


def amount_of(truth: dict, cause: str) -> float:
    """The severity, with that of a sound photo below all others."""
    has = bool(truth["fault"]) and truth["fault"]["cause"] == cause
    return severity(truth, cause) if has else float("-inf")


def is_sent(answer: dict) -> bool:
    """Whether a photo goes back or to the eye."""
    unread = any(r["code"] in UNREAD for r in answer["reasons"])
    return answer["verdict"] in SENT or (answer["verdict"] == "named" and unread)


def first_cause(answer: dict) -> str | None:
    return next((r["code"] for r in answer["reasons"] if r["code"] in CAUSES), None)


def share(hits: int, of: int) -> dict:
    low, high = intervals.wilson(hits, of) if of else (0.0, 1.0)
    return {"value": round(hits / of, 4) if of else 0.0, "low": round(low, 4), "high": round(high, 4), "n": of}


def treatment(rows: list[tuple[dict, dict]]) -> dict:
    counted: dict[str, list[int]] = defaultdict(lambda: [0, 0])

    def count(key: str, hit: bool) -> None:
        counted[key][0] += hit
        counted[key][1] += 1

    for truth, answer in rows:
        verdict, fault = answer["verdict"], truth["fault"]
        cause = fault["cause"] if fault else None
        sent = is_sent(answer)
        first = answer["marks"][0]["candidates"][:1] if answer["marks"] else []
        right = verdict == "named" and bool(first) and first[0]["family"] == truth["family"]
        if is_beyond_rescue(truth["measured"]):
            count("beyond_rescue_sent", sent)
            count("beyond_rescue_sent_or_rightly_named", sent or right)
            if truth["siblings"]:
                count("beyond_rescue_with_siblings_sent", sent)
        elif cause in (None, "weak"):
            count("good_sent_back" if cause is None else "weak_sent_back", verdict == "reshoot")
            if cause is None:
                count("good_named_to_the_eye", sent and verdict == "named")
        if cause and sent:
            count("cause_first", first_cause(answer) in NAMED_BY[cause])
            count(f"cause_first_{cause}", first_cause(answer) in NAMED_BY[cause])
        if cause is None and first_cause(answer):
            count("good_with_a_cause", True)
        elif cause is None:
            count("good_with_a_cause", False)
    return {key: share(*counted[key]) for key in sorted(counted)}


def show(table: dict, figures: dict, rows: list[tuple[dict, dict]]) -> None:
    print(f"{'':20}" + "".join(f"{cause[:7]:>8}" for cause in MEASURES))
    for path, line in table.items():
        cells = ("       –" if v is None else f"{v:8.2f}" for v in line.values())
        print(f"{path:20}" + "".join(cells))
    for key, value in figures.items():
        wanted = f"  (wanted: {WANTED[key]:.0%})" if key in WANTED else ""
        print(f"{key:38}{value['value']:7.1%} of {value['n']}{wanted}")
    wrong = Counter()
    for truth, answer in rows:
        if truth["fault"] and is_sent(answer):
            wrong[truth["fault"]["cause"], first_cause(answer)] += 1
    for (cause, named), n in sorted(wrong.items(), key=str):
        print(f"  {cause} is called {named}: {n}")


def run(arguments: argparse.Namespace) -> int:
    lots.build()
    contents = lots.Contents(
        families=FAMILIES, unknown=0, unknown_siblings=0, bare=0, tops=0, extras=False,
        faults=arguments.faults or FAULTS, thin=arguments.thin,
    )
    rows, kept = [], []
    seeds = arguments.seed or [1]
    for seed in seeds:
        lot = lots.render(arguments.split, seed, contents)
        photos = lots.photos_of(lot / "photos", arguments.every)
        name = f"quality-every{arguments.every}.jsonl"
        out = lots.match(lot / "library-clean", photos, lot / name, jobs=arguments.jobs)
        rows_of = read(lot / "truth.jsonl", out)
        rows += rows_of
        kept += [compact(seed, truth, answer) for truth, answer in rows_of]
    table, figures = cross_table(rows), treatment(rows)
    own = {cause: table[path][cause] for cause, (path, _) in MEASURES.items()}
    figures["off_diagonal"] = off_diagonal(rows)
    figures["diagonal"] = own
    show(table, {k: v for k, v in figures.items() if "value" in v}, rows)
    print(f"off the diagonal: {figures['off_diagonal']}")
    head = {
        "kind": "quality",
        "split": arguments.split,
        "seeds": seeds,
        "photos": len(rows),
        **results.provenance(),
        "figures": figures,
        "table": table,
    }
    name = arguments.name or f"quality-{arguments.split}-{'-'.join(map(str, seeds))}"
    path = results.write(name, head, {"quality": kept})
    lots.say(f"wrote {path.relative_to(results.ROOT)}")
    return 0


def read(truth_file, answers_file) -> list[tuple[dict, dict]]:
    """(truth, answer) of every answered photo of a mark, in the order of the truth."""
    lines = answers_file.read_text().splitlines()
    answers = {a["photo"].rpartition("/")[2]: a for a in map(json.loads, lines)}
    truths = map(json.loads, truth_file.read_text().splitlines())
    return [(t, answers[t["file"]]) for t in truths if t["file"] in answers and t["measured"]]


def compact(seed: int, truth: dict, answer: dict) -> list:
    """Seed, photo, fault and amount, verdict, its causes, and the measures in their order."""
    fault = truth["fault"] or {"cause": None, "amount": 0.0}
    causes = [r["code"] for r in answer["reasons"] if r["code"] in CAUSES]
    measures = [look_up(answer, path) for path, _ in MEASURES.values()]
    return [seed, truth["file"][:-4], fault["cause"], round(fault["amount"], 2), answer["verdict"], causes, *measures]
