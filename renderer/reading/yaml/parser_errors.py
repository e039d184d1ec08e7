"""What the YAML parser complains about, in plain words."""

import re

import yaml
from yaml.reader import Reader

from renderer.core.errors import Problem, TextPlace
from renderer.reading.scalars.suggest import accents_mend
from renderer.reading.yaml.comments import LINE_BREAK

_LONGEST_LINE = 400
"""Characters of a line that is looked at for what its writer meant."""

_DIRECTIVE = "(?:^|[\n\r\x85\u2028\u2029])%"
_RUN_INTO = "\\s*(?:- +)?([A-Za-z_]+):(\u00a0?)(\\S+.*?)\\s*$"
_GROUPS = r"\[([^\[\]]*)\]"
_TWO_COLONS = r"(\s*(?:- +)?[A-Za-z_]+: +)([^\s\"'\[{].*: .*\S)\s*$"
_BARE_ENTRY = r"\s*- +([^\s:\[\]{}#][^:\[\]{}#]*?)\s*$"
_KEY = r"(\s+)([A-Za-z_]+):(?:\s|$)"
_ENTRY_KEYS = {
    "times": "figure",
    "pulse": "figure",
    "of": "first",
    "speed": "show",
    "say": "show",
    "figure": "show",
}
"""A key -> the one that stands before it in an entry; before all others stands `section`."""
_NAMED_CHARACTER = "character '.+?' that"
_QUOTES = "A text that begins with {0} needs quotes."
_COMPLAINTS: tuple[tuple[str, str, str], ...] = (
    (
        r"tab character|cannot start any token at \t",
        "a tab.",
        "Indent with spaces; YAML does not allow tabs.",
    ),
    (r"cannot start any token at (.)", "a text can't begin with {0}.", _QUOTES),
    (
        r"mapping values are not allowed",
        "a colon where none can stand.",
        "Begin the line in the same column as its neighbours; a text with a colon and a space in it needs quotes.",
    ),
    (
        r"could not find expected ':'",
        "a line that is not key: value.",
        "Write a colon and a space after the key; check the line before for a missing quote or bracket.",
    ),
    (
        r"sequence entries are not allowed",
        "a list can't begin on its key's line.",
        "Put each dash on a line of its own, or write [a, b].",
    ),
    (r"mapping keys are not allowed", "a text can't begin with ? here.", _QUOTES.replace("{0}", "?")),
    (r"quoted scalar.*unexpected end of stream", "a quote that is never closed.", "Write the closing quote."),
    (
        r"quoted scalar.*document (?:separator|indicator)",
        "a quote that is never closed.",
        "Write the closing quote.",
    ),
    (r"scanning an alias", "a text can't begin with * here.", _QUOTES.replace("{0}", "*")),
    (r"scanning an anchor", "a text can't begin with & here.", _QUOTES.replace("{0}", "&")),
    (r"tag", "a text can't begin with ! here.", _QUOTES.replace("{0}", "!")),
    (r"block scalar", "a text can't begin with | or > here.", _QUOTES.replace("{0}", "| or >")),
    (
        r"flow sequence",
        "a list that is not closed, or a comma that is missing.",
        "Look for the missing ] or comma.",
    ),
    (
        r"flow mapping",
        "a map that is not closed, or a comma that is missing.",
        "Look for the missing } or comma.",
    ),
    (r" at ([\]},])", "a {0} where a value belongs.", "Look for a bracket or comma too many."),
    (r" at :", "no key stands before the colon.", "Write the key: bars: 12."),
    (r" at the end$", "the file ends in the middle of a value.", "Look for what is not closed."),
    (
        r"parsing a block|document start",
        "this line does not line up with what stands before.",
        "Begin it in the same column as its neighbours.",
    ),
)


def complaint_problem(complaint: yaml.YAMLError, text: str) -> Problem:
    """The complaint of either parser as a problem with its place in `text`."""
    lines = LINE_BREAK.split(text)
    said = _said(complaint, lines)
    place = _place(complaint, said)
    line = lines[place.line - 1] if place.line <= len(lines) else ""
    if "escape" in said or "hexadecimal" in said:
        return escape_problem(place, line)
    if special := _special(said, line, place.column - 1):
        return Problem((), *special, place=place)
    if "mapping values" in said:
        before = next((at for at in range(place.line - 1, 0, -1) if lines[at - 1].strip()), 0)
        if before and (found := _run_into_before(lines, before) or _bare_before(lines, before, line)):
            return found
    for pattern, problem, mend in _COMPLAINTS:
        if match := re.search(pattern, said):
            word = next((group for group in match.groups() if group), "")
            return Problem((), problem.replace("{0}", word), mend.replace("{0}", word), place=place)
    return Problem((), "this is not YAML.", "Compare it with the lines around it.", place=place)


