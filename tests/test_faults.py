"""Faults on purpose: each call to the disk fails once, in small runs of all commands that write.

Whatever fails, a command ends with a message and status 1, or does without what failed; each file is the earlier one,
whole, or the new one, whole; and the next run gives the same bytes as if nothing had happened.
"""

import errno
import os
import shutil
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result

from renderer.command import main
from renderer.core import files, open_files
from renderer.export.midi import make_midi
from renderer.lesson.lesson import Lesson
from renderer.mix import align
from tests.faults import FAULTS, FailingDisk
from tests.lessons import make_lesson
from tests.whole_files import write_wav

SPEC = """
title: Weir
tempo: 240
meter: 4/4
pulse: 1/16
figures: {weir: [4, 4, 3]}
form: [{section: Upper, bars: 1, plays: weir}]
click: {every: beat, count_in: 0}
segments: [{show: play}]
"""
EARLIER = (
    SPEC.replace("title: Weir", "title: Weirs").replace("bars: 1", "bars: 2").replace("4, 4, 3", "3, 4, 4")
)
SMALL = ("--size", "64x64")
COMMANDS = {
    "render": ("render", "piece.yaml", *SMALL, "--fps", "2", "--jobs", "1", "--joined", "--out", "out"),
    "still": ("still", "piece.yaml", "play@end", "play@1.2", *SMALL, "--out", "out"),
    "still, svg": ("still", "piece.yaml", "play@end", "--svg", "--out", "out"),
    "sound": ("sound", "piece.yaml", "--out", "out"),
    "sound, mp3": ("sound", "piece.yaml", "--out", "out", "--format", "mp3"),
    "sound, with a recording": ("sound", "piece.yaml", "--no-stems", "--out", "out"),
    "export": ("export", "piece.yaml", "script", "edit", "midi", "score", "--out", "out"),
    "export, pages": ("export", "piece.yaml", "handout", "slides", "--out", "out"),
    "align": ("align", "piece.yaml", "--out", "out/sync.yaml"),
    "new": ("new", "mill"),
    "new, from a file": ("new", "mill", "--from", "take.mid"),
}
ONLY_READ = {
    "check": ("check", "piece.yaml"),
    "timeline": ("timeline", "piece.yaml", "--csv"),
    "changes": ("changes", "earlier.yaml", "piece.yaml"),
    "still, steps": ("still", "piece.yaml"),
}
GIVEN = ("piece.yaml", "earlier.yaml", "take.wav", "take.mid")
"""Files of the user's."""
STARTS = [
    (command, earlier)
    for command in COMMANDS
    for earlier in (False, True)
    if not (earlier and command.startswith("new"))
    if earlier or command != "export, pages"  # which take their time
]
"""Each command with and without files from an earlier run; `new` writes over none."""
SAID = {
    errno.ENOSPC: ("the disk is full",),
    errno.EACCES: ("no permission",),
    errno.EIO: ("the disk reports an error",),
    errno.EINTR: ("the system was interrupted",),
}
SOME = 16
DONE_WITHOUT = ("utime", "link", "close", "unlink", "rmdir")
"""Calls that a command can do without: to mark an entry as used, to put a new file down without a rename, to let go of
a file that was read, to tidy up."""


@pytest.fixture(autouse=True)
def aligned(monkeypatch: pytest.MonkeyPatch) -> None:
    """Beats are not what is looked for here."""

    def hear(lesson: Lesson, *arguments: object) -> align.Alignment:
        bar = align.HeardBar(1, 0, Fraction(len(lesson.spec.title)), attack=True)
        return align.Alignment((bar,), (bar,), (Fraction(0),))

    monkeypatch.setattr(align, "align_lesson", hear)


def run(command: str, disk: FailingDisk | None = None) -> Result:
    """Run a command, on a disk that may fail."""
    before = set(threading.enumerate())
    with pytest.MonkeyPatch.context() as patch:
        if disk:
            for module in (files, open_files):
                patch.setattr(module, "os", disk)
        result = CliRunner().invoke(main, [*(COMMANDS | ONLY_READ)[command]], catch_exceptions=False)
        for thread in set(threading.enumerate()) - before:  # those of a render that has ended go on
            thread.join(10)
    return result


