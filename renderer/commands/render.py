"""`barcross render`."""

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

import click

from renderer.commands.remarks import report_all, sound_remarks
from renderer.core.errors import BarcrossError
from renderer.core.terminal import show, show_json
from renderer.lesson.lesson import NO_SEGMENTS, Lesson, Planned, open_lesson
from renderer.options import FPS, JSON, OUT, OVERWRITE, SIZE, SPEC, TRUST, default_folder, parse_number
from renderer.results import films_json, films_text

CAPTIONS = ("file", "picture", "none")
"""Where the words said are."""

if TYPE_CHECKING:
    from renderer.video.render import Quality


@click.command()
@SPEC
@click.argument("segments", nargs=-1, metavar="[SEGMENT]...")
@OUT
@click.option("--draft", is_flag=True, help="Small and quick: 960x540 at 30 frames a second.")
@SIZE
@FPS
@click.option(
    "--jobs",
    callback=parse_number(1, 256),
    metavar="N",
    help="How many processes draw, 1 to 256. [default: one for each core]",
)
@click.option(
    "--cluster", metavar="tcp://HOST:PORT", help="Draw on the workers of this Dask scheduler instead."
)
@click.option(
    "--transparent", is_flag=True, help="Without a ground, to lay over other pictures: ProRes 4444, or VP9."
)
@click.option(
    "--format",
    "kind",
    type=click.Choice(["mov", "webm"]),
    help="Of a transparent film: mov is ProRes 4444, webm is VP9. [default: mov]",
)
@click.option("--joined", is_flag=True, help="Also join the segments into lesson.mp4.")
@click.option(
    "--captions",
    type=click.Choice(CAPTIONS),
    default="picture",
    help="Put the words said into the picture, into files beside the films, or nowhere. [default: picture]",
)
@click.option("--clear-cache", is_flag=True, help="Draw all anew: empty the folder .chunks first.")
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
    transparent: bool,
    kind: str | None,
    joined: bool,
    captions: str,
    clear_cache: bool,
    as_json: bool,
    trust: bool,
    overwrite: bool,
) -> None:
    """Render SPEC's segments as films with sound.

    All of them, or those that you name by number or show: 3, play.
    """
    if kind and not transparent:
        raise click.UsageError("--format is for transparent films. Add --transparent.")
    lesson = open_lesson(spec, trust)
    chosen = choose_segments(lesson, segments)
    from renderer.export.captions import NOTHING_SAID, film_captions, joined_captions
    from renderer.export.export import write_made
    from renderer.video.codings import H264, TRANSPARENT
    from renderer.video.progress import ProgressLine
    from renderer.video.reel import lay_reels
    from renderer.video.render import render_lesson
    from renderer.video.store import FOLDER, Store
    from renderer.video.workers import cluster_workers, core_count, local_workers

    directory = out or default_folder(spec)
    quality = choose_quality(draft, size, fps)
    workers = cluster_workers(cluster) if cluster else local_workers(jobs or core_count())
    report_all(sound_remarks(lesson))
    if clear_cache:
        Store(directory / FOLDER).clear()
    reels = lay_reels(chosen, quality.frames_per_second)
    beside = (
        [*film_captions(reels), *(joined_captions(reels) if joined else ())] if captions == "file" else []
    )
    if captions == "file" and not beside:
        report_all([NOTHING_SAID])
    write_made(lesson, directory, beside, overwrite)
    with ProgressLine() as progress:
        written = render_lesson(
            lesson,
            directory,
            chosen if captions == "picture" else [uncaptioned(planned) for planned in chosen],
            quality,
            progress=progress,
            workers=workers,
            joined=joined,
            overwrite=overwrite,
            coding=TRANSPARENT[kind or "mov"] if transparent else H264,
        )
    if as_json:
        show_json([films_json(written), "\n"])
    else:
        show("\n".join([films_text(written), *(str(directory / each.name) for each in beside)]))


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


def uncaptioned(planned: Planned) -> Planned:
    """The segment without the words said in its picture; it waits for them all the same."""
    return planned._replace(schedule=replace(planned.schedule, captions=()))


def choose_quality(draft: bool, size: tuple[int, int] | None, fps: Fraction | None) -> "Quality":
    """The film's size and rate: final or draft, with what is given in its place."""
    from renderer.video.render import DRAFT, FINAL, Quality

    base = DRAFT if draft else FINAL
    width, height = size or (base.width, base.height)
    return Quality(width, height, fps or base.frames_per_second)
