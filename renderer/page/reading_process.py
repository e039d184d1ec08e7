"""What a process of its own finds in a MIDI or MusicXML file, for the page: the readings of a part, surest first."""

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

from renderer.core.errors import BarcrossError, ValueProblem
from renderer.core.names import counted
from renderer.listening.choices import Choice
from renderer.listening.listen import Heard, Listened, listen_to
from renderer.listening.read_score import UntimedError, score_in
from renderer.listening.reading import Reading
from renderer.listening.score import Score
from renderer.listening.spec_text import tempo_text
from renderer.listening.words import length_text
from renderer.page.child import child_job, tell
from renderer.reading.scalars.parse import parse_tempo

LEAST_BARS, MOST_BARS = 2, 8
CARRIED_BARS = 4
"""Of a piece that barcross wrote itself, that are shown."""
SEEN = 3
"""Repetitions that a picture shows whole, at least, where so many bars hold them."""


def hear() -> None:
    """What the process does."""
    job = child_job(0)
    data = job["data"]
    try:
        tell({"found": heard_in(data, job["name"], job["part"], job["tempo"], _step)})
    except UntimedError:
        tell({"untimed": f"{job['name']} says no tempo. Write it here, in quarter notes a minute."})
    except BarcrossError as error:
        tell({"problem": str(error)})
    except MemoryError:
        tell({"problem": f"{job['name']}: it is too large for this machine."})


def _step(text: str) -> None:
    tell({"step": text})


def heard_in(
    data: bytes, name: str, part: str | None, tempo: str | None, told: Callable[[str], None]
) -> dict[str, Any]:
    """What was found in a file; `told` hears how far it is. Raises FileError, UntimedError."""
    told(f"Reading {name}")
    path = Path(name)
    score = score_in(data, path, _tempo(tempo))
    listened = listen_to(score, path, part, lambda one: told(f"Looking for the figure in {one}"))
    count = max(1, len(listened.choices))
    readings = []
    for number in range(1, count + 1):
        told(f"Writing out reading {number} of {count}")
        readings.append(_told(listened, number))
    return {
        "title": score.title,
        "summary": summary(score, listened),
        "parts": [_part(one.name, len(one.onsets)) for one in score.parts if one.endless_tie is None],
        "part": listened.part.name,
        "bars": bars_seen(listened),
        "carried": bool(score.carried),
        "readings": readings,
    }


def _tempo(text: str | None) -> Fraction | None:
    if not text:
        return None
    try:
        return parse_tempo(text).quarters
    except ValueProblem as problem:
        raise BarcrossError(f"Tempo: {problem.text} {problem.mend or ''}".strip()) from None


def _part(name: str, notes: int) -> dict[str, Any]:
    return {"name": name, "notes": notes}


def _told(listened: Listened, number: int) -> dict[str, Any]:
    heard = listened.heard(number)
    choice = listened.choices[number - 1] if listened.choices else None
    said: dict[str, list[str]] = {"found": [], "unsure": [], "left out": []}
    for finding in heard.said:
        said[finding.kind].append(finding.text)
    return {
        "text": heard.text,
        "label": listened.labels[number - 1] if listened.labels else "",
        "length": length_text(len(choice.reading.figures[0]), choice.reading.laid.pulse)
        if choice and choice.reading.figures
        else "",
        "counts": counts(heard, listened.choices[0].reading) if choice else [],
        "sure": sureness(choice, number, said["unsure"]) if choice else "",
        "kind": "carried" if listened.carried else choice.reading.kind if choice else "long",
        "said": said,
    }


def counts(heard: Heard, first: Reading) -> list[str]:
    """How often the figure is played, and where it begins beside the surest reading: `18 times whole, 1 cut`, `begins 5
    sixteenths later`."""
    reading = heard.reading
    if reading is None or not reading.figures:
        return []
    length = len(reading.figures[0])
    own = [each for each in reading.statements if each.figure == 0]
    whole = sum(each.end - each.at == length for each in own)
    texts = [f"{counted(whole, 'time')} whole" + (f", {len(own) - whole} cut" if len(own) > whole else "")]
    theirs = [each.at for each in first.statements if each.figure == 0]
    later = own[0].at - theirs[0] if own and theirs else 0
    if later:
        when = "later" if later > 0 else "earlier"
        texts.append(f"begins {length_text(abs(later), reading.laid.pulse)} {when}")
    return texts


def sureness(choice: Choice, number: int, unsure: list[str]) -> str:
    """How sure a reading is, beside the others."""
    if number == 1:
        return "the surest; look at what is not sure" if unsure else "the surest"
    if choice.reading.heads:
        return "the notes of the first, in other groups"
    return "as sure as the first" if choice.close else "less sure than the first"


def bars_seen(listened: Listened) -> tuple[int, int] | None:
    """The bars in which the readings are shown side by side: from the surest one's first repetition on."""
    score = listened.score
    last = len(score.bars) - (1 if score.pickup else 0)
    if listened.carried:
        return (1, min(last, CARRIED_BARS)) if listened.carried.plays else None
    if not listened.labels:
        return None
    reading = listened.choices[0].reading
    figure = reading.figures[0]
    first = next((each for each in reading.statements if each.figure == 0), None)
    if first is None:
        return None
    start = max(1, score.bar_number(reading.laid.tick(first.at)))
    after = score.bar_number(reading.laid.tick(first.at + SEEN * len(figure)))
    end = min(last, max(start + LEAST_BARS - 1, min(after, start + MOST_BARS - 1)))
    return start, end


def summary(score: Score, listened: Listened) -> str:
    """What the file says beside its notes.
    `21 bars of 4/4, tempo 96, 3 sections, 16 chords.`
    """
    meters = [*dict.fromkeys(bar.meter.text for bar in score.bars)]
    count = len(score.bars) - (1 if score.pickup else 0)
    rows = [
        f"{counted(count, 'bar')} of {' and '.join(meters[:2])}{' and others' if len(meters) > 2 else ''}"
    ]
    if score.pickup:
        rows.append("a pick-up")
    changes = len(score.tempo) - 1
    rows.append(
        f"tempo {tempo_text(score.tempo[0].quarters)}"
        + (f", {counted(changes, 'change')} of tempo" if changes else "")
    )
    rows.append(counted(len(listened.sections), "section"))
    if score.chords:
        rows.append(counted(len(score.chords), "chord"))
    rows.append(counted(len(score.parts), "part"))
    return f"{', '.join(rows)}."
