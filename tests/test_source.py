"""YAML to nodes: everything is text, places are those of an editor, silent damage is told."""

import sys
from collections.abc import Sequence

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from renderer.core.errors import Problem, SpecError, TextPlace
from renderer.reading.yaml import nodes as source
from renderer.reading.yaml.nodes import Node, Pairs, Rows, Text, read_tree


def plain(node: Node) -> object:
    """The tree without places."""
    if isinstance(node, Text):
        return node.text
    if isinstance(node, Rows):
        return [plain(item) for item in node.items]
    return {key.text: plain(child) for key, child in node.pairs} if isinstance(node, Pairs) else None


@pytest.mark.parametrize(
    "word",
    [
        "3.1",
        "9.10",
        "010",
        "on",
        "no",
        "N.C.",
        "1:30",
        "~",
        "null",
        "0x10",
        "1e3",
        "2024-01-01",
        ".5",
        "<<",
        "=",
        "-4",
    ],
)
def test_a_scalar_is_its_text_whatever_it_looks_like(word: str) -> None:
    root, problems = read_tree(f"key: {word}\nlist: [{word}, '{word}']\n{word}: value\n")
    assert plain(root) == {"key": word, "list": [word, word], word: "value"}
    assert problems == []


def test_every_key_and_value_knows_its_line_and_column() -> None:
    root, _ = read_tree("title: Kiln\nform:\n  - section: Ä♯\n    bars: 12\n")
    assert isinstance(root, Pairs)
    form = root.pairs[1][1]
    assert isinstance(form, Rows)
    entry = form.items[0]
    assert isinstance(entry, Pairs)
    assert [(key.place, child.place) for key, child in entry.pairs] == [
        (TextPlace(3, 5), TextPlace(3, 14)),
        (TextPlace(4, 5), TextPlace(4, 11)),
    ]


@pytest.mark.parametrize("line_break", ["\n", "\r\n", "\r"])
def test_places_hold_for_any_line_break(line_break: str) -> None:
    root, _ = read_tree(line_break.join(["title: a", "# remark", "bars: 3"]))
    assert isinstance(root, Pairs)
    assert root.pairs[1][0].place == TextPlace(3, 1)


ACCENTS = "Accents are pulse numbers: {{groups: [5, 3, 3], accents: [{}]}}."


@pytest.mark.parametrize(
    ("text", "mends"),
    [
        ("a: [!5, 3, 3]\n", [ACCENTS.format(1)]),
        ("a: [*5, 3, *3]\n", [ACCENTS.format("1, 9")] * 2),
        ("a: {1: Em, 2,3: G}\n", ["Write a position with a point: 2.3."]),
        ("a: {1: C7,b9, 2: G}\n", ['A text with a comma in it needs quotes: "C7,b9".']),
    ],
)
def test_signs_and_commas_that_yaml_reads_otherwise_have_their_mends(text: str, mends: list[str]) -> None:
    problems: Sequence[Problem]
    try:
        _, problems = read_tree(text)
    except SpecError as error:
        problems = error.problems
    assert [problem.mend for problem in problems] == mends


@pytest.mark.parametrize("row", ["5, !3, !3", "5, >3, >3"])
def test_a_sign_that_ends_the_reading_has_its_mend(row: str) -> None:
    with pytest.raises(SpecError) as caught:
        read_tree(f"a: [{row}]\n")
    assert [problem.mend for problem in caught.value.problems] == [ACCENTS.format("6, 9")]


def test_an_alias_stands_for_its_target_and_has_its_own_place() -> None:
    root, problems = read_tree("a: &x [1, 2]\nb: *x\n")
    assert plain(root) == {"a": ["1", "2"], "b": ["1", "2"]}
    assert isinstance(root, Pairs)
    assert root.pairs[1][1].place == TextPlace(2, 4)
    assert problems == []


# text, where, what is told
DAMAGE = [
    ("a: {k: [!5, 3]}\n", (1, 9), "!5: YAML reads this as a tag; a spec has none."),
    ("a: !!str 5\n", (1, 4), "!!str 5: YAML reads this as a tag; a spec has none."),
    ("a: !x {b: 1}\n", (1, 4), "!x: YAML reads this as a tag; a spec has none."),
    ("a: 1\nb: 2\na: 3\n", (3, 1), "given twice, first in line 1."),
    ("a: 1\n'a': 3\n", (2, 1), "given twice, first in line 1."),
    ("a:\n", (1, 1), "no value is given."),
    ("a: {1:Em}\n", (1, 5), "no value is given."),
    ("a: {1: C7,b9}\n", (1, 11), "no value is given."),
    ("a:\n  - b\n  -\n", (3, 4), "an entry with no value."),
    ("a: F #m\n", (1, 6), "#m is cut off: # after a space begins a comment."),
    ("title: Study #2\n", (1, 14), "#2 is cut off: # after a space begins a comment."),
    ("a: {b: F #m}\nc: 1\n", (1, 10), "#m is cut off: # after a space begins a comment."),
    ("a: [F\t#m]\n", (1, 7), "#m is cut off: # after a space begins a comment."),
    ("a: Em\n  - G\n", (1, 4), "this text runs on over 2 lines: Em - G."),
    ("a: *x\n", (1, 4), "*x: nothing is marked &x."),
    ("a: &x {b: *x}\n", (1, 11), "*x stands inside the value that it names."),
    ("a: &x\n", (1, 4), "&x has no value."),
    ("a: {: 3}\n", (1, 5), "no key stands before the colon."),
    ("? [a, b]\n: 3\n", (1, 3), "a list or map stands where a key belongs."),
    (": 3\n", (1, 1), "no key stands before the colon."),
]


