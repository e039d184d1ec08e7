"""The command line: a thin face. All that it does can be done from Python in as few words."""

import io
import shlex
import signal
import sys
import time
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from fractions import Fraction
from functools import partial
from os import name as system
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from renderer.core.errors import BarcrossError, FileError, ValueProblem
from renderer.core.file_names import is_name_on_windows
from renderer.core.refusals import reason_of
from renderer.core.terminal import (
    json_text,
    let_go_of_output,
    open_standard_streams,
    report,
    show,
    show_data,
    show_json,
)
from renderer.lesson.lesson import NO_SEGMENTS, Lesson, Planned, open_lesson, open_planned
from renderer.options import (
    FRAME_RATES,
    JSON,
    OUT,
    OVERWRITE,
    SIZE,
    SPEC,
    TRUST,
    parse_place,
    parse_rate,
    parse_share,
)
from renderer.results import films_json, films_text, soundtracks_json, soundtracks_text, stills_listing

if TYPE_CHECKING:
    from renderer.video.render import Quality

STOPPED = "Stopped. What is finished is kept: the same command goes on from here."
TELL_AFTER = 2
"""Seconds after which what is being written is reported."""


class Commands(click.Group):
    """The commands, and the one place where what goes wrong becomes a message and an exit status.

    0: done, 1: the spec or a file is at fault, 2: the command line is.
    """

    def main(
        self,
        args: Sequence[str] | None = None,
        prog_name: str | None = None,
        complete_var: str | None = None,
        standalone_mode: bool = True,
        **extra: Any,
    ) -> Any:
        """Do what the command line says, and exit."""
        run = partial(super().main, args, prog_name, complete_var, standalone_mode=False, **extra)
        if not standalone_mode:
            return run()
        open_standard_streams()
        sys.exit(_status(run))

    def invoke(self, context: click.Context) -> Any:
        """Do what a command does."""
        try:
            return super().invoke(context)
        except BrokenPipeError:  # whoever read has had enough
            return 0


def _status(do: Callable[[], Any]) -> int:
    try:
        return do() or 0
    except click.exceptions.ClickException as error:
        text = io.StringIO()
        error.show(text)
        report(text.getvalue().rstrip("\n"))
        return error.exit_code
    except (KeyboardInterrupt, click.Abort):
        with suppress(ValueError):  # another thread than the main one
            signal.signal(signal.SIGINT, signal.SIG_IGN)  # whoever presses it twice wants no more than that
        report(STOPPED)
    except BarcrossError as error:
        report(str(error))
    except OSError as error:
        report(f"{error.filename or 'The output'} can't be used: {reason_of(error)}.")
        let_go_of_output()
    return 1


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="barcross", message="%(version)s")
def main() -> None:
    """Make lesson videos about rhythmic figures that run across the bar, from one text: the spec."""


@main.command()
@SPEC
@TRUST
def check(spec: Path, trust: bool) -> None:
    """Check SPEC: report errors, or a summary."""
    from renderer.report.section_advice import describe

    lesson, plan = open_planned(spec, trust)
    show("\n".join([*describe(plan, lesson.timeline), *sound_remarks(lesson)]))


def sound_remarks(lesson: Lesson) -> list[str]:
    """What is worth knowing of the sound files that the spec names. Raises FileError if one can't be used."""
    remarks: list[str] = []
    if lesson.spec.recording is not None:
        from renderer.mix.recording import recording_remarks

        remarks += recording_remarks(lesson)
    if lesson.files:
        from renderer.mix.narration import narration_remarks

        remarks += narration_remarks(lesson)
    return remarks


def report_all(texts: Iterable[str]) -> None:
    """Report each of them."""
    for text in texts:
        report(text)


@main.command()
@SPEC
@click.option("--json", "as_json", is_flag=True, help="Print all of it, exact, as JSON.")
@click.option("--csv", "as_csv", is_flag=True, help="Print the repetitions as CSV.")
@TRUST
def timeline(spec: Path, as_json: bool, as_csv: bool, trust: bool) -> None:
    """Print SPEC's timeline: where each repetition starts, and what happens there."""
    if as_json and as_csv:
        raise click.UsageError("Choose --json or --csv.")
    made = open_lesson(spec, trust).timeline
    if as_json:
        from renderer.report.timeline_json import timeline_json_parts

        show_json(timeline_json_parts(made))
    elif as_csv:
        from renderer.report.timeline_json import repetitions_csv

        show_data(repetitions_csv(made))
    else:
        from renderer.report.table import timeline_listing

        show("\n".join(timeline_listing(made)))


