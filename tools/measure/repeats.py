"""Photos of one piece told from photos of many: services of different pieces with one stamp and glaze, pieces that were
photographed again, and pieces with three hard photos each. `footring piece propose --pairs` is held against the truth
pair by pair; then the triples are made pieces, as a person would approve them, and `footring piece mark` is held against
the best single photo, chosen by its own probability."""

import argparse
import itertools
import json
import math
import pathlib
import shutil
import subprocess
import tempfile

from . import lots, results
from .intervals import wilson

# Of a family's probability in one photo no less than this is left: one bad photo rules nothing out.
FLOOR = 0.02
# What three photos say counts for less than three times one: they share strike and glaze.
TEMPER = 0.7
# From which probability on a family is named (src/verdict/weights.rs).
NAMED_AT = 0.8


def render(split: str, seed: int) -> pathlib.Path:
    """The folder of a lot of services; rendered where it is not there yet."""
    lot = lots.BENCH / f"{split}-{seed}-repeats"
    if not (lot / "truth.jsonl").exists():
        shutil.rmtree(lot, ignore_errors=True)
        lot.mkdir(parents=True)
        lots.say(f"rendering {lot.relative_to(lots.ROOT)}")
        command = [lots.program("kiln"), "repeats", "--split", split, "--seed", str(seed), "--out", lot]
        subprocess.run(command, check=True, cwd=lots.ROOT)
    return lot


def share(k: int, n: int) -> dict:
    low, high = wilson(k, n)
    return {"value": round(k / n, 5) if n else 0.0, "k": k, "n": n, "low": round(low, 5), "high": round(high, 5)}


def service(piece: str) -> str:
    """`run 3` of `run 3 piece 5`."""
    return piece.rsplit(" piece ", 1)[0]


def pair_figures(truth: dict[str, dict], judged: dict[tuple[str, str], str]) -> dict:
    """Shares of pairs joined and asked, by what they truly are."""
    counts = {"different": [], "same": [], "same_hard": [], "other_mark": []}
    for a, b in itertools.combinations(sorted(truth), 2):
        one, two = truth[a]["piece"], truth[b]["piece"]
        if one == two:
            kind = "same_hard" if one.startswith("triple") else "same"
        elif service(one) == service(two):
            kind = "different"
        else:
            kind = "other_mark"
        counts[kind].append(judged.get((a, b), "apart"))
    figures = {}
    for kind, said in counts.items():
        figures[kind] = {"pairs": len(said)}
        for word in ("joined", "asked"):
            figures[kind][word] = share(said.count(word), len(said))
        either = said.count("joined") + said.count("asked")
        figures[kind]["joined_or_asked"] = share(either, len(said))
    return figures


def come_together(truth: dict[str, dict], joined: set[frozenset], asked: list[list[str]]) -> dict[str, str]:
    """Of each photo the one that stands for its piece, once what was joined is one piece and every question is answered
    by the truth: with yes where two proposals asked about share a piece."""
    of = {photo: photo for photo in truth}

    def first(photo: str) -> str:
        while of[photo] != photo:
            photo = of[photo]
        return photo

    for a, b in map(sorted, joined):
        of[first(a)] = first(b)
    for photos in asked:
        for a, b in itertools.combinations(photos, 2):
            if truth[a]["piece"] == truth[b]["piece"]:
                of[first(a)] = first(b)
    return {photo: first(photo) for photo in truth}


def question_figures(truth: dict[str, dict], proposals: list[dict]) -> dict:
    """What a person is asked of a lot: questions in a hundred photos, and how many of them are about different pieces;
    and how many of the photos that show a piece once more are proposed or asked about with another one of it."""
    joined = {frozenset(pair) for p in proposals if p["by"] != "asked" for pair in itertools.combinations(p["photos"], 2)}
    asked = [p["photos"] for p in proposals if p["by"] == "asked"]
    one = lambda pair: truth[pair[0]]["piece"] == truth[pair[1]]["piece"]  # noqa: E731
    fresh = [[p for p in itertools.combinations(q, 2) if frozenset(p) not in joined] for q in asked]
    idle = sum(not any(map(one, pairs)) for pairs in fresh)
    met = joined | {frozenset(p) for pairs in fresh for p in pairs}
    figures = {
        "photos": len(truth),
        "questions_in_100_photos": round(100 * len(asked) / max(len(truth), 1), 1),
        "about_different_pieces_in_100_photos": round(100 * idle / max(len(truth), 1), 1),
    }
    reached = come_together(truth, joined, asked)
    for kind in ("same", "same_hard"):
        hard = kind == "same_hard"
        own = [
            pair
            for pair in itertools.combinations(sorted(truth), 2)
            if one(pair) and truth[pair[0]]["piece"].startswith("triple") == hard
        ]
        figures[f"{kind}_pairs_reached"] = share(sum(reached[a] == reached[b] for a, b in own), len(own))
        again = [f for f in truth if (truth[f]["piece"].startswith("triple")) == (kind == "same_hard")]
        mates = {f: [o for o in truth if o != f and truth[o]["piece"] == truth[f]["piece"]] for f in again}
        shown = [f for f in again if mates[f]]
        found = sum(any(frozenset((f, o)) in met for o in mates[f]) for f in shown)
        figures[f"{kind}_photos_met"] = share(found, len(shown))
    return figures


def first_mark(answer: dict | None) -> dict:
    return answer["marks"][0] if answer and answer["marks"] else {"candidates": [], "none": 1.0}


