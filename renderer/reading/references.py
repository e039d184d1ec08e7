"""What one part of a spec says about another: figures, sections, voices, parts that are named must be there.

What needs bar lines or lengths (positions out of range, `on` with nothing running) is left to the timeline.
"""

from collections.abc import Iterable, Iterator, Mapping
from functools import cached_property
from typing import Any

from renderer.core import limits
from renderer.core.errors import KeyPath, Problem
from renderer.core.names import listed, nearest_mend
from renderer.reading.scalars.suggest import plays_mend
from renderer.schedule.shows import SHOWS
from renderer.spec.model import (
    SIDES,
    ClickSpec,
    Entry,
    FigureSpec,
    Item,
    MarkSpec,
    Point,
    Position,
    SectionSpec,
    SegmentSpec,
    SoundSpec,
    known_from_bar_1,
)
from renderer.timeline.passes import resolve


def check_references(values: Mapping[str, Any], problems: list[Problem], placed: bool = True) -> None:
    """Every name that leads nowhere, and every value that another one makes necessary, goes to `problems`.

    `values` are a spec's, by key, as far as they can be read; where a key can't be, nothing is said about names
    that might be in it. A recording needs a sync point unless `placed` is false.
    """
    read = _Read(values)
    problems.extend(_first_values(read))
    problems.extend(_origins(read))
    problems.extend(_pulses(read))
    problems.extend(_plays(read))
    problems.extend(_voices(read))
    problems.extend(_sides(read))
    problems.extend(_segments(read))
    problems.extend(_segment_parts(read))
    problems.extend(_segment_variants(read))
    problems.extend(_sound(read, placed))
    resolve(read.form, problems)


class _Read:
    """What stands under the keys of a spec, as far as it can be read."""

    def __init__(self, values: Mapping[str, Any]) -> None:
        self.values = values

    def is_readable(self, key: str) -> bool:
        """Whether nothing is wrong with what stands under a key of the top, or the key is not given."""
        return key not in self.values or self.values[key] is not None

    @cached_property
    def form(self) -> tuple[SectionSpec, ...]:
        return self.values.get("form") or ()

    @cached_property
    def figures(self) -> Mapping[str, FigureSpec | None]:
        """By name; None for one that can't be read."""
        return self.values.get("figures") or {}

    @cached_property
    def parts(self) -> Mapping[str, tuple[Entry[str], ...] | None]:
        """By name; None for one that can't be read."""
        return self.values.get("parts") or {}

    @cached_property
    def segments(self) -> tuple[SegmentSpec, ...]:
        return self.values.get("segments") or ()

    @cached_property
    def sections(self) -> Mapping[str, None]:
        """Their names, in order."""
        return dict.fromkeys(section.name for section in self.form if section.name is not None)

    @cached_property
    def voices(self) -> Mapping[str, None]:
        """Their names, in order."""
        return dict.fromkeys(voice for section in self.form for voice in section.plays or {})


def _first_values(read: _Read) -> Iterator[Problem]:
    """Tempo and meter must be known from bar 1."""
    for key, example in (("tempo", "112"), ("meter", "4/4")):
        top: tuple[Entry[Any], ...] = read.values.get(key) or ()
        own: tuple[Entry[Any], ...] = (getattr(read.form[0], key) if read.form else None) or ()
        if not read.is_readable(key) or known_from_bar_1((*top, *own)):
            continue
        if top:
            yield Problem((key,), "none is given for bar 1.", f"Begin with 1: {example}.")
        else:
            yield Problem((), f"{key} is not given from bar 1 on.", f"Write {key}: {example}.")


def _origins(read: _Read) -> Iterator[Problem]:
    """`from` names another figure, and never comes back to where it began; no figure is called `on`."""
    if "on" in read.figures:
        text = "a figure can't be called on; plays: on has its own meaning."
        yield Problem(("figures", "on"), text, "Give it another name.", on_key=True)
    for name, figure in read.figures.items():
        if figure is None or figure.origin is None:
            continue
        path = (*figure.path, "from")
        if figure.origin not in read.figures:
            yield _unknown_figure(figure.origin, path, read)
            continue
        chain, origin = [name], figure.origin
        while origin not in chain:
            chain.append(origin)
            next_figure = read.figures.get(origin)
            if next_figure is None or next_figure.origin is None:
                break
            origin = next_figure.origin
        else:
            if origin == name:
                shown = [*chain, origin] if len(chain) < 5 else [*chain[:2], "...", *chain[-2:], origin]
                text = f"{name} is a variant of itself ({' from '.join(shown)})."
                yield Problem(path, text, "Remove one from.")


