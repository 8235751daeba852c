"""Pieces: their tables by Python's csv, and their dates by trying every year."""

import csv
import json
import random

import cv2
import numpy as np

# Years over which brute force looks; all runs drawn below lie well inside.
YEARS = range(1880, 1991)
# What may be drawn, and which ends of the date of making each kind may bound: common practice, as told by
# `footring date --help`.
BEGINS = {"line", "used", "form", "decoration", "lapsed-wording", "registration", "patent",
          "country-wording", "care-wording", "partner", "variant", "code"}
ENDS = {"line", "used", "form", "decoration", "lapsed-wording", "seen", "partner", "variant", "code"}
BY_HAND = ["lapsed-wording", "registration", "patent", "country-wording", "care-wording", "seen",
           "absence", "variant"]
FORMS = ["cup", "plate", "teapot", "vase"]
DECORATIONS = ["Fern", "Harbour", "Reed"]
COLOURWAYS = ["", "blue", "green"]
LINES = 6
PIECES = 360

# Cells that a spreadsheet would run, or that a careless reader takes apart.
CELLS = ["=1+1", "+1", "-1", "@SUM(A1)", "=cmd|' /C calc'!A0", 'a "quoted" word', "a, comma; and more",
         "'already", "ümlaut 漢字", "1931", "x=y", "a | b"]


def workspace(probe, photos):
    """A workspace with photos of plain colour in the lot `fair`, and an empty library."""
    sale = probe.folder / "sale"
    sale.mkdir()
    for at in range(photos):
        cv2.imwrite(str(sale / f"{at}.png"), np.full((24, 32, 3), (at * 7 % 256, at * 3 % 256, 90), np.uint8))
    probe.footring("init", "desk")
    probe.footring("intake", "../sale", "--lot", "fair", at="desk")
    return probe.folder / "desk"


def check_csv_is_read_by_python(probe):
    desk = workspace(probe, 1)
    for cell in CELLS:
        probe.footring("piece", "new", "0.png", f"--form={cell}", f"--condition={cell}", at="desk")
    probe.footring("list", "--csv", "all.csv", at="desk")
    lines = [json.loads(line) for line in probe.footring("list", "--jsonl", "-", at="desk").splitlines()]
    raw = (desk / "all.csv").read_bytes()
    assert raw.count(b"\r\n") == len(CELLS) + 1 == raw.count(b"\n"), "lines end as RFC 4180 says"
    with open(desk / "all.csv", newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file, strict=True))
    assert len(rows) == len(CELLS) == len(lines)
    formulas = 0
    for row, line, cell in zip(rows, lines, CELLS, strict=True):
        assert None not in row and None not in row.values(), "as many cells as columns"
        assert line["form"] == line["condition"] == cell
        runs = cell[0] in "=+-@"
        formulas += runs
        for column in ("form", "condition"):
            assert row[column] == ("'" + cell if runs else cell), row[column]
        for value in row.values():
            assert not value or value[0] not in "=+-@\t\r", f"a spreadsheet would run {value!r}"
    return f"{len(CELLS)} rows, {formulas} of them with formulas made text"


def run(draw):
    """First and last year of a run, None for open, and the text of it."""
    first = draw.randrange(1900, 1936)
    last = first + draw.randrange(4, 50)
    kind = draw.randrange(6)
    first, last = (None if kind == 0 else first), (None if kind == 1 else last)
    return first, last, f"{first or '..'}/{last or '..'}"


def allowed(clues):
    def admits(kind, first, last, year):
        begun = kind not in BEGINS or first is None or first <= year
        return begun and (kind not in ENDS or last is None or year <= last)

    return [year for year in YEARS if all(admits(*clue, year) for clue in clues)]


class Shelf:
    """An invented library of lines, each with a stamp, forms and decorations, some of them undated."""

    def __init__(self, draw, library):
        self.lines = []
        (library / "hollin" / "lines").mkdir(parents=True)
        (library / "hollin" / "maker.toml").write_text('names = ["Hollin Vale"]\n')
        for at in range(LINES):
            made, used = run(draw), run(draw)
            forms = {form: run(draw) for form in FORMS[: draw.randrange(1, 4)]}
            decorations = {}
            for name in DECORATIONS[: draw.randrange(1, 4)]:
                for colour in COLOURWAYS[: draw.randrange(1, 4)]:
                    decorations[name, colour] = run(draw)
            dated = draw.random() < 0.8
            text = f'name = "Line {at}"\n' + (f'made = "{made[2]}"\n' if dated else "")
            text += "forms = [" + ", ".join(f'{{ form = "{f}", made = "{r[2]}" }}' for f, r in forms.items()) + "]\n"
            of = lambda colour: f', colourway = "{colour}"' if colour else ""  # noqa: E731
            text += "decorations = [" + ", ".join(
                f'{{ name = "{n}"{of(c)}, made = "{r[2]}" }}' for (n, c), r in decorations.items()) + "]\n"
            (library / "hollin" / "lines" / f"line-{at}.toml").write_text(text)
            stamp = library / "hollin" / f"stamp-{at}"
            stamp.mkdir()
            (stamp / "mark.toml").write_text(f'name = "Stamp {at}"\nline = "line-{at}"\nused = "{used[2]}"\n')
            self.lines.append((made if dated else None, used, forms, decorations))

    def clues(self, piece):
        """What the library and the person say of a piece: kind, first and last year."""
        made, used, forms, decorations = self.lines[piece["line"]]
        found = [("used", *used[:2])] + ([("line", *made[:2])] if made else [])
        if piece["form"] in forms:
            found.append(("form", *forms[piece["form"]][:2]))
        name, colour = piece["decoration"], piece["colourway"]
        best = decorations.get((name, colour)) or decorations.get((name, ""))
        if best:
            found.append(("decoration", *best[:2]))
        return found + [(kind, first, last) for kind, (first, last, _) in piece["hand"]]


