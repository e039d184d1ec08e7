"""What the page does to a spec's text: numbers stepped, mistakes mended, files written whole or not at all."""

import os
from pathlib import Path
from shutil import which
from subprocess import run
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from renderer.core.errors import FileError
from renderer.page.changes import value_extent, with_bar_count, with_plays, with_top_value
from renderer.page.editions import read_edition
from renderer.page.facts import finding_facts
from renderer.page.rewriting import ChangedError, read_file, rewrite
from renderer.page.two_texts import stretches
from renderer.reading.load import parse_spec
from tests.lessons import EXAMPLE, SHORT
from tests.spec_texts import EVERYTHING

PATH = Path("weir.yaml")

SHAPES = [
    (
        "form:\n  - section: A\n    bars: 12   # twelve\n    plays: x\n",
        "form:\n  - section: A\n    bars: 8   # twelve\n    plays: x\n",
    ),
    ("form: [{section: A, bars: 12}]", "form: [{section: A, bars: 8}]"),
    ("form:\n- {bars: '12', section: A}  # ä♯ é\n", "form:\n- {bars: 8, section: A}  # ä♯ é\n"),
    ("# 𝄞 bars: 12\r\nform:\r\n- bars: 12\r\n", "# 𝄞 bars: 12\r\nform:\r\n- bars: 8\r\n"),
    ("form:\n  - section: A\n    bars:\n      12\n", "form:\n  - section: A\n    bars:\n      8\n"),
]


@pytest.mark.parametrize(("before", "after"), SHAPES)
def test_a_bar_count_is_written_where_it_stands_and_all_else_stays(before: str, after: str) -> None:
    assert with_bar_count(before, ("form", 0), 8) == after


def test_where_no_bar_count_stands_none_is_written() -> None:
    assert with_bar_count("form: [{again: A}]", ("form", 0), 8) is None
    assert with_bar_count("form: [", ("form", 0), 8) is None
    assert with_bar_count("form: [{section: A, bars: 3}]", ("form", 4), 8) is None


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10), st.integers(1, 400))
def test_only_the_stepped_entry_has_another_number(entry: int, count: int) -> None:
    """In a spec with everything in it, each entry that gives its bars can be stepped, and the rest reads as before."""
    spec = parse_spec(EVERYTHING, "kiln")
    changed = with_bar_count(EVERYTHING, ("form", entry), count)
    gives = entry < len(spec.form) and value_extent(EVERYTHING, ("form", entry, "bars")) is not None
    assert (changed is not None) == gives
    if changed is None:
        return
    before, after = EVERYTHING.split("\n"), changed.split("\n")
    differing = [index for index, pair in enumerate(zip(before, after, strict=True)) if pair[0] != pair[1]]
    assert len(differing) <= 1
    edition = read_edition(changed, Path("kiln.yaml"))
    if edition.sound and edition.laid:
        assert edition.laid.lesson.spec.form[entry].bar_count == count


def test_a_value_at_the_top_is_replaced_or_added() -> None:
    assert (
        with_top_value("a: [1]  # x\nsync: {1: 0.5,\n  3: 2}\n", "sync", "{1: 1}")
        == "a: [1]  # x\nsync: {1: 1}\n"
    )
    assert with_top_value("a: 1", "sync", "{1: 1}") == "a: 1\nsync: {1: 1}\n"


def test_plays_are_written_for_their_voice_alone() -> None:
    text = "figures:\n  x: [3]\nform:\n  - section: A\n    plays: {one: x, two: x}  # both\n"
    assert with_plays(text, ("form", 0), "two", "[y]", ["y: [4]"]) == (
        "figures:\n  y: [4]\n  x: [3]\nform:\n  - section: A\n    plays: {one: x, two: [y]}  # both\n"
    )
    assert with_plays("form: [{plays: {one:  \n - x\n}}]", ("form", 0), "one", "[y]", ()) is None


@pytest.mark.parametrize("path", sorted(EXAMPLE.parent.glob("*.yaml")), ids=lambda path: path.stem)
def test_each_way_to_land_that_is_offered_lands(path: Path) -> None:
    """Written into the text, nothing that the list plays is cut any more at that section's end."""
    text = path.read_text(encoding="utf-8")
    edition = read_edition(text, path)
    assert edition.laid is not None
    found = finding_facts(edition.laid, text)
    for way in found["ways"]:
        changed = read_edition(way["text"], path, edition.laid)
        assert not changed.mistakes, way
        assert changed.laid is not None
        left = finding_facts(changed.laid, way["text"])["ways"]
        assert [way["section"], way["voice"], way["words"]] not in [
            [other["section"], other["voice"], other["words"]] for other in left
        ]


