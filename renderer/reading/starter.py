"""The spec that a new piece begins with."""

import json
import re

from renderer.core.installed import ASSETS
from renderer.reading.scalars.parse import parse_title

_TITLE = "title: TITLE\n"
_PLAIN = re.compile(r"\w+(?:[ '-]\w+)*|[A-GN][\w.#♭♯+/()°ø△-]*")


def starter_spec(title: str) -> str:
    """The starter's text with `title` in it, quoted where YAML would misread it.

    Raises ValueProblem for a title that is empty, too long or not on one line.
    """
    text = (ASSETS / "starter.yaml").read_text(encoding="utf-8")
    return text.replace(_TITLE, f"title: {as_text(parse_title(title))}\n")


def as_text(name: str) -> str:
    """A text as a spec's YAML takes it, also inside brackets: quoted where it could be misread.

    >>> print(as_text("Mill Race"), as_text("Study #2"), as_text("C7,b9"), as_text("F#m7/C#"))
    Mill Race "Study #2" "C7,b9" F#m7/C#
    """
    plain = _PLAIN.fullmatch(name)
    return name if plain else json.dumps(name, ensure_ascii=False)
