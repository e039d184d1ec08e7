"""A fixed handful of damaged sound files: no traceback, a message with the file's name, in time."""

import time
from pathlib import Path

import pytest

from tests.fuzz_sound import fuzz


def test_a_handful_of_damaged_files_is_read_or_refused(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    count, found = fuzz(tmp_path, 0, time.monotonic() + 300, most=150)
    assert count == 150
    assert [fault for fault, _ in found] == []
    assert "Traceback" not in capfd.readouterr().err  # what is raised inside FFmpeg's calls is printed
