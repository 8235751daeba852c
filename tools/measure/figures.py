"""Holds the documents to the results: every marked figure must stand in a results file.

A figure is marked by a comment right behind it, invisible on the rendered page:

    81.2 %<!-- figure: test clean.seven.all.top1 -->

names tools/results/test.json and the dotted key below its `figures`. Shares are stored from 0 to 1
and written in the documents as per cent: a `%` behind the number, or in the comment
(`<!-- figure: test clean.seven.all.top1 % -->`) where the table's head has it. The written number
must be the stored one, rounded to the decimals written.

What stands between `<!-- measured -->` and `<!-- /measured -->` is measured: there each per cent and
each number that fills a table cell must be marked."""

import pathlib
import re
import sys

from .results import FOLDER, ROOT, look_up, read

DOCUMENTS = ("README.md", "DEVELOPERS.md")

NUMBER = r"-?\d+(?:,\d{3})*(?:\.\d+)?"
MARKED = re.compile(rf"(?P<number>{NUMBER})(?P<unit>\s?[^\s|<\d]*)<!-- figure: (?P<what>.*?) -->")
ANY_MARK = re.compile(r"<!-- figure:")
BLOCK = re.compile(r"<!-- measured -->(.*?)<!-- /measured -->", re.S)
PER_CENT = re.compile(rf"{NUMBER}\s?%")
CELL = re.compile(rf"\|\s*[*_`]*({NUMBER})\s?[a-z%×]*[*_`]*\s*(?=\|)")


def compare(number: str, unit: str, what: str) -> str | None:
    """What is wrong with one marked figure, or None."""
    words = what.split()
    percent = unit.strip() == "%"
    if words and words[-1] == "%":
        percent = True
        words.pop()
    if len(words) != 2:
        return f"`{what}` is not `results-file key`"
    name, key = words
    if not (FOLDER / f"{name}.json").exists():
        return f"there is no tools/results/{name}.json"
    try:
        stored = look_up(read(name), key)
    except (KeyError, TypeError, IndexError):
        return f"tools/results/{name}.json has no figure `{key}`"
    value = stored * 100 if percent else stored
    decimals = len(number.partition(".")[2])
    if abs(float(number.replace(",", "")) - value) > 0.5 * 10**-decimals + 1e-9:
        return f"{number} is written, {value:.{decimals + 2}f} was measured ({name} {key})"
    return None


def problems(name: str, text: str) -> tuple[int, list[str]]:
    """How many figures were compared, and a line for each that does not hold."""
    found, compared = [], 0

    def line_of(position: int) -> int:
        return text.count("\n", 0, position) + 1

    for match in MARKED.finditer(text):
        compared += 1
        wrong = compare(match["number"], match["unit"], match["what"])
        if wrong:
            found.append(f"{name}:{line_of(match.start())}: {wrong}")
    marks = len(ANY_MARK.findall(text))
    if marks != compared:
        found.append(f"{name}: {marks - compared} figure comments do not follow a number")
    for block in BLOCK.finditer(text):
        # Marked figures are blanked at equal length, so that positions stay true.
        rest = MARKED.sub(lambda m: " " * len(m[0]), block[1])
        for pattern in (PER_CENT, CELL):
            for match in pattern.finditer(rest):
                line = line_of(block.start(1) + match.start())
                found.append(f"{name}:{line}: `{match[0].strip(' |')}` is not marked as a figure")
    return compared, found


def main() -> int:
    total, wrong = 0, []
    for name in DOCUMENTS:
        path = ROOT / name
        if path.exists():
            compared, found = problems(name, path.read_text())
            total += compared
            wrong += found
    for line in dict.fromkeys(wrong):
        print(line)
    print(f"{total} figures compared with tools/results, {len(set(wrong))} wrong")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