def draw_piece(draw, at):
    hand = [(draw.choice(BY_HAND), run(draw)) for _ in range(draw.randrange(3))]
    return {"line": at % LINES, "form": draw.choice(FORMS), "decoration": draw.choice([*DECORATIONS, ""]),
            "colourway": draw.choice(COLOURWAYS), "hand": hand, "set": ""}


def go_together(one, other):
    """Pieces of one line, with nothing said that differs."""
    alike = all(not one[k] or not other[k] or one[k] == other[k] for k in ("decoration", "colourway"))
    return one["line"] == other["line"] and alike


def check_dates_of_pieces_by_trying_every_year(probe):
    draw = random.Random(20260502)
    desk = workspace(probe, LINES)
    shelf = Shelf(draw, desk / "library")
    for at in range(LINES):
        probe.footring("decide", f"{at}.png", "--family", f"hollin/stamp-{at}", at="desk")
    pieces = [draw_piece(draw, at // 2) for at in range(PIECES)]
    for at in range(0, PIECES, 4):
        pieces[at]["set"] = pieces[at + 1]["set"] = f"pair {at}"
    with open(desk / "old.csv", "w", newline="", encoding="utf-8") as file:
        table = csv.writer(file)
        table.writerow(["photo", "form", "decoration", "colourway", "clues", "set"])
        for piece in pieces:
            clues = "; ".join(f"{kind}={text}" for kind, (_, _, text) in piece["hand"])
            table.writerow([f"{piece['line']}.png", piece["form"], piece["decoration"],
                            piece["colourway"], clues, piece["set"]])
    probe.footring("import", "old.csv", "--lot", "fair", "--write", at="desk")
    lines = [json.loads(line) for line in probe.footring("list", "--jsonl", "-", at="desk").splitlines()]
    contradictions = partners = 0
    for at, (piece, line) in enumerate(zip(pieces, lines, strict=True)):
        clues = shelf.clues(piece)
        if piece["set"]:
            mate = pieces[at + 1 if pieces[at - 1]["set"] != piece["set"] else at - 1]
            years = allowed(shelf.clues(mate))
            if go_together(piece, mate) and years:
                partners += 1
                ends = (None if years[0] == YEARS[0] else years[0], None if years[-1] == YEARS[-1] else years[-1])
                clues.append(("partner", *ends))
        years = allowed(clues)
        date = line["date"]
        told = f"piece {line['piece']}: {clues}: {date}"
        if not years:
            contradictions += 1
            assert date["edtf"] is None and "cannot all be true" in date["text"], told
            continue
        want = (None if years[0] == YEARS[0] else f"{years[0]}-01-01",
                None if years[-1] == YEARS[-1] else f"{years[-1]}-12-31")
        assert (date["earliest"], date["latest"]) == want, told
    assert contradictions and partners
    return f"{PIECES} pieces, {contradictions} of them contradictions, {partners} with a partner that counts"


# Ends that a clue must not give, whatever its years are.
NO_BEGINNING = [("seen", "1931/1935"), ("absence", "no country"), ("line", "../1935"), ("used", "/1935")]
NO_END = [("registration", "1931/1935"), ("patent", "1931"), ("country-wording", "1931/1935"),
          ("country-wording", "Made in Ardmoria"), ("care-wording", "1931/1935"), ("care-wording", "not for food use"),
          ("rd-number", "612431"), ("diamond", "top Z, right 4, left K"), ("absence", "no country"),
          ("line", "1931/.."), ("code", "1931/")]


def check_bounds_that_a_clue_must_not_give(probe):
    def told(kind, value):
        return json.loads(probe.footring("date", "--clue", f"{kind}={value}", "--json"))

    for kind, value in NO_BEGINNING:
        assert told(kind, value)["earliest"] is None, f"{kind}={value} gives a beginning"
    for kind, value in NO_END:
        assert told(kind, value)["latest"] is None, f"{kind}={value} gives an end"
    # What is not sure narrows nothing, not even beside what is.
    both = json.loads(probe.footring("date", "--clue", "used=1921/1935", "--probably", "code=1930", "--json"))
    assert (both["earliest"], both["latest"]) == ("1921-01-01", "1935-12-31")
    return f"{len(NO_BEGINNING)} beginnings and {len(NO_END)} ends that are not given"
