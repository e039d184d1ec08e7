"""Every kind of file that is exported as one record: what it is called, what it writes, what makes it.

All else reads it from here: the command, its help, what is missing. What makes the files is named as text, because
libraries take their time to load.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, NamedTuple, Protocol

from renderer.core.errors import BarcrossError
from renderer.lesson.lesson import Lesson


class Made(NamedTuple):
    """A file that is ready to be written."""

    name: str
    content: bytes
    remark: str = ""
    """What the format could not hold as it is."""


class NothingThereError(BarcrossError):
    """A lesson has nothing for a kind of file."""


class Make(Protocol):
    """What makes a kind's files."""

    def __call__(self, lesson: Lesson, frames_per_second: Fraction, /, **options: Any) -> Sequence[Made]:
        """The files of a lesson whose films have so many frames a second. Raises NothingThereError."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One kind."""

    name: str
    writes: str
    """For people: which files, and what is in them."""
    make: str
    """A Make, as `module:name`."""
    libraries: tuple[str, ...] = ()
    """Modules of the extra `export` that it takes."""
    printed: bool = False
    """Whether it is pages, so that its Make takes their `paper` too."""
    carries: bool = False
    """Whether the spec itself is in it, so that its Make takes `notes_only` too, to leave it out."""
    with_films: bool = False
    """Whether it takes films in, so that its Make takes the `folder` in which they are too."""


_ALL = (
    Kind(
        name="captions",
        writes="the words said, as SRT and WebVTT",
        make="renderer.export.captions:make_captions",
    ),
    Kind(
        name="chapters",
        writes="a line for each chapter, for a video's description",
        make="renderer.export.chapters:make_chapters",
    ),
    Kind(
        name="script",
        writes="what is said, step by step, with times and facts, as Markdown and plain text",
        make="renderer.export.script:make_script",
    ),
    Kind(
        name="edit",
        writes="all films in order with markers, for video editors: OpenTimelineIO, FCP XML, CMX 3600",
        make="renderer.export.edit:make_edit",
        libraries=("opentimelineio", "otio_fcp_adapter", "otio_cmx3600_adapter"),
    ),
    Kind(
        name="midi",
        writes="the piece as a MIDI file: tempo, meters, click, voices, harmony, sections",
        make="renderer.export.midi:make_midi",
        libraries=("mido",),
        carries=True,
    ),
    Kind(
        name="score",
        writes="the piece as a score in MusicXML: a part for each voice and one for the meter",
        make="renderer.export.score:make_score",
        carries=True,
    ),
    Kind(
        name="handout",
        writes="pages to print, as PDF: a handout, a worksheet with answers, a practice card",
        make="renderer.export.handout:make_handout",
        libraries=("reportlab",),
        printed=True,
    ),
    Kind(
        name="slides",
        writes="a slide for each step, for a lecture hall, as PPTX",
        make="renderer.export.slides:make_slides",
        libraries=("pptx",),
        with_films=True,
    ),
)
KINDS: Mapping[str, Kind] = {kind.name: kind for kind in _ALL}
"""By name, in the order in which they are listed and written."""