@pytest.mark.parametrize(
    ("written", "wrong", "words"),
    [
        ("plays: weir", "plays: wier", ["weir", "eddy"]),
        ("drum: meter", "drum: metre", ["meter"]),
        ("tempo: 137", "tempo: 137bpm", ["137"]),
        ("[figure, spread, play]", "[figure, spred, play]", ["spread"]),
        ("bars: 3", "brs: 3", ["bars"]),
        ("harmony: {1: Dm, 2.3: Bb}", "harmony: {1: Dm, 9.3: Bb}", []),
    ],
)
def test_a_mistake_has_its_place_and_words_that_mend_it(written: str, wrong: str, words: list[str]) -> None:
    text = SHORT.replace(written, wrong, 1)
    good = read_edition(SHORT, PATH)
    edition = read_edition(text, PATH, good.laid)
    assert edition.laid is good.laid
    mistake = edition.mistakes[0]
    line = text.split("\n")[mistake.line - 1]
    assert mistake.excerpt == line
    assert line[mistake.start : mistake.start + mistake.length] in wrong
    assert set(words) <= {choice.word for choice in mistake.choices}
    for choice in mistake.choices:
        mended = read_edition(choice.text, PATH)
        assert len(mended.mistakes) < len(edition.mistakes), choice.word
    if words:
        assert mistake.choices[0].word == words[0]
        assert read_edition(mistake.choices[0].text, PATH).sound


LINES = st.lists(st.sampled_from("abcd"), max_size=8).map("\n".join)


@given(LINES, LINES, LINES)
def test_two_texts_are_parted_so_that_each_can_be_put_together_again(base: str, mine: str, file: str) -> None:
    found = stretches(base, mine, file)
    assert "\n".join(line for stretch in found for line in stretch.mine) == mine
    assert "\n".join(line for stretch in found for line in stretch.file) == file
    for stretch in found:
        assert (stretch.changed == "") == (stretch.mine == stretch.file)
    if mine == base:
        assert all(stretch.changed in ("", "file") for stretch in found)
    if file == base:
        assert all(stretch.changed in ("", "mine") for stretch in found)


@pytest.mark.skipif(which("diff3") is None, reason="diff3 is not here")
@settings(max_examples=25, deadline=None)
@given(LINES, LINES, LINES)
def test_what_only_one_has_changed_is_merged_as_diff3_does(base: str, mine: str, file: str) -> None:
    """GNU diff3 is the reference, wherever it finds nothing that both have changed."""
    with TemporaryDirectory() as folder:
        paths = [Path(folder, name) for name in ("mine", "base", "file")]
        for path, text in zip(paths, (mine, base, file), strict=True):
            path.write_text(text + "\n")
        merged = run(["diff3", "-m", *map(str, paths)], capture_output=True, text=True, check=False)
    found = stretches(base, mine, file)
    if merged.returncode == 0 and all(stretch.changed != "both" for stretch in found):
        taken = [line for s in found for line in (s.file if s.changed == "file" else s.mine)]
        assert "\n".join(taken) + "\n" == merged.stdout


def test_a_text_that_is_no_yaml_keeps_the_last_lesson() -> None:
    good = read_edition(SHORT, PATH)
    edition = read_edition("form: [", PATH, good.laid)
    assert edition.laid is good.laid
    assert edition.mistakes
    assert not edition.sound


def test_a_rewrite_keeps_line_ends_the_mark_and_who_may_read(tmp_path: Path) -> None:
    path = tmp_path / "a.yaml"
    path.write_bytes(b"\xef\xbb\xbfa: 1\r\nb: 2\r\n")
    path.chmod(0o640)
    seen = read_file(path)
    assert seen.text == "a: 1\nb: 2\n"
    rewrite(path, "a: 1\nb: 3\n", seen)
    assert path.read_bytes() == b"\xef\xbb\xbfa: 1\r\nb: 3\r\n"
    assert os.name == "nt" or path.stat().st_mode & 0o777 == 0o640
    assert [file.name for file in tmp_path.iterdir()] == ["a.yaml"]


def test_a_rewrite_goes_through_a_link(tmp_path: Path) -> None:
    real, link = tmp_path / "real.yaml", tmp_path / "link.yaml"
    real.write_text("a: 1\n")
    link.symlink_to(real)
    rewrite(link, "a: 2\n", read_file(link))
    assert link.is_symlink()
    assert real.read_text() == "a: 2\n"


def test_nothing_is_written_over_what_has_not_been_seen(tmp_path: Path) -> None:
    path = tmp_path / "a.yaml"
    with pytest.raises(FileError):
        read_file(path)
    rewrite(path, "a: 1\n", None)
    seen = read_file(path)
    path.write_text("a: 2\n")
    with pytest.raises(ChangedError, match="was changed elsewhere"):
        rewrite(path, "a: 3\n", seen)
    with pytest.raises(ChangedError):
        rewrite(path, "a: 3\n", None)
    path.unlink()
    with pytest.raises(ChangedError, match="no longer there"):
        rewrite(path, "a: 3\n", seen)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no full disk to try")
def test_a_full_disk_leaves_the_file_as_it_was(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "a.yaml"
    path.write_text("a: 1\n")
    seen = read_file(path)
    write = os.write

    def full(handle: int, data: bytes) -> int:
        raise OSError(28, os.strerror(28))

    monkeypatch.setattr(os, "write", full)
    with pytest.raises(FileError, match=r"disk is full|no room|No space"):
        rewrite(path, "a: 2\n", seen)
    monkeypatch.setattr(os, "write", write)
    assert path.read_text() == "a: 1\n"
    assert [file.name for file in tmp_path.iterdir()] == ["a.yaml"]
