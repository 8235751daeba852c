"""Codes: Roman numerals against another writer of them, and the times that codes are given against
another reader of the Extended Date/Time Format."""

SCHEMES = """
[[scheme]]
name = "month and year"
pattern = "(?<month>[1-9]|1[0-2])/(?<year>[0-9]{2})"
year = { window = [1920, 2019] }
[[scheme]]
name = "quarter and year"
pattern = "Q(?<quarter>[1-4])(?<year>[0-9]{2})"
year = { window = [1920, 2019] }
[[scheme]]
name = "year"
pattern = "Y(?<year>[0-9]{2})"
year = { window = [1920, 2019] }
"""


def check_roman_numerals_against_package_roman(probe):
    import roman

    numbers = list(range(1, 4000))
    wanted = [roman.toRoman(n) for n in numbers]
    odd = ["IIX", "VIIII", "IC", "XM", "VX", "MMMM", "IVI", "ABC"]
    answer = probe("numerals", numbers=[*numbers, 0, 4000], texts=wanted + odd)
    assert answer["texts"] == [*wanted, None, None]
    assert answer["numbers"] == numbers + [None] * len(odd)
    return f"{len(numbers)} numerals written and read alike, {len(odd)} that are none refused"


def check_times_of_codes_against_package_edtf(probe):
    from edtf import parse_edtf

    wanted = {}
    for two in range(100):
        year = two + (1900 if two >= 20 else 2000)
        wanted[f"Y{two:02}"] = (year, 1, year, 12)
        for month in range(1, 13):
            wanted[f"{month}/{two:02}"] = (year, month, year, month)
        for quarter in range(1, 5):
            wanted[f"Q{quarter}{two:02}"] = (year, 3 * quarter - 2, year, 3 * quarter)
    made = probe("meanings", schemes=SCHEMES, codes=[*wanted, "13/52", "Q552"])["made"]
    assert made[-2:] == [None, None], made[-2:]
    for (code, want), times in zip(wanted.items(), made, strict=False):
        (time,) = times
        read = parse_edtf(time)
        lower, upper = read.lower_strict(), read.upper_strict()
        assert (lower[0], lower[1], upper[0], upper[1]) == want, f"{code}: {time}"
    return f"{len(wanted)} codes, equal to the month"
