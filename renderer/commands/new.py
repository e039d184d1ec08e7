"""`barcross new`."""

from fractions import Fraction
from os import name as system
from pathlib import Path

import click

from renderer.core.errors import FileError, ValueProblem
from renderer.core.file_names import for_shell, is_name_on_windows
from renderer.core.limits import READINGS
from renderer.core.terminal import show
from renderer.options import parse_number


@click.command()
@click.argument("name")
@click.option(
    "--from",
    "source",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Read the piece from a MIDI or MusicXML file (.mid, .musicxml, .mxl).",
)
@click.option(
    "--part", metavar="NAME", help="The part that plays the figure. [default: the one that shows it best]"
)
@click.option(
    "--tempo",
    metavar="NUMBER",
    callback=lambda context, parameter, text: _parse_tempo(text),
    help="Quarter notes a minute, in place of FILE's own.",
)
@click.option(
    "--reading",
    callback=parse_number(1, READINGS),
    metavar="N",
    help=f"Which reading of the figure to write, 1 to {READINGS}, the surest first. [default: 1]",
)
@click.option("--notes-only", is_flag=True, help="Read FILE's notes, not a spec that barcross wrote in it.")
def new(
    name: str,
    source: Path | None,
    part: str | None,
    tempo: Fraction | None,
    reading: int | None,
    notes_only: bool,
) -> None:
    """Write a first spec, NAME.yaml, to change into your own.

    With --from it is the spec of the piece in FILE.
    """
    path = Path(name if name.endswith((".yaml", ".yml")) else f"{name}.yaml")
    if not name.strip() or not Path(name).name.strip(".") or path.stem in (".yaml", ".yml"):
        raise click.UsageError(f"{name!r} is not a file's name. Write, for example: barcross new mill-race")
    if system == "nt" and not is_name_on_windows(path.name):
        raise click.UsageError(f"On Windows no file can be called {path.name}. Choose another name.")
    if source is None and (part or tempo or reading or notes_only):
        raise click.UsageError("--part, --tempo, --reading and --notes-only need a file. Add --from FILE.")
    from renderer.core.files import nothing_there, whole_file

    permit = nothing_there(path, "Choose another name.")
    permit()
    findings: list[str] = []
    if source is None:
        text = _starter(path)
    else:
        from renderer.listening.listen import listen_to
        from renderer.listening.read_score import read_score

        listened = listen_to(read_score(source, tempo), source, part, notes_only=notes_only or bool(reading))
        heard = listened.heard(reading or 1)
        text, findings = heard.text, [*heard.findings, *_others(listened.labels, reading or 1)]
    with whole_file(path, permit) as file:
        file.write(text.encode())
    for finding in findings:
        show(finding)
    show(f"Wrote {path}. Next: barcross preview {for_shell(str(path))}")


def _others(labels: list[str], chosen: int) -> list[str]:
    """How to write another reading."""
    ways = [f"--reading {number} ({label})" for number, label in enumerate(labels, 1) if number != chosen]
    return [f"Other readings: {', '.join(ways)}."] if ways else []


def _starter(path: Path) -> str:
    from renderer.reading.starter import starter_spec

    title = path.stem.replace("-", " ").replace("_", " ").strip().title() or "New Piece"
    try:
        return starter_spec(title)
    except ValueProblem as problem:
        raise FileError(f"{path.name} can't be a piece's title: {problem.text}") from None


def _parse_tempo(text: str | None) -> Fraction | None:
    from renderer.reading.scalars.parse import parse_tempo

    if text is None:
        return None
    try:
        return parse_tempo(text).quarters
    except ValueProblem as problem:
        raise click.BadParameter(f"{problem.text} {problem.mend or ''}".strip()) from None
