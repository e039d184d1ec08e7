"""A folder of results: what this program wrote there is replaced, all else stays."""

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from renderer.core import outputs
from renderer.core.errors import FileError
from renderer.core.outputs import LIST, OutputFolder

FILM = "01-figure.mp4"


def write(folder: OutputFolder, content: bytes, name: str = FILM) -> None:
    with folder.file(name) as file:
        file.write(content)


@pytest.fixture
def out(tmp_path: Path) -> Path:
    """A folder with a film that was written there."""
    folder = OutputFolder(tmp_path / "out")
    folder.prepare([])
    write(folder, b"film")
    return folder.folder


def refused(folder: Path, content: bytes, **options: object) -> str:
    """What is said when a film of these bytes must stay."""
    before = {path: path.read_bytes() for path in folder.iterdir()}
    told = set()
    output = OutputFolder(folder, **options)  # type: ignore[arg-type]
    attempts: tuple[Callable[[], None], ...] = (
        lambda: output.prepare([FILM]),
        lambda: output.check([FILM]),
        lambda: write(output, b"another film"),
    )
    for attempt in attempts:
        with pytest.raises(FileError) as caught:
            attempt()
        told.add(str(caught.value))
    assert (folder / FILM).read_bytes() == content
    assert {path: path.read_bytes() for path in folder.iterdir()} == before
    return told.pop() if len(told) == 1 else pytest.fail(f"not the same words: {told}")


def test_an_earlier_film_is_replaced(out: Path) -> None:
    for content in (b"second film", b"third film", b"film"):
        folder = OutputFolder(out)
        folder.prepare([FILM])
        write(folder, content)
        assert (out / FILM).read_bytes() == content
    assert {path.name for path in out.iterdir()} == {FILM, LIST}


def test_the_list_does_not_grow_while_nothing_changes(out: Path) -> None:
    before = (out / LIST).read_bytes()
    for _ in range(3):
        write(OutputFolder(out), b"film")
    assert (out / LIST).read_bytes() == before


def test_somebody_elses_file_stays(tmp_path: Path) -> None:
    (tmp_path / FILM).write_bytes(b"mine")
    assert refused(tmp_path, b"mine") == (
        f"{tmp_path / FILM}: barcross did not write this file, or it was changed since; not overwritten. "
        "Move it, choose another place with --out, or add --overwrite."
    )


@pytest.mark.parametrize("content", [b"film, cut by its user", b"fiLm", b""])
def test_a_film_that_was_changed_stays(out: Path, content: bytes) -> None:
    (out / FILM).write_bytes(content)
    assert "it was changed since" in refused(out, content)


def test_another_file_under_the_name_of_an_earlier_one_stays(out: Path) -> None:
    write(OutputFolder(out), b"figure of the week", "02-figure.mp4")
    shutil.copy(out / "02-figure.mp4", out / FILM)
    assert "did not write this file" in refused(out, b"figure of the week")


def test_a_film_from_before_that_was_brought_back_is_replaced(out: Path) -> None:
    write(OutputFolder(out), b"second film")
    (out / FILM).write_bytes(b"film")
    write(OutputFolder(out), b"third film")
    assert (out / FILM).read_bytes() == b"third film"


def test_a_copy_of_the_folder_is_as_good_as_the_folder(out: Path) -> None:
    copy = out.parent / "copy"
    shutil.copytree(out, copy)
    write(OutputFolder(copy), b"second film")
    assert (copy / FILM).read_bytes() == b"second film"
    (copy / FILM).write_bytes(b"mine")
    refused(copy, b"mine")


def test_without_its_list_nothing_is_taken_for_ours(out: Path) -> None:
    (out / LIST).unlink()
    refused(out, b"film")


@pytest.mark.parametrize("end", [1, 10, 45], ids=lambda end: f"{end} bytes short")
def test_a_list_that_was_cut_loses_no_more_than_its_last_line(out: Path, end: int) -> None:
    write(OutputFolder(out), b"other", "02-play.mp4")
    whole = (out / LIST).read_bytes()
    (out / LIST).write_bytes(whole[:-end])
    write(OutputFolder(out), b"second film")
    write(OutputFolder(out), b"third film", "03-wheel.mp4")
    write(OutputFolder(out), b"fourth film", "03-wheel.mp4")
    assert (out / FILM).read_bytes() == b"second film"


@pytest.mark.parametrize("kind", ["a file of the user's", "a link"])
def test_a_list_that_is_not_ours_is_refused(out: Path, kind: str) -> None:
    if kind == "a link":
        (out / LIST).rename(out / "elsewhere")
        (out / LIST).symlink_to("elsewhere")
    else:
        (out / LIST).write_bytes(b"mine")
    assert refused(out, b"film") == (
        f"{out / LIST}: barcross did not write this file, and needs its name. Move it."
    )


def test_a_long_list_is_cut_to_its_newest_lines(out: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(outputs, "MOST_LINES", 20)
    monkeypatch.setattr(outputs, "KEPT_LINES", 5)
    for number in range(50):
        write(OutputFolder(out), b"%d" % number, "02-play.mp4")
        assert len((out / LIST).read_bytes().split()) < 100
    write(OutputFolder(out), b"last", "02-play.mp4")
    refused(out, b"film")


class TestInputs:
    def test_what_the_spec_reads_is_never_replaced(self, out: Path) -> None:
        """Not even what was written here, and not with --overwrite either."""
        for overwrite in (False, True):
            assert refused(out, b"film", inputs=[out / FILM], overwrite=overwrite) == (
                f"{out / FILM}: the spec reads this file; not overwritten. Choose another place with --out."
            )

    def test_under_no_name_that_leads_to_it(self, out: Path) -> None:
        (out.parent / "take.mp4").symlink_to(out / FILM)
        (out.parent / "twin.mp4").hardlink_to(out / FILM)
        for name in ("take.mp4", "twin.mp4", "out/../out/" + FILM):
            assert "the spec reads" in refused(out, b"film", inputs=[out.parent / name], overwrite=True)

    def test_inputs_that_are_missing_are_in_nobodys_way(self, out: Path) -> None:
        write(OutputFolder(out, [out / "nowhere.wav", Path("a\0b")]), b"second film")
        assert (out / FILM).read_bytes() == b"second film"


class TestOverwrite:
    def test_it_replaces_what_is_somebody_elses(self, tmp_path: Path) -> None:
        (tmp_path / FILM).write_bytes(b"mine")
        folder = OutputFolder(tmp_path, overwrite=True)
        folder.prepare([FILM])
        write(folder, b"film")
        assert (tmp_path / FILM).read_bytes() == b"film"

    @pytest.mark.parametrize("there", [True, False], ids=["a link", "a link that leads nowhere"])
    def test_it_replaces_a_link_and_not_where_it_leads(self, tmp_path: Path, there: bool) -> None:
        mine = tmp_path / "mine.mp4"
        if there:
            mine.write_bytes(b"mine")
        (tmp_path / FILM).symlink_to(mine)
        with pytest.raises(FileError, match="did not write this file"):
            write(OutputFolder(tmp_path), b"film")
        write(OutputFolder(tmp_path, overwrite=True), b"film")
        assert not (tmp_path / FILM).is_symlink()
        assert (tmp_path / FILM).read_bytes() == b"film"
        assert mine.exists() == there
        assert not there or mine.read_bytes() == b"mine"

    def test_it_replaces_no_folder(self, tmp_path: Path) -> None:
        (tmp_path / FILM).mkdir()
        with pytest.raises(FileError, match="a folder of that name is there"):
            OutputFolder(tmp_path, overwrite=True).prepare([FILM])
