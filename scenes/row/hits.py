"""Hits inside a group: where they are drawn, a dot on the pulse's notch, and how high an accent's disc stands."""

from collections.abc import Iterable

from renderer.timeline.model import Repetition, Statement
from scenes.draw.paths import clip_all, disc, sail_height
from scenes.draw.shapes import FilledShape, draw
from scenes.row.line import Row

PULSE_LEAST, HULL_LEAST = 16.0, 30.0
"""Pixels: where a pulse is narrower or a hull lower, hits inside groups are left out."""
DOT_MOST = 12.0


def inner_hits(statement: Statement) -> tuple[int, ...]:
    """The hits that begin no group, in ticks from the statement's start."""
    starts = {group.at for group in statement.groups}
    return tuple(hit for hit in statement.hits if hit not in starts)


def has_room(row: Row, statement: Statement) -> bool:
    """Whether hits inside groups are drawn at a row's size."""
    return row.scale * statement.pulse >= PULSE_LEAST and row.style.hull >= HULL_LEAST


def dot_radius(row: Row, statement: Statement) -> float:
    """The radius of a hit's dot: it touches neither its neighbours nor the count under it."""
    return min(DOT_MOST, row.style.hull * 0.15, row.scale * statement.pulse * 0.3)


def draw_inner_hits(
    row: Row, repetition: Repetition, hits: Iterable[int], colour: str, opacity: float = 1.0
) -> list[FilledShape]:
    """Dots on the notches of some hits, in ticks from the repetition's start; none where there is no room."""
    statement = repetition.statement
    if not has_room(row, statement):
        return []
    radius = dot_radius(row, statement)
    dots = clip_all(
        [disc(row.x(repetition.at + hit), row.hull_top, radius) for hit in hits], row.left, row.right
    )
    return [draw(colour, *dots, opacity=opacity)] if dots else []


def accent_top(row: Row, statement: Statement, accent: int) -> float:
    """How high an accent's disc stands, in pixels from the top: at the masthead of the group that it begins, else on
    its group's sail above its pulse."""
    group = statement.group_at(accent)
    mast, across = row.mast(group.written), (accent - group.at) * row.scale
    if not across:
        return mast
    width = group.written * row.scale - row.look.gap
    return row.base - sail_height(width, row.base - mast, across)


def draw_marks(row: Row, repetition: Repetition, colour: str, opacity: float = 1.0) -> list[FilledShape]:
    """All accents of a repetition as discs, and the dots of its hits inside groups in `colour`."""
    statement, look = repetition.statement, row.look
    roomy = has_room(row, statement)
    drawn = draw_inner_hits(row, repetition, inner_hits(statement), colour, opacity)
    starts = {group.at for group in statement.groups}
    accents = [at for at in statement.accents if roomy or at in starts] if row.style.disc else []
    for paint, edge in ((look.ground, look.edge), (look.ink, 0.0)):
        discs = [
            disc(row.x(repetition.at + at), accent_top(row, statement, at), row.style.disc + edge)
            for at in accents
            if row.left <= row.x(repetition.at + at) <= row.right
        ]
        drawn += [draw(paint, *discs, opacity=opacity)] if discs else []
    return drawn
