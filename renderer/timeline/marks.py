"""The teacher's own words in ticks: where each mark stands, from where to where, pass by pass."""

from collections.abc import Iterable, Iterator

from renderer.core.errors import Problem
from renderer.spec.model import BarRange, MarkSpec, Position
from renderer.timeline.layout import Layout, taken_over
from renderer.timeline.model import Mark
from renderer.timeline.passes import Pass, piece_scope
from renderer.timeline.positions import Scope


def lay_marks(layout: Layout, top: Iterable[MarkSpec], problems: list[Problem]) -> tuple[Mark, ...]:
    """All marks of a piece in order of place; of a section's once for each pass."""
    scoped = [(mark, piece_scope(layout.passes), None) for mark in top]
    found = [row for mark, scope, _ in scoped for row in _place(layout, mark, scope, None, problems)]
    for each in layout.passes:
        for mark in each.spec.marks or ():
            found += _place(layout, mark, each.scope, each, problems)
    return tuple(sorted(found, key=lambda mark: (mark.at, mark.to)))


def _place(
    layout: Layout, mark: MarkSpec, scope: Scope, within: Pass | None, problems: list[Problem]
) -> Iterator[Mark]:
    """Where a mark stands; nowhere if it is at fault, or was taken over and lies after the last bar."""
    shortened = kept_range(mark.where, within) if within else mark.where
    if shortened is None:
        return
    found = _place_bars(layout, mark, shortened, scope) if isinstance(shortened, BarRange) else None
    if isinstance(shortened, Position):
        place = layout.places.find(shortened, scope, mark.path)
        if isinstance(place, Problem):
            found = place
        else:
            bar = layout.bars[place.bar_number - layout.bars[0].number]
            found = Mark(mark.text, place.at, bar.end, place.bar_number, 1)
    if isinstance(found, Problem):
        problems.append(taken_over(found, within, "marks") if within else found)
    elif found:
        yield found


def _place_bars(layout: Layout, mark: MarkSpec, bars: BarRange, scope: Scope) -> Mark | Problem:
    """A mark over whole bars, or over what there is of a pick-up."""
    ends = [
        layout.places.find(Position(bar), scope, mark.path) for bar in bars if bar or layout.bars[0].number
    ]
    for end in ends:
        if isinstance(end, Problem):
            return end
    first, last = (_bar_number(layout, bar, scope) for bar in bars)
    if first is None:
        return scope.outside(Position(bars.first), mark.path)
    if last is None:
        return scope.outside(Position(bars.last), mark.path)
    if last < first:
        text = f"bar {bars.last} comes before bar {bars.first}: {scope.name} has {scope.bar_count} bars."
        return Problem(mark.path, text, "Write the earlier bar first.", on_key=True)
    index = layout.bars[0].number
    return Mark(
        mark.text, layout.bars[first - index].at, layout.bars[last - index].end, first, last - first + 1
    )


def _bar_number(layout: Layout, bar: int, scope: Scope) -> int | None:
    """The piece's number of a scope's bar, if the piece has it."""
    number = scope.bar_number(bar)
    return number if number is not None and number >= layout.bars[0].number else None


def kept_range(where: Position | BarRange, section: Pass) -> Position | BarRange | None:
    """What is left of a mark in a section that took it over: nothing if it lies after the last bar; a range that
    reaches beyond is shortened."""
    if "marks" not in section.sources:
        return where
    if isinstance(where, Position):
        return where if section.scope.bar_number(where.bar) is not None else None
    count = section.bar_count
    first, last = (bar if bar >= 0 else count + 1 + bar for bar in where)
    first, last = max(first, 0 if where.first == 0 else 1), min(last, count)
    return BarRange(first, last) if first <= last else None
