"""Labels in scripts that the fonts do not have are told before anything is drawn."""

from pathlib import Path

import pytest

from renderer.core.errors import SpecError
from renderer.lesson.lesson import open_lesson
from renderer.reading.coverage import missing_characters
from renderer.video.rasterizer import Painter
from scenes.draw.shapes import draw_text
from scenes.draw.text import text_width
from tests.lessons import SHORT


def test_latin_greek_cyrillic_and_accidentals_are_there() -> None:
    for text in ("Größe", "Ķēniņš", "Ελλάς", "Мотылёк", "F♯ B♭ D♮", "naïve café"):
        assert missing_characters(text) == []
        assert text_width(text, 34, 400) > 0
        assert text_width(text, 34, 700) > 0


@pytest.mark.parametrize("weight", [400, 600, 700])
def test_flats_are_about_as_bold_as_the_letters_beside_them(weight: int) -> None:
    """The upright of a flat against that of an l, counted in pixels half way up a capital."""
    painter, uprights = Painter(960, 540, "#000000"), []
    for letter in "♭l":
        picture = [draw_text(letter, 300, 800, 600, "#FFFFFF", weight)]
        uprights.append(int((painter.paint(picture)[250, :, 0] > 127).sum()))
    assert 0.6 * uprights[1] <= uprights[0] <= 1.1 * uprights[1]


@pytest.mark.parametrize(
    ("old", "new", "place"),
    [
        ("title: Weir", "title: 堰", "2:8"),
        ("section: Lower", "section: 下", "14:14"),
        ("harmony: {1: F#}", "harmony: {1: F, 2: 🎵}", "16:24"),
        ("click: {every", "words: {bar: 小節}\nclick: {every", "18:14"),
        ("[figure, spread, play]", "[{show: figure, say: {sum: 十一}}]", "19:38"),
    ],
)
def test_a_label_that_cannot_be_drawn_is_told(tmp_path: Path, old: str, new: str, place: str) -> None:
    spec = tmp_path / "weir.yaml"
    spec.write_text(SHORT.replace(old, new), encoding="utf-8")
    with pytest.raises(SpecError) as caught:
        open_lesson(spec)
    assert f":{place}: " in str(caught.value)
    assert "the fonts have no" in str(caught.value)


def test_a_segment_that_needs_a_figure_is_told_where_there_is_none(tmp_path: Path) -> None:
    spec = tmp_path / "empty.yaml"
    text = "tempo: 60\nmeter: 4/4\nform: [{section: A, bars: 2}]\nsegments: [spread, play, figure]\n"
    spec.write_text(text, encoding="utf-8")
    with pytest.raises(SpecError, match="there is no figure to show"):
        open_lesson(spec)
    spec.write_text(text.replace(", figure]", "]"), encoding="utf-8")
    assert [planned.show for planned in open_lesson(spec).segments()] == ["spread", "play"]