@main.command()
@click.argument("what", type=click.Choice(["spec", "timeline"]), default="spec")
def schema(what: str) -> None:
    """Print the JSON Schema of a spec, for editors, or of `timeline --json`."""
    from renderer.reading.schema.document import spec_schema
    from renderer.report.timeline_schema import timeline_schema

    show_json([json_text(spec_schema() if what == "spec" else timeline_schema()), "\n"])


@main.command()
@SPEC
@click.argument("segments", nargs=-1, metavar="[SEGMENT]...")
@OUT
@click.option("--draft", is_flag=True, help="Small and quick: 960x540 at 30 frames a second.")
@SIZE
@click.option(
    "--fps", callback=parse_rate, metavar="RATE", help=f"Frames a second: {FRAME_RATES}. [default: 60]"
)
@click.option(
    "--jobs", type=click.IntRange(1, 256), help="How many processes draw. [default: one for each core]"
)
@click.option(
    "--cluster", metavar="tcp://HOST:PORT", help="Draw on the workers of this Dask scheduler instead."
)
@click.option("--joined", is_flag=True, help="Also join the segments into lesson.mp4.")
@click.option("--clear-cache", is_flag=True, help="Clear the cache first.")
@JSON
@TRUST
@OVERWRITE
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
    """Render SPEC's segments as films with sound: all of them, or those given by number or show."""
    lesson = open_lesson(spec, trust)
    chosen = choose_segments(lesson, segments)
    from renderer.video.progress import ProgressLine
    from renderer.video.render import render_lesson
    from renderer.video.store import FOLDER, Store
    from renderer.video.workers import cluster_workers, core_count, local_workers

    directory = out or default_folder(spec)
    quality = choose_quality(draft, size, fps)
    workers = cluster_workers(cluster) if cluster else local_workers(jobs or core_count())
    report_all(sound_remarks(lesson))
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
    if as_json:
        show_json([films_json(written), "\n"])
    else:
        show(films_text(written))


def default_folder(spec: Path) -> Path:
    """Where results go unless another folder is named."""
    return Path("out") / spec.stem


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


@main.command()
@SPEC
@click.argument("stills", nargs=-1, metavar="[SEGMENT@TIME]...")
@OUT
@SIZE
@click.option("--thumbnail", is_flag=True, help="Write the thumbnail. [default size: 1280x720]")
@click.option(
    "--theme",
    type=click.Choice(["dark", "light"]),
    help="Use this theme: light for slides. [default: SPEC's]",
)
@click.option("--transparent", is_flag=True, help="Transparent background.")
@click.option("--svg", is_flag=True, help="Write SVG: all shapes and letters as outlines.")
@click.option("--sheet", is_flag=True, help="Write one sheet with every step of every segment.")
@TRUST
@OVERWRITE
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
    """Write pictures of SPEC's segments. TIME is seconds (12.5s), a position in the piece (9.3), a step, or end.

    The file's name says what you ask for: 03-play@9.3-light-1280x720.png. Without SEGMENT@TIME it lists what there is.
    """
    if sheet and svg:
        raise click.UsageError("Use --sheet or --svg, not both: a sheet is a PNG.")
    lesson = open_lesson(spec, trust)
    if not stills and not sheet and not thumbnail:
        show("\n".join(stills_listing(lesson)))
        return
    from renderer.core.outputs import OutputFolder
    from renderer.video import stills as drawer
    from scenes.draw.look import WIDE, canvas_for, look_of, read_look

    look = read_look(theme) if theme else look_of(lesson.spec.theme)
    wanted = [drawer.parse_still(lesson, text) for text in stills]
    folder = OutputFolder(out or default_folder(spec), lesson.inputs, overwrite)
    width, height = size or (1920, 1080)
    shaped = look.on(canvas_for(width, height))
    shade = [theme] if theme else []
    kind = [] if (svg and shaped.canvas == WIDE) or (width, height) == (1920, 1080) else [f"{width}x{height}"]
    kind += ["transparent"] if transparent else []
    names = [f"{'-'.join([one.name, *shade, *kind])}.{'svg' if svg else 'png'}" for one in wanted]
    thumbnail_size = size or (1280, 720)
    sides = [f"{size[0]}x{size[1]}"] if size else []
    marks = ["transparent"] if transparent else []
    thumbnails = (
        [f"{'-'.join(['thumbnail', *shade, *sides, *marks])}.{'svg' if svg else 'png'}"] if thumbnail else []
    )
    sheet_names = [f"{'-'.join(['sheet', *shade])}.png"] if sheet else []
    folder.prepare([*names, *thumbnails, *sheet_names])
    pictures = [
        (name, drawer.picture_at(one, shaped), (width, height))
        for one, name in zip(wanted, names, strict=True)
    ]
    for name in thumbnails:
        stamp = look.on(canvas_for(*thumbnail_size))
        pictures.append((name, drawer.thumbnail_of(lesson, stamp), thumbnail_size))
    for name, picture, sized in pictures:
        canvas = canvas_for(*sized)
        with folder.file(name) as file:
            if svg:
                drawer.write_svg(file, picture, None if transparent else look.ground, canvas)
            else:
                image = drawer.draw_image(picture, *sized, look.ground, transparent, canvas)
                drawer.write_png(file, image)
        show(str(folder.folder / name))
    for name in sheet_names:
        with folder.file(name) as file:
            drawer.write_png(file, drawer.draw_sheet(lesson, look))
        show(str(folder.folder / name))


