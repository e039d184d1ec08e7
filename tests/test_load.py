"""Spec files: what is read, and what is told of a file that is at fault, in full text."""

import random
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from renderer.core.errors import FileError, Problem, SpecError
from renderer.reading.load import load, parse, parse_spec
from renderer.spec.model import Spec
from tests.messages import in_one_voice
from tests.spec_texts import EVERYTHING

SPECS = sorted((Path(__file__).parent.parent / "specs").glob("*.yaml"))

HEAD = "tempo: 112\nmeter: 4/4\npulse: 1/16\nfigures: {kiln: [5, 3, 3]}\n"
FORM = "form:\n  - section: Theme\n    bars: 12\n    plays: kiln\n"


def told(text: str) -> str:
    """All that is told of a spec at fault."""
    with pytest.raises(SpecError) as caught:
        parse_spec(text, "kiln.yaml")
    return str(in_one_voice(caught.value, text))


def outcome(text: str) -> Spec | SpecError:
    """What reading `text` comes to; anything else is raised."""
    try:
        return parse_spec(text, "x")
    except SpecError as error:
        return in_one_voice(error, text)


def test_there_are_examples() -> None:
    assert SPECS


@pytest.mark.parametrize("path", SPECS, ids=lambda path: path.name)
def test_every_example_is_read(path: Path) -> None:
    assert load(path).spec.form


def test_a_title_is_the_file_name_unless_given() -> None:
    assert parse_spec(HEAD + FORM, "folder/kiln-song.yaml").title == "kiln-song"
    assert parse_spec("title: Kiln Song\n" + HEAD + FORM, "x").title == "Kiln Song"


def test_a_byte_order_mark_and_any_line_break_are_fine(tmp_path: Path) -> None:
    plain = parse_spec(HEAD + FORM, "a")
    path = tmp_path / "a.yaml"
    path.write_bytes(b"\xef\xbb\xbf" + (HEAD + FORM).replace("\n", "\r\n").encode())
    assert load(path).spec == plain
    assert parse_spec("\ufeff" + HEAD + FORM, "a") == plain


def test_all_faults_are_told_at_once_in_the_order_of_the_text() -> None:
    text = (
        HEAD.replace("112", "-112")
        + FORM.replace("12\n", "0\n").replace("kiln\n", "klin\n")
        + "fermata: {x: 3}\n"
    )
    assert (
        told(text)
        == """\
kiln.yaml:1:8: tempo: got -112; a tempo is 1 to 1,000 quarter notes a minute.
    tempo: -112
           ^
  Write 112, or a metronome mark such as 3/8 = 76.
kiln.yaml:7:11: form[0].bars: got 0; a section has at least 1 bar.
        bars: 0
              ^
kiln.yaml:8:12: form[0].plays: there is no figure klin.
        plays: klin
               ^
  Write kiln? There are: kiln.
kiln.yaml:9:11: fermata.x: got x; a position is a bar, bar.beat or bar.beat.pulse.
    fermata: {x: 3}
              ^
  Write 9, 9.3 or 9.3.2; -1 is the last bar."""
    )


