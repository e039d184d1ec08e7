"""What a segment leaves out is not drawn, and all the rest is where it was."""

import pytest

from renderer.core.errors import SpecError
from renderer.reading.load import parse_spec
from renderer.schedule.phrases import text_of
from renderer.schedule.shows import SHOWS
from renderer.schedule.spread import SpreadSchedule
from scenes.catalogue import build_segment
from scenes.draw.segment import Moment
from tests.boxes import FRAME
from tests.lessons import DARK, SHORT, make_lesson


def shapes(show: str, without: str | None, ended: bool = False) -> list[tuple[str | None, bytes]]:
    """The shapes at the end of a segment, in a spread those before it answers unless it has `ended`: their text and
    their outline."""
    option = f", without: {without}" if without else ""
    lesson = make_lesson(SHORT.replace("[figure, spread, play]", f"[{{show: {show}{option}}}]"))
    schedule = lesson.schedule_show(show)
    segment = build_segment(schedule, DARK)
    seconds = schedule.seconds
    if isinstance(schedule, SpreadSchedule) and not ended:
        seconds = schedule.course.ends
    return [(drawn.text, drawn.points.tobytes()) for drawn in segment.picture(Moment(seconds - FRAME, FRAME))]


@pytest.mark.parametrize(
    ("show", "word"),
    [(show, word) for show in SHOWS for word in SHOWS[show].leaves_out if word != "offsets"],
)
def test_less_is_drawn_and_nothing_that_stays_moves(show: str, word: str) -> None:
    whole, less = shapes(show, None), shapes(show, word)
    added = [shape for shape in less if shape not in whole]
    assert len(less) < len(whole)
    if word in ("harmony", "crossings", "landings", "parts"):
        # The ground shows through as one field, numbers stand where marks were, the legend where names were.
        assert len(added) <= 12
    else:
        assert added == []


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
        ("{show: figure, without: numbers}", "figure takes no without."),
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
