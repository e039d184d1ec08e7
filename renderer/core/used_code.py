"""The code that something is made by: the modules that its maker imports, what these import, and so on, with the files
and libraries that they use.

A thing that is kept is named by it, so that it is made again exactly when something has changed that may change it. It
is read from the imports themselves, those inside functions too. What is imported for types alone decides nothing and is
left out. What is imported by its name at run time can't be seen: it has to be named as a maker.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from hashlib import blake2b
from importlib.metadata import PackageNotFoundError, packages_distributions, version
from pathlib import Path
from sys import stdlib_module_names
from typing import NamedTuple

from renderer.core.installed import HOME

PACKAGES = ("renderer", "scenes")
DIGEST = 20
DISTRIBUTIONS = {"cairo": "pycairo", "PIL": "pillow", "yaml": "PyYAML"}
"""Libraries that are installed under another name than they are imported by, so that they need not be looked for."""
IMPORT = re.compile(
    r"^ *(?:from (?P<module>[\w.]+) import (?:\((?P<lines>[^)]*)\)|(?P<names>[\w, ]+))|import (?P<whole>[\w., ]+))",
    re.MULTILINE,
)
"""An import statement. Python's own parser takes twenty times as long to find them; a test compares the two."""
FOR_TYPES = re.compile(r"^if TYPE_CHECKING:\n(?:    .*\n|\n)+", re.MULTILINE)
ASSET_FOLDER = re.compile(r'ASSETS / "(\w+)"')


class _Module(NamedTuple):
    source: bytes
    imports: frozenset[str]
    """Our own modules, by their full names."""
    libraries: frozenset[str]
    assets: frozenset[str]
    """The folders of assets that it reads."""


@dataclass(frozen=True, slots=True)
class UsedCode:
    """Modules and folders of assets by their names, libraries by the names that they are imported by; all sorted."""

    modules: tuple[str, ...]
    assets: tuple[str, ...]
    libraries: tuple[str, ...]

    def versions(self) -> tuple[tuple[str, str | None], ...]:
        """The version of each library; None for one that is not installed."""
        return tuple((name, _version(name)) for name in self.libraries)


@cache
def used_code(*makers: str) -> UsedCode:
    """All that these modules of ours import, themselves included. Raises FileNotFoundError if there is no such module.

    >>> used_code("renderer.spec.meter").modules
    ('renderer.spec.meter',)
    """
    waiting, found = list(makers), dict[str, _Module]()
    while waiting:
        name = waiting.pop()
        if name not in found:
            found[name] = _read(name)
            waiting += found[name].imports
    modules = found.values()
    return UsedCode(
        tuple(sorted(found)),
        tuple(sorted({folder for module in modules for folder in module.assets})),
        tuple(sorted({library for module in modules for library in module.libraries})),
    )


@cache
def code_key(*makers: str) -> str:
    """A hash of all code, assets and library versions that these modules use."""
    used = used_code(*makers)
    state = blake2b(repr(used.versions()).encode(), digest_size=DIGEST)
    for name in used.modules:
        state.update(name.encode() + b"\0" + _read(name).source)
    for folder in used.assets:
        for content in _contents(HOME / "assets" / folder):
            state.update(content)
    return state.hexdigest()


@cache
def _file(name: str) -> Path | None:
    """The file of a module of ours; None if there is no such module."""
    package, _, rest = name.partition(".")
    if package not in PACKAGES or not rest:
        return None
    *folders, module = rest.split(".")
    path = (HOME / package).joinpath(*folders, f"{module}.py")
    return path if path.is_file() else None


@cache
def _read(name: str) -> _Module:
    path = _file(name)
    if path is None:
        raise FileNotFoundError(f"there is no module {name}")
    source = path.read_bytes()
    text = source.decode()
    imported = set(_imported(FOR_TYPES.sub("", text)))
    imports = frozenset(name for name in imported if _file(name))
    tops = {name.partition(".")[0] for name in imported - imports}
    libraries = frozenset(tops - {*PACKAGES} - stdlib_module_names)
    return _Module(source, imports, libraries, frozenset(ASSET_FOLDER.findall(text)))


def _imported(text: str) -> Iterator[str]:
    """Names that may be modules': what stands behind `from x import` may be a module of x, or something in x."""
    for found in IMPORT.finditer(text):
        names = (found["lines"] or found["names"] or found["whole"]).split(",")
        listed = [name.split()[0] for name in names if name.strip()]
        if found["module"]:
            yield found["module"]
            listed = [f"{found['module']}.{name}" for name in listed]
        yield from listed


def _contents(folder: Path) -> Iterator[bytes]:
    for entry in sorted(folder.iterdir(), key=lambda entry: entry.name):
        if entry.is_file():
            yield entry.name.encode() + b"\0" + entry.read_bytes()


@cache
def _version(library: str) -> str | None:
    try:
        return version(DISTRIBUTIONS.get(library, library))
    except PackageNotFoundError:
        installed = packages_distributions().get(library)
        return version(installed[0]) if installed else None
