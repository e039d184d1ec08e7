"""A spec with another number of bars, to be laid out anew. Nothing is laid out here."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any, TypeVar

from renderer.spec.model import Entry, Point, Position, SectionSpec, Spec
from renderer.timeline.passes import Pass, resolve
from renderer.timeline.positions import Scope

Placed = TypeVar("Placed", Entry[Any], Point)


def bars_alone(spec: Spec) -> Spec:
    """A right spec's bars, tempo and harmony, without what is played: a form entry for each pass, which says its own
    number of bars."""
    passes = resolve(spec.form, [])
    form: list[SectionSpec] = []
    for index, one in enumerate(passes):
        entry = next(each for each in spec.form if each.path == one.path)
        again = index > 0 and passes[index - 1].path == one.path
        if again and (entry.again is None or entry.name is not None):
            entry = _again(one)
        form.append(
            replace(
                entry, bar_count=one.bar_count, repeat=None, parts=None, plays=None, starts=None, sync=None,
                click=None, marks=None,
            )
        )  # fmt: skip
    return replace(spec, form=tuple(form), parts={}, sync=(), segments=(), marks=(), figures=())


def _again(one: Pass) -> SectionSpec:
    return SectionSpec(one.path, None, one.name, one.bar_count, *[None] * 9)


def recounted(spec: Spec, counts: Mapping[int, int]) -> Spec:
    """A spec of `bars_alone` with other numbers of bars, by the entry's index in the form.

    What stands after the last bar of its section falls away, as where a section is taken over.
    """
    form = list(spec.form)
    for index, count in counts.items():
        entry, scope = form[index], Scope("", 1, count)
        form[index] = replace(
            entry,
            bar_count=count,
            meter=_inside(entry.meter, scope),
            tempo=_inside(entry.tempo, scope),
            harmony=_inside(entry.harmony, scope),
            fermata=_inside(entry.fermata, scope),
        )
    return replace(spec, form=tuple(form))


def _inside(rows: Iterable[Placed] | None, scope: Scope) -> tuple[Placed, ...] | None:
    return None if rows is None else tuple(row for row in rows if _is_inside(row.position, scope))


def _is_inside(position: Position, scope: Scope) -> bool:
    return position.bar == 0 or scope.bar_number(position.bar) is not None
