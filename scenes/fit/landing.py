"""Whose accent falls on the downbeat after a section, and what comes there."""

from renderer.schedule.fit import FitSchedule
from renderer.schedule.fit_sentences import landing_note
from scenes.draw.look import REGULAR, SEMIBOLD, Look
from scenes.draw.paths import disc, rectangle, ring
from scenes.draw.segment import Picture
from scenes.draw.shapes import draw, draw_text
from scenes.draw.text import text_width
from scenes.fit.layout import FitLayout
from scenes.frame.head import fit_name
from scenes.row.hits import accent_top

NOTE_APART, NOTE_PITCH, NOTE_PITCH_LOW = 22.0, 52.0, 40.0
"""From the bar's number to what comes there, and to a line of its own, on a slide nearer."""


def draw_landing_after(schedule: FitSchedule, layout: FitLayout, look: Look) -> Picture:
    """Whose accent falls on the downbeat after the section, as a stroke; dashed where it does not sound."""
    row, landing, timeline = layout.end, schedule.landing, schedule.timeline
    drawn = _note(
        schedule, layout, look, landing_note(timeline, landing, schedule.following, schedule.section.end)
    )
    if landing is None:
        return drawn
    x, half = row.x(landing.at), look.width_post / 2
    radius = row.style.disc
    if not landing.sounds:
        top = row.base - row.style.sail
        dashes = [rectangle(x - half, y, x + half, y + 10) for y in range(int(top), int(row.line), 18)]
        hollow = [
            draw(look.ground, disc(x, row.line, radius)),
            draw(look.ink, *ring(x, row.line, radius, 4)),
        ]
        return [draw(look.ink, *dashes), *hollow, *drawn]
    owner = next(
        r for r in timeline.repetitions if r.voice == schedule.voice and r.number == landing.repetition_number
    )
    top = accent_top(row, owner.statement, landing.at - owner.at)
    stroke = [
        draw(look.ground, rectangle(x - half - look.edge, top, x + half + look.edge, row.line)),
        draw(look.ink, rectangle(x - half, top, x + half, row.feet)),
    ]
    for y in (top, row.line):
        stroke += [draw(look.ground, disc(x, y, radius + look.edge)), draw(look.ink, disc(x, y, radius))]
    return [*stroke, *drawn]


def _note(schedule: FitSchedule, layout: FitLayout, look: Look, text: str) -> Picture:
    """What comes on the downbeat, behind its bar's number; on a line of its own where that leaves no room."""
    row, canvas, line, timeline = layout.end, look.canvas, schedule.section.end, schedule.timeline
    text = look.words.say(text)
    if not text or not row.holds(line) or line >= timeline.end:
        return []
    bar = timeline.bar_at(line)
    x = (
        row.x(line)
        + 12
        + text_width(look.words.say(f"bar {bar.number}"), row.style.bar, SEMIBOLD)
        + NOTE_APART
    )
    room = canvas.right if bar.end >= row.end else min(canvas.right, row.x(bar.end) - NOTE_APART)
    if x + text_width(text, look.size_least) <= room:
        return [draw_text(text, x, row.feet - 1, look.size_least, look.ink)]
    pitch = NOTE_PITCH if canvas.low == 1 else NOTE_PITCH_LOW
    below = layout.label + (-pitch if layout.above else pitch)
    size, lines = fit_name(look, text, look.size_least, 0.6 * (canvas.right - canvas.left), REGULAR)
    edge = canvas.right - 2  # an f reaches out over its end
    return [draw_text(lines[0], edge, below, size, look.ink, anchor=1)]
