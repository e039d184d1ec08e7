"""The sound files that a spec names: where they may lie.

A spec may come from somebody else. What it names is mixed into films, so without leave it names files in its own
folder alone.
"""

import os
from collections.abc import Iterator
from pathlib import Path

from renderer.core.errors import KeyPath, Problem, SpecError
from renderer.spec.model import Spec


def check_sound_files(spec: Spec, folder: Path) -> None:
    """Whether every sound file that the spec names lies in `folder`, the spec's own, once links are followed.

    Raises SpecError with all that don't. Nothing is opened.
    """
    home = Path(os.path.realpath(folder))
    problems: list[Problem] = []
    seen: set[str] = set()
    for name, path in _named_files(spec):
        if name in seen:
            continue
        seen.add(name)
        if Path(name).is_absolute():
            text = f"{name} is an absolute path."
        elif not Path(os.path.realpath(home / name)).is_relative_to(home):
            text = f"{name} is outside the spec's folder."
        else:
            continue
        mend = (
            "Put the file beside the spec. If you trust whoever wrote this spec, add --trust to the command."
        )
        problems.append(Problem(path, text, mend))
    if problems:
        raise SpecError(problems)


def _named_files(spec: Spec) -> Iterator[tuple[str, KeyPath]]:
    """Each sound file with its place in the spec."""
    if spec.recording is not None:
        yield spec.recording, ("recording",)
    for segment in spec.segments:
        for line in segment.say:
            if line.file is not None:
                yield line.file.name, line.file.path
