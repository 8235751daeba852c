"""Scores answers against the truth.

One photo is one identification transaction. The rates are those of ISO/IEC 19795-1: FNIR is the
share of photos of known marks whose family is not returned first with a score above the threshold,
FPIR the share of photos of unknown marks that return any family above it (per transaction, not per
comparison). A known mark whose photo does not show what tells it from its siblings is right only as
`choose` with its family among those listed: a guess is not right even where it hits.
"""

from collections.abc import Iterable

from .answers import Answer
from .quads import overlap
from .intervals import calibration_error, median, perfect_calibration_error
from .mixture import SHARES, named_where, named_wrong
from .tally import Tally
from .truth import SEVEN, Truth

Row = tuple[int, Truth, Answer]

# The rate of false positive identifications at which "right and accepted" is stated.
FPIR = 0.02
# A mark counts as found where a reported quad covers it with this intersection over union.
FOUND_OVERLAP = 0.5
# Stages that any program would have to pay for: reading the file and shrinking the picture.
DECODING = ("decode", "shrink")


def right_at(truth: Truth, answer: Answer, rank: int) -> bool:
    """Whether a photo of a known mark was answered right within the first `rank` families."""
    if not truth.decidable:
        return answer.verdict == "choose" and truth.family in answer.open_choice
    return any(c.family == truth.family for c in answer.candidates[:rank])


def threshold_at(scores: Iterable[float], rate: float) -> float:
    """The smallest threshold that at most `rate` of `scores` exceed."""
    falling = sorted(scores, reverse=True)
    return falling[int(rate * len(falling))] if falling else 0.0


def top_score(answer: Answer) -> float:
    return answer.first.score if answer.first else 0.0


def _keys_of(truth: Truth) -> list[str]:
    """The groups in which a photo of a known mark is counted."""
    depths = ["all", truth.severity] if truth.severity else ["all"]
    keys = [f"condition.{truth.condition}.{depth}" for depth in depths]
    if truth.condition in SEVEN:
        keys.extend(f"seven.{depth}" for depth in depths)
        if truth.has_siblings:
            keys.append("siblings")
    keys.extend(f"trait.{trait}" for trait in truth.traits)
    if truth.condition == "distractor":
        # Elsewhere a sticker or a thumb is how the condition itself comes about.
        keys.extend(f"distractor.{thing}" for thing in truth.distractors)
    return keys


def _known(tally: Tally, seed: int, truth: Truth, answer: Answer) -> None:
    first, five = right_at(truth, answer, 1), right_at(truth, answer, 5)
    for key in _keys_of(truth):
        tally.add(f"{key}.top1", seed, first)
        tally.add(f"{key}.top5", seed, five)
        if truth.decidable:
            tally.add(f"{key}.top1_decidable", seed, first)
        # The bare order of the families, for programs that have no verdict `choose`.
        leads = answer.first is not None and answer.first.family == truth.family
        tally.add(f"{key}.ranked_first", seed, leads)
    if not truth.decidable:
        tally.add("undecidable.right", seed, first)
        tally.add("undecidable.guessed", seed, answer.verdict == "named")
    if truth.has_variants and truth.decidable and first:
        tally.add("variants.right", seed, answer.first.variant == truth.variant)


def _marked(tally: Tally, seed: int, truth: Truth, answer: Answer) -> None:
    tally.add("marked.said_no_mark", seed, answer.verdict == "no-mark")
    tally.add("marked.said_not_underside", seed, answer.verdict == "not-underside")
    tally.add("marked.said_reshoot", seed, answer.verdict == "reshoot")
    if truth.quad:
        found = any(overlap(truth.quad, q) >= FOUND_OVERLAP for q in answer.quads)
        tally.add(f"found.{truth.condition}", seed, found)
        if truth.condition in SEVEN:
            tally.add("found.seven", seed, found)


VERDICTS = ("named", "choose", "unknown", "no-mark", "not-underside", "reshoot", "not-a-picture")


def _swept(tally: Tally, known: list[Row], strangers: dict[str, list[Row]]) -> dict:
    """Rates at the thresholds that let 2 % of the unknown marks (or of all unknown) pass, chosen on
    these very photos: the operating point of a DET curve, not a shipped setting."""
    thresholds = {}
    for kind in ("marks", "pooled"):
        if not strangers[kind]:
            continue
        limit = threshold_at((top_score(a) for _, _, a in strangers[kind]), FPIR)
        thresholds[kind] = limit
        key = f"identification.at_2_percent_{kind}"
        for seed, truth, answer in known:
            accepted = right_at(truth, answer, 1) and top_score(answer) > limit
            tally.add(f"{key}.right_accepted", seed, accepted)
            tally.add(f"{key}.fnir", seed, not accepted)
        for other, group in strangers.items():
            for seed, _, answer in group:
                tally.add(f"{key}.fpir_{other}", seed, top_score(answer) > limit)
    return thresholds


