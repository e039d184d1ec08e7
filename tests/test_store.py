"""Kept pieces: whole, checked, dropped when they were used longest ago, and nothing else is ever removed."""

import os
import time
from pathlib import Path

import pytest

from renderer.core.errors import FileError
from renderer.video.store import TAG, TAG_TEXT, Store

WEIR, RACE, SLUICE = "a" * 40, "b" * 40, "0123456789" * 4
PART = f"{SLUICE}.12"


@pytest.fixture
def store(tmp_path: Path) -> Store:
    return Store(tmp_path / "films" / ".chunks")


def age(store: Store, name: str, seconds: float) -> None:
    then = time.time() - seconds
    os.utime(store.folder / name, (then, then), follow_symlinks=False)


def test_what_is_put_in_comes_out(store: Store) -> None:
    assert store.get(WEIR) is None
    assert store.names() == frozenset()
    store.put(WEIR, b"\0water")
    store.put(PART, b"")
    assert store.get(WEIR) == b"\0water"
    assert store.get(PART) == b""
    assert store.names() == {WEIR, PART}


@pytest.mark.parametrize("spoil", ["cut", "emptied", "one bit"])
def test_a_damaged_entry_counts_as_missing(store: Store, spoil: str) -> None:
    store.put(WEIR, bytes(1000))
    path = store.folder / WEIR
    data = bytearray(path.read_bytes())
    data[500] ^= 1
    path.write_bytes({"cut": bytes(data[:400]), "emptied": b"", "one bit": bytes(data)}[spoil])
    assert store.get(WEIR) is None
    store.put(WEIR, b"again")
    assert store.get(WEIR) == b"again"


def test_an_entry_under_another_name_counts_as_missing(store: Store) -> None:
    store.put(WEIR, b"water")
    (store.folder / WEIR).rename(store.folder / RACE)
    assert store.get(RACE) is None


@pytest.mark.parametrize("name", ["weir", "", "..", f"../{WEIR}", f"{WEIR}.mp4", WEIR.upper(), f"{WEIR}\n"])
def test_a_name_that_is_no_hash_is_not_kept(store: Store, name: str) -> None:
    with pytest.raises(ValueError, match="names no entry"):
        store.put(name, b"water")
    assert store.get(name) is None


def test_what_was_used_longest_ago_is_dropped_first(store: Store) -> None:
    for number, name in enumerate((WEIR, RACE, SLUICE)):
        store.put(name, bytes(1000))
        age(store, name, 9000 - number)
    store.get(WEIR)
    age(store, WEIR, 8000)
    store.prune(largest=2100, in_use_seconds=3600)
    assert store.names() == {WEIR, SLUICE}


def test_what_another_render_may_be_using_stays(store: Store) -> None:
    store.put(WEIR, bytes(1000))
    age(store, WEIR, 9000)
    store.put(RACE, bytes(1000))
    store.prune(largest=10, in_use_seconds=3600)
    assert store.names() == {RACE}


def test_leftovers_of_a_killed_render_are_dropped(store: Store) -> None:
    store.put(WEIR, b"water")
    old, new = ".barcross-0123456789abcdef", ".barcross-0123456789abcdee"
    for name, seconds in ((old, 9000), (new, 10)):
        (store.folder / name).write_bytes(bytes(100))
        age(store, name, seconds)
    store.prune()
    assert {path.name for path in store.folder.iterdir()} == {TAG, WEIR, new}


def test_clearing_leaves_nothing(store: Store) -> None:
    store.clear()
    store.put(WEIR, b"water")
    store.clear()
    assert not store.folder.exists()


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("")
    with pytest.raises(FileError, match="taken"):
        Store(tmp_path / "taken" / ".chunks").put(WEIR, b"water")


def test_backups_are_told_that_nothing_here_needs_to_be_kept(store: Store) -> None:
    """The first 43 bytes, by the Cache Directory Tagging Specification (https://bford.info/cachedir/)."""
    store.put(WEIR, b"water")
    tag = (store.folder / "CACHEDIR.TAG").read_bytes()
    assert tag[:43] == b"Signature: 8a477f597d28d172789f06886806bc55"


