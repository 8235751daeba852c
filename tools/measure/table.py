"""Prints figures for people: shares as per cent with their intervals."""

from .truth import FURTHER, SEVEN, SEVERITIES

# Top-1 of the yardstick in per cent, one clean reference a family, on a set by another renderer: the
# lots here are as difficult as that one where the yardstick does about as well.
INDEPENDENT = {
    "good": 82,
    "weak": 71,
    "blur": 48,
    "tilt-glare": 65,
    "partial": 78,
    "smudge": 68,
    "low-light": 83,
}
NEAR = 8


def percent(share: dict | None) -> str:
    """`81.2 (78.0-84.1) n=640`, or a dash where nothing was measured."""
    if not share:
        return "-"
    value, low, high = (100 * share[k] for k in ("value", "low", "high"))
    return f"{value:.1f} ({low:.1f}-{high:.1f}) n={share['n']}"


def said(verdicts: dict | None) -> str:
    """How often each verdict was given, the most frequent first; those never given are left out."""
    given = [(100 * share["value"], name) for name, share in (verdicts or {}).items()]
    given = sorted(pair for pair in given if pair[0] > 0)[::-1]
    return ", ".join(f"{name} {value:.1f}" for value, name in given) or "-"


def look(figures: dict, key: str) -> dict | None:
    node = figures
    for part in key.split("."):
        node = node.get(part) if isinstance(node, dict) else None
    return node


def rows_of(figures: dict) -> list[tuple[str, str]]:
    """(label, key) of every share that the table shows, in reading order."""
    rows = [("seven conditions", "seven.all.top1"), ("  within five", "seven.all.top5")]
    rows += [(f"  {s}", f"seven.{s}.top1") for s in SEVERITIES]
    rows.append(("  decidable photos only", "seven.all.top1_decidable"))
    rows.append(("  ranked first, verdict apart", "seven.all.ranked_first"))
    for condition in SEVEN + FURTHER:
        rows.append((condition, f"condition.{condition}.all.top1"))
        rows += [(f"  {s}", f"condition.{condition}.{s}.top1") for s in SEVERITIES]
    rows.append(("siblings", "siblings.top1"))
    rows.append(("undecidable: `choose` with the truth", "undecidable.right"))
    rows.append(("undecidable: guessed", "undecidable.guessed"))
    rows.append(("variants where decidable", "variants.right"))
    for group in ("trait", "distractor"):
        rows += [(f"{group} {x}", f"{group}.{x}.top1") for x in sorted(figures.get(group, {}))]
    for point in sorted(figures.get("identification", {})):
        base = f"identification.{point}"
        for name in sorted(figures["identification"][point]):
            rows.append((f"{point}: {name}", f"{base}.{name}"))
    rows.append(("marked said no-mark", "marked.said_no_mark"))
    for condition in ("seven", *SEVEN, *FURTHER):
        rows.append((f"mark found, {condition}", f"found.{condition}"))
    return rows


def render(columns: dict[str, dict]) -> str:
    """One column a program and protocol; rows that nobody measured are left out."""
    labels: dict[str, str] = {}
    for figures in columns.values():
        labels.update({key: label for label, key in rows_of(figures)})
    lines = [["%", *columns]]
    for key, label in labels.items():
        cells = [look(figures, key) for figures in columns.values()]
        if any(cells):
            lines.append([label, *map(percent, cells)])
    kinds = {kind for f in columns.values() for kind in f.get("verdicts", {})}
    for kind in sorted(kinds):
        lines.append([f"{kind} said", *(said(look(f, f"verdicts.{kind}")) for f in columns.values())])
    for name in ("error", "perfect_95"):
        cells = [look(f, f"calibration.{name}") for f in columns.values()]
        if any(c is not None for c in cells):
            text = ["-" if c is None else f"{100 * c:.2f}" for c in cells]
            lines.append([f"calibration {name.replace('_', ' ')}", *text])
    for name in ("median_ms", "mean_ms", "decoding_ms", "ratio_to_decoding"):
        cells = [look(f, f"time.{name}") for f in columns.values()]
        if any(c is not None for c in cells):
            lines.append([f"time {name}", *("-" if c is None else f"{c:g}" for c in cells)])
    widths = [max(len(line[i]) for line in lines) for i in range(len(lines[0]))]
    return "\n".join(
        "  ".join(cell.ljust(width) for cell, width in zip(line, widths)).rstrip()
        for line in lines
    )


def difficulty(yardstick: dict) -> str:
    """The yardstick here beside the yardstick on the other renderer's set."""
    lines = []
    for condition, there in INDEPENDENT.items():
        share = look(yardstick, f"condition.{condition}.all.ranked_first")
        if share:
            here = 100 * share["value"]
            far = "" if abs(here - there) <= NEAR else f"   more than {NEAR} points apart"
            lines.append(f"yardstick, {condition:<11} {here:5.1f} here, {there} there{far}")
    return "\n".join(lines)
