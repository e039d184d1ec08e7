"""What musicians write by mistake: the message names the slip and what to write, and nothing is guessed."""

import pytest

from renderer.core.errors import SpecError
from renderer.reading.load import parse
from renderer.timeline.plan import plan_spec
from tests.messages import in_one_voice

KEYS = {
    "tempo": "tempo: 120",
    "meter": "meter: 4/4",
    "pulse": "pulse: 1/16",
    "figures": "figures: {otter: [5, 3, 3], wren: [3, 3, 2]}",
    "form": "form:\n  - {section: Bank, bars: 4, plays: otter}",
}
BANK = "form:\n  - section: Bank\n    bars: 4\n    "

# What is written in place of, or beside, the keys above; what is told, without its place; the mend.
MISTAKES = [
    ("tempo: 120 bpm", "tempo: got 120 bpm; a tempo is 1 to 1,000 quarter notes a minute.", "Write 120."),
    ("tempo: 112,5", "tempo: got 112,5; a tempo is 1 to 1,000 quarter notes a minute.", "Write 112.5."),
    (
        "tempo: ♩. = 76",
        "tempo: got ♩. = 76; a tempo is 1 to 1,000 quarter notes a minute.",
        "Write 3/8 = 76.",
    ),
    ("tempo: {2: 120}", "tempo: none is given for bar 1.", "Begin with 1: 112."),
    (
        "tempo: {1: 120, 3: to 80}",
        "tempo.3: got to 80; a tempo is 1 to 1,000 quarter notes a minute.",
        "Write {to: 80}.",
    ),
    (
        "tempo: {1: 120, 2: {3: 90, to: 80}}",
        "tempo.2.3: a change of tempo has no such key.",
        "Give the change a place of its own: {1: 120, 7: {to: 80}}.",
    ),
    (
        "tempo: {1: 120, 9: 140}",
        "tempo.9: there is no 9: the piece has 4 bars.",
        "Write a bar from 1 to 4, or -1 for the last one.",
    ),
    ("meter: C", "meter: got C; a meter is two numbers, and the beats felt in it.", "Write 4/4."),
    (
        "meter: 7/8 (2+2+3)",
        "meter: got 7/8 (2+2+3); a meter is two numbers, and the beats felt in it.",
        "Write 7/8 in 2+2+3.",
    ),
    (
        "meter: 4/4, 3/4",
        "meter: got 4/4, 3/4; a meter is two numbers, and the beats felt in it.",
        "A list has one a bar: [4/4, 3/4]; a change is {1: 4/4, 5: 3/4}.",
    ),
    ("pulse: 16", "pulse: got 16; a pulse is a fraction of a whole note, 1/1 to 1/1024.", "Write 1/16."),
    (
        "figures: {otter: 5+3+3}",
        "figures.otter: got 5+3+3; hits are written with x, X and . only.",
        "Write [5, 3, 3].",
    ),
    (
        "figures: {otter: X--x-}",
        "figures.otter: got X--x-; hits are written with x, X and . only.",
        "Write X..x., with a point where there is no hit.",
    ),
    (
        "figures: [5, 3, 3]",
        "figures: got a list; a map of figures belongs here.",
        "Give each a name: {kiln: [5, 3, 3]}.",
    ),
    (
        "figures: {otter: [2.5, 2.5, 3]}",
        "figures.otter[0]: got 2.5; a group is whole pulses.",
        "Count the figure in a shorter pulse.",
    ),
    (
        'figures: {otter: ["5!", 3, 3]}',
        "figures.otter[0]: got 5!; a group is only a number of pulses.",
        "Accents are pulse numbers, as in {groups: [5, 3, 3], accents: [1, 9]}.",
    ),
    ("harmony: {1: Em, 1.1: G}", "harmony.1.1: 1.1 is the same place as 1.", "Keep one of the two."),
    (
        "harmony: {1: Em, 2-3: G}",
        "harmony.2-3: got 2-3; a position is a bar, bar.beat or bar.beat.pulse.",
        "Write 2: what is said there holds until the next entry.",
    ),
    ("harmony: {1: Em, 2,3: G}", "harmony.2: no value is given.", "Write a position with a point: 2.3."),
    (
        "harmony: {1: Em, G}",
        "harmony.G: no value is given.",
        'Several values need brackets: [Em, G]; a text with a comma in it needs quotes: "Em, G".',
    ),
    (
        "harmony: [{1: Em}, {3: G}]",
        "harmony: got a list of maps; a list has one value a bar.",
        "Positions stand in one map: {1: Em, 3: G}.",
    ),
    (
        "fermata: 4.4",
        "fermata: got a text (4.4); a map of positions to seconds belongs here.",
        "Write where and how long: {8.4: 2}.",
    ),
    ("sync: {1: 0,5}", "sync.5: no value is given.", "Write a number with a point: 0.5."),
    (
        "click: {every: beat, count_in: one bar}",
        "click.count_in: got one bar; a count-in has 0 to 8 bars, or beats as in 6 beats.",
        "Write 2 for two bars, or 6 beats.",
    ),
    (
        "click: {every: none, count_in: 2}",
        "click.count_in: count_in can't be used with every: none; it would not be heard.",
        "Remove it, or write click: off in the sections that have none.",
    ),
    (
        "parts: [kit, bass]",
        "parts: got a list; a map of parts belongs here.",
        "Write each with its side: {marimba: figure, kit: meter}.",
    ),
    (
        "bars: 12",
        "bars: a spec has no such key.",
        "Write it in a section: form: [{section: Theme, bars: 12}].",
    ),
    (
        "title: Otter: Weir",
        "a colon inside a text.",
        'A text with a colon and a space in it needs quotes: "Otter: Weir".',
    ),
    (
        BANK + "plays: {times: 3}",
        "form[0].plays: an item of plays needs figure, first, tail or rest.",
        "Write {figure: kiln, times: 3}, {first: 5, of: kiln}, {tail: 4} or {rest: 4}.",
    ),
    (
        BANK + "plays: 3 x otter",
        "form[0].plays: there is no figure 3 x otter.",
        "Write {figure: otter, times: 3}.",
    ),
    (BANK + "plays: otter, wren", "form[0].plays: there is no figure otter, wren.", "Write [otter, wren]."),
    (
        BANK + "plays: {otter: 3}",
        "form[0].plays.otter: an item of plays has no such key.",
        "Write {figure: otter, times: 3}; the keys are figure, times, first, of, tail, rest, pulse.",
    ),
    (
        BANK + "plays: {tail: 4, 4}",
        "form[0].plays.4: no value is given.",
        "Several values need brackets: tail: [4, 4].",
    ),
    (
        BANK + "plays: off",
        "form[0].plays: there is no figure off.",
        "Leave plays out for silence, or write {rest: 4} for so many pulses.",
    ),
    (
        BANK + "plays:\n      - otter\n        times: 2",
        "a bare text with keys below it.",
        "Give it its key: - figure: otter, and times below that.",
    ),
    (
        BANK + "pulse: 1/8",
        "form[0].pulse: a section has no such key.",
        "Write it at the top, for the whole piece.",
    ),
    (
        BANK + "tempo: {4: {to: 80}, 6: 90}",
        "form[0].tempo.6: there is no 6: Bank has 4 bars.",
        "Write a bar from 1 to 4, or -1 for the last one.",
    ),
    (
        "form:\n  - Bank\n  - Mill",
        "form[0]: got a text (Bank); a section belongs here.",
        "Write - section: Theme with its bars, or - again: Theme.",
    ),
    (
        "form:\n  - Bank: {bars: 4}",
        "form[0].Bank: a section has no such key.",
        "Write section: Bank, and its bars and other keys in the lines below.",
    ),
    (
        BANK + "plays: [{first: two, of: otter}, {rest: a bar}]",
        "form[0].plays[0].first: got two; first is a number of pulses, 1 to 100,000, or of groups.",
        "Write 5 for five pulses, or 2 groups.",
    ),
    (
        BANK + "plays: [{rest: a bar}]",
        "form[0].plays[0].rest: got a bar; this is a number of pulses, 1 to 100,000.",
        "Count it in pulses, {rest: 4}, or give it a count of its own, {rest: 1, pulse: 1/4}.",
    ),
    (
        BANK + "notes: {1: strings}",
        "form[0].notes: a section has no such key.",
        "Write marks.",
    ),
    ("bpm: 120", "bpm: a spec has no such key.", "Write tempo."),
    (BANK + "chords: Em", "form[0].chords: a section has no such key.", "Write harmony."),
    (
        BANK + "name: Shore",
        "form[0].name: a section has no such key.",
        "Remove it: section gives the name.",
    ),
    (
        "form: [{name: Shore, bars: 4}]",
        "form[0].name: a section has no such key.",
        "Write section: and the name.",
    ),
    (
        BANK + "harmony: {2.4: G}\n  - {again: Bank, meter: 3/4}",
        "form[0].harmony.2.4: there is no 2.4: bar 2 has 3 beats (3/4) where form[1] takes it over.",
        "Give form[1] its own harmony.",
    ),
    (
        BANK + "fermata: {2.4: 1}\n  - {again: Bank, meter: 3/4}",
        "form[0].fermata.2.4: there is no 2.4: bar 2 has 3 beats (3/4) where form[1] takes it over.",
        "Give form[1] its own fermata.",
    ),
    (
        BANK + "plays: otter\n    starts: 2.4\n  - {again: Bank, meter: 3/4}",
        "form[0].starts: there is no 2.4: bar 2 has 3 beats (3/4) where form[1] takes it over.",
        "Give form[1] its own starts.",
    ),
    (
        "segments: [{show: play, speed: 0.75}]",
        "segments[0].speed: got 0.75; a speed is 25 to 100 per cent of the tempo.",
        "Write 75 %.",
    ),
]


def read(text: str) -> None:
    """Read a spec and think it through."""
    loaded = parse(text, "x")
    with loaded.placing():
        plan_spec(loaded.spec)


@pytest.mark.parametrize(("written", "told", "mend"), MISTAKES, ids=[written for written, _, _ in MISTAKES])
def test_a_mistake_is_told_with_what_to_write(written: str, told: str, mend: str) -> None:
    given = {line.partition(":")[0] for line in written.splitlines()}
    text = "\n".join([written, *(line for key, line in KEYS.items() if key not in given), ""])
    with pytest.raises(SpecError) as caught:
        read(text)
    shown = str(in_one_voice(caught.value, text)).splitlines()
    heads = [number for number, line in enumerate(shown) if line.startswith("x:")]
    messages = {}
    for number, end in zip(heads, [*heads[1:], len(shown)], strict=True):
        mends = [line.strip() for line in shown[number + 3 : end]]
        messages[shown[number].split(":", 3)[3].strip()] = " ".join(mends)
    assert messages.get(told) == mend, str(caught.value)