def _shipped(tally: Tally, known: list[Row], strangers: dict[str, list[Row]]) -> None:
    """Rates at the program's own threshold: the verdict `named`."""
    key = "identification.shipped"
    for seed, truth, answer in known:
        named = answer.verdict == "named"
        right = right_at(truth, answer, 1)
        tally.add(f"{key}.right_accepted", seed, named and right)
        tally.add(f"{key}.fnir", seed, not (named and right))
        if named:
            tally.add(f"{key}.named_right", seed, right)
    for kind, group in strangers.items():
        for seed, _, answer in group:
            tally.add(f"{key}.fpir_{kind}", seed, answer.verdict == "named")


def _mixed(rows: list[Row], strangers: dict[str, list[Row]]) -> dict:
    """Wrong names by the share of strangers in a lot: of another family, and, under `or_guessed`, also of the right one
    where the photo does not show what tells it from its siblings. A stranger is never named rightly."""
    seven = [(t, a) for _, t, a in rows if t.is_known and t.condition in SEVEN]
    others = [[(a.verdict == "named", False) for _, _, a in strangers[k]] for k in ("marks", "siblings")]
    right = [(a.verdict == "named", a.first is not None and a.first.family == t.family) for t, a in seven]
    founded = [(a.verdict == "named", right_at(t, a, 1)) for t, a in seven]
    mixed = named_wrong(right, *others)
    guessed = named_wrong(founded, *others)
    figures = {share: {**mixed[share], "or_guessed": guessed[share]["named_wrong"]} for share in mixed}
    for share in SHARES if mixed else ():
        # The same once the program has learnt the share.
        known = [(named_where(a, share), a.first is not None and a.first.family == t.family) for t, a in seven]
        others = [[(named_where(a, share), False) for _, _, a in strangers[k]] for k in ("marks", "siblings")]
        learnt = named_wrong(known, *others)[str(share)]
        figures[str(share)] |= {"learnt_wrong": learnt["named_wrong"], "learnt_named": learnt["named"]}
    return figures


def _calibration(rows: list[Row]) -> dict:
    pairs = [
        (a.first.score, a.first.family == t.family)
        for _, t, a in rows
        if (t.is_known or t.is_unknown) and a.first
    ]
    error = calibration_error(pairs)
    if error is None:
        return {}
    chance = perfect_calibration_error([p for p, _ in pairs])
    return {
        "error": round(error, 5),
        "photos": len(pairs),
        "perfect_median": round(chance[0], 5),
        "perfect_95": round(chance[1], 5),
    }


def time_figures(answers: list[Answer]) -> dict:
    timed = [a for a in answers if a.elapsed_ms is not None and a.stages]
    if not timed:
        return {}
    totals: dict[str, float] = {}
    for answer in timed:
        for stage, ms in answer.stages:
            totals[stage] = totals.get(stage, 0.0) + ms
    decoding = sum(totals.get(stage, 0.0) for stage in DECODING)
    elapsed = sum(a.elapsed_ms for a in timed)
    return {
        "photos": len(timed),
        "median_ms": round(median([a.elapsed_ms for a in timed]), 1),
        "mean_ms": round(elapsed / len(timed), 1),
        "decoding_ms": round(decoding / len(timed), 1),
        "ratio_to_decoding": round(elapsed / decoding, 2) if decoding else None,
        "stages_ms": {stage: round(ms / len(timed), 2) for stage, ms in totals.items()},
    }


def score(rows: list[Row], probabilities: bool = True) -> dict:
    """All figures over (seed, truth, answer). `probabilities` is false for programs whose scores
    are none: they get no verdict rates and no calibration."""
    tally = Tally()
    for seed, truth, answer in rows:
        if truth.is_known:
            _known(tally, seed, truth, answer)
        if not probabilities:
            continue
        if truth.is_known or truth.is_unknown:
            _marked(tally, seed, truth, answer)
        for verdict in VERDICTS:
            tally.add(f"verdicts.{truth.kind}.{verdict}", seed, answer.verdict == verdict)
    known = [r for r in rows if r[1].is_known and r[1].decidable and r[1].condition in SEVEN]
    strangers = {
        "marks": [r for r in rows if r[1].kind == "unknown"],
        "siblings": [r for r in rows if r[1].kind == "unknown-sibling"],
        "pooled": [r for r in rows if r[1].is_unknown],
    }
    thresholds = _swept(tally, known, strangers)
    if probabilities:
        _shipped(tally, known, strangers)
    figures = tally.tree()
    figures["thresholds"] = thresholds
    if probabilities:
        figures["calibration"] = _calibration(rows)
        mixed = _mixed(rows, strangers)
        if mixed:
            figures["strangers"] = mixed
    figures["time"] = time_figures([a for _, _, a in rows])
    return figures