@pytest.mark.parametrize(("text", "place", "told"), DAMAGE, ids=[text for text, _, _ in DAMAGE])
def test_what_yaml_passes_over_in_silence_is_told(text: str, place: tuple[int, int], told: str) -> None:
    problems: Sequence[Problem]
    try:
        _, problems = read_tree(text)
    except SpecError as error:
        problems = error.problems
    assert [(problem.place, problem.text) for problem in problems] == [(TextPlace(*place), told)]


@pytest.mark.parametrize(
    "text",
    [
        "a: F#m # a comment\n",
        "#a comment\na: 1\n",
        "   #comment\na: 1\n",
        "a: 'F #m'\n",
        'a: "Study #2"  # and so on #3\n',
        "a: |\n  Study #2\n  #3\nb: 1\n",
        'a: "one\n  two #2"\n',
        "a: 1 # see #4\n",
        "a: ['F #m', \"G #m\"]  # x\n",
    ],
)
def test_comments_and_quoted_number_signs_pass(text: str) -> None:
    assert read_tree(text)[1] == []


# text, place, what is told, mend
COMPLAINTS = [
    ("a:\n\tb: 1\n", (2, 1), "a tab.", "Indent with spaces; YAML does not allow tabs."),
    ("a: %x\n", (1, 4), "a text can't begin with %.", "A text that begins with % needs quotes."),
    ("a: @x\n", (1, 4), "a text can't begin with @.", "A text that begins with @ needs quotes."),
    ("a: `x\n", (1, 4), "a text can't begin with `.", "A text that begins with ` needs quotes."),
    ("a: ? x\n", (1, 4), "a text can't begin with ? here.", "A text that begins with ? needs quotes."),
    ("a: * x\n", (1, 5), "a text can't begin with * here.", "A text that begins with * needs quotes."),
    ('a: "Em\nb: 1\n', (1, 4), "a quote that is never closed.", "Write the closing quote."),
    ("a: 'Em\nb: 1\n", (1, 4), "a quote that is never closed.", "Write the closing quote."),
    (
        "a: [b, c\nd: 1\n",
        (1, 4),
        "a list that is not closed, or a comma that is missing.",
        "Look for the missing ] or comma.",
    ),
    (
        "a: {b: c\nd: 1\n",
        (1, 4),
        "a map that is not closed, or a comma that is missing.",
        "Look for the missing } or comma.",
    ),
    ("a: [b]]\n", (1, 7), "a ] where a value belongs.", "Look for a bracket or comma too many."),
    (
        "a: 1\n  b: 2\n",
        (2, 4),
        "a colon where none can stand.",
        "Begin the line in the same column as its neighbours; a text with a colon and a space in it needs quotes.",
    ),
    (
        "a:\n  - b: 1\n   c: 2\n",
        (3, 4),
        "this line does not line up with what stands before.",
        "Begin it in the same column as its neighbours.",
    ),
    ("a: 1\nbars:12\n", (2, 1), "no space after the colon.", "Write bars: 12, with a plain space."),
    (
        "a: 1\nbars:12\n\nb: 3\n",
        (2, 1),
        "no space after the colon.",
        "Write bars: 12, with a plain space.",
    ),
    (
        "a:\n  - b:\u00a01\n    c: 2\n",
        (2, 5),
        "a no-break space after the colon.",
        "Write b: 1, with a plain space.",
    ),
    (
        "a: 1\nbars:\u00a012\n",
        (2, 1),
        "a no-break space after the colon.",
        "Write bars: 12, with a plain space.",
    ),
    (
        'a: "b" c\n',
        (1, 8),
        "something follows a closing quote or bracket.",
        "Remove it, or move the quote or bracket.",
    ),
    (
        "a: - b\n",
        (1, 4),
        "a list can't begin on its key's line.",
        "Put each dash on a line of its own, or write [a, b].",
    ),
    (
        'a: "\\q"\n',
        (1, 5),
        "a backslash that YAML does not understand.",
        "Use 'single quotes' for a text with a backslash in it.",
    ),
    (
        'a: "x\\U00110000"\n',
        (1, 6),
        "a backslash that YAML does not understand.",
        "Use 'single quotes' for a text with a backslash in it.",
    ),
    (
        "a: b\x07\n",
        (1, 5),
        "a character that can't be shown (U+0007).",
        "Remove it, and save the file as plain text.",
    ),
    ("a: 1\n---\nb: 2\n", (2, 1), "a second document begins here; a spec is one.", "Remove the line ---."),
]


