"""card: its texts, when they come, the emblem's place, and that all texts keep apart however long they are."""

from fractions import Fraction

import pytest

from renderer.core.errors import SpecError
from renderer.reading.load import parse_spec
from renderer.schedule.card import CardSchedule
from renderer.video.rasterizer import Painter
from scenes.card.card import CardSegment, lay_places
from scenes.catalogue import build_segment
from scenes.draw.look import SLIDE, WIDE, canvas_for, read_look
from scenes.draw.segment import Moment
from tests.boxes import FRAME, segment_faults
from tests.extremes import EXTREMES, LONG
from tests.lessons import DARK, make_lesson

PLACES = lay_places(WIDE, 2)
PIECE = """
title: Weir
tempo: 120
meter: 4/4
pulse: 1/16
figures: {weir: [5, 3, 3], sluice: [4, 3]}
form:
  - {section: Upper, bars: 12, plays: weir}
segments: [CARD]
"""
WHOLE = "{show: card, title: Over the weir, line: eleven over four, list: [how it is made, who keeps it]}"


def schedule_of(card: str = WHOLE, text: str = PIECE) -> CardSchedule:
    schedule = make_lesson(text.replace("CARD", card)).schedule_show("card")
    assert isinstance(schedule, CardSchedule)
    return schedule


def build(
    card: str = WHOLE, text: str = PIECE, theme: str = "dark", size: tuple[int, int] = (1920, 1080)
) -> CardSegment:
    lesson = make_lesson(text.replace("CARD", card))
    segment = build_segment(lesson.schedule_show("card"), read_look(theme).on(canvas_for(*size)))
    assert isinstance(segment, CardSegment)
    return segment


def texts(segment: CardSegment, seconds: Fraction) -> list[str]:
    return [shape.text for shape in segment.picture(Moment(seconds, FRAME)) if shape.text]


def colour_at(segment: CardSegment, seconds: Fraction, x: float, y: float) -> tuple[int, ...]:
    pixels = Painter(1920, 1080, DARK.ground).paint(segment.picture(Moment(seconds, FRAME)))
    return tuple(int(value) for value in pixels[round(y), round(x), :3])


def test_the_title_stands_from_the_first_frame_on() -> None:
    assert texts(build(), Fraction(0)) == ["Over the weir", "eleven over four"]
    assert texts(build("card"), Fraction(0)) == ["Weir"]


def test_the_list_comes_an_entry_a_beat_numbered() -> None:
    segment, schedule = build(), schedule_of()
    assert [start % schedule.beat for start in schedule.entry_starts] == [0, 0]
    assert texts(segment, schedule.entry_starts[0] - FRAME)[2:] == []
    assert texts(segment, schedule.entry_starts[0])[2:] == ["1", "how it is made"]
    assert texts(segment, schedule.entry_starts[1])[2:] == ["1", "how it is made", "2", "who keeps it"]


def test_one_entry_alone_has_no_number() -> None:
    segment = build("{show: card, list: what comes next}")
    assert texts(segment, segment.schedule.seconds - FRAME) == ["Weir", "what comes next"]


def test_a_card_can_be_read_and_is_silent() -> None:
    schedule = schedule_of()
    words = 3 + 3 + 4 + 3
    assert schedule.seconds >= words * Fraction(60, 150)
    assert schedule.clicks == ()


def test_the_figure_stands_on_the_line_over_one_bar() -> None:
    """5 of 16 pulses are the first sail; the bar's end is the music's right."""
    segment = build()
    last = segment.schedule.seconds - FRAME
    pulse = (WIDE.music_right - PLACES.emblem_left) / 16
    lit, ground = (0xFF, 0xC5, 0x6B), (0x0F, 0x15, 0x1A)
    hull = PLACES.line - 20
    assert colour_at(segment, last, PLACES.emblem_left + 5, hull) == lit
    assert colour_at(segment, last, PLACES.emblem_left + 10 * pulse, hull) == lit
    assert colour_at(segment, last, PLACES.emblem_left + 11 * pulse + 5, hull) == ground
    assert colour_at(segment, last, WIDE.music_right, PLACES.line + 40) == (0x5F, 0x9B, 0xD0)
    assert segment.row.x(5 * 1000) == pytest.approx(PLACES.emblem_left + 5 * pulse, abs=0.05)


def test_what_a_card_does_not_take_is_told() -> None:
    with pytest.raises(SpecError, match="card takes no sections"):
        parse_spec(PIECE.replace("CARD", "{show: card, sections: Upper}"), "x.yaml")
    with pytest.raises(SpecError, match="there is room for 60"):
        parse_spec(PIECE.replace("CARD", f"{{show: card, list: [{'x' * 61}]}}"), "x.yaml")
    with pytest.raises(SpecError, match="1 to 8 entries"):
        parse_spec(PIECE.replace("CARD", f"{{show: card, list: [{', '.join('abcdefghi')}]}}"), "x.yaml")


SIZES = [(1920, 1080), (1080, 1920), (1080, 1080), (2520, 1080)]


@pytest.mark.parametrize("frame", SIZES, ids=str)
@pytest.mark.parametrize("name", EXTREMES)
def test_texts_keep_apart_whatever_the_piece(name: str, frame: tuple[int, int]) -> None:
    card = f"segments: [{WHOLE}]\n"
    assert segment_faults(build(text=EXTREMES[name] + card, size=frame)) == []


@pytest.mark.parametrize("count", [1, 5, 8])
def test_texts_keep_apart_on_a_slide(count: int) -> None:
    entries = ", ".join(["as a teacher may well wish it to be, whatever".replace(",", "")] * count)
    card = f"{{show: card, title: A title of some length, line: and a line under it, list: [{entries}]}}"
    assert segment_faults(build_segment(schedule_of(card), DARK.on(SLIDE)), 0) == []


@pytest.mark.parametrize("frame", SIZES, ids=str)
@pytest.mark.parametrize("count", [1, 3, 5, 8])
@pytest.mark.parametrize("size", [1, 12, 30, 60])
def test_texts_keep_apart_however_long_they_are(count: int, size: int, frame: tuple[int, int]) -> None:
    sentence = "as a teacher may well wish it to be whatever there is to say of it, and then some more of it"
    for words in (sentence, LONG.replace(" ", "") * 3, "W" * 90):
        entries = ", ".join([words[:size].strip(" ,").replace(",", "")] * count)
        title, line = (
            words[: size + 20].strip(" ,").replace(",", ""),
            words[: size + 10].strip(" ,").replace(",", ""),
        )
        card = f"{{show: card, title: {title}, line: {line}, list: [{entries}]}}"
        assert segment_faults(build(card, size=frame)) == []
