"""`barcross check`."""

from pathlib import Path

import click

from renderer.commands.remarks import sound_remarks
from renderer.core.terminal import show
from renderer.lesson.lesson import open_planned
from renderer.options import SPEC, TRUST


@click.command()
@SPEC
@TRUST
def check(spec: Path, trust: bool) -> None:
    """Check SPEC: report errors, or a summary."""
    from renderer.report.section_advice import describe

    lesson, plan = open_planned(spec, trust)
    show("\n".join([*describe(plan, lesson.timeline), *sound_remarks(lesson)]))
