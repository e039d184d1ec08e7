"""What was probably meant by a text that can't be read, as the sentence that says what to write instead."""

import re
from collections.abc import Iterable

_NUMBER = r"[0-9]+(?:\.[0-9]+)?"
_RUN_INTO = r"(-?[0-9]+(?:\.[0-9]+)*):(.*[^0-9].*)"
_RANGE = r"([0-9]+) ?(?:-|–|\.\.+|to) ?[0-9]+"
_POINTLESS = r"-?[0-9]+(?:[,;:/ |]+[0-9]+){1,2}"
_BAR = r"(?i)(?:bars? ?|b\.? ?|m\.? ?|measures? ?)([0-9]+)(?:[ ,]+beat ([0-9]+))?"
_MARK = rf"(?:(1/[0-9]+)|[qQ♩]|quarters?|♪)(\.?) ?= ?({_NUMBER})"
_SPEED = rf"(?i)({_NUMBER}) ?(?:bpm|qpm|quarters?)"
_MOVE = rf"(?:to|->|→) ?({_NUMBER})"
_ADDED_METER = r"([0-9]{1,4}(?: *\+ *[0-9]{1,4})+) ?/ ?([0-9]{1,4})"
_BARE_BEATS = r"([0-9]{1,4} ?/ ?[0-9]{1,4})[ ,:(=]+([0-9]{1,4}(?: *\+ *[0-9]{1,4})*)\)?"
_METERS = r"[0-9]{1,4}/[0-9]{1,4}(?:[ ,;|]+[0-9]{1,4}/[0-9]{1,4})+"
_OTHER_METERS = {"c": "4/4", "common time": "4/4", "c|": "2/2", "¢": "2/2", "cut": "2/2", "cut time": "2/2"}
_PULSE = r"([0-9]{1,4})(?:th|nd|st|rd)?(?: notes?)?"
_GROUPS = r"[0-9]+(?:[ ,;+-]+[0-9]+)*"
_DRAWN = str.maketrans({"-": ".", "_": ".", "·": ".", "o": ".", "O": ".", "0": ".", "1": "x"})
_SEVERAL_BEFORE = rf"(?P<times>{_NUMBER}) ?[x×*] ?(?P<name>.+)"
_SEVERAL_BEHIND = rf"(?P<name>.+?)(?: ?[x×*] ?| )(?P<times>{_NUMBER})"
_LENGTH = r"([1-9][0-9]{0,4}) ?/ ?([1-9][0-9]{0,3})"
_NOTE_VALUES = {"whole": 1, "half": 2, "halve": 2, "quarter": 4, "eighth": 8, "sixteenth": 16}
_NOTES = rf"(?i)([1-9][0-9]{{0,4}}) ({'|'.join(_NOTE_VALUES)})s?(?: notes?)?"
_HALVES = "([0-9]{1,5}) ?(?:1/2|½)"
_SO_OFTEN = rf"(?i)({_NUMBER}) ?(?:x|×|times?)|[x×] ?({_NUMBER})"
_MARKED = "([!*>^]?)([0-9]{1,4})([!*>^]?)"


_OTHER_WORDS = {
    "bpm": "tempo",
    "chords": "harmony",
    "chord": "harmony",
    "time": "meter",
    "time_signature": "meter",
    "signature": "meter",
    "instruments": "parts",
    "players": "parts",
    "upbeat": "pickup",
    "anacrusis": "pickup",
    "sections": "form",
    "audio": "recording",
    "rhythms": "figures",
    "patterns": "figures",
    "measures": "bars",
    "length": "bars",
    "figure": "plays",
    "play": "plays",
    "pattern": "plays",
    "times": "repeat",
    "repeats": "repeat",
    "mark": "marks",
    "notes": "marks",
    "note": "marks",
    "comments": "marks",
    "comment": "marks",
    "text": "marks",
    "labels": "marks",
    "annotations": "marks",
}
"""What a key is also called -> the key."""


def other_word_mend(key: str, known: Iterable[str]) -> str | None:
    """For a key that is called otherwise here; None if it is not known by another name.

    >>> other_word_mend("chords", ["tempo", "harmony"])
    'Write harmony.'
    """
    word = _OTHER_WORDS.get(key.lower().replace("-", "_").replace(" ", "_"))
    return f"Write {word}." if word and word in known else None


def position_mend(text: str) -> str:
    """For a position.

    >>> position_mend("9,3"), position_mend("bar 9")
    ('Write a position with a point: 9.3.', 'Write 9.')
    """
    if run_into := re.fullmatch(_RUN_INTO, text):
        return f"Write a space after the colon: {run_into[1]}: {run_into[2].strip()}."
    if match := re.fullmatch(_RANGE, text):
        return f"Write {match[1]}: what is said there holds until the next entry."
    if re.fullmatch(_POINTLESS, text):
        return f"Write a position with a point: {'.'.join(re.findall('-?[0-9]+', text))}."
    if match := re.fullmatch(_BAR, text):
        return f"Write {match[1]}{'.' + match[2] if match[2] else ''}."
    return "Write 9, 9.3 or 9.3.2; -1 is the last bar."


