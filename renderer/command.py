"""The command line: which commands there are, and what goes wrong as a message and an exit status."""

import io
import signal
import sys
from collections.abc import Callable, Sequence
from contextlib import suppress
from functools import partial
from typing import Any

import click

from renderer.commands.align import align
from renderer.commands.check import check
from renderer.commands.export import export
from renderer.commands.new import new
from renderer.commands.render import render
from renderer.commands.sound import sound
from renderer.commands.still import still
from renderer.commands.timeline import schema, timeline
from renderer.core.errors import BarcrossError
from renderer.core.refusals import reason_of
from renderer.core.terminal import let_go_of_output, open_standard_streams, report

STOPPED = "Stopped. What is finished is kept: the same command goes on from here."


class Commands(click.Group):
    """The commands, and the one place where what goes wrong becomes a message and an exit status.

    0: done, 1: the spec or a file is at fault, 2: the command line is.
    """

    def main(
        self,
        args: Sequence[str] | None = None,
        prog_name: str | None = None,
        complete_var: str | None = None,
        standalone_mode: bool = True,
        **extra: Any,
    ) -> Any:
        """Do what the command line says, and exit."""
        run = partial(super().main, args, prog_name, complete_var, standalone_mode=False, **extra)
        if not standalone_mode:
            return run()
        open_standard_streams()
        sys.exit(_status(run))

    def invoke(self, context: click.Context) -> Any:
        """Do what a command does."""
        try:
            return super().invoke(context)
        except BrokenPipeError:  # whoever read has had enough
            return 0


def _status(do: Callable[[], Any]) -> int:
    try:
        return do() or 0
    except click.exceptions.ClickException as error:
        text = io.StringIO()
        error.show(text)
        report(text.getvalue().rstrip("\n"))
        return error.exit_code
    except (KeyboardInterrupt, click.Abort):
        with suppress(ValueError):  # another thread than the main one
            signal.signal(signal.SIGINT, signal.SIG_IGN)  # whoever presses it twice wants no more than that
        report(STOPPED)
    except BarcrossError as error:
        report(str(error))
    except OSError as error:
        report(f"{error.filename or 'The output'} can't be used: {reason_of(error)}.")
        let_go_of_output()
    return 1


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="barcross", message="%(version)s")
def main() -> None:
    """Make lesson videos about rhythmic figures that run across the bar, from one text: the spec."""


for _command in (check, timeline, schema, render, still, sound, export, align, new):
    main.add_command(_command)