def _unknown_figure(name: str, path: KeyPath, read: _Read) -> Problem:
    if name == "on":
        return Problem(path, "on can't be one of several items.", "Write plays: on alone.")
    mend = plays_mend(name, read.figures) or nearest_mend(name, read.figures)
    return Problem(path, f"there is no figure {name}.", mend)


def _pulses(read: _Read) -> Iterator[Problem]:
    """Whatever counts in pulses needs one."""
    if "pulse" in read.values:
        return
    mend = "Write pulse: 1/16 at the top."
    for figure in read.figures.values():
        if figure is not None and figure.pulse is None:
            yield Problem(figure.path, f"no pulse is given for {figure.name}.", mend)
    for path, position in _positions(read):
        if position.pulse is not None:
            yield Problem(path, "a position with a pulse, but no pulse at the top.", mend, on_key=True)
    clicks: list[tuple[KeyPath, object]] = [(("click",), read.values.get("click"))]
    clicks += [((*segment.path, "click"), segment.click) for segment in read.segments]
    for path, click in clicks:
        if isinstance(click, ClickSpec) and "pulse" in click.every:
            yield Problem(path, "a click on every pulse, but no pulse at the top.", mend)


def _positions(read: _Read) -> Iterator[tuple[KeyPath, Position]]:
    """Every position of the spec, with where it stands."""
    top = [read.values.get(key) for key in _LANES]
    yield from _lane_positions([*top, *read.parts.values()])
    yield from _mark_positions(read.values.get("marks") or ())
    for section in read.form:
        own = [getattr(section, key) for key in _LANES]
        yield from _lane_positions([*own, *(section.parts or {}).values()])
        yield from _mark_positions(section.marks or ())
        starts = section.starts.values() if isinstance(section.starts, Mapping) else (section.starts,)
        yield from (((*section.path, "starts"), start) for start in starts if isinstance(start, Position))


def _mark_positions(marks: Iterable[MarkSpec]) -> Iterator[tuple[KeyPath, Position]]:
    return ((mark.path, mark.where) for mark in marks if isinstance(mark.where, Position))


_LANES = ("meter", "tempo", "harmony", "fermata", "sync")


def _lane_positions(
    lanes: Iterable[tuple[Entry[Any] | Point, ...] | None],
) -> Iterator[tuple[KeyPath, Position]]:
    return ((entry.path, entry.position) for lane in lanes for entry in lane or ())


def _plays(read: _Read) -> Iterator[Problem]:
    """Every figure that is played is there."""
    for section in read.form:
        for plays in (section.plays or {}).values():
            for item in plays.items or ():
                if (
                    item.figure is not None
                    and item.figure not in read.figures
                    and read.is_readable("figures")
                ):
                    yield _unknown_figure(item.figure, (*item.path, _figure_key(item)), read)


def _figure_key(item: Item) -> str:
    return "of" if item.kind == "first" else "figure"


def _voices(read: _Read) -> Iterator[Problem]:
    """There are not too many, and none is called as a side."""
    if len(read.voices) > limits.VOICES:
        yield Problem(("form",), f"got {len(read.voices)} voices; a piece has at most {limits.VOICES}.")
    for section in read.form:
        for voice in section.plays or {}:
            if voice in SIDES:
                text = f"a voice can't be called {voice}; that is a side a part keeps."
                yield Problem((*section.path, "voices", voice), text, "Give it another name.", on_key=True)


def _sides(read: _Read) -> Iterator[Problem]:
    """Parts are listed at the top, and keep the side of a voice that sounds somewhere."""
    if len(read.voices) > limits.VOICES:
        return
    for lane in read.parts.values():
        yield from _lane_sides(lane or (), read.voices)
    for section in read.form:
        for name, lane in (section.parts or {}).items():
            if name not in read.parts and read.is_readable("parts"):
                mend = (
                    nearest_mend(name, read.parts)
                    if read.parts
                    else f"Write parts: {{{name}: figure}} there."
                )
                path = (*section.path, "parts", name)
                yield Problem(path, f"there is no part {name} at the top.", mend, on_key=True)
            yield from _lane_sides(lane, read.voices)


