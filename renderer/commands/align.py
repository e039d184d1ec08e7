"""`barcross align`."""

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import click

from renderer.core.terminal import report, show, visible
from renderer.lesson.lesson import open_lesson
from renderer.options import OVERWRITE, SPEC, TRUST, default_folder, parse_number, parse_place


@click.command()
@SPEC
@click.option(
    "--bar-one",
    callback=parse_place,
    metavar="TIME",
    help="Where bar 1 begins, in seconds or m:ss.s. [default: as SPEC's sync says]",
)
@click.option(
    "--within",
    callback=parse_number(1, 1000),
    default="10",
    metavar="N",
    help="Leave out points that move no downbeat by more than N milliseconds, 1 to 1000. [default: 10]",
)
@click.option(
    "--out", type=click.Path(path_type=Path), help="The file to write. [default: out/SPEC's name/sync.yaml]"
)
@TRUST
@OVERWRITE
def align(
    spec: Path, bar_one: Fraction | None, within: int, out: Path | None, trust: bool, overwrite: bool
) -> None:
    """Find the beats in SPEC's recording and propose sync points.

    They go into a file, to paste into SPEC.
    """
    lesson = open_lesson(spec, trust)
    from renderer.core.outputs import OutputFolder
    from renderer.mix.align import align_lesson, alignment_table, section_lines

    path = out or default_folder(spec) / "sync.yaml"
    folder = OutputFolder(path.parent, lesson.inputs, overwrite)
    folder.check([path.name])
    if lesson.spec.recording:
        report(f"listening to {lesson.spec.recording}")
    found = align_lesson(lesson, bar_one, Fraction(within, 1000), _tell_tenths())
    folder.prepare([])
    with folder.file(path.name) as file:
        told = "".join(f"# {' '.join(visible(line).split())}\n" for line in section_lines(found))
        file.write(f"{told}{found.sync_text()}\n".encode())
    show(alignment_table(found))
    show(f"Wrote {path}. Paste it into {spec} in place of its sync.")


def _tell_tenths() -> Callable[[float], None]:
    """Reports what share has been listened to, whenever a tenth more has."""
    told = 0

    def tell(share: float) -> None:
        nonlocal told
        if int(share * 10) > told:
            told = int(share * 10)
            report(f"listened to {told * 10}%")

    return tell
