"""What `parts` says: who changes sides where, and who never does."""

from collections.abc import Sequence
from itertools import pairwise

from renderer.core.names import listed
from renderer.schedule.part_rows import Clock, SideChange, clocks
from renderer.timeline.model import Timeline
from scenes.draw.look import SEMIBOLD, Look
from scenes.draw.shapes import Words
from scenes.draw.wording import count_of

MOST_NAMED = 3
"""Parts that a sentence names one by one; more are counted."""


def place_text(timeline: Timeline, at: int) -> str:
    """A place as a musician writes it: `9` on a downbeat, `9.3` on its third beat or inside it; `0` in a pick-up of
    less than a beat."""
    beat, bar = timeline.beat_at(at), timeline.bar_at(at)
    return (
        f"{bar.number}"
        if beat.number == 1 or beat.bar_number != bar.number
        else f"{beat.bar_number}.{beat.number}"
    )


def change_sentence(look: Look, timeline: Timeline, changes: Sequence[SideChange]) -> list[Words]:
    """What happens at one place, without a verb, since a part's name may be one player's or many: `Bar 9: kit from the
    figure to the meter.`"""
    words = [Words(f"Bar {place_text(timeline, changes[0].at)}: ", look.ink)]
    moves: dict[tuple[Clock, Clock], list[str]] = {}
    for change in changes:
        moves.setdefault((change.before, change.after), []).extend(change.parts)
    for number, ((before, after), names) in enumerate(moves.items()):
        if number:
            words.append(Words("; ", look.ink))
        colour = {"figure": look.sail_one, "meter": look.meter_text, "tacet": look.ink}[after]
        words += [Words(_who(names), colour, SEMIBOLD), Words(_move(before, after, len(moves) > 1), look.ink)]
    return [*words, Words(".", look.ink)]


def _who(names: Sequence[str]) -> str:
    return listed(names, "and") if len(names) <= MOST_NAMED else count_of(len(names), "part")


def _move(before: Clock, after: Clock, short: bool) -> str:
    if after == "tacet":
        return " silent"
    if before == "tacet":
        return f" in with the {after}"
    return f" to the {after}" if short else f" from the {before} to the {after}"


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
            words.append(Words(", " if words else "All through: ", look.ink))
            words += [Words(_who(steady[clock]), colour, SEMIBOLD), Words(f" with the {clock}", look.ink)]
    if changes and sum(map(len, steady.values())) < MOST_NAMED:
        words.append(Words(f"{'; ' if words else ''}{count_of(changes, 'change')} of side", look.ink))
    return [*words, Words(".", look.ink)] if words else []
