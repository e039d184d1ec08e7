"""`barcross timeline`, and `barcross schema`, which describes what it prints."""

from pathlib import Path

import click

from renderer.core.terminal import json_text, show, show_data, show_json
from renderer.lesson.lesson import open_lesson
from renderer.options import SPEC, TRUST


@click.command()
@SPEC
@click.option("--json", "as_json", is_flag=True, help="Print all of it, exact, as JSON.")
@click.option("--csv", "as_csv", is_flag=True, help="Print the repetitions as CSV.")
@TRUST
def timeline(spec: Path, as_json: bool, as_csv: bool, trust: bool) -> None:
    """Print SPEC's timeline: where each repetition starts.

    It also says what happens there: changes of harmony, accents on downbeats, figures that are cut off.
    """
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


@click.command()
@click.argument("what", type=click.Choice(["spec", "timeline"]), default="spec")
def schema(what: str) -> None:
    """Print the JSON Schema of a spec or of `timeline --json`.

    With it, an editor completes a spec and marks errors while you type.
    """
    from renderer.reading.schema.document import spec_schema
    from renderer.report.timeline_schema import timeline_schema

    show_json([json_text(spec_schema() if what == "spec" else timeline_schema()), "\n"])
