"""`barcross preview`."""

from pathlib import Path

import click

from renderer.core.errors import BarcrossError
from renderer.options import TRUST, default_folder, parse_number


@click.command()
@click.argument("spec", type=click.Path(path_type=Path), required=False)
@click.option(
    "--port",
    callback=parse_number(1, 65535),
    metavar="N",
    help="Port of 127.0.0.1, 1 to 65535. [default: one that is free]",
)
@click.option("--browser/--no-browser", default=True, help="Open it in the browser. [default: browser]")
@TRUST
def preview(spec: Path | None, port: int | None, browser: bool, trust: bool) -> None:
    """See, hear and write SPEC on a page in the browser.

    The page follows the file. Ctrl-C ends it.

    Without SPEC, or with a name that is not there yet, the page begins a lesson with one sentence,
    or with a MIDI or MusicXML file that is dropped on it.

    The first line printed is the page's address. Only this machine can open it.
    """
    try:
        from renderer.page.run import run_page
    except ImportError as error:
        raise BarcrossError(
            f"preview needs {error.name}. Install it with pip install 'barcross[page]'."
        ) from None
    run_page(spec, default_folder, port or 0, browser, trust)
