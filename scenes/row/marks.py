"""What stands on a row of music once it is laid out: numbers, accents, crossings, landings, offsets."""

from collections.abc import Sequence

from renderer.timeline.model import Crossing, Landing, Realignment, Repetition
from scenes.draw.look import BOLD, CAPITAL, SEMIBOLD
from scenes.draw.paths import Contour, clip_all, disc, lozenge, rectangle, ring
from scenes.draw.shapes import FilledShape, draw, draw_text
from scenes.draw.text import text_width
from scenes.row.line import VESSEL_GAP, Row, number_left

NOTE_GAP = 22


def number_place(row: Row, repetition: Repetition, text: str, marks: Sequence[int]) -> float | None:
    """Where a repetition's number, `text`, begins in its hull: at its left, or right of the marks that stand there;
    None if it stands in another row or there is no room."""
    width = text_width(text, row.style.number, BOLD)
    x = number_left(row, repetition, min(12.0, max(3.0, row.style.hull / 4)), width)
    if x is None:
        return None
    for mark in sorted(marks):
        place = row.x(mark)
        if place - 14 < x + width and place + 16 > x and place > row.x(repetition.at):
            x = place + 18
    limit = min(row.x(repetition.end) - VESSEL_GAP, row.right - VESSEL_GAP, row.look.canvas.right)
    return x if x + width <= limit else None


def draw_number(
    row: Row, repetition: Repetition, number: str, marks: Sequence[int], colour: str
) -> list[FilledShape]:
    """A repetition's number in its hull, then a tail's word and groups, or what there is of one that is not whole."""
    x = number_place(row, repetition, number, marks)
    if x is None or row.style.hull < row.style.number * CAPITAL + 4:
        return []
    style, statement, least = row.style, repetition.statement, row.look.size_least
    baseline = row.hull_bottom - (style.hull - style.number * CAPITAL) / 2
    if statement.kind == "tail":
        colour = row.look.ink
    drawn: list[FilledShape] = []
    if number:
        drawn.append(draw_text(number, x, baseline, style.number, colour, BOLD))
        x += text_width(number, style.number, BOLD) + NOTE_GAP
    stop = min(row.right, row.look.canvas.right, row.x(repetition.end) - VESSEL_GAP - 10)
    for note in map(row.look.words.say, hull_notes(repetition)):
        end = x + text_width(note, least, SEMIBOLD)
        if end <= stop and not any(x - 12 < row.x(mark) < end + 12 for mark in marks):
            return [*drawn, draw_text(note, x, baseline, least, colour, SEMIBOLD)]
    return drawn


def hull_notes(repetition: Repetition) -> tuple[str, ...]:
    """What a hull may say beside its number, the longest first: `tail 4 + 2` or `tail`, `7 of 11`; none of one that is
    whole."""
    statement = repetition.statement
    if statement.kind == "tail":
        groups = " + ".join(str(group.length // statement.pulse) for group in statement.groups)
        return f"tail {groups}", "tail"
    if statement.sounding_length < statement.length:
        return (f"{statement.sounding_length // statement.pulse} of {statement.length // statement.pulse}",)
    return ()


def draw_accents(
    row: Row, repetition: Repetition, opacity: float = 1.0, until: float | None = None
) -> list[FilledShape]:
    """A disc at the masthead of each accent that begins a group, of those before tick `until`."""
    accents = {at for at in repetition.statement.accents if until is None or repetition.at + at < until}
    groups = [group for group in repetition.statement.groups if group.at in accents]
    if not row.style.disc or not groups:
        return []
    return draw_mastheads(row, repetition, [(group.at, group.written) for group in groups], 1.0, opacity)


def draw_mastheads(
    row: Row,
    repetition: Repetition,
    masts: Sequence[tuple[int, int]],
    swell: float = 1.0,
    opacity: float = 1.0,
) -> list[FilledShape]:
    """Accents' discs with their edge, for groups' starts and lengths, clipped to the row."""
    drawn, look = [], row.look
    for colour, edge in ((look.ground, look.edge), (look.ink, 0.0)):
        discs = [
            disc(row.x(repetition.at + at), row.mast(length), row.style.disc * swell + edge)
            for at, length in masts
            if row.left <= row.x(repetition.at + at) <= row.right
        ]
        drawn.append(draw(colour, *clip_all(discs, row.left, row.right), opacity=opacity))
    return drawn


def draw_masthead(
    row: Row, repetition: Repetition, at: int, length: int, swell: float = 1.0, opacity: float = 1.0
) -> list[FilledShape]:
    """One accent's disc with its edge."""
    return draw_mastheads(row, repetition, [(at, length)], swell, opacity)


def draw_crossing(row: Row, crossing: Crossing, opacity: float = 1.0, drop: float = 0.0) -> list[FilledShape]:
    """A lozenge in the hull where the harmony turns; `drop` lifts it by so many pixels."""
    x, y = row.x(crossing.at), (row.hull_top + row.hull_bottom) / 2 - drop
    size = min(17.0, row.style.hull * 0.36)
    return [
        draw(
            row.look.ground,
            lozenge(x, y, size * 0.78 + row.look.edge * 1.3, size + row.look.edge * 1.3),
            opacity=opacity,
        ),
        draw(row.look.ink, lozenge(x, y, size * 0.78, size), opacity=opacity),
    ]


def draw_landing(row: Row, landing: Landing, mast_length: int, opacity: float = 1.0) -> list[FilledShape]:
    """An accent on a downbeat: one stroke from the masthead through the line down the post, a disc on the line."""
    return [
        *draw_landing_stroke(row, landing, mast_length, opacity),
        *draw_landing_disc(row, landing, opacity),
    ]


def draw_landing_stroke(
    row: Row, landing: Landing, mast_length: int, opacity: float = 1.0
) -> list[FilledShape]:
    """A landing's stroke, with the disc at its masthead."""
    look, x = row.look, row.x(landing.at)
    top, width = row.mast(mast_length), look.width_post / 2
    upper = rectangle(x - width - look.edge, top, x + width + look.edge, row.line)
    stroke = rectangle(x - width, top, x + width, row.feet)
    drawn = [draw(look.ground, upper, opacity=opacity), draw(look.ink, stroke, opacity=opacity)]
    if row.style.disc:
        drawn += [
            draw(look.ground, disc(x, top, row.style.disc + look.edge), opacity=opacity),
            draw(look.ink, disc(x, top, row.style.disc), opacity=opacity),
        ]
    return drawn


def draw_landing_disc(row: Row, landing: Landing, opacity: float = 1.0) -> list[FilledShape]:
    """A landing's disc on the line."""
    look, x = row.look, row.x(landing.at)
    radius = landing_radius(row)
    edge = clip_all([disc(x, row.line, radius + look.edge)], row.left, row.right)
    core = clip_all([disc(x, row.line, radius)], row.left, row.right)
    return [draw(look.ground, *edge, opacity=opacity), draw(look.ink, *core, opacity=opacity)]


def landing_radius(row: Row) -> float:
    """The radius of a landing's disc on the line."""
    return max(9.0, min(14.0, row.style.hull * 0.26))


def draw_realignment(row: Row, realignment: Realignment, opacity: float = 1.0) -> list[FilledShape]:
    """A ring round the landing's disc, two when it is full."""
    x, radius = row.x(realignment.at), landing_radius(row) + row.look.edge
    contours: list[Contour] = []
    for number in range(2 if realignment.full else 1):
        contours += ring(x, row.line, radius + 6 + 6 * number, 3)
    return [draw(row.look.ink, *contours, opacity=opacity)]
