"""The command line: a thin face. All that it does can be done from Python in as few words."""

import json
import os
import shlex
import sys
import time
from collections.abc import Callable, Sequence
from fractions import Fraction
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from renderer.core.errors import BarcrossError, FileError, ValueProblem
from renderer.lesson.lesson import NO_SEGMENTS, Lesson, Planned, open_lesson
from renderer.reading.scalars.parse import parse_recording_seconds, parse_speed

if TYPE_CHECKING:
    from renderer.mix.soundtracks import Soundtrack
    from renderer.video.render import Quality, Rendered

BROADCAST_RATES = {
    "23.976": Fraction(24000, 1001),
    "23.98": Fraction(24000, 1001),
    "29.97": Fraction(30000, 1001),
    "59.94": Fraction(60000, 1001),
}
"""What these are short for."""
FRAME_RATES = "24, 25, 30, 50, 60 or a fraction such as 30000/1001"
SPEC = click.argument("spec", type=click.Path(path_type=Path))
TRUST = click.option("--trust", is_flag=True, help="Also open sound files outside SPEC's folder.")
OVERWRITE = click.option("--overwrite", is_flag=True, help="Also replace files that barcross did not write.")


def reporting_errors(command: Callable[..., None]) -> Callable[..., None]:
    """Tell what a user can mend on stderr, with exit status 1, without a traceback."""

    @wraps(command)
    def run(*arguments: Any, **options: Any) -> None:
        try:
            command(*arguments, **options)
        except KeyboardInterrupt:
            click.echo("Stopped. What is finished is kept: the same command goes on from here.", err=True)
            sys.exit(1)
        except BarcrossError as error:
            click.echo(str(error), err=True)
            sys.exit(1)
        except BrokenPipeError:
            # Whoever read has had enough; what is still held back must find no closed pipe either.
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            sys.exit(0)

    return run


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="barcross", message="%(version)s")
def main() -> None:
    """Lesson videos about rhythmic figures that run across the bar, from one text spec."""


@main.command()
@SPEC
@TRUST
@reporting_errors
def check(spec: Path, trust: bool) -> None:
    """Tell what is wrong in SPEC, or what follows from it."""
    from renderer.report.section_advice import describe

    lesson = open_lesson(spec, trust)
    click.echo("\n".join(describe(lesson.spec)))
    if lesson.spec.recording is not None:
        from renderer.mix.recording import recording_remarks

        for remark in recording_remarks(lesson):
            click.echo(remark)
    if lesson.files:
        from renderer.mix.narration import narration_remarks

        for remark in narration_remarks(lesson):
            click.echo(remark)


@main.command()
@SPEC
@click.option("--json", "as_json", is_flag=True, help="All of it, exact, as JSON.")
@click.option("--csv", "as_csv", is_flag=True, help="The repetitions, as CSV.")
@TRUST
@reporting_errors
def timeline(spec: Path, as_json: bool, as_csv: bool, trust: bool) -> None:
    """Print SPEC's timeline: where every repetition starts, and what meets it there."""
    if as_json and as_csv:
        raise click.UsageError("--json and --csv are two answers: leave one out.")
    made = open_lesson(spec, trust).timeline
    if as_json:
        from renderer.report.timeline_json import timeline_json_parts

        for part in timeline_json_parts(made):
            click.echo(part, nl=False)
    elif as_csv:
        from renderer.report.timeline_json import repetitions_csv

        click.echo(repetitions_csv(made).rstrip("\n"))
    else:
        from renderer.report.table import timeline_listing

        click.echo("\n".join(timeline_listing(made)))


@main.command()
@click.argument("what", type=click.Choice(["spec", "timeline"]), default="spec")
def schema(what: str) -> None:
    """Print the JSON Schema of a spec, for editors, or of what timeline --json prints."""
    from renderer.reading.schema.document import spec_schema
    from renderer.report.timeline_schema import timeline_schema

    made = spec_schema() if what == "spec" else timeline_schema()
    click.echo(json.dumps(made, indent=2, ensure_ascii=False))


def parse_size(context: click.Context, option: click.Parameter, text: str | None) -> tuple[int, int] | None:
    """`1920x1080` as two numbers."""
    if text is None:
        return None
    width, cross, height = text.partition("x")
    if not (cross and width.isdecimal() and height.isdecimal()):
        raise click.BadParameter(f"{text!r} is not a size; write WIDTHxHEIGHT, as 1920x1080.")
    size = int(width), int(height)
    if not all(64 <= side <= 7680 for side in size) or any(side % 2 for side in size):
        raise click.BadParameter(f"{text}: width and height are even, from 64 to 7680.")
    return size


