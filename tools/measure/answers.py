"""The answers of `footring match --json` (and of the yardstick, which has scores in place of
probabilities), reduced to what is scored and kept."""

import dataclasses
import json
import pathlib

# How many candidates of a photo are scored and kept.
LISTED = 5


@dataclasses.dataclass(frozen=True)
class Candidate:
    family: str
    variant: str | None
    # Probability, or inliers for the yardstick: only the order and one threshold are used of it.
    score: float


@dataclasses.dataclass(frozen=True)
class Answer:
    photo: str
    # None where the program gives no verdicts.
    verdict: str | None
    # Best first, one entry a family, over all marks of the photo.
    candidates: tuple[Candidate, ...]
    # Families that some mark left open (its verdict is `choose`).
    open_choice: frozenset[str]
    quads: tuple
    elapsed_ms: float | None
    stages: tuple[tuple[str, float], ...]
    # Probability that the first mark is not in the library; None where the program gives none.
    none: float | None = None

    @property
    def first(self) -> Candidate | None:
        return self.candidates[0] if self.candidates else None


def from_row(row: dict) -> Answer:
    best: dict[str, Candidate] = {}
    choice: set[str] = set()
    for mark in row.get("marks", ()):
        listed = mark["candidates"][:LISTED]
        if mark.get("verdict") == "choose":
            choice.update(c["family"] for c in listed)
        for c in listed:
            score = c["probability"] if "probability" in c else c["score"]
            held = best.get(c["family"])
            if held is None or score > held.score:
                best[c["family"]] = Candidate(c["family"], c.get("variant"), score)
    ranked = sorted(best.values(), key=lambda c: (-c.score, c.family))
    return Answer(
        photo=pathlib.PurePath(row["photo"]).name,
        verdict=row.get("verdict"),
        candidates=tuple(ranked[:LISTED]),
        open_choice=frozenset(choice),
        quads=tuple(m["quad"] for m in row.get("marks", ()) if m.get("quad")),
        elapsed_ms=row.get("elapsed_ms"),
        stages=tuple((s["stage"], s["ms"]) for s in row.get("stages") or ()),
        none=next((m["none"] for m in row.get("marks", ()) if "none" in m), None),
    )


def read(path: pathlib.Path) -> dict[str, Answer]:
    rows = (json.loads(line) for line in path.read_text().splitlines() if line.strip())
    return {a.photo: a for a in map(from_row, rows)}
