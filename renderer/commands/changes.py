"""`barcross changes`."""

from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

import click

from renderer.core.terminal import report, show, show_json
from renderer.lesson.lesson import Lesson, lay_out, open_lesson
from renderer.options import FILMS_FPS, FILMS_SIZE, SPEC, TRUST
from renderer.report.changes import music_changes
from renderer.results import changes_json, changes_text

if TYPE_CHECKING:
    from renderer.video.quality import Quality


@click.command()
@click.argument("old", type=click.Path(path_type=Path))
@SPEC
@click.option("--music", is_flag=True, help="Say only what changes in the music.")
@FILMS_SIZE
@FILMS_FPS
@click.option("--json", "as_json", is_flag=True, help="Print it as JSON.")
@TRUST
def changes(
    old: Path,
    spec: Path,
    music: bool,
    size: tuple[int, int] | None,
    fps: Fraction | None,
    as_json: bool,
    trust: bool,
) -> None:
    """Say what a correction changes, from OLD to SPEC.

    In the music it says so in words, in each film to the frame. OLD is the earlier spec, or a folder that films were
    rendered into: then it is what they were last rendered from, at their size and rate.
    """
    after = open_lesson(spec, trust)
    before, quality = open_earlier(old, spec, trust)
    told = music_changes(before.timeline, after.timeline)
    rate = fps or quality.frames_per_second
    films = None
    if not music:
        from renderer.video.film_changes import film_changes
        from renderer.video.quality import Quality

        width, height = size or (quality.width, quality.height)
        films = film_changes(
            before, after, Quality(width, height, rate), lambda name: report(f"comparing {name}.mp4")
        )
    if as_json:
        show_json([changes_json(told, films or (), rate), "\n"])
    else:
        show(changes_text(told, films, rate))


def open_earlier(old: Path, spec: Path, trust: bool) -> tuple[Lesson, "Quality"]:
    """The earlier lesson, and the quality of its films where it is known from a folder. Sound files are looked for
    beside the spec as it is now, if the earlier one was kept with its films."""
    from renderer.core.files import is_folder
    from renderer.reading.load import parse
    from renderer.video.last_render import read_last_render
    from renderer.video.quality import FINAL

    if not is_folder(old):
        return open_lesson(old, trust), FINAL
    last = read_last_render(old)
    lesson, _ = lay_out(parse(last.text, f"{old} (last rendered)"), spec, trust)
    return lesson, last.quality