def tempo_mend(text: str) -> str:
    """For a tempo.

    >>> tempo_mend("120 bpm"), tempo_mend("♩. = 76"), tempo_mend("to 80")
    ('Write 120.', 'Write 3/8 = 76.', 'Write {to: 80}.')
    """
    if re.fullmatch("[0-9]+,[0-9]+", text):
        return f"Write {text.replace(',', '.')}."
    if match := re.fullmatch(_SPEED, text):
        return f"Write {match[1]}."
    if match := re.fullmatch(_MOVE, text):
        return f"Write {{to: {match[1]}}}."
    if match := re.fullmatch(_MARK, text):
        below = int(match[1][2:]) if match[1] else 8 if "♪" in text else 4
        return f"Write {f'3/{below * 2}' if match[2] else f'1/{below}'} = {match[3]}."
    return "Write 112, or a metronome mark such as 3/8 = 76."


def meter_mend(text: str) -> str:
    """For a meter.

    >>> meter_mend("2+2+3/8"), meter_mend("7/8 (2+2+3)")
    ('Write 7/8 in 2+2+3.', 'Write 7/8 in 2+2+3.')
    """
    if match := re.fullmatch(_ADDED_METER, text):
        shares = [int(share) for share in match[1].split("+")]
        return f"Write {sum(shares)}/{match[2]} in {'+'.join(map(str, shares))}."
    if re.fullmatch(_METERS, text):
        meters = ", ".join(re.findall("[0-9]+/[0-9]+", text))
        return f"A list has one a bar: [{meters}]; a change is {{1: 4/4, 5: 3/4}}."
    if match := re.fullmatch(_BARE_BEATS, text):
        return f"Write {match[1]} in {match[2]}."
    if text.lower() in _OTHER_METERS:
        return f"Write {_OTHER_METERS[text.lower()]}."
    return "Write 4/4, 6/8 in 2, or 7/8 in 2+2+3."


def pulse_mend(text: str) -> str:
    """For a pulse.

    >>> pulse_mend("16th")
    'Write 1/16.'
    """
    match = re.fullmatch(_PULSE, text)
    if match and int(match[1]) > 1:
        return f"Write 1/{match[1]}."
    return "Write 1/16 for sixteenths, 1/12 for triplet eighths."


def hits_mend(text: str) -> str:
    """For a row of hits, or for groups that have no brackets.

    >>> hits_mend("5+3+3"), hits_mend("x--x-")
    ('Write [5, 3, 3].', 'Write x..x., with a point where there is no hit.')
    """
    if re.fullmatch(_GROUPS, text) and not set(text) <= set("01 "):
        return f"Write [{', '.join(re.findall('[0-9]+', text))}]."
    drawn = text.translate(_DRAWN)
    if drawn != text and not set(drawn) - set("xX. "):
        return f"Write {drawn}, with a point where there is no hit."
    return "Write X..x. xx. x..., or groups in brackets: [5, 3, 3]."


def accents_mend(entries: Iterable[str]) -> str | None:
    """For groups some of which have a sign before or behind them, as if that accented them.

    >>> accents_mend(["!5", "3", "!3"])
    'Accents are pulse numbers: {groups: [5, 3, 3], accents: [1, 9]}.'
    """
    groups: list[int] = []
    accents: list[int] = []
    for entry in entries:
        match = re.fullmatch(_MARKED, entry.strip())
        if match is None:
            return None
        if match[1] or match[3]:
            accents.append(1 + sum(groups))
        groups.append(int(match[2]))
    return f"Accents are pulse numbers: {{groups: {groups}, accents: {accents}}}." if accents else None


def rest_mend(text: str) -> str:
    """For how long a rest is.

    >>> rest_mend("1/4"), rest_mend("2 quarters")
    ('Write {rest: 1, pulse: 1/4}.', 'Write {rest: 2, pulse: 1/4}.')
    """
    if match := re.fullmatch(_LENGTH, text):
        return f"Write {{rest: {match[1]}, pulse: 1/{match[2]}}}."
    if match := re.fullmatch(_NOTES, text):
        return f"Write {{rest: {match[1]}, pulse: 1/{_NOTE_VALUES[match[2].lower()]}}}."
    return "Count it in pulses, {rest: 4}, or give it a count of its own, {rest: 1, pulse: 1/4}."


def times_mend(text: str) -> str | None:
    """For how often a figure comes.

    >>> times_mend("3 times"), times_mend("x3"), times_mend("3 1/2")
    ('Write 3.', 'Write 3.', 'Write 3.5.')
    """
    if match := re.fullmatch(_HALVES, text):
        return f"Write {match[1]}.5."
    match = re.fullmatch(_SO_OFTEN, text)
    return f"Write {match[1] or match[2]}." if match else None


def plays_mend(text: str, figures: Iterable[str]) -> str | None:
    """For what stands in `plays` and is no figure; None if it is just a wrong name.

    >>> plays_mend("3 x kiln", ["kiln", "brief"]), plays_mend("kiln, brief", ["kiln", "brief"])
    ('Write {figure: kiln, times: 3}.', 'Write [kiln, brief].')
    """
    known = set(figures)
    if text.lower() in ("off", "none", "no", "silence", "tacet", "rest", "nothing"):
        return "Leave plays out for silence, or write {rest: 4} for so many pulses."
    several = re.fullmatch(_SEVERAL_BEFORE, text) or re.fullmatch(_SEVERAL_BEHIND, text)
    if several and several["name"] in known:
        return f"Write {{figure: {several['name']}, times: {several['times']}}}."
    words = [word for word in re.split(r"\s*[,+;>|]+\s*|\s+-\s+", text) if word]
    if len(words) > 1 and all(word in known for word in words):
        return f"Write [{', '.join(words)}]."
    return "Give groups a name: figures: {kiln: [5, 3, 3]}." if text.isdecimal() else None
