"""What the commands' options take, read and checked."""

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import click

from renderer.core.errors import ValueProblem
from renderer.reading.scalars.parse import parse_range, parse_recording_seconds, parse_speed
from renderer.spec.model import BarRange

BROADCAST_RATES = {
    "23.976": Fraction(24000, 1001),
    "23.98": Fraction(24000, 1001),
    "29.97": Fraction(30000, 1001),
    "59.94": Fraction(60000, 1001),
}
"""What these are short for."""
FRAME_RATES = "24, 25, 30, 50, 60 or a fraction such as 30000/1001"


def parse_size(context: click.Context, option: click.Parameter, text: str | None) -> tuple[int, int] | None:
    """`1920x1080` as two numbers."""
    if text is None:
        return None
    width, cross, height = text.partition("x")
    if not (cross and all(side.isascii() and side.isdecimal() and len(side) < 6 for side in (width, height))):
        raise click.BadParameter(f"{text!r} is not a size. Write WIDTHxHEIGHT, such as 1920x1080.")
    size = int(width), int(height)
    if not all(64 <= side <= 7680 for side in size) or any(side % 2 for side in size):
        raise click.BadParameter(f"{text}: width and height must be even, from 64 to 7680.")
    return size


def parse_rate(context: click.Context, option: click.Parameter, text: str | None) -> Fraction | None:
    """A frame rate as an exact fraction."""
    if text is None:
        return None
    try:
        rate = BROADCAST_RATES.get(text) or Fraction(text)
    except (ValueError, ZeroDivisionError):
        raise click.BadParameter(f"{text!r} is not a frame rate. Write {FRAME_RATES}.") from None
    if not 1 <= rate <= 240 or rate.denominator > 1001:
        raise click.BadParameter(f"{text}: a film has 1 to 240 frames a second. Write {FRAME_RATES}.")
    return rate


def parse_share(context: click.Context, option: click.Parameter, text: str) -> Fraction:
    """A speed in per cent of the tempo, as a share of it."""
    try:
        return parse_speed(text)
    except ValueProblem as problem:
        raise click.BadParameter(problem.text) from None


def parse_shares(context: click.Context, option: click.Parameter, text: str | None) -> tuple[Fraction, ...]:
    """Speeds in per cent of the tempo, parted by commas, as shares of it."""
    return tuple(parse_share(context, option, each) for each in (text.split(",") if text else ()))


def parse_bars(context: click.Context, option: click.Parameter, text: str | None) -> BarRange | None:
    """Bars from one to another."""
    try:
        return None if text is None else parse_range(text)
    except ValueProblem as problem:
        raise click.BadParameter(" ".join(filter(None, (problem.text, problem.mend)))) from None


def parse_number(least: int, most: int) -> Callable[[click.Context, click.Parameter, str | None], int | None]:
    """What reads a whole number from `least` to `most`."""

    def parse(context: click.Context, option: click.Parameter, text: str | None) -> int | None:
        if text is None:
            return None
        whole = text.isascii() and text.isdecimal() and len(text) < 10
        if not whole or not least <= int(text) <= most:
            raise click.BadParameter(f"{text!r} is not a whole number from {least} to {most}.")
        return int(text)

    return parse


def parse_place(context: click.Context, option: click.Parameter, text: str | None) -> Fraction | None:
    """A place in the recording, in seconds."""
    try:
        return None if text is None else parse_recording_seconds(text)
    except ValueProblem as problem:
        raise click.BadParameter(problem.text) from None


def default_folder(spec: Path) -> Path:
    """Where results go unless another folder is named."""
    return Path("out") / spec.stem


SPEC = click.argument("spec", type=click.Path(path_type=Path))
TRUST = click.option("--trust", is_flag=True, help="Also open sound files outside SPEC's folder.")
OVERWRITE = click.option("--overwrite", is_flag=True, help="Also replace files that barcross did not write.")
OUT = click.option(
    "--out", type=click.Path(path_type=Path), help="Folder to write to. [default: out/ and SPEC's name]"
)
SIZE = click.option("--size", callback=parse_size, metavar="WxH", help="Picture size. [default: 1920x1080]")
FILMS_SIZE = click.option(
    "--size",
    callback=parse_size,
    metavar="WxH",
    help="Picture size. [default: as last rendered, else 1920x1080]",
)
FPS = click.option(
    "--fps", callback=parse_rate, metavar="RATE", help=f"Frames a second: {FRAME_RATES}. [default: 60]"
)
FILMS_FPS = click.option(
    "--fps",
    callback=parse_rate,
    metavar="RATE",
    help=f"Frames a second: {FRAME_RATES}. [default: as last rendered, else 60]",
)
JSON = click.option("--json", "as_json", is_flag=True, help="Print a list of the files as JSON.")
