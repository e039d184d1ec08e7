"""`barcross align`."""

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import click

from renderer.core.file_names import for_shell
from renderer.core.terminal import report, show, visible
from renderer.lesson.lesson import Lesson, open_lesson
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
    "--taps",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Take the downbeats that you tapped: a text file, one second a line, bar 1's first.",
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
    spec: Path,
    bar_one: Fraction | None,
    taps: Path | None,
    within: int,
    out: Path | None,
    trust: bool,
    overwrite: bool,
) -> None:
    """Find the beats in SPEC's recording and propose sync points.

    Each section is told with how sure it is. With --taps the downbeats are yours, each moved to the attack next to it,
    if there is one within 60 ms.

    The points go into a file, to paste into SPEC.
    """
    lesson = open_lesson(spec, trust, placed=bar_one is None and taps is None)
    from renderer.core.outputs import OutputFolder
    from renderer.mix.align import align_lesson, alignment_table, section_lines

    if taps and bar_one is not None:
        raise click.UsageError("--taps says where bar 1 is. Leave out --bar-one.")
    path = out or default_folder(spec) / "sync.yaml"
    folder = OutputFolder(path.parent, [*lesson.inputs, *filter(None, [taps])], overwrite)
    folder.check([path.name])
    if lesson.spec.recording:
        report(f"listening to {lesson.spec.recording}")
    if taps:
        text, table = _settled(lesson, taps)
    else:
        found = align_lesson(lesson, bar_one, Fraction(within, 1000), _tell_tenths())
        told = "".join(f"# {' '.join(visible(line).split())}\n" for line in section_lines(found))
        text, table = f"{told}{found.sync_text()}\n", alignment_table(found)
    folder.prepare([])
    with folder.file(path.name) as file:
        file.write(text.encode())
    show(table)
    instead = " in place of its sync" if lesson.timeline.clock.file_start is not None else ""
    show(f"Wrote {path}. Paste it into {spec}{instead}.")
    if lesson.timeline.harmony and not taps:
        show(
            "align can't tell a wrong number of bars. To compare the recording with the chords: "
            f"barcross check {for_shell(str(spec))} --listen"
        )


def _settled(lesson: Lesson, path: Path) -> tuple[str, str]:
    """Taps as a line of a spec, and as a table."""
    from renderer.mix.taps import attacks_of, lesson_recording, read_taps, settle, sync_text, taps_table

    recording = lesson_recording(lesson)
    taps = read_taps(path, lesson.timeline, recording.seconds)
    points = settle(taps, attacks_of(recording), lesson.timeline)
    return f"sync: {sync_text(points)}\n", taps_table(taps, points)


def _tell_tenths() -> Callable[[float], None]:
    """Reports what share has been listened to, whenever a tenth more has."""
    told = 0

    def tell(share: float) -> None:
        nonlocal told
        if int(share * 10) > told:
            told = int(share * 10)
            report(f"listened to {told * 10}%")

    return tell
