"""The script, read back by a Markdown parser, its facts against arithmetic."""

import re
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from markdown_it import MarkdownIt
from markdown_it.token import Token

from renderer.export.kinds import NothingThereError
from renderer.export.script import WIDTH, escaped, make_script
from renderer.lesson.lesson import open_lesson
from tests.lessons import EXAMPLE, SHORT, make_lesson
from tests.test_export_captions import SAID


def read_blocks(markdown: str) -> list[tuple[str, str]]:
    """Each block's tag and its text without marks, as a Markdown program shows it."""
    tokens = MarkdownIt().parse(markdown)
    return [
        (tokens[index - 1].tag, "".join(child.content for child in token.children or []))
        for index, token in enumerate(tokens)
        if token.type == "inline"
    ]


def quotes(markdown: str) -> list[str]:
    tokens = MarkdownIt().parse(markdown)
    inside: list[Token] = [
        tokens[index + 2] for index, token in enumerate(tokens) if token.type == "blockquote_open"
    ]
    return ["".join(child.content for child in token.children or []) for token in inside]


def script(text: str) -> tuple[str, str]:
    markdown, plain = make_script(make_lesson(text), Fraction(60))
    assert (markdown.name, plain.name) == ("lesson-script.md", "lesson-script.txt")
    return markdown.content.decode(), plain.content.decode()


def test_every_step_has_its_time_and_its_words() -> None:
    lesson = make_lesson(SAID)
    markdown, plain = script(SAID)
    blocks = read_blocks(markdown)
    assert blocks[0] == ("h1", "Weir")
    steps = [step.name for planned in lesson.segments() for step in planned.schedule.steps]
    headings = [text for tag, text in blocks if tag == "h3"]
    assert [re.sub(r"^\d+:\d\d\.\d | \(.*\)$", "", heading) for heading in headings] == steps
    said = [" ".join(each.text.split()) for p in lesson.segments() for each in p.schedule.captions]
    assert quotes(markdown) == said
    flat = " ".join(plain.split())
    assert all(f'"{words}"' in flat for words in said)
    assert all(len(line) <= WIDTH for line in plain.splitlines())


def test_a_fact_s_time_is_where_it_is_seen() -> None:
    """Lantern Ferry at 112: its `play` begins after 23.41 + 28.10 + 49.20 s of other films with a bar of count-in, and
    bar 12's downbeat comes 11 bars of 240 / 112 s later, when repetition 17 has come round (16 x 11 = 11 x 16)."""
    lesson = open_lesson(EXAMPLE)
    markdown = make_script(lesson, Fraction(60))[0].content.decode()
    play = read_blocks(markdown[markdown.index("## 4 play") :])
    facts = [
        text for tag, text in play if tag == "p" and text.startswith("starts on a downbeat again: bar 12 ")
    ]
    others = sum(round(planned.schedule.seconds * 60) for planned in lesson.segments()[:3])
    seconds = Fraction(others, 60) + 12 * Fraction(240, 112)
    assert facts == [f"starts on a downbeat again: bar 12 [{int(seconds) // 60}:{float(seconds % 60):04.1f}]"]


def test_what_stands_on_the_screen_is_told_once() -> None:
    markdown, _ = script(SHORT)
    told = [text for _, text in read_blocks(markdown) if text.startswith("on the screen: ")]
    assert told[:2] == [
        "on the screen: weir, a figure in sixteenths: How long is weir, and where does the next one start?",
        "on the screen: weir, a figure in sixteenths: Eleven against sixteen: the next one starts 5 early.",
    ]
    assert len(told) == len(set(told))


@settings(deadline=None)
@given(st.text(st.characters(exclude_categories=["Cs", "Cc", "Zl", "Zp"]), max_size=60).map(str.strip))
def test_no_text_is_taken_for_a_mark_of_markdown(text: str) -> None:
    """CommonMark, as markdown-it-py reads it: blanks at the ends aside, a paragraph shows what was written."""
    shown = read_blocks(escaped(" ".join(text.split())))
    assert "".join(words for _, words in shown) == " ".join(text.split())
    assert {tag for tag, _ in shown} <= {"p"}


def test_without_segments_there_is_no_script() -> None:
    with pytest.raises(NothingThereError, match=r"^No script: the spec asks for no segments\.$"):
        make_script(make_lesson(SHORT.partition("segments:")[0]), Fraction(60))