def parse_rate(context: click.Context, option: click.Parameter, text: str | None) -> Fraction | None:
    """A frame rate as an exact fraction."""
    if text is None:
        return None
    try:
        rate = BROADCAST_RATES.get(text) or Fraction(text)
    except (ValueError, ZeroDivisionError):
        raise click.BadParameter(f"{text!r} is not a rate; write {FRAME_RATES}.") from None
    if not 1 <= rate <= 240 or rate.denominator > 1001:
        raise click.BadParameter(f"{text}: frames a second are from 1 to 240; write {FRAME_RATES}.")
    return rate


@main.command()
@SPEC
@click.argument("segments", nargs=-1, metavar="[SEGMENT]...")
@click.option(
    "--out", type=click.Path(path_type=Path), help="Folder to write to. [default: out/ and SPEC's name]"
)
@click.option("--draft", is_flag=True, help="Small and quick: 960x540 at 30 frames a second.")
@click.option("--size", callback=parse_size, metavar="WxH", help="Picture size. [default: 1920x1080]")
@click.option(
    "--fps", callback=parse_rate, metavar="RATE", help=f"Frames a second: {FRAME_RATES}. [default: 60]"
)
@click.option("--jobs", type=click.IntRange(1, 256), help="Processes that draw. [default: one a core]")
@click.option(
    "--cluster", metavar="tcp://HOST:PORT", help="Draw on the workers of this Dask scheduler instead."
)
@click.option("--joined", is_flag=True, help="Also what is rendered, one after another, as lesson.mp4.")
@click.option("--clear-cache", is_flag=True, help="First forget all chunks that were drawn before.")
@click.option("--json", "as_json", is_flag=True, help="Print what was written as JSON.")
@TRUST
@OVERWRITE
@reporting_errors
def render(
    spec: Path,
    segments: Sequence[str],
    out: Path | None,
    draft: bool,
    size: tuple[int, int] | None,
    fps: Fraction | None,
    jobs: int | None,
    cluster: str | None,
    joined: bool,
    clear_cache: bool,
    as_json: bool,
    trust: bool,
    overwrite: bool,
) -> None:
    """Render SPEC's segments, or only those named by number or show, each to a video file with its sound."""
    lesson = open_lesson(spec, trust)
    chosen = choose_segments(lesson, segments)
    from renderer.mix.narration import narration_remarks
    from renderer.mix.recording import recording_remarks
    from renderer.video.progress import ProgressLine
    from renderer.video.render import render_lesson
    from renderer.video.store import FOLDER, Store
    from renderer.video.workers import cluster_workers, core_count, local_workers

    directory = out or Path("out") / spec.stem
    quality = choose_quality(draft, size, fps)
    workers = cluster_workers(cluster) if cluster else local_workers(jobs or core_count())
    for remark in (*recording_remarks(lesson), *narration_remarks(lesson)):
        click.echo(remark, err=True)
    if clear_cache:
        Store(directory / FOLDER).clear()
    with ProgressLine() as progress:
        written = render_lesson(
            lesson,
            directory,
            chosen,
            quality,
            progress=progress,
            workers=workers,
            joined=joined,
            overwrite=overwrite,
        )
    click.echo(written_json(written) if as_json else written_text(written))


