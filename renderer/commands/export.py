"""`barcross export`."""

from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path

import click

from renderer.commands.remarks import report_all
from renderer.core.errors import BarcrossError, FileError
from renderer.core.terminal import show, show_json
from renderer.export.export import choose_kinds, export_lesson
from renderer.export.kinds import KINDS
from renderer.lesson.lesson import open_lesson
from renderer.options import FILMS_FPS, JSON, OUT, OVERWRITE, SPEC, TRUST, default_folder
from renderer.results import exports_json, exports_text

WIDTH = max(map(len, KINDS)) + 2


@click.command(
    epilog="\b\nWHAT is one or more of these:\n"
    + "\n".join(f"  {kind.name:{WIDTH}}{kind.writes}" for kind in KINDS.values())
)
@SPEC
@click.argument("what", nargs=-1, metavar="[WHAT]...")
@OUT
@FILMS_FPS
@click.option(
    "--paper",
    type=click.Choice(["a4", "letter"], case_sensitive=False),
    default="a4",
    show_default=True,
    help="Size of the pages to print.",
)
@click.option(
    "--notes-only",
    is_flag=True,
    help="Leave out of midi and score the spec that they carry for `new --from`.",
)
@JSON
@TRUST
@OVERWRITE
def export(
    spec: Path,
    what: Sequence[str],
    out: Path | None,
    fps: Fraction | None,
    paper: str,
    notes_only: bool,
    as_json: bool,
    trust: bool,
    overwrite: bool,
) -> None:
    """Write SPEC's lesson for other programs: captions and more.

    All that it can be written as, or only WHAT you name. Times in films are exact to the frame.
    """
    try:
        choose_kinds(what)
    except BarcrossError as error:
        raise click.UsageError(str(error)) from None
    lesson = open_lesson(spec, trust)
    directory = out or default_folder(spec)
    written = export_lesson(
        lesson, directory, what, fps or films_rate(directory), overwrite, paper, notes_only
    )
    report_all(written.remarks)
    if as_json:
        show_json([exports_json(written.files), "\n"])
    else:
        show(exports_text(written.files))


def films_rate(directory: Path) -> Fraction:
    """The frames a second of the films that were last rendered into a folder; the usual ones if that is not known."""
    from renderer.video.last_render import read_last_render
    from renderer.video.quality import FINAL

    try:
        return read_last_render(directory).quality.frames_per_second
    except FileError:
        return FINAL.frames_per_second