def escape_problem(place: TextPlace, line: str) -> Problem:
    """A backslash in double quotes, before `place`, that stands for no character."""
    column = line.rfind("\\", 0, place.column) + 1
    return Problem(
        (),
        "a backslash that YAML does not understand.",
        "Use 'single quotes' for a text with a backslash in it.",
        place=TextPlace(place.line, column or place.column),
    )


def _said(complaint: yaml.YAMLError, lines: list[str]) -> str:
    """What the parser says, and at which character of the text: the two parsers say the same but for that."""
    context, problem = (getattr(complaint, name, None) or "" for name in ("context", "problem"))
    said = f"{context} {re.sub(_NAMED_CHARACTER, 'character that', problem)}"
    mark = getattr(complaint, "problem_mark", None)
    if mark is None:
        return said
    line = lines[mark.line] if mark.line < len(lines) else ""
    return f"{said} at {line[mark.column : mark.column + 1] or 'the end'}"


def _special(said: str, line: str, column: int) -> tuple[str, str] | None:
    """Problem and mend where the line itself shows what happened."""
    if len(line) > _LONGEST_LINE:
        return None
    if mend := _accents_mend(line, column):
        return "a sign before a number.", mend
    if "mapping values" in said and (match := re.match(_TWO_COLONS, line)) and column >= match.end(1):
        text = match[2].replace('"', "'")
        return "a colon inside a text.", f'A text with a colon and a space in it needs quotes: "{text}".'
    if "could not find expected ':'" in said and (match := re.match(_RUN_INTO, line)):
        return _run_into(match)
    if "parsing a block" in said and line[:column].strip() and not re.search(r" at [\]},]$", said):
        return "something follows a closing quote or bracket.", "Remove it, or move the quote or bracket."
    return None


def _accents_mend(line: str, column: int) -> str | None:
    """The mend where the list around `column` has signs before its groups (`[5, !3]`)."""
    for row in re.finditer(_GROUPS, line):
        if row.start() <= column <= row.end():
            return accents_mend(row[1].split(","))
    return None


def _run_into(match: re.Match[str]) -> tuple[str, str]:
    key, space, value = match.groups()
    text = "a no-break space after the colon." if space else "no space after the colon."
    return text, f"Write {key}: {value}, with a plain space."


def _run_into_before(lines: list[str], number: int) -> Problem | None:
    """The fault of line `number` if it is a key run into its value: YAML took it and the next line for one
    text, and complains of the second one's colon."""
    line = lines[number - 1]
    match = re.match(_RUN_INTO, line) if len(line) <= _LONGEST_LINE else None
    if match is None:
        return None
    return Problem((), *_run_into(match), place=TextPlace(number, match.start(1) + 1))


def _bare_before(lines: list[str], number: int, below: str) -> Problem | None:
    """The fault of line `number` if it is a bare `- text` that the next line, `below`, gives a key to."""
    if max(len(lines[number - 1]), len(below)) > _LONGEST_LINE:
        return None
    match = re.match(_BARE_ENTRY, lines[number - 1])
    key = re.match(_KEY, below)
    if match is None or key is None or len(key[1]) < match.start(1):
        return None
    meant = _ENTRY_KEYS.get(key[2], "section")
    mend = f"Give it its key: - {meant}: {match[1]}, and {key[2]} below that."
    return Problem((), "a bare text with keys below it.", mend, place=TextPlace(number, match.start(1) + 1))


def _place(complaint: yaml.YAMLError, said: str) -> TextPlace:
    """Where it went wrong; for what is never closed or no key, where that begins."""
    mark = getattr(complaint, "problem_mark", None)
    opened = getattr(complaint, "context_mark", None)
    begins_there = "quoted scalar" in said or "flow" in said or "simple key" in said
    if opened is not None and (mark is None or (begins_there and "escape" not in said)):
        mark = opened
    return TextPlace(mark.line + 1, mark.column + 1) if mark is not None else TextPlace(1, 1)


def unprintable_problem(text: str) -> Problem | None:
    """A character that no YAML text may hold, if there is one."""
    match = Reader.NON_PRINTABLE.search(text) or re.search("\ufeff", text)
    if match is None:
        return None
    return Problem(
        (),
        f"a character that can't be shown (U+{ord(match[0]):04X}).",
        "Remove it, and save the file as plain text.",
        place=_place_of(match.start(), text),
    )


def directive_problem(text: str) -> Problem | None:
    """The first line that begins with `%`: to YAML a directive, and a spec has none."""
    match = re.search(_DIRECTIVE, text)
    if match is None:
        return None
    mend = _QUOTES.replace("{0}", "%")
    return Problem((), "a text can't begin with %.", mend, place=_place_of(match.end() - 1, text))


def _place_of(index: int, text: str) -> TextPlace:
    before = LINE_BREAK.split(text[:index])
    return TextPlace(len(before), len(before[-1]) + 1)
