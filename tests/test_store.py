"""Kept pieces: whole, checked, dropped when they were used longest ago."""

import os
import time
from pathlib import Path

import pytest

from renderer.core.errors import FileError
from renderer.video.store import Store


@pytest.fixture
def store(tmp_path: Path) -> Store:
    return Store(tmp_path / "films" / ".chunks")


def age(store: Store, name: str, seconds: float) -> None:
    then = time.time() - seconds
    os.utime(store.folder / name, (then, then))


def test_what_is_put_in_comes_out(store: Store) -> None:
    assert store.get("weir") is None
    assert store.names() == frozenset()
    store.put("weir", b"\0water")
    store.put("empty", b"")
    assert store.get("weir") == b"\0water"
    assert store.get("empty") == b""
    assert store.names() == {"weir", "empty"}


@pytest.mark.parametrize("spoil", ["cut", "emptied", "one bit"])
def test_a_damaged_entry_counts_as_missing(store: Store, spoil: str) -> None:
    store.put("weir", bytes(1000))
    path = store.folder / "weir"
    data = bytearray(path.read_bytes())
    data[500] ^= 1
    path.write_bytes({"cut": bytes(data[:400]), "emptied": b"", "one bit": bytes(data)}[spoil])
    assert store.get("weir") is None
    store.put("weir", b"again")
    assert store.get("weir") == b"again"


def test_what_was_used_longest_ago_is_dropped_first(store: Store) -> None:
    for number, name in enumerate(("first", "second", "third")):
        store.put(name, bytes(1000))
        age(store, name, 9000 - number)
    store.get("first")
    age(store, "first", 8000)
    store.prune(largest=2100, in_use_seconds=3600)
    assert store.names() == {"first", "third"}


def test_what_another_render_may_be_using_stays(store: Store) -> None:
    store.put("old", bytes(1000))
    age(store, "old", 9000)
    store.put("new", bytes(1000))
    store.prune(largest=10, in_use_seconds=3600)
    assert store.names() == {"new"}


def test_leftovers_of_a_killed_render_are_dropped(store: Store) -> None:
    store.put("weir", b"water")
    for name, seconds in ((".weir-1234abcd", 9000), (".weir-5678abcd", 10)):
        (store.folder / name).write_bytes(bytes(100))
        age(store, name, seconds)
    store.prune()
    assert {path.name for path in store.folder.iterdir()} == {"weir", ".weir-5678abcd"}


def test_clearing_leaves_nothing(store: Store) -> None:
    store.clear()
    store.put("weir", b"water")
    store.clear()
    assert not store.folder.exists()


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("")
    with pytest.raises(FileError, match="taken"):
        Store(tmp_path / "taken" / ".chunks").put("weir", b"water")
