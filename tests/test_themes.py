"""Themes: what can be read on what, and how a spec changes values."""

from pathlib import Path

import pytest
from wcag_contrast_ratio import rgb as reference_contrast

from renderer.core.errors import SpecError
from renderer.reading.load import parse_spec
from renderer.spec.themes import contrast, faint_pairs, red_share, theme_names, theme_values
from scenes.draw.look import look_of, read_look
from tests.lessons import SHORT
from tests.theme_figures import ThemeFigure, table, theme_figures


def fractions(colour: str) -> tuple[float, float, float]:
    red, green, blue = (int(colour[index : index + 2], 16) / 255 for index in (1, 3, 5))
    return red, green, blue


@pytest.mark.parametrize(
    ("colour", "ratio"), [("#777777", 4.478), ("#767676", 4.542), ("#FF0000", 3.998), ("#0000FF", 8.592)]
)
def test_contrast_on_white_is_as_published(colour: str, ratio: float) -> None:
    """WCAG 2.2, success criterion 1.4.3; the four values are known from its checkers."""
    assert contrast(colour, "#FFFFFF") == pytest.approx(ratio, abs=0.0005)


@pytest.mark.parametrize("theme", theme_names())
def test_contrast_agrees_with_a_library(theme: str) -> None:
    """wcag-contrast-ratio is the second opinion; it takes 0.03928 where WCAG 2.2 has 0.04045, which no 8-bit
    colour falls between."""
    colours = [value for value in theme_values(theme).values() if isinstance(value, str)]
    for first in colours:
        for second in colours:
            assert contrast(first, second) == pytest.approx(
                reference_contrast(fractions(first), fractions(second))
            )


@pytest.mark.parametrize("theme", theme_names())
def test_every_theme_can_be_read(theme: str) -> None:
    assert faint_pairs(theme_values(theme)) == []
    assert read_look(theme).size_least >= 34


@pytest.mark.parametrize("figure", theme_figures(), ids=lambda figure: figure.text)
def test_colours_are_told_apart_by_any_sight(figure: ThemeFigure) -> None:
    """Contrast as WCAG 2.2 has it; colour-blind sight and distances by colorspacious, whose models are published."""
    assert figure.holds


def test_the_table_of_figures_is_up_to_date() -> None:
    assert table() in (Path(__file__).parent.parent / "DEVELOPERS.md").read_text(encoding="utf-8")


def test_a_saturated_red_must_be_asked_for_knowingly() -> None:
    """#D55E00 has a red share of 0.856 (W3C's red flash definition, worked out by hand)."""
    assert red_share("#D55E00") == pytest.approx(0.856, abs=0.0005)
    for theme in theme_names():
        colours = [value for value in theme_values(theme).values() if isinstance(value, str)]
        assert max(map(red_share, colours)) < 0.8
    text = SHORT + 'theme: {sail_one: "#FF8800", saturated_red: yes}\n'
    assert look_of(parse_spec(text, "weir.yaml").theme).sail_one == "#FF8800"


def test_a_spec_chooses_a_theme_and_changes_values() -> None:
    theme = parse_spec(
        SHORT + 'theme: {from: light, sail_one: "#8a4a00", size_title: 60}\n', "weir.yaml"
    ).theme
    look = look_of(theme)
    assert (look.sail_one, look.size_title) == ("#8A4A00", 60)
    assert look.ground == read_look("light").ground
    assert look_of(parse_spec(SHORT + "theme: light\n", "weir.yaml").theme) == read_look("light")
    assert look_of(parse_spec(SHORT, "weir.yaml").theme) == read_look("dark")


@pytest.mark.parametrize(
    ("theme", "told"),
    [
        ("dusk", "dark, light"),
        ('{ink: "#333333"}', "ink on ground has a contrast of 1.5; it needs 4.5 to be seen."),
        ('{ink: "white"}', "a colour is # and six digits or letters A to F."),
        ("{size_least: 20}", "a type size is 34 to 200"),
        ('{inc: "#FFFFFF"}', "ink"),
        ("{ground: #101010}", "#"),
        ('{sail_one: "#FF8800"}', "sail_one is a saturated red"),
    ],
)
def test_a_theme_that_cannot_be_is_told(theme: str, told: str) -> None:
    with pytest.raises(SpecError, match=r"weir\.yaml:\d+:\d+") as caught:
        parse_spec(SHORT + f"theme: {theme}\n", "weir.yaml")
    assert told in str(caught.value)
