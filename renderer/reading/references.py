"""What one part of a spec says about another: figures, sections, voices, parts that are named must be there.

What needs bar lines or lengths (positions out of range, `on` with nothing running) is left to the timeline.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from renderer.core import limits
from renderer.core.errors import KeyPath, Problem
from renderer.core.names import listed, nearest_mend
from renderer.reading.scalars.suggest import plays_mend
from renderer.reading.schema.document import Draft
from renderer.spec.model import SIDES, Entry, Item, Point, Position, SectionSpec


def check_references(draft: Draft) -> list[Problem]:
    """Every name that leads nowhere, and every value that another one makes necessary."""
    return [
        *_first_values(draft),
        *_origins(draft),
        *_pulses(draft),
        *_form(draft),
        *_plays(draft),
        *_sides(draft),
        *_segments(draft),
        *_segment_parts(draft),
        *_segment_variants(draft),
        *_sound(draft),
    ]


def _first_values(draft: Draft) -> Iterator[Problem]:
    """Tempo and meter must be known from bar 1."""
    section = draft.form[0] if draft.form else None
    for key, example in (("tempo", "112"), ("meter", "4/4")):
        top: tuple[Entry[Any], ...] = getattr(draft, key)
        own: tuple[Entry[Any], ...] = (getattr(section, key) if section else None) or ()
        first = [entry for entry in (*top, *own) if _is_first(entry.position)]
        if not first and draft.given.get(key, ()) is not None:
            if top:
                yield Problem((key,), "none is given for bar 1.", f"Begin with 1: {example}.")
            else:
                yield Problem((), f"{key} is not given from bar 1 on.", f"Write {key}: {example}.")
        elif key == "tempo" and first and all(entry.values[0].moves for entry in first):
            yield Problem(
                first[0].path, "a tempo can't move in bar 1; none is there to move from.", "Write tempo: 112."
            )


def _is_first(position: Position) -> bool:
    return position.bar in (0, 1) and position.beat == 1 and position.pulse in (None, 1)


def _origins(draft: Draft) -> Iterator[Problem]:
    """`from` names another figure, and never comes back to where it began; no figure is called `on`."""
    if "on" in draft.figures:
        text = "a figure can't be called on; plays: on has its own meaning."
        yield Problem(("figures", "on"), text, "Give it another name.", on_key=True)
    for name, figure in draft.figures.items():
        if figure is None or figure.origin is None:
            continue
        path = (*figure.path, "from")
        if figure.origin not in draft.figures:
            yield _unknown_figure(figure.origin, path, draft)
            continue
        chain, origin = [name], figure.origin
        while origin not in chain:
            chain.append(origin)
            next_figure = draft.figures.get(origin)
            if next_figure is None or next_figure.origin is None:
                break
            origin = next_figure.origin
        else:
            if origin == name:
                text = f"{name} is a variant of itself ({' from '.join([*chain, origin])})."
                yield Problem(path, text, "Take one from out.")


def _unknown_figure(name: str, path: KeyPath, draft: Draft) -> Problem:
    if name == "on":
        return Problem(path, "on can't stand among other items.", "Write plays: on alone.")
    mend = plays_mend(name, draft.figures) or nearest_mend(name, draft.figures)
    return Problem(path, f"there is no figure {name}.", mend)


def _pulses(draft: Draft) -> Iterator[Problem]:
    """Whatever counts in pulses needs one."""
    if "pulse" in draft.given:
        return
    mend = "Write pulse: 1/16 at the top."
    for figure in draft.figures.values():
        if figure is not None and figure.pulse is None:
            yield Problem(figure.path, f"no pulse is given for {figure.name}.", mend)
    for path, position in _positions(draft):
        if position.pulse is not None:
            yield Problem(
                path, "a position with a pulse, and no pulse is given at the top.", mend, on_key=True
            )
    if draft.click and "pulse" in draft.click.every:
        yield Problem(("click",), "a click on every pulse, and no pulse is given at the top.", mend)


def _positions(draft: Draft) -> Iterator[tuple[KeyPath, Position]]:
    holders: tuple[Draft | SectionSpec, ...] = (draft, *draft.form)
    for holder in holders:
        lanes: tuple[tuple[Entry[Any] | Point, ...] | None, ...] = (
            holder.meter,
            holder.tempo,
            holder.harmony,
            holder.fermata,
            holder.sync,
            *(holder.parts or {}).values(),
        )
        for lane in lanes:
            for entry in lane or ():
                yield entry.path, entry.position
        if isinstance(holder, SectionSpec):
            starts = holder.starts if isinstance(holder.starts, Mapping) else {"": holder.starts}
            for start in starts.values():
                if isinstance(start, Position):
                    yield (*holder.path, "starts"), start


@dataclass(frozen=True, slots=True)
class _Effective:
    """What a section comes to once `again` is followed."""

    bars: int | None
    repeat: int
    voices: tuple[str, ...]


def _form(draft: Draft) -> Iterator[Problem]:
    """Sections are named once, `again` looks back, and the whole stays within the limit."""
    known: dict[str, _Effective] = {}
    total = 0
    for section in draft.form:
        origin = known.get(section.again) if section.again is not None else None
        if section.again is not None and origin is None:
            yield _unknown_again(section, draft, known)
        effective = _Effective(
            bars=section.bar_count or (origin.bars if origin else None),
            repeat=section.repeat or (origin.repeat if origin else 1),
            voices=tuple(section.plays) if section.plays is not None else origin.voices if origin else (),
        )
        if section.name in known and section.name != section.again:
            text = f"there is a section {section.name} already."
            yield Problem(
                (*section.path, "section"),
                text,
                f"Write again: {section.name}, or give it a name of its own.",
            )
        elif section.name is not None and section.name not in known:
            known[section.name] = effective
        if section.sync is not None and effective.repeat > 1:
            text = "sync can't stand beside repeat: one place can't be several."
            mend = "Write the repeat out with again, or put sync at the top."
            yield Problem((*section.path, "sync"), text, mend, on_key=True)
        if section.again is None or origin is not None:
            yield from _starts(section, effective)
        before, total = total, total + (effective.bars or 0) * effective.repeat
        if before <= limits.BARS < total:
            text = f"the piece comes to {total:,} bars here; there is room for {limits.BARS:,}."
            yield Problem((*section.path, "repeat" if section.repeat else "bars"), text)


def _unknown_again(section: SectionSpec, draft: Draft, known: Mapping[str, _Effective]) -> Problem:
    path = (*section.path, "again")
    if any(section.again == other.name for other in draft.form):
        return Problem(
            path, f"{section.again} comes later; again looks back.", f"Write section: {section.again} here."
        )
    return Problem(
        path,
        f"there is no section {section.again} before this.",
        nearest_mend(str(section.again), tuple(known)),
    )


def _starts(section: SectionSpec, effective: _Effective) -> Iterator[Problem]:
    if isinstance(section.starts, Mapping):
        for voice in section.starts:
            if voice not in effective.voices:
                text = f"this section has no voice {voice}."
                yield Problem(
                    (*section.path, "starts", voice), text, nearest_mend(voice, effective.voices), on_key=True
                )


def _plays(draft: Draft) -> Iterator[Problem]:
    """Every figure that is played is there."""
    for section in draft.form:
        for plays in (section.plays or {}).values():
            for item in plays.items or ():
                if (
                    item.figure is not None
                    and item.figure not in draft.figures
                    and draft.given.get("figures", {}) is not None
                ):
                    yield _unknown_figure(item.figure, (*item.path, _figure_key(item)), draft)


def _figure_key(item: Item) -> str:
    return "of" if item.kind == "first" else "figure"


def _sides(draft: Draft) -> Iterator[Problem]:
    """Parts are listed at the top, and keep the side of a voice that sounds somewhere."""
    voices = tuple(dict.fromkeys(voice for section in draft.form for voice in section.plays or {}))
    if len(voices) > limits.VOICES:
        yield Problem(("form",), f"got {len(voices)} voices; a piece has at most {limits.VOICES}.")
    yield from _voice_names(draft)
    for lane in draft.parts.values():
        yield from _lane_sides(lane or (), voices)
    for section in draft.form:
        for name, lane in (section.parts or {}).items():
            if name not in draft.parts and draft.given.get("parts", {}) is not None:
                mend = (
                    nearest_mend(name, tuple(draft.parts))
                    if draft.parts
                    else f"Write parts: {{{name}: figure}} there."
                )
                yield Problem(
                    (*section.path, "parts", name), f"there is no part {name} at the top.", mend, on_key=True
                )
            yield from _lane_sides(lane, voices)


def _voice_names(draft: Draft) -> Iterator[Problem]:
    for section in draft.form:
        for voice in section.plays or {}:
            if voice in SIDES:
                text = f"a voice can't be called {voice}; that is a side a part keeps."
                yield Problem((*section.path, "voices", voice), text, "Give it another name.", on_key=True)


def _lane_sides(lane: tuple[Entry[str], ...], voices: tuple[str, ...]) -> Iterator[Problem]:
    for entry in lane:
        for index, side in enumerate(entry.values):
            path = (*entry.path, index)
            if side == "figure" and len(voices) > 1:
                text = "figure is one of several voices here."
                yield Problem(path, text, f"Write its name: {' or '.join(voices)}.")
            elif side not in SIDES and side not in voices:
                yield Problem(path, f"{side} is no side.", nearest_mend(side, (*SIDES, *voices)))


def _segments(draft: Draft) -> Iterator[Problem]:
    """What a segment shows is there."""
    sections = tuple(dict.fromkeys(section.name for section in draft.form if section.name is not None))
    voices = tuple(dict.fromkeys(voice for section in draft.form for voice in section.plays or {}))
    figures_read = draft.given.get("figures", {}) is not None
    for segment in draft.segments:
        if segment.show in ("figure", "wheel") and not draft.figures and figures_read:
            yield Problem(segment.path, "there is no figure to show.", "Write figures: {kiln: [5, 3, 3]}.")
        elif segment.figure is not None and segment.figure not in draft.figures and figures_read:
            yield _unknown_figure(segment.figure, (*segment.path, "figure"), draft)
        for index, name in enumerate(segment.sections or ()):
            if name not in sections and draft.given.get("form") is not None:
                yield Problem(
                    (*segment.path, "sections", index),
                    f"there is no section {name}.",
                    nearest_mend(name, sections),
                )
        if draft.given.get("form") is None:
            continue
        for key, one, known in (("section", segment.section, sections), ("voice", segment.voice, voices)):
            if one is not None and one not in known:
                yield Problem((*segment.path, key), f"there is no {key} {one}.", nearest_mend(one, known))


def _segment_parts(draft: Draft) -> Iterator[Problem]:
    """The parts that a segment names are there."""
    if draft.given.get("parts", {}) is None:
        return
    for segment in draft.segments:
        if segment.show == "parts" and not draft.parts:
            mend = "Write parts: {marimba: figure, kit: meter}."
            yield Problem(segment.path, "there are no parts to show.", mend)
            continue
        for index, name in enumerate(segment.parts or ()):
            if name not in draft.parts:
                mend = nearest_mend(name, tuple(draft.parts))
                yield Problem((*segment.path, "parts", index), f"there is no part {name}.", mend)


def _segment_variants(draft: Draft) -> Iterator[Problem]:
    """What a segment compares comes from another figure."""
    if draft.given.get("figures", {}) is None or any(figure is None for figure in draft.figures.values()):
        return
    variants = [name for name, figure in draft.figures.items() if figure and figure.origin]
    for segment in draft.segments:
        if segment.show != "compare":
            continue
        if not variants:
            mend = "Write a variant under figures:, such as brief: {groups: [3, 3, 2], from: kiln}."
            yield Problem(segment.path, "no figure comes from another, so there is nothing to compare.", mend)
        elif segment.figure in draft.figures and segment.figure not in variants:
            text = f"{segment.figure} does not come from another figure."
            yield Problem((*segment.path, "figure"), text, f"Write {listed(variants)}, or give it a from.")


def _sound(draft: Draft) -> Iterator[Problem]:
    """A voice that is given a sound plays somewhere, and a recording has a place."""
    voices = tuple(dict.fromkeys(voice for section in draft.form for voice in section.plays or {}))
    if draft.given.get("form") is not None:
        for name in draft.sound.voices if draft.sound else {}:
            if name not in voices:
                path: KeyPath = ("sound", "voices", name)
                yield Problem(path, f"there is no voice {name}.", nearest_mend(name, voices), on_key=True)
    synced = "sync" in draft.given or any(section.sync is not None for section in draft.form)
    if draft.recording is not None and not synced:
        text = "a recording, and no place of it is given."
        mend = "Write sync: {1: 0.532}, the second at which bar 1 begins in it."
        yield Problem(("recording",), text, mend)
