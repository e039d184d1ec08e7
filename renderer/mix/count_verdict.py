"""What a comparison of bar counts lets one say, and how surely; and that in words."""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import Literal, NamedTuple

from renderer.audio.click_sounds import SAMPLES_PER_SECOND
from renderer.audio.decode import clock_text
from renderer.audio.placed import Excerpt
from renderer.core.errors import FileError
from renderer.core.names import counted, listed
from renderer.lesson.lesson import Lesson
from renderer.mix.counts import Comparison, Heard, Other, Progress, compare
from renderer.mix.recording import open_recording
from renderer.report.table import section_names

CLEAR = 8.0
"""By how many nats another count must fit better than the spec to be told."""
AHEAD = 4.0
"""By how many nats it must be ahead of all others for its section to be named."""
PROBABLE, CERTAIN = 6.0, 12.0
"""From how much on that is called so: nats ahead of all others, and half the nats ahead of the spec."""
LIKE = 0.25
"""Nats a second at least by which what is heard speaks for the chords, if it is this piece: of right specs it is 1, of
those with a fifth of the names wrong 0.3 at least, of other pieces below 0."""

LONGEST = 3600
"""Seconds of music that are compared: what is remembered of an hour takes half a gigabyte."""
SLOWEST = 1.5
"""How many times as long as written a recording may last; what comes after that is not listened to."""

MOST_TOLD = 5
"""Counts that may be right, of those that can't be told apart."""

Found = Literal["no chords", "unlike", "wrong", "doubtful", "right"]


class Verdict(NamedTuple):
    """What can be said."""

    found: Found
    """`doubtful`: something is wrong, but it can't be told where."""
    wrong: tuple[Other, ...] = ()
    """The count that fits; where it is doubtful, all that may."""
    sureness: Literal["certain", "probable", "possible"] = "possible"
    open: tuple[int, ...] = ()
    """Passes of which can't be told whether they have a bar more or fewer."""


def judge(compared: Comparison) -> Verdict:
    """What a comparison lets one say."""
    if compared.chords < 2:
        return Verdict("no chords")
    if compared.fit < LIKE:
        return Verdict("unlike")
    others = compared.others
    if not others or others[0].gain < CLEAR:
        unsure = {other.sections[0] for other in others if len(other.sections) == 1 and other.gain > -AHEAD}
        return Verdict("right", open=tuple(sorted(unsure)))
    best = others[0]
    near = [other for other in others if other.gain > best.gain - AHEAD]
    if len(near) > 1:
        return Verdict("doubtful", tuple(near))
    ahead = best.gain - max((other.gain for other in others[1:]), default=-CERTAIN)
    sure = min(ahead, best.gain / 2)
    return Verdict(
        "wrong", (best,), "certain" if sure >= CERTAIN else "probable" if sure >= PROBABLE else "possible"
    )


def check_counts(lesson: Lesson, progress: Progress = lambda share: None) -> list[str]:
    """What a lesson's recording says of its bar counts, a line each.

    Raises FileError if the spec names no recording, it can't be used, bar 1 is not in it, or the
    piece lasts longer than an hour.
    """
    recording = open_recording(lesson)
    if recording is None:
        raise FileError(
            "The spec names no recording to listen to. Write recording: take.flac and sync: {1: 0.532}."
        )
    start = lesson.timeline.clock.file_start
    if start is None or not 0 <= start < recording.seconds:
        raise FileError(
            f"{recording.path}: bar 1 is not in it, so no bars can be counted. Write where it is: sync: {{1: 0.532}}."
        )
    seconds = float(lesson.timeline.seconds(lesson.timeline.end))
    if seconds > LONGEST:
        raise FileError(
            f"The piece lasts {seconds / 60:.0f} minutes; bars can be compared in an hour of music."
        )
    reach = min(recording.sample_count, round((float(start) + SLOWEST * seconds) * SAMPLES_PER_SECOND))
    heard = Heard(Excerpt(recording, 0, reach), lambda share: progress(0.6 * share))
    compared = compare(heard, lesson.spec, float(start), lambda share: progress(0.6 + 0.4 * share))
    return [
        *verdict_lines(judge(compared), recording.path.name, section_names(lesson.timeline), compared.counts)
    ]


def verdict_lines(
    verdict: Verdict, name: str, sections: Sequence[str], counts: Sequence[int]
) -> Iterator[str]:
    """The verdict in a musician's words. `name` is the recording's, `sections` are the names of all passes, `counts`
    their bars in the spec."""
    if verdict.found == "no chords":
        yield (
            f"{name}: can't tell whether the bar counts are right: only harmony shows that, and the spec names fewer "
            "than two chords. Write where they change, for example harmony: {1: Em, 9: G}."
        )
    elif verdict.found == "unlike":
        yield (
            f"{name}: can't tell whether the bar counts are right: what is heard is hardly like the spec's beats and "
            "chords. Is it the right file? Do tempo, meter, harmony and the place of bar 1 (sync) fit it?"
        )
    elif verdict.found == "wrong":
        (other,) = verdict.wrong
        sure = {"certain": "as good as certain", "probable": "probable", "possible": "possible, no more"}
        yield (
            f"{name}: {_counted(other, sections, counts)}: from bar {other.bar} on ({_clock(other)}) the recording is "
            f"{_later(other)}. That is {sure[verdict.sureness]}."
        )
        yield "  Correct that and listen again: one wrong count is told at a time."
    elif verdict.found == "doubtful":
        first = min(verdict.wrong, key=lambda other: other.bar)
        yield (
            f"{name}: a bar count seems to be wrong: from about bar {first.bar} on ({_clock(first)}) the recording "
            "does not go as the spec does. Can't tell which it is:"
        )
        for other in verdict.wrong[:MOST_TOLD]:
            yield f"  perhaps {_counted(other, sections, counts, ('has', 'have'))}"
    else:
        told = [section for index, section in enumerate(sections) if index not in verdict.open]
        if told:
            yield f"{name}: as many bars as counted, as far as can be heard: {listed(told, 'and')}."
        if verdict.open:
            names = listed([sections[index] for index in verdict.open], "and")
            yield f"{name}: can't tell how many bars there are in {names}: nothing in the harmony shows it."


def _counted(
    other: Other,
    sections: Sequence[str],
    counts: Sequence[int],
    verbs: tuple[str, str] = ("seems to have", "seem to have"),
) -> str:
    names = listed([sections[index] for index in other.sections], "and")
    count = counts[other.sections[0]]
    bars = f"{counted(count + other.more, 'bar')}, not {count}"
    if len(other.sections) == 1:
        return f"{names} {verbs[0]} {bars}"
    return f"{names} {verbs[1]} {bars}, each time"


def _later(other: Other) -> str:
    bars = "a bar" if abs(other.more) == 1 else f"{abs(other.more)} bars"
    return f"{bars} {'later' if other.more > 0 else 'earlier'}"


def _clock(other: Other) -> str:
    return clock_text(Fraction(round(other.second * 10), 10))