WHOLE_FILES = [
    (
        "",
        """\
kiln.yaml:1:1: the spec is empty.
  A spec begins with lines such as title: Kiln Song and tempo: 112.""",
    ),
    (
        "- title: Kiln\n",
        """\
kiln.yaml:1:1: got a list; a spec belongs here.
    - title: Kiln
    ^
  Write keys and values, one a line: title: Kiln Song.""",
    ),
    (
        "Kiln Song\n",
        """\
kiln.yaml:1:1: got a text (Kiln Song); a spec belongs here.
    Kiln Song
    ^
  Write keys and values, one a line: title: Kiln Song.""",
    ),
    (
        "title: !!python/object/apply:os.system ['ls']\n" + HEAD + FORM,
        """\
kiln.yaml:1:8: title: !!python/object/apply:os.system: YAML reads this as a tag; a spec has none.
    title: !!python/object/apply:os.system ['ls']
           ^
  Remove it, or put quotes around the text: "!!python/object/apply:os.system".""",
    ),
    (
        HEAD + FORM + "    harmony: {1:Em, 5: G}\n",
        """\
kiln.yaml:9:15: form[0].harmony.1:Em: no value is given.
        harmony: {1:Em, 5: G}
                  ^
  Write a space after the colon: 1: Em.""",
    ),
    (
        HEAD + FORM + "    harmony: {1: C7,b9}\n",
        """\
kiln.yaml:9:21: form[0].harmony.b9: no value is given.
        harmony: {1: C7,b9}
                        ^
  A text with a comma in it needs quotes: "C7,b9".""",
    ),
    (
        HEAD + FORM + "    harmony: {1: Em, almost}\n",
        """\
kiln.yaml:9:22: form[0].harmony.almost: no value is given.
        harmony: {1: Em, almost}
                         ^
  Several values need brackets: [Em, almost]; a text with a comma in it needs quotes: "Em, almost".""",
    ),
    (
        HEAD + FORM + "    harmony: {1: F #m, 5: G}\n",
        """\
kiln.yaml:9:20: #m is cut off: # after a space begins a comment.
        harmony: {1: F #m, 5: G}
                       ^
  Put quotes around the text that holds #m; a comment is "# " with a space.""",
    ),
    (
        HEAD + FORM + "tempo: 90\n",
        """\
kiln.yaml:9:1: tempo: given twice, first in line 1.
    tempo: 90
    ^
  Keep one of the two.""",
    ),
    (
        HEAD + "form: [{section: A, bars: 1000000000}]\n",
        """\
kiln.yaml:5:27: form[0].bars: got 1000000000; a piece has at most 100,000 bars.
    form: [{section: A, bars: 1000000000}]
                              ^""",
    ),
    (
        HEAD.replace("tempo: 112", "tempo:112") + FORM,
        """\
kiln.yaml:1:1: no space after the colon.
    tempo:112
    ^
  Write tempo: 112, with a plain space.""",
    ),
    (
        HEAD + FORM + "    harmony:{1: Em}\n",
        """\
kiln.yaml:9:5: form[0].harmony:{1: no space after the colon.
        harmony:{1: Em}
        ^
  Write harmony: with a space after it.""",
    ),
    (
        HEAD.replace("[5, 3, 3]", "[5 3 3]") + FORM,
        """\
kiln.yaml:4:18: figures.kiln[0]: got 5 3 3; a comma stands between groups.
    figures: {kiln: [5 3 3]}
                     ^
  Write 5, 3, 3.""",
    ),
    (
        HEAD + "form:\n  - section: A\n    bars:12\n",
        """\
kiln.yaml:7:5: no space after the colon.
        bars:12
        ^
  Write bars: 12, with a plain space.""",
    ),
    (
        HEAD + FORM + "    parts: {kit: {1: metre}}\nparts: {bell: figure, kit: figure}\n",
        """\
kiln.yaml:9:22: form[0].parts.kit.1: metre is not a side.
        parts: {kit: {1: metre}}
                         ^
  Write meter? There are: figure, meter, tacet, main.""",
    ),
    (
        HEAD.replace("[5, 3, 3]", "{group: [5, 3, 3]}") + FORM,
        """\
kiln.yaml:4:18: figures.kiln.group: a figure has no such key.
    figures: {kiln: {group: [5, 3, 3]}}
                     ^
  Write groups? There are: groups, hits, accents, pulse, from.""",
    ),
]


@pytest.mark.parametrize(("text", "expected"), WHOLE_FILES)
def test_a_file_at_fault_is_told_in_full(text: str, expected: str) -> None:
    assert told(text) == expected


def test_a_long_line_is_shown_around_its_caret() -> None:
    sections = ", ".join(f"{{section: A{n}, bars: 4}}" for n in range(20))
    message = told(HEAD + f"form: [{sections}, {{section: Z, bars: x}}]\n")
    head, excerpt, caret = message.splitlines()
    assert head == "kiln.yaml:5:517: form[20].bars: got x; bars is a whole number, at least 1."
    assert excerpt[caret.index("^")] == "x"
    assert len(excerpt) < 110
    assert excerpt.strip().startswith("…")


def test_a_caret_stands_under_wide_letters_too() -> None:
    _, excerpt, caret, _ = told(HEAD + FORM + "harmony: {太鼓: Em, 1.0: G}\n").splitlines()[4:]
    assert excerpt == "    harmony: {太鼓: Em, 1.0: G}"
    assert caret == "                        ^", "two columns for each wide letter, as terminals show them"


def test_a_fault_that_an_alias_repeats_is_told_once() -> None:
    text = (
        HEAD
        + "form:\n  - section: A\n    bars: 4\n    harmony: &h {1.0: Em}\n  - again: A\n    harmony: *h\n"
    )
    assert told(text).count("got 1.0") == 1


def test_more_than_a_hundred_faults_are_counted() -> None:
    text = (
        HEAD
        + "form: [{section: A, bars: 4}]\nharmony: {"
        + ", ".join(f"{n}.0: E" for n in range(1, 251))
        + "}\n"
    )
    assert told(text).splitlines()[-1] == "kiln.yaml: and 150 more."


def test_what_a_spec_holds_never_reaches_a_terminal_as_control_codes() -> None:
    assert "\x1b" not in told(HEAD + FORM + 'harmony: {"\\e[31m": Em}\n')


def test_problems_found_later_are_shown_in_the_text() -> None:
    loaded = parse(HEAD + FORM + "    harmony: {1: Em, 14: G}\n", "kiln.yaml")
    later = Problem(("form", 0, "harmony", "14"), "there is no bar 14.", "The last one is 12.", on_key=True)
    with pytest.raises(SpecError) as caught, loaded.placing():
        raise SpecError([later])
    assert str(caught.value) == (
        "kiln.yaml:9:22: form[0].harmony.14: there is no bar 14.\n"
        "        harmony: {1: Em, 14: G}\n"
        "                         ^\n"
        "  The last one is 12."
    )
    assert loaded.source.where(("form", 0, "bars")) == "kiln.yaml:7:11"
    assert loaded.source.where(("form", 0, "bars"), on_key=True) == "kiln.yaml:7:5"
    assert loaded.source.where(("form", 0, "plays", 0, "figure")) == "kiln.yaml:8:12", (
        "as far as the path leads"
    )