@main.command()
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


@main.command()
@SPEC
@click.option(
    "--bar-one", callback=parse_place, help="Where bar 1 begins, in seconds or m:ss.s. [default: see sync]"
)
@click.option(
    "--within",
    type=click.IntRange(1, 1000),
    default=10,
    help="Leave out points that move no downbeat by more than this many milliseconds. [default: 10]",
)
@click.option("--out", type=click.Path(path_type=Path), help="File. [default: out/SPEC's name/sync.yaml]")
@TRUST
@OVERWRITE
def align(
    spec: Path, bar_one: Fraction | None, within: int, out: Path | None, trust: bool, overwrite: bool
) -> None:
    """Find the beats in SPEC's recording and propose sync points to paste into SPEC."""
    lesson = open_lesson(spec, trust)
    from renderer.core.outputs import OutputFolder
    from renderer.mix.align import align_lesson, alignment_table

    path = out or default_folder(spec) / "sync.yaml"
    folder = OutputFolder(path.parent, lesson.inputs, overwrite)
    folder.check([path.name])
    if lesson.spec.recording:
        report(f"listening to {lesson.spec.recording}")
    found = align_lesson(lesson, bar_one, Fraction(within, 1000))
    folder.prepare([])
    with folder.file(path.name) as file:
        file.write(f"{found.sync_text()}\n".encode())
    show(alignment_table(found))
    show(f"Wrote {path}. Paste it into {spec} in place of its sync.")


@main.command()
@click.argument("name")
def new(name: str) -> None:
    """Write a first spec, NAME.yaml, to change into your own."""
    path = Path(name if name.endswith((".yaml", ".yml")) else f"{name}.yaml")
    if not name.strip() or not Path(name).name.strip(".") or path.stem in (".yaml", ".yml"):
        raise click.UsageError(f"{name!r} is not a file's name. Write, for example: barcross new mill-race")
    if system == "nt" and not is_name_on_windows(path.name):
        raise click.UsageError(f"On Windows no file can be called {path.name}. Choose another name.")
    from renderer.core.files import nothing_there, whole_file
    from renderer.reading.starter import starter_spec

    title = path.stem.replace("-", " ").replace("_", " ").strip().title() or "New Piece"
    try:
        text = starter_spec(title)
    except ValueProblem as problem:
        raise FileError(f"{path.name} can't be a piece's title: {problem.text}") from None
    with whole_file(path, nothing_there(path, "Choose another name.")) as file:
        file.write(text.encode())
    show(f"Wrote {path}. Next: barcross render {quoted(path)} --draft")


def quoted(path: Path) -> str:
    """A path as the command line takes it."""
    if system == "nt":
        from subprocess import list2cmdline

        return list2cmdline([str(path)])
    return shlex.quote(str(path))
