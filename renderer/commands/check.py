"""`barcross check`."""

from collections.abc import Iterator
from pathlib import Path

import click

from renderer.commands.remarks import sound_remarks
from renderer.core.terminal import show
from renderer.lesson.lesson import Lesson, open_planned
from renderer.options import SPEC, TRUST


@click.command()
@SPEC
@click.option(
    "--listen",
    is_flag=True,
    help="Also say whether SPEC's recording has as many bars as SPEC counts, by its beats and harmony.",
)
@TRUST
def check(spec: Path, listen: bool, trust: bool) -> None:
    """Check SPEC: report errors, or a summary."""
    from renderer.report.section_advice import describe

    lesson, plan = open_planned(spec, trust)
    heard = _heard(lesson) if listen else ()
    show("\n".join([*describe(plan, lesson.timeline), *sound_remarks(lesson), *heard]))


def _heard(lesson: Lesson) -> Iterator[str]:
    """What the recording says of the bar counts."""
    from renderer.commands.listening import ListeningLine
    from renderer.mix.count_verdict import check_counts

    with ListeningLine(lesson.spec.recording or "") as progress:
        yield from check_counts(lesson, progress)