@pytest.mark.parametrize(("text", "place", "told", "mend"), COMPLAINTS, ids=[text for text, *_ in COMPLAINTS])
@pytest.mark.parametrize("loader", [source._LOADER, yaml.SafeLoader])
def test_complaints_are_told_in_plain_words_with_either_parser(
    loader: type, text: str, place: tuple[int, int], told: str, mend: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(source, "_LOADER", loader)
    with pytest.raises(SpecError) as caught:
        read_tree(text)
    assert [(each.place, each.text, each.mend) for each in caught.value.problems] == [
        (TextPlace(*place), told, mend)
    ]


@pytest.mark.parametrize("text", ["", "\n\n", "# nothing but a remark\n", "---\n"])
def test_an_empty_file_is_told_as_such(text: str) -> None:
    with pytest.raises(SpecError, match="the spec is empty"):
        read_tree(text)


@pytest.mark.parametrize(
    "text", ["a: " + "[" * 500, "a: " + "[" * 500 + "]" * 500, "{a: " * 5_000, "- " * 5_000]
)
def test_too_deep_a_nest_is_told_at_once(text: str) -> None:
    with pytest.raises(SpecError) as caught:
        read_tree(text)
    assert [each.text for each in caught.value.problems] == [
        "lists and maps inside each other, more than 30 deep."
    ]


def bomb(levels: int, width: int) -> str:
    rows = ["l0: &l0 [" + ", ".join(["x"] * width) + "]"]
    rows += [f"l{n}: &l{n} [" + ", ".join([f"*l{n - 1}"] * width) + "]" for n in range(1, levels)]
    return "\n".join(rows)


def test_an_alias_bomb_is_told_without_being_walked() -> None:
    with pytest.raises(SpecError) as caught:
        read_tree(bomb(levels=25, width=10))
    assert caught.value.problems[0].text == "more than 60,000 values, what * repeats counted in."


def test_aliases_within_the_budget_are_fine() -> None:
    root, problems = read_tree(bomb(levels=4, width=5))
    assert problems == []
    assert isinstance(root, Pairs)
    assert str(plain(root.pairs[-1][1])).count("x") == 5**4


def test_too_long_a_text_is_refused() -> None:
    with pytest.raises(SpecError, match="2,000,010 characters; a spec has at most 2,000,000"):
        read_tree("a" * 2_000_010)


WORDS = st.text(st.characters(categories=("L", "N", "P", "S", "Zs")), min_size=1, max_size=12)
VALUES = st.recursive(
    WORDS,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(WORDS, inner, max_size=4),
    max_leaves=20,
)


@settings(max_examples=150, deadline=None)
@given(st.dictionaries(WORDS, VALUES, min_size=1, max_size=5))
def test_what_a_yaml_library_writes_is_read_back(value: dict[str, object]) -> None:
    # PyYAML's own writer as the other side: quoted text throughout, so that nothing is retyped.
    text = yaml.safe_dump(value, allow_unicode=True, default_style='"', width=10**6)
    text = text.replace("!!str ", "")
    root, problems = read_tree(text)
    assert plain(root) == value
    assert problems == []


MARKS = st.text(st.sampled_from("{}[],:#&*!|>'\"%@`?- \nab1"), max_size=20)


def placed(node: Node) -> object:
    """The tree with its places; where nothing stands they are the parser's own business."""
    if isinstance(node, Pairs):
        return node.place, [(key, placed(child)) for key, child in node.pairs]
    return (node.place, [placed(item) for item in node.items]) if isinstance(node, Rows) else plain(node)


def outcome(text: str) -> tuple[object, list[Problem]] | None:
    """Tree and problems, None where reading stopped."""
    try:
        root, problems = read_tree(text)
    except SpecError:
        return None
    return placed(root), problems


@settings(max_examples=400, deadline=None)
@given(MARKS)
def test_the_parser_in_python_and_the_one_in_c_give_the_same_tree(text: str) -> None:
    quick = outcome(text)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(source, "_LOADER", yaml.SafeLoader)
        slow = outcome(text)
    # Each refuses a few texts that the other one takes; what both take they read alike.
    assert slow is None or quick is None or quick == slow


@given(st.lists(WORDS, min_size=1, max_size=6))
def test_text_means_the_same_quoted_or_not(words: list[str]) -> None:
    # PyYAML's writer quotes only where it must.
    plainest = yaml.dump({"a": words}, Dumper=yaml.SafeDumper, allow_unicode=True, width=10**6)
    root, problems = read_tree(plainest)
    assert plain(root) == {"a": words}
    assert problems == []


def test_no_recursion_is_needed_for_a_wide_and_deep_spec() -> None:
    limit = sys.getrecursionlimit()
    sys.setrecursionlimit(180)
    try:
        read_tree("a: " + "[" * 25 + "x" + "]" * 25 + "\n" + bomb(4, 5))
    finally:
        sys.setrecursionlimit(limit)