@main.command()
@SPEC
@click.argument("stills", nargs=-1, metavar="[SEGMENT@TIME]...")
@click.option(
    "--out", type=click.Path(path_type=Path), help="Folder to write to. [default: out/ and SPEC's name]"
)
@click.option("--size", callback=parse_size, metavar="WxH", help="Picture size. [default: 1920x1080]")
@click.option("--thumbnail", is_flag=True, help="1280x720.")
@click.option(
    "--theme", type=click.Choice(["dark", "light"]), help="Another theme than the spec's: light for slides."
)
@click.option("--transparent", is_flag=True, help="Without the ground behind it.")
@click.option("--svg", is_flag=True, help="As SVG: every shape and letter an outline.")
@click.option("--sheet", is_flag=True, help="All segments and their steps on one sheet.")
@TRUST
@OVERWRITE
@reporting_errors
def still(
    spec: Path,
    stills: Sequence[str],
    out: Path | None,
    size: tuple[int, int] | None,
    thumbnail: bool,
    theme: str | None,
    transparent: bool,
    svg: bool,
    sheet: bool,
    trust: bool,
    overwrite: bool,
) -> None:
    """Write stills of SPEC's segments. TIME is seconds (12.5s), a position in the piece (9.3), a step, or end.

    What is asked for beyond that stands in the file's name: 03-play@9.3-light-1280x720.png.
    """
    if not stills and not sheet:
        raise click.UsageError("Name a still, such as play@9.3, or ask for --sheet.")
    if thumbnail and size:
        raise click.UsageError("--thumbnail is 1280x720: leave out it or --size.")
    if sheet and svg:
        raise click.UsageError("--sheet is a PNG: leave out it or --svg.")
    lesson = open_lesson(spec, trust)
    from renderer.core.outputs import OutputFolder
    from renderer.video import stills as drawer
    from scenes.draw.look import look_of, read_look

    look = read_look(theme) if theme else look_of(lesson.spec.theme)
    wanted = [drawer.parse_still(lesson, text) for text in stills]
    folder = OutputFolder(out or Path("out") / spec.stem, lesson.inputs, overwrite)
    width, height = (1280, 720) if thumbnail else size or (1920, 1080)
    shade = [theme] if theme else []
    kind = [] if svg or (width, height) == (1920, 1080) else [f"{width}x{height}"]
    kind += ["transparent"] if transparent else []
    names = [f"{'-'.join([one.name, *shade, *kind])}.{'svg' if svg else 'png'}" for one in wanted]
    sheet_names = [f"{'-'.join(['sheet', *shade])}.png"] if sheet else []
    folder.prepare([*names, *sheet_names])
    for one, name in zip(wanted, names, strict=True):
        picture = drawer.picture_at(one, look)
        with folder.file(name) as file:
            if svg:
                drawer.write_svg(file, picture, None if transparent else look.ground)
            else:
                drawer.write_png(file, drawer.draw_image(picture, width, height, look.ground, transparent))
        click.echo(folder.folder / name)
    for name in sheet_names:
        with folder.file(name) as file:
            drawer.write_png(file, drawer.draw_sheet(lesson, look))
        click.echo(folder.folder / name)


def choose_segments(lesson: Lesson, wanted: Sequence[str]) -> list[Planned]:
    """The lesson's segments that are named by number or show, in the spec's order; all of them if none is
    named."""
    planned = lesson.segments()
    if not planned:
        raise BarcrossError(NO_SEGMENTS)
    try:
        chosen = {segment.number for name in wanted for segment in lesson.named_segments(name)}
    except BarcrossError as error:
        raise click.UsageError(str(error)) from None
    return [segment for segment in planned if not wanted or segment.number in chosen]


def choose_quality(draft: bool, size: tuple[int, int] | None, fps: Fraction | None) -> "Quality":
    """The film's size and rate: final or draft, with what is given in its place."""
    from renderer.video.render import DRAFT, FINAL, Quality

    base = DRAFT if draft else FINAL
    width, height = size or (base.width, base.height)
    return Quality(width, height, fps or base.frames_per_second)


def parse_share(context: click.Context, option: click.Parameter, text: str) -> Fraction:
    """A speed in per cent of the tempo, as a share of it."""
    try:
        return parse_speed(text)
    except ValueProblem as fault:
        raise click.BadParameter(fault.text) from None


@main.command()
@SPEC
@click.option("--out", type=click.Path(path_type=Path), help="Folder. [default: out/SPEC's name/sound]")
@click.option("--format", "kind", type=click.Choice(["wav", "flac", "mp3", "m4a"]), default="wav")
@click.option(
    "--stems/--no-stems", default=True, help="Beside the mix, each of its sources. [default: stems]"
)
@click.option("--sections", is_flag=True, help="Section by section, each with its count-in.")
@click.option(
    "--speed", callback=parse_share, default="100", help="25 to 100 per cent of the tempo, at the same pitch."
)
@click.option("--json", "as_json", is_flag=True, help="Print what was written as JSON.")
@TRUST
@OVERWRITE
@reporting_errors
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
    from renderer.mix.recording import recording_remarks
    from renderer.mix.soundtracks import write_soundtracks

    for remark in recording_remarks(lesson):
        click.echo(remark, err=True)

    directory = out or Path("out") / spec.stem / "sound"
    started = time.monotonic()

    def tell(path: Path) -> None:
        if time.monotonic() - started > 2:
            click.echo(f"writing {path}", err=True)

    written = write_soundtracks(lesson, directory, kind, stems, sections, speed, tell, overwrite)
    click.echo(soundtracks_json(written) if as_json else "\n".join(map(soundtrack_text, written)))