def top(answer: dict | None) -> tuple[float, str | None]:
    best = first_mark(answer)["candidates"][:1]
    return (best[0]["probability"], best[0]["family"]) if best else (0.0, None)


def combined(answers: list[dict]) -> tuple[float, str | None]:
    """The likeliest family by the tempered product of what single photos say, and its probability."""
    marks = [first_mark(a) for a in answers]
    said = [{c["family"]: c["probability"] for c in m["candidates"]} for m in marks]
    families = sorted(set().union(*said))
    scores = {f: TEMPER * sum(math.log(max(s.get(f, 0.0), FLOOR)) for s in said) for f in families}
    scores[None] = TEMPER * sum(math.log(max(m["none"], FLOOR)) for m in marks)
    total = sum(math.exp(v) for v in scores.values())
    best = max(families, key=lambda f: scores[f], default=None)
    return math.exp(scores[best]) / total, best


def triple_figures(truth: dict[str, dict], answers: dict[str, dict], fused: dict[str, dict | None]) -> dict:
    """How many pieces are named rightly by the best single photo, by the fused mark, and by all photos together."""
    rows = []
    for piece in sorted(fused):
        files = sorted(f for f in truth if truth[f]["piece"] == piece)
        family = truth[files[0]]["family"]
        own = [answers[f] for f in files]
        single = max(own, key=lambda a: top(a)[0])
        whole = fused[piece] or single
        together = combined(own)
        rows.append(
            {
                "piece": piece,
                "family": family,
                "single": [single["verdict"], *top(single)],
                "fused": [whole["verdict"], *top(whole)],
                "combined": ["named" if together[0] >= NAMED_AT else "choose", *together],
                "surest": max(
                    ([a["verdict"], *top(a)] for a in (single, whole)), key=lambda s: s[1]
                ),
                "could_fuse": fused[piece] is not None,
            }
        )
    figures = {"pieces": len(rows), "fused": sum(r["could_fuse"] for r in rows)}
    for way in ("single", "fused", "combined", "surest"):
        named = [r for r in rows if r[way][0] == "named"]
        right = sum(r[way][2] == r["family"] for r in named)
        figures[f"{way}_right_and_accepted"] = share(right, len(rows))
        figures[f"{way}_named_wrongly"] = share(len(named) - right, len(rows))
        figures[f"{way}_first"] = share(sum(r[way][2] == r["family"] for r in rows), len(rows))
    return figures | {"rows": rows}


def lines(command: list) -> list[dict]:
    out = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    return [json.loads(line) for line in out.splitlines()]


def measure(lot: pathlib.Path) -> tuple[dict, list[dict]]:
    rows = [json.loads(line) for line in (lot / "truth.jsonl").read_text().splitlines()]
    truth = {r["file"]: r for r in rows}
    tool = lots.program("footring")
    with tempfile.TemporaryDirectory() as folder:
        desk = pathlib.Path(folder, "desk")
        subprocess.run([tool, "init", desk], check=True, capture_output=True)
        shutil.copytree(lot / "library-clean", desk / "library", dirs_exist_ok=True)
        intake = [tool, "intake", lot / "photos", "--lot", "sale", "--workspace", desk]
        subprocess.run(intake, check=True, capture_output=True)
        pairs = lines([tool, "piece", "propose", "--pairs", "--workspace", desk])
        proposals = lines([tool, "piece", "propose", "--json", "--workspace", desk])
        triples: dict[str, list[str]] = {}
        for name in sorted(truth):
            if truth[name]["piece"].startswith("triple"):
                triples.setdefault(truth[name]["piece"], []).append(name)
        numbers = {}
        for piece, files in triples.items():
            made = [tool, "piece", "new", *files, "--workspace", desk]
            out = subprocess.run(made, check=True, capture_output=True, text=True).stdout
            numbers[int(out.split()[-1])] = piece
        told = lines([tool, "piece", "mark", "--json", "--workspace", desk, *map(str, numbers)]) if numbers else []
        fused = {numbers[line["piece"]]: line["fused"] for line in told}
    wanted = [lot / "photos" / f for files in triples.values() for f in files]
    out = lots.match(lot / "library-clean", wanted, lot / "triples.jsonl", top=60)
    answers = {json.loads(t)["photo"]: json.loads(t) for t in out.read_text().splitlines()}
    judged = {tuple(sorted(p["photos"])): p["judged"] for p in pairs}
    figures = {"pairs": pair_figures(truth, judged), "questions": question_figures(truth, proposals)}
    figures |= {"triples": triple_figures(truth, answers, fused)}
    for p in pairs:
        a, b = (truth[f] for f in p["photos"])
        p["same"] = a["piece"] == b["piece"]
        p["same_service"] = service(a["piece"]) == service(b["piece"])
    return figures, pairs


def run(arguments: argparse.Namespace) -> None:
    lots.build()
    seeds = arguments.seed or [1]
    figures, kept = {}, {}
    for seed in seeds:
        figures[str(seed)], pairs = measure(render(arguments.split, seed))
        kept |= {f"pairs {seed}": pairs, f"triples {seed}": figures[str(seed)]["triples"].pop("rows")}
    print(json.dumps(figures, indent=1))
    head = {"kind": "repeats", "split": arguments.split, "seeds": seeds}
    head |= results.provenance() | {"figures": figures}
    path = results.write(arguments.name or f"repeats-{arguments.split}", head, kept)
    lots.say(f"wrote {path.relative_to(results.ROOT)}")
