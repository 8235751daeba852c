"""Dates: the Extended Date/Time Format against its specification and another reader of it."""

import math

# Extended Date/Time Format (EDTF) Specification, Library of Congress, 4 February 2019, its examples
# by level. `Y171010000S3` is left out: text and rule of the specification differ there.
PUBLISHED = {
    0: """1985-04-12 1985-04 1985 1985-04-12T23:20:30 1985-04-12T23:20:30Z 1985-04-12T23:20:30-04
        1985-04-12T23:20:30+04:30 1964/2008 2004-06/2006-08 2004-02-01/2005-02-08
        2004-02-01/2005-02 2004-02-01/2005 2005/2006-02""",
    1: """Y170000002 Y-170000002 2001-21 1984? 2004-06~ 2004-06-11% 201X 20XX 2004-XX 1985-04-XX
        1985-XX-XX 1985-04-12/.. 1985-04/.. 1985/.. ../1985-04-12 ../1985-04 ../1985 1985-04-12/
        1985-04/ 1985/ /1985-04-12 /1985-04 /1985 -1985""",
    2: """Y-17E7 1950S2 Y3388E2S3 2001-34 [1667,1668,1670..1672] [..1760-12-03] [1760-12..]
        [1760-01,1760-02,1760-12..] [1667,1760-12] [..1984] {1667,1668,1670..1672} {1960,1961-12}
        {..1984} 2004-06-11% 2004-06~-11 2004?-06-11 ?2004-06-~11 2004-%06-11 156X-12-25
        15XX-12-25 XXXX-12-XX 1XXX-XX 1XXX-12 1984-1X 2004-06-~01/2004-06-~20
        2004-06-XX/2004-07-03""",
}
# The same meaning by another of the specification's own spellings (doubt behind a part covers all
# that is left of it, and nothing is left of a year).
SPELLED = {"?2004-06-~11": "2004?-06-~11"}

# Not of the format: what the package `edtf` 5.0.2 lists as bad in its tests/test_parser.py, the
# spellings of the drafts of 2012 that page 1 of the specification withdraws, a space in a set
# (page 6: none anywhere), and a day that no calendar has.
BAD = [
    "", "Y17E7-12-26", "2016-13-08", "2016-02-39", "-0000-01-01", "2004-(06)?-11",
    "193u", "1984?~", "1984/open", "unknown/1984", "y170000002", "[1667, 1668]", "1995-02-29",
]

# Compared day by day. Not compared, as the package's answer is its own choice and the specification
# has none: open and unknown ends where they are looked for, doubt, seasons (below), and `1984-1X`,
# which the package cannot read.
COMPARED = """1985-04-12 1985-04 1985 0000 -0999 -1985 1985-04-12T23:20:30Z 1964/2008 2004-06/2006-08
    2004-02-01/2005-02 2004-02-01/2005 2005/2006-02 -2005/-1999-02 201X 20XX 2004-XX 1985-04-XX
    1985-XX-XX 1984? 2004-06~ 2004-06-11% 156X-12-25 15XX-12-25 1XXX-XX 1XXX-12 XXXX-12-XX Y-17E7
    Y170000002 2001-33 2001-34 2001-35 2001-36 2001-37 2001-38 2001-39 2001-40 2001-41
    [1667,1668,1670..1672] [1667,1760-12] {1667,1668,1670..1672} {1960,1961-12} [..1984] [1760-12..]
    {..1984} 1985-04-12/.. 2004-06-~01/2004-06-~20 2004-06-XX/2004-07-03 193X 19XX 1936-02 1900-02
    2000-02""".split()
# Some year whose first digits are these: what the package calls fuzzy bounds. Not with a sign: for
# `-1950S2` the package answers -2000 to -1001, which do not all begin with 19.
SIGNIFICANT = ["1950S2", "1950S3", "1985S1", "Y3388E2S3"]
# The package takes the months of the meteorologists, and for a winter December alone.
SEASONS = [f"2001-{code}" for code in range(21, 33)]


def read(probe, texts):
    return dict(zip(texts, probe("edtf", texts=list(texts))["read"], strict=True))


def day(time):
    """A bound of the package as ours are told."""
    if isinstance(time, float):
        assert math.isinf(time)
        return "open"
    return list(time[:3])


def check_published_examples_of_levels_0_to_2(probe):
    texts = [text for level in PUBLISHED.values() for text in level.split()]
    for text, got in read(probe, texts).items():
        assert got.get("printed") == SPELLED.get(text, text), f"{text}: {got}"
    return f"{len(texts)} examples read, and printed as they are"


def check_what_is_not_of_the_format_is_refused(probe):
    for text, got in read(probe, BAD).items():
        assert "error" in got, f"{text!r} was read as {got}"
    return f"{len(BAD)} texts refused"


def check_bounds_against_package_edtf(probe):
    from edtf import parse_edtf

    ours = read(probe, COMPARED)
    for text in COMPARED:
        theirs = parse_edtf(text)
        want = [day(theirs.lower_strict()), day(theirs.upper_strict())]
        assert [ours[text]["earliest"], ours[text]["latest"]] == want, f"{text}: {ours[text]} {want}"
    for text, got in read(probe, SIGNIFICANT).items():
        theirs = parse_edtf(text)
        want = [theirs.lower_fuzzy()[0], theirs.upper_fuzzy()[0]]
        assert [got["earliest"][0], got["latest"][0]] == want, f"{text}: {got} {want}"
    return f"{len(COMPARED) + len(SIGNIFICANT)} expressions, equal to the day"


def check_seasons_hold_those_of_package_edtf(probe):
    from edtf import parse_edtf

    for text, got in read(probe, SEASONS).items():
        theirs = parse_edtf(text)
        lower, upper = day(theirs.lower_strict()), day(theirs.upper_strict())
        assert got["earliest"] <= lower and upper <= got["latest"], f"{text}: {got}"
    return f"{len(SEASONS)} seasons, ours the wider"
