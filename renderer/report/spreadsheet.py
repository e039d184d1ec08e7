"""Cells of a CSV file that a spreadsheet takes for what they are: a fraction for no date, a name for no formula."""

import re

_FRACTION = re.compile(r"(-?)([0-9]+)/([0-9]+)")
_MONTHS = "jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec"
_READ_OTHERWISE = re.compile(rf"[-=+@\t\r]|\W*[0-9]|(?:{_MONTHS})[a-z]*\W*[0-9]", re.IGNORECASE)
"""How a text begins that is calculated (OWASP's page on CSV injection names the signs), or that may be a number or a
date."""


def number_cell(fraction: str) -> str:
    """An exact number as a spreadsheet reads one: a fraction after its whole number, as on paper.

    >>> number_cell("5/4"), number_cell("11/16"), number_cell("-1/4"), number_cell("12")
    ('1 1/4', '0 11/16', '-0 1/4', '12')
    """
    match = _FRACTION.fullmatch(fraction)
    if match is None:
        return fraction
    whole, above = divmod(int(match[2]), int(match[3]))
    return f"{match[1]}{whole} {above}/{match[3]}"


def text_cell(name: str | None) -> str:
    """A name as a spreadsheet leaves it: after an apostrophe where it might be read as something else.

    >>> text_cell("Theme 2"), text_cell("=1+1"), text_cell("3/4"), text_cell("Mar 3")
    ('Theme 2', "'=1+1", "'3/4", "'Mar 3")
    """
    return f"'{name}" if name and _READ_OTHERWISE.match(name) else name or ""
