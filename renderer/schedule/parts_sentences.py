"""What `parts` asks, says at each change of side, and answers."""

from collections.abc import Sequence
from itertools import pairwise

from renderer.core.names import bars_from, listed
from renderer.schedule.phrases import Phrase, Phrases, sentence
from renderer.schedule.wording import count_of
from renderer.timeline.model import Timeline
from renderer.timeline.sides import Clock, Nobody, SideChange, clocks

MOST_NAMED = 3
"""Parts that a sentence names one by one; more are counted."""
QUESTION = sentence(
    "Who keeps the ", Phrase("figure", "figure"), ", and who the ", Phrase("meter", "meter"), "?"
)


def place_text(timeline: Timeline, at: int) -> str:
    """A place as a musician writes it: `9` on a downbeat, `9.3` on its third beat or inside it; `0` in a pick-up of
    less than a beat."""
    beat, bar = timeline.beat_at(at), timeline.bar_at(at)
    if beat.number == 1 or beat.bar_number != bar.number:
        return f"{bar.number}"
    return f"{beat.bar_number}.{beat.number}"


def change_sentence(timeline: Timeline, changes: Sequence[SideChange], brief: bool = False) -> Phrases:
    """What happens at one place, without a verb, since a part's name may be one player's or many: `Bar 9: kit to the
    meter.` If `brief`, without the bar."""
    words: list[str | Phrase] = [] if brief else [f"Bar {place_text(timeline, changes[0].at)}: "]
    moves: dict[tuple[Clock, Clock], list[str]] = {}
    for change in changes:
        moves.setdefault((change.before, change.after), []).append(change.part)
    for number, ((before, after), names) in enumerate(moves.items()):
        if number:
            words.append("; ")
        words += [f"{_who(names)} ", *_move(before, after)]
    return sentence(*words, ".")


def _who(names: Sequence[str]) -> str:
    return listed(names, "and") if len(names) <= MOST_NAMED else count_of(len(names), "part")


def _clock(clock: Clock) -> Phrase:
    return Phrase(clock, "meter" if clock == "meter" else "figure")


def _move(before: Clock, after: Clock) -> list[str | Phrase]:
    if after == "tacet":
        return ["silent"]
    if before == "tacet":
        return ["in with the ", _clock(after)]
    return ["to the ", _clock(after)]


def parts_answer(
    timeline: Timeline,
    names: Sequence[str],
    nobody: Nobody | None,
    stretches: Sequence[tuple[int, int]],
) -> Phrases:
    """Where nobody keeps a clock; else who keeps one side all through, and where they are few how often sides are
    changed."""
    if nobody is not None:
        when, role = _when(timeline, nobody, stretches), _clock(nobody.clock).role
        what = Phrase(f"{'nobody' if when else 'Nobody'} keeps the {nobody.clock}", role)
        return sentence(*([when] if when else []), what, ".")
    changes, steady = 0, steady_parts(timeline, names, stretches)
    for name in names:
        kept = [clock for at, stop, clock in clocks(timeline, name) if _shown(at, stop, stretches)]
        changes += sum({a, b} == {"figure", "meter"} for a, b in pairwise(kept))
    words: list[str | Phrase] = []
    for clock in ("figure", "meter"):
        same = [name for name, kept in steady if kept == clock]
        if same:
            words += [", " if words else "All through: ", f"{_who(same)} with the ", _clock(clock)]
    if changes and len(steady) < MOST_NAMED:
        words += ["; " if words else "", count_of(changes, "change"), " of side"]
    return sentence(*words, ".") if words else sentence("Nobody plays.")


def steady_parts(
    timeline: Timeline, names: Sequence[str], stretches: Sequence[tuple[int, int]]
) -> list[tuple[str, Clock]]:
    """The parts that keep one clock all through what is shown, and which; those that are silent are none."""
    found: list[tuple[str, Clock]] = []
    for name in names:
        kept = {clock for at, stop, clock in clocks(timeline, name) if _shown(at, stop, stretches)}
        if len(kept) == 1 and kept != {"tacet"}:
            found.append((name, kept.pop()))
    return found


def _shown(start: int, end: int, stretches: Sequence[tuple[int, int]]) -> bool:
    return any(start < last and end > first for first, last in stretches)


def _when(timeline: Timeline, nobody: Nobody, stretches: Sequence[tuple[int, int]]) -> str:
    """`From bar 29 on `, `In bars 9 to 12 `, `From bar 13 to 17.3 `; nothing where it is all the time."""
    start, end = stretches[0][0], stretches[-1][1]
    if (nobody.start, nobody.end) == (start, end):
        return ""
    begins = place_text(timeline, nobody.start)
    if nobody.end == end:
        return f"From bar {begins} on "
    downbeats = {bar.at for bar in timeline.bars} | {start}
    if nobody.start not in downbeats or nobody.end not in downbeats:
        return f"From bar {begins} to {place_text(timeline, nobody.end)} "
    first, last = timeline.bar_at(max(0, nobody.start)).number, timeline.bar_at(nobody.end - 1).number
    return f"In {bars_from(first, last)} "
