"""The door of the command: whatever else is called `renderer`, `scenes` or `assets`, the program finds its own.

Its packages have short names. A user's own scenes.py, or another installed package of such a
name, may come first where Python looks; importing this package puts the program's own before all of them, in the
processes that draw, too.
"""

import sys
from collections.abc import Sequence
from importlib.machinery import ModuleSpec, PathFinder
from pathlib import Path
from types import ModuleType

HOME = str(next(up for up in Path(__file__).resolve().parents if (up / "renderer" / "command.py").is_file()))
"""Where the program's packages lie: beside this one when installed, at the top of a checkout."""
OWN = ("renderer", "scenes", "assets")


class OwnPackages:
    """Finds the program's packages where they lie."""

    @staticmethod
    def find_spec(
        name: str, path: Sequence[str] | None = None, target: ModuleType | None = None
    ) -> ModuleSpec | None:
        """None for whatever is not the program's own."""
        return PathFinder.find_spec(name, [HOME]) if name in OWN else None


sys.meta_path.insert(0, OwnPackages)


def main() -> None:
    """Do what the command line says."""
    try:
        from renderer.command import main as command
    except KeyboardInterrupt:
        sys.exit("Stopped.")
    except ImportError as error:
        if (error.name or "").partition(".")[0] not in OWN:
            raise
        sys.exit(f"barcross is damaged: {error}. {_mend()}")
    command()


def _mend() -> str:
    """Who else writes into the folders that hold the program, and what to do."""
    from importlib.metadata import packages_distributions

    owners = packages_distributions()
    others = sorted({owner for name in OWN for owner in owners.get(name, []) if owner != "barcross"})
    shared = f"{', '.join(others)} is installed into the same folders. " if others else ""
    return f"{shared}Install barcross by itself, with pipx or uv."
