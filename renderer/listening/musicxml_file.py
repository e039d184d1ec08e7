"""MusicXML 4.0 (W3C), also compressed (.mxl), as a score.

Rehearsal marks name sections, chord symbols are the harmony. Accents and strong accents are accents. A tied note begins
once. Each staff of a part is a part of its own. Repeats are played out. The file is read bar by bar and never held
whole; no entity is resolved and nothing is fetched.
"""

import io
import re
import zipfile
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from math import lcm
from typing import NamedTuple

from renderer.core import limits
from renderer.core.names import bars_named
from renderer.listening.lay_bars import UnusableError, is_meter, meter_of_length, read_meter
from renderer.listening.midi_file import NOTES
from renderer.listening.musicxml_bars import PartReader, XmlBar
from renderer.listening.repeats import played_order
from renderer.listening.score import (
    Named,
    Onset,
    Score,
    ScoreBar,
    ScorePart,
    TempoChange,
    as_label,
    told_apart,
)
from renderer.reading.carried import NAME
from renderer.spec.meter import Meter

XML_BYTES = 32_000_000
"""Of a file when it is unpacked."""
FINEST = 1 << 22
"""Ticks to a whole note, at most."""
READ = (
    *("score-timewise", "part", "measure", "score-part"),
    *("work-title", "movement-title", "miscellaneous-field"),
)
"""The elements that are looked at by themselves."""
A_NOTE = re.compile(rb"<note\b")
MARK = re.compile("<score-(partwise|timewise)")
ENCODING = re.compile(rb"""<\?xml[^>]*encoding\s*=\s*["']([A-Za-z0-9._-]+)["']""")
ROOT = re.compile(r'full-path\s*=\s*"([^"]+)"')
WORDS_ONLY = (
    "The words D.C. or D.S. stand in the file without saying where to go on; here they are not followed."
)


def unpacked(data: bytes) -> bytes:
    """The MusicXML that a compressed file holds. Raises UnusableError."""
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        if sum(entry.file_size for entry in archive.infolist()) > 2 * XML_BYTES:
            raise UnusableError(
                f"it holds more than {XML_BYTES // 1_000_000} MB. Save the part that you need alone."
            )
        names = archive.namelist()
        root = ROOT.search(archive.read("META-INF/container.xml").decode("utf-8", "replace"))
        inner = [name for name in names if name.endswith((".xml", ".musicxml")) and "META-INF" not in name]
        name = root[1] if root and root[1] in names else next(iter(inner), None)
        if name is None:
            raise UnusableError("there is no score in it.")
        return archive.read(name)


def decoded(data: bytes) -> str:
    """XML as text: UTF-8 or UTF-16, or what it says of itself. Raises UnicodeError or LookupError."""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return data.decode("utf-16")
    said = ENCODING.search(data[:200])
    return data.decode(said[1].decode() if said else "utf-8-sig").removeprefix("\ufeff")


def read_musicxml(data: bytes, title: str) -> Score:
    """The score. Raises UnusableError; whatever else is raised comes of a damaged file."""
    if len(data) > XML_BYTES:
        raise UnusableError(
            f"it is larger than {XML_BYTES // 1_000_000} MB. Save the part that you need alone."
        )
    if len(A_NOTE.findall(data)) > NOTES:
        raise UnusableError(f"it has more than {NOTES:,} notes. Save the part that you need alone.")
    head, found = _parsed(data)
    if not found:
        raise UnusableError("there are no parts in it.")
    parts = [part for part in found if part.bars]
    if not parts:
        raise UnusableError("there are no bars in it.")
    return _score(head, parts, title)


class _Head(NamedTuple):
    """What a file says before its notes."""

    title: str
    carried: str


def _parsed(data: bytes) -> tuple[_Head, list[PartReader]]:
    """What a file says before its notes, and its parts in order."""
    from lxml import etree

    titles: list[str] = []
    carried = ""
    parts: dict[str, PartReader] = {}
    inner, own, implicit = "measure", "", False
    events = etree.iterparse(
        io.BytesIO(data),
        ("start", "end"),
        tag=READ,
        resolve_entities=False,
        no_network=True,
        load_dtd=False,
    )
    for event, element in events:
        tag = element.tag
        if event == "start":
            if tag == "score-timewise":
                inner = "part"
            elif tag == "part":
                own = element.get("id", "")
                parts.setdefault(own, PartReader(""))
            elif tag == "measure":
                implicit = element.get("implicit") == "yes"
        elif tag == inner:
            parts[own].read(element, implicit)
            element.clear()
        elif tag == "score-part":
            parts[element.get("id", "")] = PartReader(element.findtext("part-name") or "")
        elif tag in ("work-title", "movement-title"):
            titles.append(element.text or "")
        elif tag == "miscellaneous-field" and element.get("name") == NAME:
            carried = element.text or ""
    return _Head(next(filter(None, titles), ""), carried), [*parts.values()]


class _Played(NamedTuple):
    """A bar as it is played: which one of the file, and where it begins, in ticks; bar 1's downbeat is 0."""

    bar_index: int
    at: int
    follows: bool
    """Whether the bar before it is the one that stands before it in the file."""


