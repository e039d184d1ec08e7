"""Pages to print: read back by programs that did not write them, and their answers worked out from what is drawn."""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from functools import cache
from io import BytesIO
from pathlib import Path

import numpy as np
import pypdf
import pypdfium2
import pytest
from click.testing import CliRunner

from renderer.command import main
from renderer.export.handout import NOTHING_PLAYED, make_handout
from renderer.export.kinds import NothingThereError
from renderer.lesson.lesson import Lesson, open_lesson
from renderer.paper.practice import make_practice
from renderer.paper.repetition_rows import sum_said
from renderer.paper.worksheet import make_worksheet
from renderer.report.table import place_text
from renderer.spec.themes import contrast
from scenes.paper.handout import handout_sheets
from scenes.paper.practice import practice_sheets
from scenes.paper.print_look import FIGURE, HARMONY, METER
from scenes.paper.sheet import BLACK, HEAD, PAPERS, POINT, Label, Outline, Sheet
from scenes.paper.worksheet import worksheet_sheets
from tests.extremes import EXTREMES
from tests.lessons import EXAMPLE, SHORT, make_lesson
from tests.pieces import timeline_of
from tests.sheets import faults, labels

NAMES = ("handout", "worksheet", "practice-card")
FPS = Fraction(60)
INK = 0.08
"""How much of a page is black at most; print calls a page of text 5 %."""


@cache
def example() -> Lesson:
    return open_lesson(EXAMPLE)


@cache
def files(paper: str = "a4") -> dict[str, bytes]:
    return {name: content for name, content, _ in make_handout(example(), FPS, paper=paper)}


def reader(name: str, paper: str = "a4") -> pypdf.PdfReader:
    return pypdf.PdfReader(BytesIO(files(paper)[name]))


def texts(name: str) -> list[str]:
    return [page.extract_text() for page in reader(name).pages]


def sheets(lesson: Lesson, paper: str) -> Iterator[Sheet]:
    for draw in (handout_sheets, worksheet_sheets, practice_sheets):
        yield from draw(lesson.timeline, "x.yaml", PAPERS[paper])


@pytest.mark.parametrize(("paper", "size"), [("a4", (595.28, 841.89)), ("letter", (612.0, 792.0))])
def test_pages_have_the_size_of_the_paper(paper: str, size: tuple[float, float]) -> None:
    """In points, 1/72 inch: A4 is 210 x 297 mm (ISO 216), letter 8.5 x 11 inches (ANSI/ASME Y14.1)."""
    ending = "" if paper == "a4" else "-letter"
    assert set(files(paper)) == {f"{name}{ending}.pdf" for name in NAMES}
    for name in files(paper):
        for page in reader(name, paper).pages:
            box = page.mediabox
            assert (float(box.width), float(box.height)) == pytest.approx(size, abs=0.01)


def test_every_font_is_inside_and_its_text_can_be_read() -> None:
    for name in files():
        for page in reader(name).pages:
            for font in page["/Resources"]["/Font"].values():  # type: ignore[index]
                font = font.get_object()
                assert "/FontFile2" in font["/FontDescriptor"].get_object(), font["/BaseFont"]
                assert "/ToUnicode" in font
            assert not page.images, "all is drawn as outlines"


def test_the_handout_tells_every_repetition_of_the_timeline() -> None:
    """As pypdf reads the table's text: count, start, and offset of each row, in the timeline's order."""
    timeline = example().timeline
    pages = texts("handout.pdf")
    assert [f"{number} of {len(pages)}" in text for number, text in enumerate(pages, 1)] == [True] * len(
        pages
    )
    words = pages[-1].split()
    at = 0
    for row in timeline.repetitions:
        start = place_text(timeline, row.at)
        at = words.index(start, at)
        assert words[at - 1] == str(row.counted)
        at += 1
    for section in timeline.sections:
        assert sum_said(timeline, section, "main") in pages[-1].replace("\n", " ")
    for harmony in {row.name for row in timeline.harmony if len(row.name) == 1}:
        assert harmony in pages[1]


def test_sums_are_those_of_arithmetic() -> None:
    """192 = 17 x 11 + 5, 6 + 16 x 11 + 10 = 192, 128 = 18 x 7 + 2."""
    timeline = example().timeline
    assert [sum_said(timeline, section, "main") for section in timeline.sections] == [
        "192 = 17 × 11 + 5 running on",
        "192 = 6 carried over + 16 × 11 + 10 cut",
        "128 = 18 × 7 + 2 cut",
    ]


def test_the_same_bytes_each_time_whatever_was_written_before() -> None:
    first = files()
    make_handout(make_lesson(), FPS)
    assert {name: content for name, content, _ in make_handout(example(), FPS)} == first
    assert b"/CreationDate (D:2000" in first["handout.pdf"], "no date of the day"


@pytest.mark.parametrize("name", NAMES)
def test_pages_take_little_ink_and_grey_makes_nothing_vanish(name: str) -> None:
    """Drawn by pypdfium2 in grey, as a black-and-white printer would."""
    document = pypdfium2.PdfDocument(files()[f"{name}.pdf"])
    for page in document:
        grey = np.asarray(page.render(scale=1.0, grayscale=True).to_numpy(), dtype=float)
        assert 0.004 < 1 - grey.mean() / 255 < INK
        assert grey.min() < 40


