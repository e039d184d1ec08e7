"""The command line: which commands there are, and what goes wrong as a message and an exit status."""

import io
import signal
import sys
from collections.abc import Callable, Sequence
from contextlib import suppress
from functools import partial
from importlib import import_module
from typing import Any

import click

from renderer.core.collector import collector_at_rest
from renderer.core.errors import BarcrossError
from renderer.core.names import nearest_mend
from renderer.core.refusals import reason_of
from renderer.core.terminal import let_go_of_output, open_standard_streams, report

STOPPED = "Stopped. What is finished is kept: the same command goes on from here."


COMMANDS = {
    "check": "check",
    "timeline": "timeline",
    "schema": "timeline",
    "preview": "preview",
    "render": "render",
    "still": "still",
    "sound": "sound",
    "export": "export",
    "changes": "changes",
    "align": "align",
    "new": "new",
}
"""Each command's module in `renderer.commands`, loaded when it is used or its help is shown."""


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

    def list_commands(self, context: click.Context) -> list[str]:
        """In this order."""
        return [*COMMANDS]

    def get_command(self, context: click.Context, name: str) -> click.Command | None:
        """The command of that name; None if there is none."""
        if name not in COMMANDS:
            return None
        with collector_at_rest():
            command: click.Command = getattr(import_module(f"renderer.commands.{COMMANDS[name]}"), name)
        return command

    def resolve_command(
        self, context: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """As click does. Its own message would suggest loaded commands alone."""
        name = args[0]
        if name not in COMMANDS and not name.startswith("-"):
            context.fail(f"Unknown command {name}. {nearest_mend(name, COMMANDS)}")
        return super().resolve_command(context, args)

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
        told = f"{error.filename} can't be used" if error.filename else "The output can't be written"
        report(f"{told}: {reason_of(error)}.")
        let_go_of_output()
    return 1


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="barcross", message="%(version)s")
def main() -> None:
    """Make lesson videos about rhythmic figures that run across the bar, from one text: the spec."""
