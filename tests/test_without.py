"""What a segment leaves out is not drawn, and all the rest is where it was."""

import pytest

from renderer.core.errors import SpecError
from renderer.reading.load import parse_spec
from renderer.schedule.phrases import text_of
from renderer.schedule.shows import FRAME, SHOWS
from renderer.schedule.spread import SpreadSchedule
from scenes.catalogue import build_segment
from scenes.draw.look import Look, canvas_for
from scenes.draw.segment import Moment
from scenes.frame.headed import HeadedSegment
from tests.boxes import FRAME as ONE_FRAME
from tests.boxes import text_boxes
from tests.lessons import DARK, SHORT, make_lesson


def segment_of(show: str, option: str, look: Look = DARK) -> HeadedSegment:
    """A segment; where it shows how one figure hands over to another, of a piece with two."""
    text = SHORT.replace("plays: on", "plays: eddy") if show == "handover" else SHORT
    lesson = make_lesson(text.replace("[figure, spread, play]", f"[{{show: {show}{option}}}]"))
    segment = build_segment(lesson.schedule_show(show), look)
    assert isinstance(segment, HeadedSegment)
    return segment


def shapes(
    show: str, without: str | None, ended: bool = False, counting: bool = False, look: Look = DARK
) -> list[tuple[str | None, bytes]]:
    """The shapes at the end of a segment, in a spread those before it answers unless it has `ended`, or the last ones
    while it is `counting`: their text and their outline."""
    segment = segment_of(show, f", without: {without}" if without else "", look)
    schedule = segment.schedule
    seconds = schedule.seconds
    if isinstance(schedule, SpreadSchedule) and not ended:
        seconds = schedule.course.ends
    if counting:
        seconds = segment.real_end() or seconds
    return [
        (drawn.text, drawn.points.tobytes())
        for drawn in segment.picture(Moment(seconds - ONE_FRAME, ONE_FRAME))
    ]


@pytest.mark.parametrize(
    ("show", "word"),
    [(show, word) for show in SHOWS for word in SHOWS[show].leaves_out if word != "offsets"],
)
def test_less_is_drawn_and_nothing_that_stays_moves(show: str, word: str) -> None:
    counting = word == "counter"
    whole, less = (shapes(show, without, counting=counting) for without in (None, word))
    added = [shape for shape in less if shape not in whole]
    assert len(less) < len(whole)
    if word in ("harmony", "crossings", "landings", "parts"):
        # The ground shows through as one field, numbers stand where marks were, the legend where names were.
        assert len(added) <= 12
    else:
        assert added == []


@pytest.mark.parametrize("size", [(1080, 1080), (1080, 1920)], ids=str)
@pytest.mark.parametrize("show", [show for show in SHOWS if set(FRAME) & set(SHOWS[show].leaves_out)])
def test_in_a_narrow_picture_too_all_else_is_where_it_was(show: str, size: tuple[int, int]) -> None:
    """There the title has lines that end before the counter."""
    look = DARK.on(canvas_for(*size))
    whole = shapes(show, None, counting=True, look=look)
    for word in FRAME:
        if word in SHOWS[show].leaves_out:
            less = shapes(show, word, counting=True, look=look)
            assert [shape for shape in less if shape not in whole] == []
            assert word == "foot" or len(less) < len(whole), "there is no room for a foot"


def test_without_all_that_stands_round_it_nothing_stands_over_the_music() -> None:
    for show, record in SHOWS.items():
        frame = [word for word in FRAME if word in record.leaves_out]
        if not frame:
            assert show == "card", "whose texts are what it shows"
            continue
        segment = segment_of(show, f", without: [{', '.join(frame)}]")
        for share in range(5):
            moment = Moment(segment.schedule.seconds * share / 5, ONE_FRAME)
            boxes = text_boxes(segment.picture(moment))
            assert [box.text for box in boxes if box.bottom < segment.canvas.stage_top - 40] == []


def test_names_of_harmonies_and_offsets_go() -> None:
    assert not {text for text, _ in shapes("spread", "harmony")} & {"Dm", "B♭", "F♯"}
    assert {"Dm", "B♭", "F♯"} <= {text for text, _ in shapes("spread", None)}
    assert not {text for text, _ in shapes("spread", "offsets", ended=True)} & {"+11", "+6"}
    assert {"+11", "+6"} <= {text for text, _ in shapes("spread", None, ended=True)}


@pytest.mark.parametrize(
    ("segment", "told"),
    [
        ("{show: play, without: offsets}", "play can't leave out offsets."),
        ("{show: spread, without: [numbers, bars]}", "numbers"),
        ("{show: figure, without: counter}", "figure can't leave out counter."),
        ("{show: card, without: title}", "card takes no without."),
    ],
)
def test_what_cannot_be_left_out_is_told(segment: str, told: str) -> None:
    with pytest.raises(SpecError) as caught:
        parse_spec(SHORT.replace("[figure, spread, play]", f"[{segment}]"), "weir.yaml")
    assert told in str(caught.value)


@pytest.mark.parametrize("bars", [3, 12, 24])
def test_without_landings_no_sentence_speaks_of_downbeats(bars: int) -> None:
    """With them a spread says where the figure is back on one, or that it is not."""
    piece = SHORT.replace("bars: 3\n", f"bars: {bars}\n").replace(
        "harmony: {1: Dm, 2.3: Bb}", "harmony: {1: Dm}"
    )
    for option, spoken in (("", True), (", without: [landings, offsets]", False)):
        lesson = make_lesson(piece.replace("[figure, spread, play]", f"[{{show: spread{option}}}]"))
        schedule = lesson.segments()[0].schedule
        assert isinstance(schedule, SpreadSchedule)
        said = text_of(schedule.question) + text_of(schedule.lights[-1].phrases)
        assert ("downbeat" in said) == (spoken and bars > 3)
