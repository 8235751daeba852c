"""How many of the answers `named` are wrong in lots with few or many strangers.

The photos of a run are weighed so that strangers make up the stated share of a lot, half of them marks that the
library has nothing like, half unknown siblings; the rest are photos of the seven conditions, undecidable ones included.
Nothing is drawn by chance: each group's rate of answers that are named, and named wrongly, is taken as it is.
"""

SHARES = (20, 50, 80)
# Share of strangers that the shipped weights reckon with, and the shipped limit: `USUAL` of src/verdict/strangers.rs and
# `named_at` of src/verdict/weights.rs.
USUAL = 0.447
NAMED_AT = 0.8


def named_where(answer, share: int) -> bool:
    """Whether an answer is named once the program has learnt that `share` per cent of the marks are strangers; a list or a
    name only, of one mark, as lots of one mark a photo give."""
    if answer.verdict not in ("named", "choose") or answer.none is None or answer.first is None:
        return False
    odds = (share / (100 - share)) / (USUAL / (1 - USUAL))
    return answer.first.score / (1 + answer.none * (odds - 1)) >= NAMED_AT


def named_wrong(known, marks, siblings) -> dict:
    """By share of strangers in per cent: the share of all marks that are named, and of these the share that is wrong.
    Each argument is a list of (named, right)."""
    if not (known and marks and siblings):
        return {}

    def rate(group, keep) -> float:
        return sum(map(keep, group)) / len(group)

    def is_named(row) -> bool:
        return row[0]

    def is_wrong(row) -> bool:
        return row[0] and not row[1]

    figures = {}
    for share in SHARES:
        part = share / 100
        weights = ((known, 1 - part), (marks, part / 2), (siblings, part / 2))
        named = sum(w * rate(g, is_named) for g, w in weights)
        wrong = sum(w * rate(g, is_wrong) for g, w in weights)
        figures[str(share)] = {"named_wrong": round(wrong / named, 5) if named else None, "named": round(named, 5)}
    return figures
