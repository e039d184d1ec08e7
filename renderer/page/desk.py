"""The desk: the spec's file as it is now, what pages have made of its text, and who wants to know of a change."""

from asyncio import Queue
from collections import OrderedDict
from dataclasses import dataclass
from pathlib import Path
from threading import Lock
from typing import Any

from renderer.core.errors import FileError
from renderer.core.files import file_state
from renderer.mix.soundtracks import file_name
from renderer.page.editions import Edition, Laid, file_mistake, read_edition
from renderer.page.rewriting import FileText, rewrite, try_read

Told = Edition | dict[str, Any]
MOST_KEPT = 48


@dataclass(frozen=True)
class Filed:
    """The file at one time: what it says, None if it can't be read, and the edition that this makes."""

    found: FileText | None
    edition: Edition


class Desk:
    """A spec that is being written. May be asked from any thread."""

    def __init__(self, path: Path, trust: bool = False, named: bool = True) -> None:
        """`named`: whether the file that is not there yet has its name already; else its title gives it."""
        self.path = path
        self.named = named
        self.trust = trust
        self._laid: OrderedDict[int, Laid] = OrderedDict()
        self._texts: OrderedDict[int, str] = OrderedDict()
        self._seen: OrderedDict[int, FileText] = OrderedDict()
        self._lock = Lock()
        self._listeners: set[Queue[Told]] = set()
        self.filed = self._file(None)

    @property
    def begins(self) -> bool:
        """Whether there is no file yet."""
        return not self._seen and file_state(self.path) is None

    def name_of(self, title: str) -> Path:
        """The file of a lesson that begins."""
        return self.path if self.named else self.path.with_name(f"{file_name(title)}.yaml")

    def begin(self, text: str, title: str, mend: str = "Give the piece another title.") -> Edition:
        """Write the file of a lesson that begins. Raises ChangedError, or FileError if there is one of that name, with
        `mend`, what to do then."""
        with self._lock:
            path = self.name_of(title)
            if file_state(path) is not None:
                raise FileError(f"{path.name} is there already; not overwritten. {mend}")
            rewrite(path, text, None)
            self.path, self.named = path, True
            self.filed = self._file(self.filed)
            return self.filed.edition

    def reread(self) -> Edition | None:
        """The file's edition, if it says something else than it did."""
        with self._lock:
            filed = self._file(self.filed)
            if filed is self.filed:
                return None
            self.filed = filed
            return filed.edition

    def _file(self, before: Filed | None) -> Filed:
        found = try_read(self.path)
        laid = before.edition.laid if before else None
        if isinstance(found, FileError):
            text = before.edition.text if before else ""
            mistake = file_mistake(found)
            if before and before.found is None and before.edition.mistakes == (mistake,):
                return before
            number = read_edition("", self.path).number
            return Filed(None, Edition(number, text, (mistake,), laid))
        if before and before.found and before.found.data == found.data:
            return before
        edition = read_edition(found.text, self.path, laid, self.trust)
        self._keep(edition)
        self._seen[edition.number] = found
        while len(self._seen) > MOST_KEPT:
            self._seen.popitem(last=False)
        return Filed(found, edition)

    def draft(self, text: str, number: int) -> Edition:
        """A text that is not saved; without a lesson of its own it shows the one numbered `number`."""
        edition = read_edition(text, self.path, self._laid.get(number), self.trust)
        self._keep(edition)
        return edition

    def save(self, text: str, seen: int | None) -> Edition:
        """Write a text where the page has seen what edition `seen` of the file says. Raises ChangedError, FileError."""
        with self._lock:
            rewrite(self.path, text, self._seen.get(seen) if seen is not None else None)
            self.filed = self._file(self.filed)
            return self.filed.edition

    def laid(self, number: int) -> Laid:
        """The lesson of an edition. Raises KeyError if it is no longer kept."""
        return self._laid[number]

    def text_of(self, number: int) -> str:
        """The text of an edition that said a lesson. Raises KeyError if it is no longer kept."""
        return self._texts[number]

    def _keep(self, edition: Edition) -> None:
        laid = edition.laid
        if laid is None:
            return
        self._laid[laid.number] = laid
        self._laid.move_to_end(laid.number)
        if edition.sound:
            self._texts[laid.number] = edition.text
        while len(self._laid) > MOST_KEPT:
            number, _ = self._laid.popitem(last=False)
            self._texts.pop(number, None)

    def listen(self) -> "Queue[Told]":
        """A queue into which whatever is new is put."""
        queue: Queue[Told] = Queue()
        self._listeners.add(queue)
        return queue

    def leave(self, queue: "Queue[Told]") -> None:
        """Whoever listened has gone."""
        self._listeners.discard(queue)

    def tell(self, news: Told) -> None:
        """Put an edition, or how far a render is, into every queue."""
        for queue in self._listeners:
            queue.put_nowait(news)
