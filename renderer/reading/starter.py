"""The spec that a new piece begins with."""

import json
import re

from renderer.core.installed import ASSETS
from renderer.reading.scalars.parse import parse_title

_TITLE = "title: TITLE\n"


def starter_spec(title: str) -> str:
    """The starter's text with `title` in it, quoted where YAML would misread it.

    Raises Fault for a title that is empty, too long or not on one line.
    """
    text = (ASSETS / "starter.yaml").read_text(encoding="utf-8")
    name = parse_title(title)
    plain = re.fullmatch(r"\w+(?:[ '-]\w+)*", name)
    return text.replace(_TITLE, f"title: {name if plain else json.dumps(name, ensure_ascii=False)}\n")
