"""`barcross still`."""

from collections.abc import Sequence
from pathlib import Path

import click

from renderer.core.terminal import show
from renderer.lesson.lesson import open_lesson
from renderer.options import OUT, OVERWRITE, SIZE, SPEC, TRUST, default_folder
from renderer.results import stills_listing


@click.command()
@SPEC
@click.argument("stills", nargs=-1, metavar="[SEGMENT@TIME]...")
@OUT
@SIZE
@click.option("--slide", is_flag=True, help="Sizes for a lecture hall: larger letters, less in the picture.")
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
    slide: bool,
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
    if sheet and size:
        raise click.UsageError("Use --sheet or --size, not both: a sheet has its own size.")
    if slide and (sheet or thumbnail):
        other = "--sheet" if sheet else "--thumbnail"
        raise click.UsageError(f"Use --slide or {other}, not both: {other} has sizes of its own.")
    if slide and size and size[0] * 9 != size[1] * 16:
        raise click.UsageError("Use a --size of 16:9 with --slide, for example 3840x2160.")
    lesson = open_lesson(spec, trust)
    if not stills and not sheet and not thumbnail:
        show("\n".join(stills_listing(lesson)))
        return
    from renderer.core.outputs import OutputFolder
    from renderer.video import stills as drawer
    from scenes.draw.look import SLIDE, WIDE, canvas_for, look_of, read_look

    look = read_look(theme) if theme else look_of(lesson.spec.theme)
    wanted = [drawer.parse_still(lesson, text) for text in stills]
    folder = OutputFolder(out or default_folder(spec), lesson.inputs, overwrite)
    width, height = size or (1920, 1080)
    shaped = look.on(SLIDE if slide else canvas_for(width, height))
    shade = [*([theme] if theme else []), *(["slide"] if slide else [])]
    kind = (
        []
        if (svg and shaped.canvas in (WIDE, SLIDE)) or (width, height) == (1920, 1080)
        else [f"{width}x{height}"]
    )
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
        (name, drawer.picture_at(one, shaped), (width, height), shaped.canvas)
        for one, name in zip(wanted, names, strict=True)
    ]
    for name in thumbnails:
        stamp = look.on(canvas_for(*thumbnail_size))
        pictures.append((name, drawer.thumbnail_of(lesson, stamp), thumbnail_size, stamp.canvas))
    for name, picture, sized, canvas in pictures:
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
