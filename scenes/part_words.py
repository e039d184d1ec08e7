"""What `parts` says: who changes sides where, and who never does."""

from collections.abc import Sequence
from itertools import pairwise

from renderer.names import listed
from renderer.part_rows import Change, Clock, clocks
from renderer.timeline import Timeline
from scenes.drawing import Words
from scenes.look import SEMIBOLD, Look
from scenes.wording import count_of

MOST_NAMED = 3
"""Parts that a sentence names one by one; more are counted."""


def place_text(timeline: Timeline, at: int) -> str:
    """A place as a musician writes it: `9` on a downbeat, `9.3` on its third beat or inside it."""
    beat = timeline.beat_at(at)
    return f"{beat.bar}" if beat.number == 1 else f"{beat.bar}.{beat.number}"


def change_sentence(look: Look, timeline: Timeline, changes: Sequence[Change]) -> list[Words]:
    """What happens at one place: `Bar 9: kit leaves the figure and keeps the meter.`"""
    words = [Words(f"Bar {place_text(timeline, changes[0].at)}: ", look.ink)]
    moves: dict[tuple[Clock, Clock], list[str]] = {}
    for change in changes:
        moves.setdefault((change.before, change.after), []).extend(change.parts)
    for number, ((before, after), names) in enumerate(moves.items()):
        words.append(Words("; " if number else "", look.ink))
        words += _move(look, before, after, names, short=len(moves) > 1)
    return [*(stretch for stretch in words if stretch.text), Words(".", look.ink)]


def _move(look: Look, before: Clock, after: Clock, names: Sequence[str], short: bool) -> list[Words]:
    colour = {"figure": look.sail_one, "meter": look.meter_text, "tacet": look.ink}[after]
    who = listed(names, "and") if len(names) <= MOST_NAMED else count_of(len(names), "part")
    one = len(names) == 1
    if after == "tacet":
        text = " falls silent" if one else " fall silent"
    elif before == "tacet":
        text = f" {'comes' if one else 'come'} in with the {after}"
    elif short:
        text = f" {'goes' if one else 'go'} to the {after}"
    else:
        text = f" {'leaves' if one else 'leave'} the {before} and {'keeps' if one else 'keep'} the {after}"
    return [Words(who, colour, SEMIBOLD), Words(text, look.ink)]


def summary_sentence(
    look: Look, timeline: Timeline, names: Sequence[str], start: int, end: int
) -> list[Words]:
    """Who keeps one side all through between two ticks, and where they are few how often sides are changed."""
    changes, steady = 0, {"figure": [], "meter": []}  # type: tuple[int, dict[str, list[str]]]
    for name in names:
        kept = [clock for at, stop, clock in clocks(timeline, name) if at < end and stop > start]
        changes += sum({a, b} == {"figure", "meter"} for a, b in pairwise(kept))
        if len(kept) == 1 and kept[0] in steady:
            steady[kept[0]].append(name)
    words: list[Words] = []
    for clock, colour in (("figure", look.sail_one), ("meter", look.meter_text)):
        if steady[clock]:
            who = listed(steady[clock], "and")
            if len(steady[clock]) > MOST_NAMED:
                who = count_of(len(steady[clock]), "part")
            keep = "keeps" if len(steady[clock]) == 1 else "keep"
            words += [Words(", " if words else "", look.ink), Words(who, colour, SEMIBOLD)]
            words.append(Words(f" {keep} the {clock}", look.ink))
    if words:
        words.append(Words(" all through", look.ink))
    if changes and sum(map(len, steady.values())) < MOST_NAMED:
        text = f"{'; ' if words else ''}{count_of(changes, 'change')} of side"
        words.append(Words(text, look.ink))
    return [*(stretch for stretch in words if stretch.text), Words(".", look.ink)]