def test_type_is_black_and_lines_are_dark_and_wide_enough() -> None:
    """Under 14 points all type is black. A coloured line is 0.6 points wide at least, and 7:1 or more against white,
    the enhanced contrast of WCAG 2.2 (1.4.6)."""
    for colour in (FIGURE, METER, HARMONY):
        assert contrast(colour, "#FFFFFF") >= 7
    for sheet in sheets(example(), "a4"):
        for mark in sheet.marks:
            if isinstance(mark, Label):
                assert mark.colour == BLACK or mark.size >= 0.62 * HEAD
            elif mark.stroke and mark.stroke != BLACK:
                assert mark.width >= 0.6 * POINT


@pytest.mark.slow
@pytest.mark.parametrize("name", EXTREMES)
def test_no_text_meets_another_or_leaves_the_page(name: str) -> None:
    lesson = make_lesson(EXTREMES[name])
    paper = "letter" if len(name) % 2 else "a4"
    for number, sheet in enumerate(sheets(lesson, paper)):
        assert not faults(sheet), (name, number)


def test_three_hundred_bars_take_three_pages_of_bars() -> None:
    lesson = make_lesson(EXTREMES["300 bars"])
    pages = handout_sheets(lesson.timeline, "x.yaml", PAPERS["a4"])
    drawn = [page for page in pages if any(each.text == "The figures over the bars" for each in labels(page))]
    assert len(drawn) == 3


# The worksheet's answers, worked out from the places of what is drawn.


def uprights(sheet: Sheet, width: float, colour: str) -> list[tuple[float, float]]:
    """(x, y of its upper end) of each upright line of that width and colour."""
    found = []
    for mark in sheet.marks:
        if isinstance(mark, Outline) and mark.stroke == colour and abs(mark.width - width) < 0.01:
            (curve,) = mark.contours[0]
            if not mark.closed and abs(curve[0, 0] - curve[3, 0]) < 0.01:
                found.append((float(curve[0, 0]), float(curve[0, 1])))
    return found


def dots(sheet: Sheet, top: float, bottom: float) -> list[tuple[float, float]]:
    """(x, y) of the accents' dots between two heights."""
    found = []
    for mark in sheet.marks:
        if isinstance(mark, Outline) and mark.fill == BLACK and mark.stroke is None:
            for contour in mark.contours:
                (left, up), (right, low) = contour.min(axis=(0, 1)), contour.max(axis=(0, 1))
                if top < up < bottom and right - left < 14:
                    found.append(((left + right) / 2, (up + low) / 2))
    return found


def rows_of(sheet: Sheet, heading: str) -> Iterator[tuple[list[float], list[tuple[float, float]]]]:
    """The bars' posts of each row under a heading, and the dots over them."""
    top = next(each.baseline for each in labels(sheet) if each.text.startswith(heading))
    posts: dict[float, list[float]] = {}
    for x, y in uprights(sheet, 1.4 * POINT, METER):
        if y > top + 200:
            posts.setdefault(round(y), []).append(x)
    for line, places in sorted(posts.items()):
        yield sorted(places), dots(sheet, line - 260, line - 60)


def counted(place: int, syllables: Sequence[str]) -> str:
    """A sixteenth of a bar of 4/4, from 0, as it is counted."""
    beat, part = divmod(place, 4)
    return str(beat + 1) if not part else f"{syllables[part - 1]} of {beat + 1}"


def test_the_answers_are_where_the_figures_are_drawn() -> None:
    """From the worksheet's own page: a dot as high as the highest stands where a repetition starts, since ferry's first
    group is its longest; a bar is sixteen sixteenths wide."""
    first, *_, answers = worksheet_sheets(example().timeline, "x.yaml", PAPERS["a4"])
    read = pypdf.PdfReader(BytesIO(files()["worksheet.pdf"])).pages[-1].extract_text()
    starts: list[list[str]] = []
    landed = []
    for posts, accents in rows_of(first, "Write the start"):
        highest = min(y for _, y in accents)
        step = (posts[-1] - posts[0]) / (len(posts) - 1) / 16
        for index, post in enumerate(posts[:-1]):
            inside = sorted((x, y) for x, y in accents if -0.5 <= (x - post) / step < 15.5)
            places = [round((x - post) / step) for x, y in inside if y < highest + 2]
            starts.append([counted(place, "e&a") for place in places])
            landed += [len(starts)] * sum(round((x - post) / step) == 0 for x, _ in inside)
            assert all(abs((x - post) / step - round((x - post) / step)) < 0.05 for x, _ in inside), index
    asked = make_worksheet(example().timeline)
    assert asked.starts is not None
    assert [list(row) for row in asked.starts.answers] == starts
    assert [landing.bar_number for landing in asked.starts.landings] == landed == [1, 2, 7, 12]
    words = " ".join(read.split())
    assert "Four accents land: bars 1, 2, 7 and 12." in words
    written = [each.text for each in labels(answers)]
    for text in (text for row in starts for text in row if "of" in text):
        assert text in written, text


