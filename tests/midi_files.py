"""Small MIDI files, made by mido, which knows nothing of barcross."""

import io
from collections.abc import Iterator, Sequence
from itertools import accumulate, cycle, takewhile

import mido

QUARTER = 480


def midi_bytes(*tracks: Sequence[tuple[int, object]], kind: int = 1) -> bytes:
    """A MIDI file; each track is messages with the tick, 480 to a quarter, at which they stand."""
    file = mido.MidiFile(type=kind, ticks_per_beat=QUARTER)
    for events in tracks:
        track = mido.MidiTrack()
        at = 0
        for tick, message in sorted(events, key=lambda event: event[0]):
            track.append(message.copy(time=tick - at))  # type: ignore[attr-defined]
            at = tick
        file.tracks.append(track)
    content = io.BytesIO()
    file.save(file=content)
    return content.getvalue()


def meta(kind: str, **values: object) -> mido.MetaMessage:
    return mido.MetaMessage(kind, **values)


def notes(ticks: Sequence[int], channel: int = 0, velocity: int = 90) -> Iterator[tuple[int, object]]:
    for tick in ticks:
        yield tick, mido.Message("note_on", note=60, velocity=velocity, channel=channel)
        yield tick + 60, mido.Message("note_off", note=60, channel=channel)


def heading(*more: tuple[int, object], tempo: int = 500_000) -> list[tuple[int, object]]:
    return [
        (0, meta("set_tempo", tempo=tempo)),
        (0, meta("time_signature", numerator=4, denominator=4)),
        *more,
    ]


def figure_of_eleven(bars: int = 12, name: str = "Marimba", more: int = 0, tempo: bool = True) -> bytes:
    """A marimba that plays 5+3+3 sixteenths over bars of 4/4, from the first note to the last; and a drum that plays
    5+7 `more` bars longer, if any."""
    ticks = _rounds((5, 3, 3), bars)
    tracks = [[(0, meta("track_name", name=name)), *notes(ticks)]]
    if more:
        tracks.append([(0, meta("track_name", name="Drum")), *notes(_rounds((5, 7), bars + more), channel=1)])
    head = heading() if tempo else [(0, meta("time_signature", numerator=4, denominator=4))]
    return midi_bytes(head, *tracks)


def _rounds(groups: Sequence[int], bars: int) -> list[int]:
    """The ticks on which groups of sixteenths begin, round and round."""
    sixteenth = QUARTER // 4
    starts = accumulate(cycle(groups), initial=0)
    return [sixteenth * start for start in takewhile(lambda start: start < 16 * bars, starts)]
