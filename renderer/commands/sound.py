"""`barcross sound`."""

import time
from fractions import Fraction
from pathlib import Path

import click

from renderer.commands.remarks import report_all, sound_remarks
from renderer.core.terminal import report, show, show_json
from renderer.lesson.lesson import Lesson, open_lesson
from renderer.options import (
    JSON,
    OVERWRITE,
    SPEC,
    TRUST,
    default_folder,
    parse_bars,
    parse_number,
    parse_share,
    parse_shares,
)
from renderer.results import soundtracks_json, soundtracks_text
from renderer.schedule.spans import check_bars
from renderer.spec.model import BarRange, SegmentSpec

MOST_SPEEDS = 20
TELL_AFTER = 2
"""Seconds after which what is being written is reported."""


@click.command()
@SPEC
@click.option(
    "--out", type=click.Path(path_type=Path), help="Folder to write to. [default: out/SPEC's name/sound]"
)
@click.option(
    "--format",
    "kind",
    type=click.Choice(["wav", "flac", "mp3", "m4a"]),
    default="wav",
    help="The sound files' format. [default: wav]",
)
@click.option("--stems/--no-stems", default=True, help="Also write stems. [default: stems]")
@click.option("--sections", is_flag=True, help="Write each section by itself, with its count-in.")
@click.option(
    "--speed",
    callback=parse_share,
    default="100",
    metavar="SPEED",
    help="Slower, at the same pitch: 25 to 100 per cent of the tempo. [default: 100]",
)
@click.option("--bars", callback=parse_bars, metavar="9-12", help="Practise these bars: one file, no stems.")
@click.option(
    "--speeds", callback=parse_shares, metavar="50,75,100", help="Practise at one speed after another."
)
@click.option(
    "--times",
    callback=parse_number(1, 100),
    metavar="N",
    help="Practise so many times round at each speed, 1 to 100.",
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
    bars: BarRange | None,
    speeds: tuple[Fraction, ...],
    times: int | None,
    as_json: bool,
    trust: bool,
    overwrite: bool,
) -> None:
    """Write SPEC's sound without pictures.

    The mix and, as stems, the click, the voices and the recording.

    With --bars, --speeds or --times it writes one file to practise with; each speed has a count-in.
    """
    practises = bars is not None or bool(speeds) or times is not None
    if practises and sections:
        raise click.UsageError("Use --sections, or --bars, --speeds and --times, not both.")
    if len(speeds) > MOST_SPEEDS:
        raise click.UsageError(f"--speeds takes {MOST_SPEEDS} at most.")
    if speeds and speed != 1:
        raise click.UsageError("Use --speed or --speeds, not both.")
    lesson = open_lesson(spec, trust)
    chosen = present_bars(lesson, bars) if bars else None
    from renderer.mix.practice import Practice, write_practice
    from renderer.mix.soundtracks import write_soundtracks

    practice = Practice(chosen, speeds or (speed,), times or 1)
    report_all(sound_remarks(lesson))
    started = time.monotonic()

    def tell(path: Path) -> None:
        if time.monotonic() - started > TELL_AFTER:
            report(f"writing {path}")

    directory = out or default_folder(spec) / "sound"
    if practises:
        tell(directory / f"{practice.name}.{kind}")
        written = [write_practice(lesson, directory, practice, kind, overwrite)]
    else:
        written = write_soundtracks(lesson, directory, kind, stems, sections, speed, tell, overwrite)
    if as_json:
        show_json([soundtracks_json(written), "\n"])
    else:
        show(soundtracks_text(written))


def present_bars(lesson: Lesson, bars: BarRange) -> BarRange:
    """The same bars counted from 1. Raises UsageError if the piece does not have them."""
    for problem in check_bars(lesson.timeline, SegmentSpec("play", bars=(bars,))):
        raise click.UsageError(f"--bars: {problem.text} {problem.mend or ''}".rstrip())
    last = lesson.timeline.bars[-1].number
    return BarRange(*(number if number >= 0 else last + 1 + number for number in bars))