def test_counts_sums_offsets_and_turns_are_those_of_arithmetic() -> None:
    """Each count by going on 1 2 3 4 5, 1 2 3, 1 2 3; each offset by 11 more, less 16 from 16 on; 192 = 17 x 11 + 5;
    a turn at a place p, in sixteenths, has p mod 11 of its repetition before it."""
    timeline = example().timeline
    asked = make_worksheet(timeline)
    assert asked.count_on is not None
    assert asked.offsets is not None
    aloud = [count for group in (5, 3, 3) for count in range(1, group + 1)]
    assert [cell.number for cell in asked.count_on.cells] == [str(aloud[place % 11]) for place in range(64)]
    assert [cell.begins for cell in asked.count_on.cells] == [place % 11 == 0 for place in range(64)]
    assert asked.offsets.offsets == tuple(str(11 * number % 16) for number in range(17))
    assert asked.offsets.home == ("17", 12)
    assert [(each.total, each.whole, each.left) for each in asked.sums] == [
        (192, *divmod(192, 11)),
        (128, *divmod(128, 7)),
    ]
    places = [64, 8 * 16 + 8, 12 * 16]
    assert [(turn.before, turn.after) for turn in asked.turns] == [(p % 11, 11 - p % 11) for p in places]
    assert asked.keepers is not None
    assert (asked.keepers.begins, asked.keepers.last, asked.keepers.figure) == ("29", "", ("marimba",))


def test_blanks_are_blank_and_the_answers_stand_on_the_last_page_alone() -> None:
    *asked, answers = texts("worksheet.pdf")
    assert "answers" in answers
    assert "0, 11, 6, 1, 12, 7, 2, 13" in answers
    assert not any("0, 11, 6" in text or "17 × 11" in text for text in asked)
    first = worksheet_sheets(example().timeline, "x.yaml", PAPERS["a4"])[0]
    written = [each.text for each in labels(first) if each.text[:1] in "e&a" and " of " in each.text]
    assert written == ["a of 3"], "bar 1 is done, and no other"


def test_what_does_not_occur_is_not_asked() -> None:
    """Bars of two fours: every one starts on the downbeat or on 3, no chord turns, nobody changes sides."""
    timeline = timeline_of(
        """\
        parts: {viola: figure, drum: meter}
        form: [{section: A, bars: 4, harmony: {1: Em}, plays: {figure: brief, times: 8}}]
        """
    )
    asked = make_worksheet(timeline)
    assert asked.turns == ()
    assert [(each.whole, each.left) for each in asked.sums] == [(8, 0)]
    assert asked.keepers is not None
    assert asked.keepers.begins == ""


def test_a_practice_card_goes_on_until_the_figure_is_home() -> None:
    """Eleven over sixteen is home after eleven bars; the ladder is the share of 112, rounded, halves up."""
    card = make_practice(example().timeline)
    assert card is not None
    assert (card.home, len(card.bars)) == (12, 11)
    assert [rung.beats for rung in card.ladder] == [112, 101, 90, 78, 67, 56]
    accents = [clap.at for bar in card.bars for clap in bar.claps]
    pulse = card.first.statement.pulse
    expected = [p for p in range(11 * 16) if p % 11 in (0, 5, 8)]
    assert [at // pulse for at in accents] == expected
    assert [clap.text for clap in card.bars[1].claps] == ["1", "1a", "2&", "3a", "4&"]


def test_a_piece_in_which_nothing_is_played_has_no_handout() -> None:
    with pytest.raises(NothingThereError) as caught:
        make_handout(make_lesson(EXTREMES["nothing at all"]), FPS)
    assert str(caught.value) == NOTHING_PLAYED


def test_the_command_takes_the_paper(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("weir.yaml").write_text(SHORT, encoding="utf-8")
    result = CliRunner().invoke(main, ["export", "weir.yaml", "handout", "--paper", "letter", "--out", "o"])
    assert result.exit_code == 0, result.output
    assert "handout-letter.pdf" in result.stdout
    page = pypdf.PdfReader("o/worksheet-letter.pdf").pages[0]
    assert float(page.mediabox.height) == 792


@pytest.mark.parametrize(
    ("drums", "begins", "last"),
    [
        ("{1: meter, 5: figure, 9: meter}", "5", "8"),
        ("{1: meter, 5: figure}", "5", ""),
        ("{1: meter, 5.3: figure, 9: meter}", "5.3", "9.1"),
    ],
)
def test_bars_in_which_nobody_keeps_the_meter_are_counted_as_check_counts_them(
    drums: str, begins: str, last: str
) -> None:
    lesson = make_lesson(
        "tempo: 120\nmeter: 4/4\npulse: 1/16\nfigures: {race: [5, 3, 3]}\n"
        f"parts: {{drums: {drums}, bass: figure}}\n"
        "form: [{section: Mill, bars: 12, plays: race}]\n"
    )
    keepers = make_worksheet(lesson.timeline).keepers
    assert keepers is not None
    assert (keepers.begins, keepers.last) == (begins, last)
