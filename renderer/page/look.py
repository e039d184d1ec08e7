"""The page's colours: those of the lesson's theme, and two of its own."""

from renderer.spec.model import ThemeSpec
from scenes.draw.look import Look, look_of, read_look

NAMES = (
    *("ground", "sky_one", "sky_two", "harmony", "sail_one", "sail_two", "sail_soft", "soft_edge", "on_sail"),
    *("figure_text", "meter_line", "meter_text", "line", "ink", "mute"),
)
OWN = {
    "dark": {"comment": "#93A1AC", "rest": "#2A3A46"},
    "light": {"comment": "#55626B", "rest": "#CBD2D2"},
}
"""`comment` is for what the text says to its reader alone (4.5 on the present line), `rest` for rules only."""


def page_colours(theme: ThemeSpec) -> dict[str, dict[str, str]]:
    """The colours of each theme by name; the lesson's own is the one that it changes, under `lesson`."""
    themes = {name: _named(read_look(name), own) for name, own in OWN.items()}
    return {**themes, "lesson": _named(look_of(theme), OWN[theme.name])}


def _named(look: Look, own: dict[str, str]) -> dict[str, str]:
    return {**{name: getattr(look, name) for name in NAMES}, **own}