def soundtracks_json(written: Sequence["Soundtrack"]) -> str:
    """What sound was written, as JSON."""
    rows = [
        {
            "path": str(row.path),
            "section": row.section,
            "stem": row.stem,
            "seconds": float(row.seconds),
            "lufs": row.lufs,
            "true_peak_db": row.true_peak_db,
        }
        for row in written
    ]
    return json.dumps({"files": rows}, indent=2, ensure_ascii=False)


def soundtrack_text(row: "Soundtrack") -> str:
    """A sound file that was written, and a mix's loudness."""
    line = f"{row.path}  {clock_text(row.seconds)}"
    if row.lufs is None or row.true_peak_db is None:
        return line
    line += f"  {row.lufs:.1f} LUFS, true peak {row.true_peak_db:.1f} dBTP"
    return line + (f" (softer than {row.aim:g}: its peaks leave no more room)" if row.softer else "")


def parse_place(context: click.Context, option: click.Parameter, text: str | None) -> Fraction | None:
    """A place in the recording, in seconds."""
    try:
        return None if text is None else parse_recording_seconds(text)
    except ValueProblem as fault:
        raise click.BadParameter(fault.text) from None


@main.command()
@SPEC
@click.option(
    "--bar-one", callback=parse_place, help="Where bar 1 begins, seconds or m:ss.s. [default: by sync]"
)
@click.option(
    "--within",
    type=click.IntRange(1, 1000),
    default=10,
    help="Leave points out as long as each downbeat stays within so many milliseconds. [default: 10]",
)
@click.option("--out", type=click.Path(path_type=Path), help="File. [default: out/SPEC's name/sync.yaml]")
@TRUST
@OVERWRITE
@reporting_errors
def align(
    spec: Path, bar_one: Fraction | None, within: int, out: Path | None, trust: bool, overwrite: bool
) -> None:
    """Propose sync points for SPEC's recording, by its beats from bar 1 on, to paste into SPEC."""
    lesson = open_lesson(spec, trust)
    from renderer.core.outputs import OutputFolder
    from renderer.mix.align import align_lesson, alignment_table

    path = out or Path("out") / spec.stem / "sync.yaml"
    folder = OutputFolder(path.parent, lesson.inputs, overwrite)
    folder.check([path.name])
    if lesson.spec.recording:
        click.echo(f"listening to {lesson.spec.recording}", err=True)
    found = align_lesson(lesson, bar_one, Fraction(within, 1000))
    folder.prepare([])
    with folder.file(path.name) as file:
        file.write(f"{found.sync_text()}\n".encode())
    click.echo(alignment_table(found))
    click.echo(f"{path} holds the points, to be pasted into {spec} in place of its sync.")


def written_json(written: Sequence["Rendered"]) -> str:
    """What was written, as JSON."""
    rows = [
        {
            "path": str(row.path),
            "segment": row.segment,
            "show": row.show,
            "frames": row.frames,
            "fps": None if row.frames_per_second is None else str(row.frames_per_second),
            "seconds": float(row.seconds),
            "reused": row.reused,
        }
        for row in written
    ]
    return json.dumps({"files": rows}, indent=2, ensure_ascii=False)


def written_text(written: Sequence["Rendered"]) -> str:
    """What was written, a line a file."""
    return "\n".join(f"{row.path}  {clock_text(row.seconds)}" for row in written)


def clock_text(seconds: Fraction) -> str:
    """Seconds as minutes and seconds.

    >>> clock_text(Fraction(141, 2))
    '1:10.50'
    """
    minutes, rest = divmod(round(seconds * 100), 6000)
    return f"{minutes}:{rest // 100:02}.{rest % 100:02}"


@main.command()
@click.argument("name")
@reporting_errors
def new(name: str) -> None:
    """Write a first spec, NAME.yaml, to change into your own."""
    path = Path(name if name.endswith((".yaml", ".yml")) else f"{name}.yaml")
    from renderer.core.files import nothing_there, whole_file
    from renderer.reading.starter import starter_spec

    title = path.stem.replace("-", " ").replace("_", " ").strip().title() or "New Piece"
    try:
        text = starter_spec(title)
    except ValueProblem as fault:
        raise FileError(f"{path.name!r} can't be a piece's title: {fault.text}") from None
    with whole_file(path, nothing_there(path, "Choose another name.")) as file:
        file.write(text.encode())
    click.echo(f"{path} is written. Next: barcross render {shlex.quote(str(path))} --draft")
