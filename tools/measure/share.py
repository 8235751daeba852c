"""The small fixed share of the bench that `tools/check` runs again.

Some forty photos of a fixed seed are rendered and matched; the answers must be those of the
committed results/share.json. Floats differ between processors in the last bits, and a photo at the
border of a verdict may fall to either side: a few answers may differ, no more."""

import argparse

from . import answers, lots, results, truth
from .score import right_at

SPLIT, SEED, EVERY = "tune", 901, 2
CONTENTS = lots.Contents(
    families=10, unknown=6, unknown_siblings=6, bare=6, tops=4, extras=False
)
# Photos whose verdict or first family may differ from the committed answer: about 5 %, which the
# last bits of floats can move; a change of the engine moves more.
MAY_DIFFER = 2
# How far the first probability may lie from the committed one before the answer counts as other.
PROBABILITY = 0.1


def answer_now(jobs: int | None) -> list[list]:
    """[photo, verdict, first family or null, its probability, right] in order of the names."""
    lot = lots.render(SPLIT, SEED, CONTENTS)
    photos = lots.photos_of(lot / "photos", EVERY)
    out = lots.match(lot / lots.PROTOCOLS["clean"], photos, lot / "answers.jsonl", jobs=jobs)
    true, rows = truth.read(lot / "truth.jsonl"), []
    for name, answer in sorted(answers.read(out).items()):
        first = answer.first
        right = right_at(true[name], answer, 1) if true[name].is_known else None
        probability = round(first.score, 3) if first else 0.0
        rows.append([name, answer.verdict, first.family if first else None, probability, right])
    return rows


def differences(committed: list[list], now: list[list]) -> list[str]:
    """One line for each photo whose answer is another one."""
    held = {row[0]: row for row in committed}
    lines = []
    for name, verdict, family, probability, _ in now:
        old = held.pop(name, None)
        if old is None:
            lines.append(f"{name}: not among the committed answers")
        elif (verdict, family) != (old[1], old[2]):
            lines.append(f"{name}: {old[1]} {old[2]} before, {verdict} {family} now")
        elif abs(probability - old[3]) > PROBABILITY:
            lines.append(f"{name}: probability {old[3]} before, {probability} now")
    return lines + [f"{name}: no longer rendered" for name in sorted(held)]


def run(arguments: argparse.Namespace) -> int:
    lots.build()
    now = answer_now(arguments.jobs)
    known = [row for row in now if row[4] is not None]
    right = sum(row[4] for row in known)
    print(f"{right} of {len(known)} known marks right, {len(now)} photos")
    if arguments.write:
        figures = {"photos": len(now), "known": len(known), "right": right}
        head = {"kind": "share", "split": SPLIT, "seeds": [SEED], "families": CONTENTS.families}
        head |= {**results.provenance(), "figures": figures}
        path = results.write("share", head, {"clean": now})
        lots.say(f"wrote {path.relative_to(results.ROOT)}")
        return 0
    found = differences(results.read("share")["answers"]["clean"], now)
    for line in found:
        print(line)
    verdict = "within" if len(found) <= MAY_DIFFER else "more than"
    print(f"{len(found)} answers differ from the committed ones, {verdict} the {MAY_DIFFER} allowed")
    if len(found) > MAY_DIFFER:
        print("hint: if the change is meant, run `tools/bench --kind share --write` and commit")
        return 1
    return 0
