"""Files appear whole or not at all."""

import errno
import os
from pathlib import Path

import pytest

from renderer.core.errors import FileError
from renderer.core.files import whole_file, writing


def write_half(path: Path, fault: BaseException) -> None:
    with whole_file(path) as unfinished:
        unfinished.write_bytes(b"half")
        raise fault


def test_the_file_appears_when_the_block_has_ended(tmp_path: Path) -> None:
    path = tmp_path / "click.wav"
    with whole_file(path) as unfinished:
        unfinished.write_bytes(b"sound")
        assert not path.exists()
        assert unfinished.suffix == ".wav"
        assert unfinished.parent == tmp_path
    assert path.read_bytes() == b"sound"
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize("fault", [RuntimeError, KeyboardInterrupt])
def test_an_interrupted_file_leaves_nothing(tmp_path: Path, fault: type[BaseException]) -> None:
    with pytest.raises(fault):
        write_half(tmp_path / "film.mp4", fault())
    assert list(tmp_path.iterdir()) == []


def test_an_interrupted_file_leaves_the_one_that_was_there(tmp_path: Path) -> None:
    path = tmp_path / "film.mp4"
    path.write_bytes(b"before")
    with pytest.raises(RuntimeError):
        write_half(path, RuntimeError())
    assert path.read_bytes() == b"before"
    assert list(tmp_path.iterdir()) == [path]


def test_a_file_may_be_read_by_those_who_may_read_any_new_file(tmp_path: Path) -> None:
    path, plain = tmp_path / "film.mp4", tmp_path / "plain"
    plain.touch()
    with whole_file(path):
        pass
    assert path.stat().st_mode == plain.stat().st_mode


def test_a_name_as_long_as_names_may_be_is_written(tmp_path: Path) -> None:
    path = tmp_path / ("n" * 251 + ".mp4")
    with whole_file(path) as unfinished:
        unfinished.write_bytes(b"film")
    assert path.read_bytes() == b"film"


def test_a_missing_folder_is_told_before_the_work(tmp_path: Path) -> None:
    path = tmp_path / "nowhere" / "film.mp4"
    with pytest.raises(FileError) as caught, whole_file(path):
        pytest.fail("the block was entered")
    assert str(caught.value) == f"{path}: can't be written: there is no folder {path.parent}"


def test_a_folder_of_that_name_is_told_before_the_work(tmp_path: Path) -> None:
    with pytest.raises(FileError) as caught, whole_file(tmp_path):
        pytest.fail("the block was entered")
    assert str(caught.value) == f"{tmp_path}: can't be written: a folder of that name is there"


def test_a_file_in_place_of_the_folder_is_told_before_the_work(tmp_path: Path) -> None:
    (tmp_path / "out").touch()
    path = tmp_path / "out" / "film.mp4"
    with pytest.raises(FileError, match=r"out is not a folder$"), whole_file(path):
        pytest.fail("the block was entered")


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write everywhere")
def test_a_folder_that_may_not_be_written_to_is_told_before_the_work(tmp_path: Path) -> None:
    tmp_path.chmod(0o555)
    try:
        with pytest.raises(FileError, match="no permission to write in"), whole_file(tmp_path / "film.mp4"):
            pytest.fail("the block was entered")
    finally:
        tmp_path.chmod(0o755)


@pytest.mark.parametrize(
    ("number", "reason"),
    [
        (errno.ENOSPC, "the disk is full"),
        (errno.EACCES, "no permission to write in out"),
        (errno.EROFS, os.strerror(errno.EROFS)),
    ],
)
def test_what_the_system_refuses_is_told_in_words(number: int, reason: str) -> None:
    with pytest.raises(FileError) as caught, writing(Path("out/film.mp4")):
        raise OSError(number, os.strerror(number))
    assert str(caught.value) == f"{Path('out/film.mp4')}: can't be written: {reason}"
