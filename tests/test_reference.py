"""specs/REFERENCE.md: every example of it is run, and what it states is compared with what comes out."""

import json
import re
from collections.abc import Iterator
from pathlib import Path

import jsonschema
import music21
import pytest

from renderer.core import limits
from renderer.core.errors import SpecError
from renderer.lesson.lesson import open_lesson
from renderer.reading.load import parse_spec
from renderer.reading.scalars.parse import parse_pulse
from renderer.reading.schema.document import spec_schema
from renderer.reading.starter import starter_spec
from renderer.report.table import timeline_listing
from renderer.schedule.shows import SHOWS
from renderer.timeline.plan import LONGEST_SECONDS
from tests.lessons import make_lesson
from tests.reference_facts import (
    FACTS,
    NAME,
    Example,
    complete,
    find_line,
    read_examples,
    read_lesson,
    read_prelude,
    stated_lines,
    tell,
)
from tests.test_schema import as_json

ROOT = Path(__file__).parent.parent
PAGE = (ROOT / "specs" / "REFERENCE.md").read_text(encoding="utf-8")
PRELUDE = read_prelude(PAGE)
EXAMPLES = list(read_examples(PAGE))
AT_FAULT = [example for example in EXAMPLES if example.stated.startswith(f"{NAME}:")]
FINE = [example for example in EXAMPLES if example not in AT_FAULT]
SCHEMA_FILE = ROOT / "specs" / "barcross.schema.json"


def line(example: Example) -> str:
    """Where it stands, as a test's name."""
    return f"line {example.line}"


def table(section: str, column: str, second: str = "") -> list[list[str]]:
    """The cells of the page's table in a section whose first heading is `column`, and its second `second`."""
    text = PAGE[PAGE.index(f"\n## {section}\n") :]
    rows = text[text.index(f"\n| {column} | {second}") + 1 :].split("\n\n")[0].splitlines()
    return [[cell.strip() for cell in row.strip("|").split("|")] for row in rows[2:]]


def test_every_example_says_what_comes_of_it() -> None:
    assert len(EXAMPLES) > 80
    assert all(example.stated.strip() for example in EXAMPLES)
    words = {
        row.partition(":")[0].split(" of ")[0] for example in FINE for row in stated_lines(example.stated)
    }
    assert words >= set(FACTS)


@pytest.mark.parametrize("example", FINE, ids=line)
def test_what_is_stated_of_an_example_comes_of_it(example: Example) -> None:
    lesson = read_lesson(complete(example, PRELUDE))
    if example.table:
        assert timeline_listing(lesson.timeline) == example.stated.splitlines()
        return
    for stated in stated_lines(example.stated):
        assert stated == find_line(lesson, stated)
        wrong = f"{stated}9"
        assert wrong != find_line(lesson, wrong)


@pytest.mark.parametrize("example", AT_FAULT, ids=line)
def test_a_message_is_told_as_the_page_prints_it(example: Example) -> None:
    assert tell(complete(example, PRELUDE)) == example.stated.rstrip("\n")


@pytest.mark.parametrize("example", FINE, ids=line)
def test_an_editor_takes_an_example_too(example: Example) -> None:
    jsonschema.Draft202012Validator(spec_schema()).validate(as_json(complete(example, PRELUDE)))


def keys(schema: object) -> Iterator[str]:
    """Every key of the format, from its JSON Schema."""
    if isinstance(schema, dict):
        yield from schema.get("properties", ())
        schema = list(schema.values())
    if isinstance(schema, list):
        for child in schema:
            yield from keys(child)


@pytest.mark.parametrize("key", sorted(set(keys(spec_schema()))))
def test_every_key_of_the_format_is_in_the_page(key: str) -> None:
    assert re.search(rf"`{key}`|\b{key}:", PAGE)


def test_the_page_has_every_segment_with_its_options() -> None:
    rows = {
        show.strip("`"): set(re.findall(r"`(\w+)`", cells)) for show, _, cells in table("Segments", "show")
    }
    assert set(rows) == set(SHOWS)
    options = set().union(*rows.values())
    assert [row[0].strip("`") for row in table("Segments", "option")] == sorted(options)
    for show in SHOWS:
        assert rows[show] == {key for key in options if takes(show, key)}


def takes(show: str, option: str) -> bool:
    """Whether a segment has an option of that name."""
    spec = "".join(PRELUDE.values()) + f"segments: [{{show: {show}, {option}: '?'}}]\n"
    try:
        parse_spec(spec, "x")
    except SpecError as error:
        return f"{show} takes no {option}" not in str(error)
    return True


def test_the_page_has_the_steps_of_every_show() -> None:
    """Those of the examples and of a piece with all that a show can meet; numbers and sections' names differ."""
    rows = {
        show.strip("`"): {plain_step(name) for name in re.findall(r"`([^`]+)`", cells)}
        for show, cells in table("Segments", "show", "its steps")
    }
    assert set(rows) == set(SHOWS)
    lessons = [make_lesson(), *(open_lesson(path) for path in SCHEMA_FILE.parent.glob("*.yaml"))]
    for show in SHOWS:
        met: set[str] = set()
        for lesson in lessons:
            if (show == "compare" and not any(figure.origin for figure in lesson.timeline.figures)) or (
                show == "parts" and not lesson.timeline.sides
            ):
                continue
            sections = {section.name for section in lesson.timeline.sections}
            names = {step.name for step in lesson.schedule_show(show).steps}
            met |= {plain_step(name) for name in names - sections if name.rpartition(" ")[0] not in sections}
        assert met - {"repetition N"} <= rows[show], show


