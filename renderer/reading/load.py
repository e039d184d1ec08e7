"""A spec file to its values, and problems to messages that show where.

>>> parse_spec("tempo: 112\\nmeter: 4/4\\nform: [{section: Theme, bars: 12}]", "theme").title
'theme'
"""

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import NamedTuple

from renderer.core import limits
from renderer.core.collector import collector_at_rest
from renderer.core.errors import FileError, SpecError, TooManyProblemsError
from renderer.core.file_names import for_shell
from renderer.core.open_files import read_bytes
from renderer.reading.references import check_references
from renderer.reading.schema.document import build_spec, read_values
from renderer.reading.yaml.comments import LINE_BREAK
from renderer.reading.yaml.diagnostics import Source
from renderer.reading.yaml.nodes import read_tree
from renderer.spec.model import Spec


class LoadedSpec(NamedTuple):
    """A spec together with its text, so that problems found later can be shown in it."""

    spec: Spec
    source: Source

    @contextmanager
    def placing(self) -> Iterator[None]:
        """Give every SpecError raised inside its places in the text."""
        try:
            yield
        except SpecError as error:
            raise self.source.error(error.problems) from None


def load(path: Path, placed: bool = True) -> LoadedSpec:
    """Read the spec in the file `path`, with the source that shows problems found later. A recording needs a sync point
    unless `placed` is false. Raises FileError, or SpecError with all its faults."""
    return parse(read_text(path), str(path), placed)


def parse_spec(text: str, name: str) -> Spec:
    """Read a spec from `text`; `name` stands before the line numbers of messages. Raises SpecError."""
    return parse(text, name).spec


def parse(text: str, name: str, placed: bool = True) -> LoadedSpec:
    """Like parse_spec, with the source that shows problems found later."""
    with collector_at_rest():
        return _parse(text.removeprefix("\ufeff"), name, placed)


def _parse(text: str, name: str, placed: bool) -> LoadedSpec:
    try:
        root, problems = read_tree(text)
    except SpecError as error:
        raise Source(name, text, None).error(error.problems) from None
    values = None
    with suppress(TooManyProblemsError):
        values = read_values(root, problems)
        if values is not None:
            check_references(values, problems, placed)
    source = Source(name, text, root)
    if problems or values is None:
        raise source.error(problems)
    return LoadedSpec(build_spec(values, Path(name).stem), source)


def _other_file(path: Path) -> str:
    """What to do about a spec that is not there."""
    whole_name = path.with_name(f"{path.name}.yaml")
    if whole_name.is_file():
        return f"Write {whole_name}."
    return f"Write one with: barcross new {for_shell(path.stem or 'NAME')}"


def read_text(path: Path) -> str:
    """The text of a spec file. Raises FileError: no such file, a folder, not UTF-8, no permission."""
    try:
        data = read_bytes(path, limits.SPEC_BYTES + 1)
    except FileError as error:
        match error.__cause__:
            case IsADirectoryError():
                raise FileError(f"{path}: this is a folder; name the spec file in it.") from None
            case FileNotFoundError():
                raise FileError(f"{path}: no such file. {_other_file(path)}") from None
        raise
    if len(data) > limits.SPEC_BYTES:
        raise FileError(f"{path}: this is not a spec; a spec has at most {limits.SPEC_BYTES:,} bytes.")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        # The decoder counts from behind a byte-order mark; what stands before the bad byte can be decoded.
        bad = error.start + len(data) - len(error.object)
        lines = LINE_BREAK.split(data[:bad].decode("utf-8-sig"))
        raise FileError(
            f"{path}:{len(lines)}:{len(lines[-1]) + 1}: this is not UTF-8 (byte {bad + 1:,} is "
            f"{data[bad]:#04x}). Save the file as UTF-8."
        ) from None