def test_files_that_cant_be_read_are_told(tmp_path: Path) -> None:
    with pytest.raises(FileError) as caught:
        load(tmp_path / "kiln.yaml")
    assert str(caught.value) == f"{tmp_path}/kiln.yaml: no such file. Write one with: barcross new kiln"
    with pytest.raises(FileError) as caught:
        load(tmp_path / "kiln weir.yaml")
    assert str(caught.value).endswith("no such file. Write one with: barcross new 'kiln weir'")
    (tmp_path / "weir.yaml").touch()
    with pytest.raises(FileError) as caught:
        load(tmp_path / "weir")
    assert str(caught.value) == f"{tmp_path}/weir: no such file. Write {tmp_path}/weir.yaml."
    with pytest.raises(FileError) as caught:
        load(tmp_path)
    assert str(caught.value) == f"{tmp_path}: this is a folder; name the spec file in it."
    path = tmp_path / "latin.yaml"
    path.write_bytes("tempo: 112\ntitle: Ä caf".encode() + "é\n".encode("latin-1"))
    with pytest.raises(FileError) as caught:
        load(path)
    assert str(caught.value) == f"{path}:2:13: this is not UTF-8 (byte 25 is 0xe9). Save the file as UTF-8."


@pytest.mark.parametrize(
    ("data", "place", "byte"),
    [
        (b"\xef\xbb\xbftitle: caf\xe9\n", "1:11", "14 is 0xe9"),
        (b"\xef\xbb\xbfa: 1\r\nb: \xc3\xa9\xe9\n", "2:5", "15 is 0xe9"),
        (b"\xef\xbb\xbf\xff", "1:1", "4 is 0xff"),
        (b"a: 1\rb: \xff", "2:4", "9 is 0xff"),
    ],
)
def test_a_bad_byte_has_its_place_behind_a_byte_order_mark_too(
    tmp_path: Path, data: bytes, place: str, byte: str
) -> None:
    path = tmp_path / "a.yaml"
    path.write_bytes(data)
    with pytest.raises(FileError) as caught:
        load(path)
    assert str(caught.value) == f"{path}:{place}: this is not UTF-8 (byte {byte}). Save the file as UTF-8."


def test_a_character_beyond_unicode_is_a_mistake_with_its_place() -> None:
    assert (
        told('title: "\\U00110000"\n' + HEAD + FORM)
        == """\
kiln.yaml:1:9: a backslash that YAML does not understand.
    title: "\\U00110000"
            ^
  Use 'single quotes' for a text with a backslash in it."""
    )


def test_a_file_without_end_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "film.yaml"
    with path.open("wb") as file:
        file.truncate(10**10)
    with pytest.raises(FileError, match="this is not a spec; a spec has at most 8,000,000 bytes"):
        load(path)


@pytest.mark.parametrize("data", [b"\xff\xfet\x00", b"\x00" * 40, b"\xef\xbb", b"\x89PNG\r\n\x1a\n\x00"])
def test_binary_files_are_refused(tmp_path: Path, data: bytes) -> None:
    path = tmp_path / "a.yaml"
    path.write_bytes(data)
    with pytest.raises((FileError, SpecError)):
        load(path)


@settings(max_examples=400, deadline=None)
@given(st.text())
def test_any_text_gives_a_spec_or_an_error(text: str) -> None:
    assert str(outcome(text))


SNIPPETS = [
    *"{}[],:#&*!|>'\"%@`?-\t\n x0.",
    ": ",
    " #m",
    "- ",
    "\n    ",
    "again: Theme",
    "voices: {a: on}",
    "{to: 80}",
    "repeat: 3",
    "999999999999",
    "-1",
    "\u00a0",
    "\x85",
    "é",
    "𝄞",
]


@settings(max_examples=400, deadline=None)
@given(st.integers(), st.integers(1, 4))
def test_a_damaged_spec_gives_a_spec_or_an_error(seed: int, cuts: int) -> None:
    chance = random.Random(seed)
    text = EVERYTHING
    for _ in range(cuts):
        start = chance.randrange(len(text))
        end = start + chance.choice([0, 0, 1, 2, 8, 40])
        text = text[:start] + chance.choice(SNIPPETS) * chance.choice([0, 1, 1, 2]) + text[end:]
    found = outcome(text)
    assert isinstance(found, Spec) or (found.problems and str(found).startswith("x:"))


def test_ten_thousand_bars_are_read_without_a_hang() -> None:
    entries = ", ".join(f"{n}: Em{n % 7}" for n in range(1, 10_001))
    spec = parse_spec(
        HEAD + f"harmony: {{{entries}}}\nform: [{{section: A, bars: 10000, plays: kiln}}]\n", "x"
    )
    assert len(spec.harmony) == 10_000
