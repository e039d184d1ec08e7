"""The spec that a folder's films were last rendered from, and their quality, kept among the finished chunks.

So a correction can be compared with what it corrects, whatever has become of the spec's own file.
"""

import json
from fractions import Fraction
from hashlib import blake2b
from pathlib import Path
from typing import NamedTuple

from renderer.core.errors import FileError
from renderer.core.files import file_state
from renderer.lesson.lesson import Lesson
from renderer.video.quality import Quality
from renderer.video.store import FOLDER, Store

ENTRY = blake2b(b"the spec that was last rendered", digest_size=20).hexdigest()


class LastRender(NamedTuple):
    """A spec's text, and the films' size and rate."""

    text: str
    quality: Quality


def keep_render(store: Store, lesson: Lesson, quality: Quality) -> None:
    """Note what has been rendered."""
    head = {
        "width": quality.width,
        "height": quality.height,
        "frames_per_second": str(quality.frames_per_second),
    }
    store.put(ENTRY, f"{json.dumps(head)}\n{lesson.text}".encode())


def read_last_render(folder: Path) -> LastRender:
    """What was last rendered into a folder. Raises FileError if that is not known."""
    content = Store(folder / FOLDER).get(ENTRY) if file_state(folder / FOLDER) else None
    try:
        head, _, text = (content or b"").decode().partition("\n")
        made = json.loads(head)
        quality = Quality(int(made["width"]), int(made["height"]), Fraction(made["frames_per_second"]))
    except (ValueError, KeyError, TypeError, ZeroDivisionError):
        raise FileError(
            f"{folder}: it is not known what was last rendered here. Name the earlier spec's file instead."
        ) from None
    return LastRender(text, quality)