def plain_step(name: str) -> str:
    """A step's name without its number."""
    return re.sub(r"[0-9][0-9.]*", "N", name)


def test_pulses_have_the_names_of_their_note_values() -> None:
    """Against music21's durations, which are counted in quarters."""
    tuplets = {"triplet": (3, 2), "quintuplet": (5, 4)}
    types = {"sixteenth": "16th", "thirty-second": "32nd"}
    rows = table("Pulse", "pulse")
    assert len(rows) > 5
    for pulse, name, count in rows:
        *tuplet, note = name.split()
        duration = music21.duration.Duration(types.get(note, note))
        if tuplet:
            duration.appendTuplet(music21.duration.Tuplet(*tuplets[tuplet[0]]))
        length = parse_pulse(pulse.strip("`"))
        assert length * 4 == duration.quarterLength
        assert length * int(count) == 1


STATED_LIMITS = {
    "a piece": f"{limits.BARS:,} bars as played, and a day",
    "form entries": f"{limits.FORM_ENTRIES:,}",
    "`repeat`": f"{limits.REPEATS:,}",
    "figures": f"{limits.FIGURES}",
    "pulses in a figure or tail": f"{limits.FIGURE_PULSES}",
    "groups in a figure or tail": f"{limits.FIGURE_GROUPS}",
    "items in one `plays`": f"{limits.ITEMS:,}",
    "`times`, `first`, `rest`": f"{limits.TIMES:,}",
    "repetitions in the whole piece": "3,000,000",
    "voices": f"{limits.VOICES}",
    "parts": f"{limits.PARTS}",
    "segments": f"{limits.SEGMENTS}",
    "a figure on a staff": f"{limits.STAFF_SIGNS} notes and rests, {limits.STAFF_GROUP_SIGNS} in one group",
    "a card's list": f"{limits.CARD_ENTRIES} entries of {limits.CARD_CHARACTERS} characters",
    "a word of `words`": f"{limits.OWN_WORD_CHARACTERS} characters",
    "`thumbnail`": f"{limits.THUMBNAIL_WORDS} words, {limits.THUMBNAIL_CHARACTERS} characters",
    "a line of `say`": f"{limits.SAID_CHARACTERS} characters",
    "a name or harmony": f"{limits.LABEL_CHARACTERS} characters",
    "a title": f"{limits.TITLE_CHARACTERS} characters",
    "a meter's upper number": f"{limits.METER_COUNT}",
    "a meter's lower number": ", ".join(map(str, limits.METER_UNITS)),
    "tempo": f"{limits.TEMPO_LEAST} to {limits.TEMPO_MOST:,} quarters a minute",
    "pulse": f"{limits.PULSE_MOST} to 1/{limits.PULSE_DENOMINATOR}",
    "count-in": f"{limits.COUNT_IN_BARS} bars, or {limits.COUNT_IN_BEATS} beats",
    "`speed`": f"{limits.SPEED_LEAST} to 100 per cent",
    "`level`": f"{limits.LEVEL_LEAST} to {limits.LEVEL_MOST} dB",
    "`duck`": f"{limits.DUCK_MOST} dB",
    "`loudness`": f"{limits.LUFS_LEAST} to {limits.LUFS_MOST} LUFS",
    "a fermata": f"{limits.FERMATA_SECONDS} seconds",
    "a place in a recording": f"{limits.RECORDING_SECONDS:,} seconds",
    "a sound file": f"{limits.SOUND_FILE_SECONDS // 3600} hours, {limits.SOUND_CHANNELS} channels, "
    f"{limits.SAMPLE_RATE_LEAST:,} to {limits.SAMPLE_RATE_MOST:,} samples a second",
    "digits in a number": f"{limits.DIGITS}",
    "a key or a value": f"{limits.TEXT_CHARACTERS:,} characters",
    "the file": f"{limits.SPEC_CHARACTERS:,} characters, {limits.NODES:,} values, "
    f"{limits.DEPTH} lists and maps inside each other",
    "mistakes shown at once": f"{limits.PROBLEMS_SHOWN}",
    "readings of a part in a file": f"{limits.READINGS}",
}


def test_the_page_s_limits_are_the_loader_s() -> None:
    assert table("Limits", "what") == [list(row) for row in STATED_LIMITS.items()]
    assert LONGEST_SECONDS == 24 * 3600
    here = Path(__file__).read_text(encoding="utf-8")
    untold = [name for name in vars(limits) if name.isupper() and f"limits.{name}" not in here]
    # What may be stored of so many characters, and how many mistakes are looked for: they need no row.
    assert untold == ["SPEC_BYTES", "PROBLEMS_SOUGHT"]


def test_links_inside_the_page_lead_somewhere() -> None:
    headings = re.findall(r"^##+ (.+)$", PAGE, re.MULTILINE)
    anchors = {re.sub(r"[^\w -]", "", heading.lower()).replace(" ", "-") for heading in headings}
    links = re.findall(r"\]\(#([^)]*)\)", PAGE)
    assert len(links) > 25
    assert set(links) <= anchors


def test_the_examples_name_the_schema_that_the_tool_prints() -> None:
    stored = json.loads(SCHEMA_FILE.read_text(encoding="utf-8"))
    assert stored == spec_schema(), "store it anew: barcross schema > specs/barcross.schema.json"
    modeline = f"# yaml-language-server: $schema={SCHEMA_FILE.name}\n"
    assert modeline in PAGE
    specs = [path.read_text(encoding="utf-8") for path in SCHEMA_FILE.parent.glob("*.yaml")]
    assert specs
    assert all(text.startswith(modeline) for text in [*specs, starter_spec("Otter Weir")])
