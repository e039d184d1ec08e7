"""`barcross new`."""

import shlex
from os import name as system
from pathlib import Path

import click

from renderer.core.errors import FileError, ValueProblem
from renderer.core.file_names import is_name_on_windows
from renderer.core.terminal import show


@click.command()
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