def results(folder: Path) -> dict[str, bytes]:
    """The files that a user sees, without what is kept and noted beside them, and without the spec."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and ".chunks" not in path.parts and not path.name.startswith(".barcross")
        if path.name not in GIVEN
    }


@dataclass(frozen=True)
class Start:
    """A folder to start from, what is there, and what must be there at the end."""

    folder: Path
    before: dict[str, bytes]
    after: dict[str, bytes]
    calls: int

    @contextmanager
    def copied(self, place: Path) -> Iterator[Path]:
        """A copy to work in."""
        shutil.copytree(self.folder, place, symlinks=True)
        here = Path.cwd()
        os.chdir(place)
        try:
            yield place
        finally:
            os.chdir(here)
            shutil.rmtree(place)


def make_start(folder: Path, command: str, earlier: bool) -> Start:
    folder.mkdir()
    here = Path.cwd()
    os.chdir(folder)
    try:
        recorded = "recording: take.wav\nsync: {1: 0.1}\n" if "recording" in command else ""
        tone = np.sin(np.arange(120_000) / 30).astype(np.float32)
        write_wav(folder / "take.wav", np.stack([tone, tone], axis=1))
        write_played(folder / "take.mid")
        if earlier:
            (folder / "piece.yaml").write_text(EARLIER + recorded, encoding="utf-8")
            assert run(command).exit_code == 0
        (folder / "piece.yaml").write_text(SPEC + recorded, encoding="utf-8")
    finally:
        os.chdir(here)
    start = Start(folder, results(folder), {}, 0)
    with start.copied(folder.parent / "undisturbed") as place:
        disk = FailingDisk()
        assert run(command, disk).exit_code == 0
        return Start(folder, start.before, results(place), disk.count)


def write_played(path: Path) -> None:
    """A MIDI file of the piece."""
    path.write_bytes(make_midi(make_lesson(SPEC), Fraction(24))[0].content)


def check_fault(start: Start, place: Path, command: str, fails_at: int, fault: int) -> bool:
    """One fault, and the run after it. Gives whether the command did without what failed."""
    told = f"{command}: call {fails_at} of {start.calls}, {errno.errorcode[fault]}"
    with start.copied(place):
        disk = FailingDisk(fails_at, fault)
        result = run(command, disk)
        told += f", {disk.failed}: {result.output}"
        found = results(place)
        for name in start.before.keys() | start.after.keys() | found.keys():
            assert found.get(name) in (start.before.get(name), start.after.get(name)), (name, told)
        failed, path = disk.failed or ("", "")
        if result.exit_code == 0:
            assert found == start.after, told
            kept = ".chunks" in path or not path
            assert failed in DONE_WITHOUT or kept or not failed, told
        else:
            assert result.exit_code == 1, told
            assert any(word in result.stderr for word in SAID[fault]), told
            assert len(result.stderr.splitlines()) == 1, told
        left = [path.name for path in place.rglob(".barcross-*")]
        assert not left or failed in ("unlink", "close"), (left, told)
        again = run(command)
        if command.startswith("new") and found:
            assert again.exit_code == 1
        else:
            assert again.exit_code == 0, told + again.output
        assert results(place) == start.after, told
        return result.exit_code == 0


@pytest.mark.parametrize(("command", "earlier"), STARTS)
def test_some_calls_fail(command: str, earlier: bool, tmp_path: Path) -> None:
    """So many in a row of all calls, evenly spread; all of them in the test below, with -m exhaustive."""
    start = make_start(tmp_path / "start", command, earlier)
    assert start.before != start.after
    count_faults(start, tmp_path, command, range(1, start.calls + 1, -(-start.calls // SOME)))


@pytest.mark.slow
@pytest.mark.exhaustive
@pytest.mark.parametrize(("command", "earlier"), STARTS)
def test_each_call_fails(command: str, earlier: bool, tmp_path: Path) -> None:
    start = make_start(tmp_path / "start", command, earlier)
    count_faults(start, tmp_path, command, range(1, start.calls + 1))


@pytest.mark.parametrize("command", ONLY_READ)
def test_what_only_reads_says_what_failed_and_writes_nothing(
    command: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("piece.yaml").write_text(SPEC, encoding="utf-8")
    Path("earlier.yaml").write_text(EARLIER, encoding="utf-8")
    disk = FailingDisk()
    expected = run(command, disk)
    assert expected.exit_code == 0
    assert disk.count
    for call in range(1, disk.count + 1):
        fault = FAULTS[call % len(FAULTS)]
        failing = FailingDisk(call, fault)
        result = run(command, failing)
        if result.exit_code == 0:
            assert result.stdout == expected.stdout
            assert (failing.failed or ("",))[0] in DONE_WITHOUT
        else:
            assert result.exit_code == 1
            assert any(word in result.stderr for word in SAID[fault]), result.stderr
            assert len(result.stderr.splitlines()) == 1
    assert sorted(path.name for path in tmp_path.iterdir()) == ["earlier.yaml", "piece.yaml"]


def count_faults(start: Start, folder: Path, command: str, calls: range) -> None:
    """Let each of these calls fail, in one of four ways in turn."""
    done_without = [
        check_fault(start, folder / "place", command, call, FAULTS[number % len(FAULTS)])
        for number, call in enumerate(calls)
    ]
    print(
        f"{command}, {'earlier files' if start.before else 'nothing'} there: {len(done_without)} faults; "
        f"{sum(done_without)} of them done without",
        file=sys.__stderr__,
    )
