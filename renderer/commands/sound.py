"""`barcross sound`."""

import time
from fractions import Fraction
from pathlib import Path

import click

from renderer.commands.remarks import report_all, sound_remarks
from renderer.core.terminal import report, show, show_json
from renderer.lesson.lesson import open_lesson
from renderer.options import JSON, OVERWRITE, SPEC, TRUST, default_folder, parse_share
from renderer.results import soundtracks_json, soundtracks_text

TELL_AFTER = 2
"""Seconds after which what is being written is reported."""


@click.command()
@SPEC
@click.option("--out", type=click.Path(path_type=Path), help="Folder. [default: out/SPEC's name/sound]")
@click.option(
    "--format",
    "kind",
    type=click.Choice(["wav", "flac", "mp3", "m4a"]),
    default="wav",
    help="[default: wav]",
)
@click.option("--stems/--no-stems", default=True, help="Also write stems. [default: stems]")
@click.option("--sections", is_flag=True, help="Write each section by itself, with its count-in.")
@click.option(
    "--speed", callback=parse_share, default="100", help="25 to 100 per cent of the tempo, at the same pitch."
)
@JSON
@TRUST
@OVERWRITE
def sound(
    spec: Path,
    out: Path | None,
    kind: str,
    stems: bool,
    sections: bool,
    speed: Fraction,
    as_json: bool,
    trust: bool,
    overwrite: bool,
) -> None:
    """Write SPEC's sound without pictures: the mix, and click, voices and recording as stems."""
    lesson = open_lesson(spec, trust)
    from renderer.mix.soundtracks import write_soundtracks

    report_all(sound_remarks(lesson))
    started = time.monotonic()

    def tell(path: Path) -> None:
        if time.monotonic() - started > TELL_AFTER:
            report(f"writing {path}")

    directory = out or default_folder(spec) / "sound"
    written = write_soundtracks(lesson, directory, kind, stems, sections, speed, tell, overwrite)
    if as_json:
        show_json([soundtracks_json(written), "\n"])
    else:
        show(soundtracks_text(written))