def _score(head: _Head, parts: Sequence[PartReader], title: str) -> Score:
    count = max(len(part.bars) for part in parts)
    columns = [[part.bars[index] for part in parts if index < len(part.bars)] for index in range(count)]
    meters = [*_meters(columns)]
    lengths = [*_lengths(columns, meters)]
    order = played_order([[sign for bar in column for sign in bar.signs] for column in columns])
    grid = _grid(columns, [*lengths, *(meter.length for meter in meters)])
    pickup = count > 1 and lengths[0] < meters[0].length
    at = -lengths[0] if pickup else Fraction(0)
    played: list[_Played] = []
    bars: list[ScoreBar] = []
    odd: list[int] = []
    for place, index in enumerate(order):
        meter, length = meters[index], lengths[index]
        if length != meter.length and not (place == 0 and pickup):
            meter = meter_of_length(length)
            odd.append(place + (0 if pickup else 1))
        played.append(_Played(index, int(at * grid), place > 0 and order[place - 1] == index - 1))
        bars.append(ScoreBar(int(at * grid), int((at + length) * grid), meter))
        at += length
    filled = [
        place + (0 if pickup else 1)
        for place, index in enumerate(order)
        if not is_meter(max(bar.length for bar in columns[index]))
    ]
    signs = {sign.kind for column in columns for bar in column for sign in bar.signs}
    remarks = [WORDS_ONLY] if "words" in signs else []
    if odd:
        remarks.append(
            f"Not as long as the meter says: {bars_named(odd)}; here they have meters of their own."
        )
    if filled:
        remarks.append(f"Filled as no meter is: {bars_named(filled)}; here they are as long as their meter.")
    texts = {kind: _texts(columns, played, grid, kind) for kind in ("rehearsal", "harmony", "tempo")}
    staffs = [(part, staff) for part in parts for staff in part.staffs]
    names = told_apart(
        (
            as_label(part.name, limits.LABEL_CHARACTERS) or f"Part {number}"
            for number, (part, _) in enumerate(staffs, 1)
        ),
        limits.LABEL_CHARACTERS,
    )
    score = Score(
        as_label(head.title, limits.TITLE_CHARACTERS) or title,
        grid,
        tuple(bars),
        tuple(TempoChange(at, Fraction(text)) for at, text in texts["tempo"].items() if Fraction(text) > 0),
        tuple(_labels({max(0, at): name for at, name in texts["rehearsal"].items()})),
        tuple(_labels(texts["harmony"])),
        (),
        tuple(remarks),
        head.carried,
    )
    made = (
        _part(name, part, staff, played, score) for name, (part, staff) in zip(names, staffs, strict=True)
    )
    return replace(score, parts=tuple(made))


def _meters(columns: Sequence[Sequence[XmlBar]]) -> Iterator[Meter]:
    """The meter of each bar, which holds until the next one is said."""
    meter = read_meter("4/4")
    for column in columns:
        meter = next((bar.meter for bar in column if bar.meter), meter)
        yield meter


def _lengths(columns: Sequence[Sequence[XmlBar]], meters: Sequence[Meter]) -> Iterator[Fraction]:
    """How long each bar is: as long as what stands in it; an empty one, one that no meter is as long as, and the last
    one at least, as its meter."""
    for index, (column, meter) in enumerate(zip(columns, meters, strict=True)):
        length = max(bar.length for bar in column)
        last = bool(index) and index == len(columns) - 1
        if not length or last or not is_meter(length):
            length = max(length, meter.length) if is_meter(length) else meter.length
        yield length


def _grid(columns: Iterable[Iterable[XmlBar]], lengths: Iterable[Fraction]) -> int:
    """Ticks to a whole note, so that all places are whole. Raises UnusableError."""
    grid = max(limits.METER_UNITS)
    bars = [bar for column in columns for bar in column]
    places = [
        *(note.at for bar in bars for note in bar.notes),
        *(text.at for bar in bars for text in bar.texts),
    ]
    for denominator in {place.denominator for place in (*places, *lengths)}:
        grid = lcm(grid, denominator)
        if grid > FINEST:
            raise UnusableError("its notes are too finely divided to be counted.")
    return grid


def _texts(
    columns: Sequence[Iterable[XmlBar]], played: Iterable[_Played], grid: int, kind: str
) -> dict[int, str]:
    """What stands over the parts, by tick in order, once a place."""
    found: dict[int, str] = {}
    for index, at, _ in played:
        for bar in columns[index]:
            for text in bar.texts:
                if text.kind == kind:
                    found.setdefault(at + int(text.at * grid), text.text)
    return dict(sorted(found.items()))


def _labels(texts: dict[int, str]) -> Iterator[Named]:
    for at, text in texts.items():
        if label := as_label(text, limits.LABEL_CHARACTERS):
            yield Named(at, label)


def _part(name: str, part: PartReader, staff: str, played: Sequence[_Played], score: Score) -> ScorePart:
    """A part's onsets. What is tied from before begins no more; at a jump ties are let go."""
    found: dict[int, bool] = {}
    ties: dict[str, tuple[int, int]] = {}
    """By pitch: where a tied note begins, and where it ends and the tie goes on."""
    endless: list[int] = []
    own = [[note for note in bar.notes if note.staff == staff] for bar in part.bars]
    for index, start, follows in played:
        if not follows:
            ties.clear()
        for note in sorted(own[index] if index < len(own) else (), key=lambda note: note.at):
            at = start + int(note.at * score.grid)
            begun, held = ties.get(note.pitch, (0, at + 1))
            goes_on = note.tied_back or held == at  # not every program says where a tie stops
            if held <= at or goes_on:  # else it is another voice's
                ties.pop(note.pitch, None)
            if held < at and not goes_on:
                endless.append(begun)
            if note.tied_on:
                ties[note.pitch] = at, at + int(note.length * score.grid)
            if not goes_on:
                found[at] = found.get(at, False) or note.accented
    endless += [begun for begun, _ in ties.values()]
    marked = any(found.values())
    onsets = tuple(Onset(at, found[at] or not marked) for at in sorted(found))
    where = score.bar_number(min(endless)) if endless else None
    return ScorePart(name, onsets, marked and not all(found.values()), where)