def _lane_sides(lane: tuple[Entry[str], ...], voices: Mapping[str, None]) -> Iterator[Problem]:
    for entry in lane:
        for index, side in enumerate(entry.values):
            path = (*entry.path, index)
            if side == "figure" and len(voices) > 1:
                text = "figure is one of several voices here."
                yield Problem(path, text, f"Write its name: {' or '.join(voices)}.")
            elif side not in SIDES and side not in voices:
                yield Problem(path, f"{side} is not a side.", nearest_mend(side, (*SIDES, *voices)))


def _segments(read: _Read) -> Iterator[Problem]:
    """What a segment shows is there."""
    figures_read, form_read = read.is_readable("figures"), bool(read.form)
    for segment in read.segments:
        if SHOWS[segment.show].needs == "figures" and not read.figures and figures_read:
            yield Problem(segment.path, "there is no figure to show.", "Write figures: {kiln: [5, 3, 3]}.")
        elif segment.figure is not None and segment.figure not in read.figures and figures_read:
            yield _unknown_figure(segment.figure, (*segment.path, "figure"), read)
        for index, name in enumerate(segment.sections or ()):
            if form_read and name not in read.sections:
                mend = nearest_mend(name, read.sections)
                yield Problem((*segment.path, "sections", index), f"there is no section {name}.", mend)
        named = (("section", segment.section, read.sections), ("voice", segment.voice, read.voices))
        for key, one, known in named:
            if form_read and one is not None and one not in known:
                yield Problem((*segment.path, key), f"there is no {key} {one}.", nearest_mend(one, known))


def _segment_parts(read: _Read) -> Iterator[Problem]:
    """The parts that a segment names are there."""
    if not read.is_readable("parts"):
        return
    for segment in read.segments:
        if SHOWS[segment.show].needs == "parts" and not read.parts:
            mend = "Write parts: {marimba: figure, kit: meter}."
            yield Problem(segment.path, "there are no parts to show.", mend)
            continue
        for index, name in enumerate(segment.parts or ()):
            if name not in read.parts:
                mend = nearest_mend(name, read.parts)
                yield Problem((*segment.path, "parts", index), f"there is no part {name}.", mend)


def _segment_variants(read: _Read) -> Iterator[Problem]:
    """What a segment compares comes from another figure."""
    if not read.is_readable("figures") or None in read.figures.values():
        return
    variants = [name for name, figure in read.figures.items() if figure and figure.origin]
    for segment in read.segments:
        if SHOWS[segment.show].needs != "variants":
            continue
        if not variants:
            mend = "Write a variant under figures:, such as brief: {groups: [3, 3, 2], from: kiln}."
            yield Problem(segment.path, "no figure comes from another, so there is nothing to compare.", mend)
        elif segment.figure in read.figures and segment.figure not in variants:
            text = f"{segment.figure} does not come from another figure."
            yield Problem((*segment.path, "figure"), text, f"Write {listed(variants)}, or give it a from.")


def _sound(read: _Read, placed: bool) -> Iterator[Problem]:
    """A voice that is given a sound plays somewhere, and a recording has a place."""
    sounds: list[tuple[KeyPath, SoundSpec | None]] = [(("sound",), read.values.get("sound"))]
    sounds += [((*segment.path, "sound"), segment.sound) for segment in read.segments]
    for path, sound in sounds:
        for name in sound.voices if sound and read.form else {}:
            if name not in read.voices:
                mend = nearest_mend(name, read.voices)
                yield Problem((*path, "voices", name), f"there is no voice {name}.", mend, on_key=True)
    synced = "sync" in read.values or any(section.sync is not None for section in read.form)
    if placed and read.values.get("recording") is not None and not synced:
        text = "a recording, but no sync point."
        mend = "Write sync: {1: 0.532}, the second at which bar 1 begins in it."
        yield Problem(("recording",), text, mend)
