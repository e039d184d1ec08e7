"""The page's own files, read once: a name from a browser is looked up among these and never leads to a file."""

from typing import NamedTuple

from renderer.core.files import list_names
from renderer.core.installed import ASSETS
from renderer.core.open_files import read_bytes

KINDS = {
    "html": "text/html; charset=utf-8",
    "css": "text/css; charset=utf-8",
    "js": "text/javascript; charset=utf-8",
    "svg": "image/svg+xml",
    "ttf": "font/ttf",
}
FONTS = ("SourceSans3.ttf", "DejaVuSans.ttf")


class Asset(NamedTuple):
    """A file's bytes and what a browser is to take them for."""

    content: bytes
    kind: str


def read_assets() -> dict[str, Asset]:
    """All files of the page by name, the fonts among them. Raises FileError."""
    folder = ASSETS / "page"
    places = [*(folder / name for name in list_names(folder)), *(ASSETS / "fonts" / name for name in FONTS)]
    return {
        path.name: Asset(read_bytes(path), KINDS[path.suffix[1:]])
        for path in places
        if path.suffix[1:] in KINDS
    }