class TestNothingElse:
    """What the store has not written is neither read, nor replaced, nor removed."""

    def old(self, store: Store, name: str) -> Path:
        path = store.folder / name
        path.write_bytes(b"mine")
        age(store, name, 9000)
        return path

    @pytest.mark.parametrize("how", ["pruned", "cleared"])
    def test_files_with_other_names_stay(self, store: Store, how: str) -> None:
        store.put(WEIR, b"water")
        age(store, WEIR, 9000)
        names = ("holiday.jpg", WEIR[1:], f"{WEIR}.jpg", f".{WEIR}", f"{WEIR}.1234567", ".barcross-mine")
        mine = {self.old(store, name) for name in names}
        if how == "pruned":
            store.prune(largest=0)
        else:
            store.clear()
        assert set(store.folder.iterdir()) == mine | {store.folder / TAG}
        Store(store.folder).put(WEIR, b"water")  # it is known to be ours by its tag

    @pytest.mark.parametrize("how", ["pruned", "cleared"])
    def test_links_with_an_entrys_name_and_what_they_lead_to_stay(
        self, store: Store, tmp_path: Path, how: str
    ) -> None:
        store.put(WEIR, b"water")
        (tmp_path / "photo").write_bytes((store.folder / WEIR).read_bytes())
        (store.folder / WEIR).unlink()
        (store.folder / WEIR).symlink_to(tmp_path / "photo")
        age(store, WEIR, 9000)
        assert store.get(WEIR) is None
        assert store.names() == frozenset()
        if how == "pruned":
            store.prune(largest=0)
        else:
            store.clear()
        assert (tmp_path / "photo").exists()
        assert (store.folder / WEIR).is_symlink()

    @pytest.mark.parametrize("kind", ["a link", "a link that leads nowhere", "a link to a store"])
    def test_a_store_that_is_a_link_is_refused(self, tmp_path: Path, kind: str) -> None:
        target, folder = tmp_path / "photos", tmp_path / "out" / ".chunks"
        folder.parent.mkdir()
        folder.symlink_to(target)
        if kind == "a link to a store":
            Store(target).put(WEIR, b"water")
        elif kind == "a link":
            target.mkdir()
        with pytest.raises(FileError) as caught:
            Store(folder)
        assert str(caught.value) == (
            f"{folder}: this is a link, and barcross removes files from this folder. Remove the link, "
            "or choose another place with --out."
        )

    def test_a_folder_with_other_files_is_refused(self, tmp_path: Path) -> None:
        (tmp_path / "holiday.jpg").write_bytes(b"mine")
        (tmp_path / WEIR).write_bytes(b"mine")
        with pytest.raises(FileError) as caught:
            Store(tmp_path)
        assert str(caught.value) == (
            f"{tmp_path}: barcross did not make this folder: it holds holiday.jpg. Move it, "
            "or choose another place with --out."
        )

    def test_a_file_in_its_place_is_refused(self, tmp_path: Path) -> None:
        path = tmp_path / ".chunks"
        path.write_bytes(b"mine")
        with pytest.raises(FileError) as caught:
            Store(path)
        assert str(caught.value) == (
            f"{path}: barcross needs a folder of this name. Move the file, or choose another place with --out."
        )

    @pytest.mark.parametrize("tagged", [True, False])
    def test_a_folder_of_entries_is_ours_with_and_without_its_tag(self, store: Store, tagged: bool) -> None:
        store.put(WEIR, b"water")
        (store.folder / ".barcross-0123456789abcdef").write_bytes(b"half")
        if not tagged:
            (store.folder / TAG).unlink()
        again = Store(store.folder)
        assert again.get(WEIR) == b"water"
        again.put(RACE, b"race")
        assert (store.folder / TAG).read_bytes() == TAG_TEXT

    def test_a_tag_that_somebody_else_wrote_says_nothing(self, tmp_path: Path) -> None:
        (tmp_path / TAG).write_bytes(TAG_TEXT.splitlines()[0] + b"\n# Made by another program.\n")
        with pytest.raises(FileError, match=r"it holds CACHEDIR\.TAG"):
            Store(tmp_path)
