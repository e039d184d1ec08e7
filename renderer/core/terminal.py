"""The one place that prints. What comes from a spec or a file's name reaches no terminal as a command to it.

Escape sequences, other control characters, marks that turn the direction of writing, and whatever else takes no place
of its own are printed as a programmer would write them: a bell is \\x07, a right-to-left override \\u202e.
"""

import os
import sys
import unicodedata
from collections.abc import Iterable
from contextlib import suppress
from typing import NoReturn, TextIO

from renderer.core.errors import FileError
from renderer.core.refusals import reason_of

LINES = "\n\t"
"""What a text is laid out with."""


def visible(text: str) -> str:
    """The text with everything made visible that a terminal would act on or hide.

    >>> print(visible("red: \\x1b[31m, left: \\u202e"))
    red: \\x1b[31m, left: \\u202e
    """
    if text.replace("\n", "").isprintable():
        return text
    return "".join(mark if _is_shown(mark) else _escaped(mark) for mark in text)


def json_text(data: object) -> str:
    """Data as JSON, to be read by people too."""
    import json

    return json.dumps(data, indent=2, ensure_ascii=False)


def show(text: str) -> None:
    """Print lines of text. Raises FileError if they can't be written, BrokenPipeError if nobody reads them."""
    stream = _output()
    encoding = stream.encoding or "utf-8"
    _write(stream, [visible(text).encode(encoding, "backslashreplace").decode(encoding) + "\n"])


def show_json(parts: Iterable[str]) -> None:
    """Print JSON, part by part. What is not shown as it is stands in it as JSON's own escapes. Raises as `show`."""
    stream = _output()
    wide = (stream.encoding or "").lower().replace("-", "") == "utf8"
    _write(stream, (_escaped_json(part, wide) for part in parts))


def show_data(text: str) -> None:
    """Print data for another program, in UTF-8 and as it is, except on a terminal. Raises as `show`."""
    stream = _output()
    if stream.isatty():
        show(text.rstrip("\n"))
        return
    with suppress(AttributeError):
        stream.reconfigure(encoding="utf-8", errors="backslashreplace")  # type: ignore[attr-defined]
    _write(stream, [text])


def report(text: str) -> None:
    """Print lines of text beside the output, to stderr. Where they can't be written nobody is there to be told."""
    stream = sys.stderr
    if stream is None:
        return
    encoding = stream.encoding or "utf-8"
    try:
        stream.write(visible(text).encode(encoding, "backslashreplace").decode(encoding) + "\n")
        stream.flush()
    except (OSError, ValueError):
        _let_go(stream)


def let_go_of_output() -> None:
    """Nothing more can be printed."""
    if sys.stdout is not None:
        _let_go(sys.stdout)


def end_process() -> NoReturn:
    """End well and at once, whatever threads are still at work: what they make is wanted by nobody any more."""
    for stream in (sys.stdout, sys.stderr):
        with suppress(AttributeError, OSError, ValueError):
            stream.flush()
    os._exit(0)


def open_standard_streams() -> None:
    """Give a purpose to the handles of streams that are closed, else the next file that is opened gets them, and what
    libraries print goes into it."""
    for handle in (0, 1, 2):
        try:
            os.fstat(handle)
        except OSError:
            os.open(os.devnull, os.O_RDWR)


def _output() -> TextIO:
    if sys.stdout is None:
        raise FileError("The output can't be written: it is closed.")
    return sys.stdout


def _write(stream: TextIO, texts: Iterable[str]) -> None:
    try:
        for text in texts:
            stream.write(text)
        stream.flush()
    except BrokenPipeError:
        _let_go(stream)
        raise
    except OSError as error:
        _let_go(stream)
        raise FileError(f"The output can't be written: {reason_of(error)}.") from None


def _let_go(stream: TextIO) -> None:
    """What is still held back for a stream must find no fault either when Python ends."""
    with suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())


def _is_shown(mark: str) -> bool:
    return mark.isprintable() or mark in LINES or unicodedata.category(mark) == "Zs"


def _escaped(mark: str) -> str:
    number = ord(mark)
    if number < 0x100:
        return f"\\x{number:02x}"
    return f"\\u{number:04x}" if number < 0x10000 else f"\\U{number:08x}"


def _escaped_json(text: str, wide: bool) -> str:
    if text.isascii() if not wide else text.replace("\n", "").isprintable():
        return text
    return "".join(
        mark if _is_shown(mark) and (wide or mark.isascii()) else _json_escaped(mark) for mark in text
    )


def _json_escaped(mark: str) -> str:
    import json

    number = ord(mark)
    return f"\\u{number:04x}" if number < 0x10000 else json.dumps(mark)[1:-1]
