"""The spec that MIDI files and scores carry: `export`, then `new --from`, gives the same timeline; a file that somebody
changed is read for its notes."""

import io
from collections.abc import Callable
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import mido
import music21
import pytest
from click.testing import CliRunner

from renderer.command import main
from renderer.export.midi import make_midi
from renderer.export.score import make_score
from renderer.lesson.lesson import Lesson
from renderer.listening.listen import Heard, listen_to
from renderer.listening.read_score import read_score
from renderer.reading.carried import MARK, MUSIC, carried_spec, written_spec
from renderer.reading.load import parse_spec
from renderer.timeline.build import build_timeline
from tests.listening_forms import form_text

SPECS = sorted((Path(__file__).parent.parent / "specs").glob("*.yaml"))
RICH = """
title: "Über die #2: Brücke"   # only here
tempo: {1: 113, 9.3: {to: 80}, 11: 3/8 = 76}
meter: 4/4
pulse: 1/16
pickup: 3/16
recording: secret.flac
sync: {1: 0.532, 13: 26.94}
words: {figure: cycle}
figures:
  weir: &weir [4, 4, 3]
  eddy: {groups: [4, 3, 2, 2], from: weir}
  bell: {hits: X..x. xx. x..., pulse: 1/8}
  "odd one": *weir
parts: {"Horn & 'Reed'": weir one, oboe: bells, kit: {1: meter, 9.3: weir one, 12: tacet}}
marks: {9: "strings: enter", 17-20: brass alone}
form:
  - section: Upper
    bars: 12
    harmony: {0.4.3: D7, 1: [Dm, F], 9: B♭, 12.4.3: N.C.}
    voices: {weir one: weir, bells: bell}
    fermata: {8.4: 1.5}
  - section: Lower, of all
    bars: 8
    meter: 7/8 in 2+2+3
    voices: {weir one: on, bells: [{tail: [4, 4]}, {rest: 5}, {figure: bell, times: 0.5}, eddy]}
    starts: {weir one: after, bells: 1.3}
    click: off
  - {again: Upper, bars: 13, repeat: 2, meter: 4/4, harmony: C}
click: {every: [bar, group], count_in: 1}
segments: [{show: figure, say: [Nobody but us hears this.]}]
"""


def lesson_of(text: str) -> Lesson:
    spec = parse_spec(text, "x.yaml")
    return Lesson(spec, build_timeline(spec), text=text)


def files_of(text: str, notes_only: bool = False) -> dict[str, bytes]:
    lesson = lesson_of(text)
    made = [*make_midi(lesson, Fraction(60), notes_only), *make_score(lesson, Fraction(60), notes_only)]
    return {each.name: each.content for each in made}


def read(content: bytes, folder: Path, name: str = "piece.mid", notes_only: bool = False) -> Heard:
    path = folder / name
    path.write_bytes(content)
    return listen_to(read_score(path), path, notes_only=notes_only).heard()


@pytest.mark.parametrize("path", SPECS, ids=lambda path: path.stem)
def test_an_example_comes_back_from_both_kinds_of_file(path: Path, tmp_path: Path) -> None:
    check_both(path.read_text(encoding="utf-8"), tmp_path)


def test_a_piece_with_everything_comes_back(tmp_path: Path) -> None:
    check_both(RICH, tmp_path)


@pytest.mark.parametrize("seed", range(9000, 9008))
def test_random_forms_come_back(seed: int, tmp_path: Path) -> None:
    check_both(form_text(seed), tmp_path)


def check_both(text: str, folder: Path) -> None:
    """The whole timeline is the same, to the last value."""
    timeline = lesson_of(text).timeline
    for name, content in files_of(text).items():
        heard = read(content, folder, name)
        assert heard.findings == (
            "Read from what barcross wrote in the file; bars, notes, tempo and names in it are the same.",
        )
        assert f"# Read from what barcross wrote in {name}.\n" in heard.text
        assert build_timeline(parse_spec(heard.text, "x.yaml")) == timeline


def test_only_the_music_is_carried() -> None:
    """No comment, no recording, nothing said, no segment."""
    for content in files_of(RICH).values():
        for private in (b"secret", b"only here", b"Nobody but us", b"recording", b"segments"):
            assert private not in content
    assert not {"recording", "segments", "sound", "theme", "thumbnail"} & {*MUSIC}


def test_what_is_carried_is_written_as_somebody_would_write_it() -> None:
    assert written_spec(carried_spec(RICH)) == (
        """\
title: "Über die #2: Brücke"
tempo: {1: 113, 9.3: {to: 80}, 11: 3/8 = 76}
meter: 4/4
pulse: 1/16
pickup: 3/16
marks: {9: "strings: enter", 17-20: brass alone}
sync: {1: 0.532, 13: 26.94}
words: {figure: cycle}
click: {every: [bar, group], count_in: 1}
parts: {"Horn & 'Reed'": weir one, oboe: bells, kit: {1: meter, 9.3: weir one, 12: tacet}}

figures:
  weir: [4, 4, 3]
  eddy: {groups: [4, 3, 2, 2], from: weir}
  bell: {hits: X..x. xx. x..., pulse: 1/8}
  odd one: [4, 4, 3]

form:
  - section: Upper
    bars: 12
    harmony: {0.4.3: D7, 1: [Dm, F], 9: B♭, 12.4.3: N.C.}
    voices: {weir one: weir, bells: bell}
    fermata: {8.4: 1.5}
  - section: "Lower, of all"
    bars: 8
    meter: 7/8 in 2+2+3
    voices: {weir one: on, bells: [{tail: [4, 4]}, {rest: 5}, {figure: bell, times: 0.5}, eddy]}
    starts: {weir one: after, bells: 1.3}
    click: off
  - again: Upper
    bars: 13
    repeat: 2
    meter: 4/4
    harmony: C
"""
    )


PLAIN = """
title: Ferry Song
tempo: 112
meter: 4/4
pulse: 1/16
figures: {kiln: [5, 3, 3]}
parts: {marimba: figure, bass: figure, kit: meter}
form:
  - {section: Bank, bars: 12, harmony: {1: Em, 9: G}, plays: kiln}
  - {section: Mill, bars: 12, plays: on}
click: {every: beat}
"""


def midi_changed(change: Callable[[mido.MidiFile], None]) -> bytes:
    file = mido.MidiFile(file=io.BytesIO(files_of(PLAIN)["piece.mid"]), charset="utf8")
    change(file)
    content = io.BytesIO()
    file.save(file=content)
    return content.getvalue()


def track(file: mido.MidiFile, name: str) -> mido.MidiTrack:
    return next(each for each in file.tracks if each.name == name)


def note_moved(file: mido.MidiFile) -> None:
    notes = [m for m in track(file, "marimba, bass") if not m.is_meta]
    notes[20].time += 240
    notes[21].time -= 240


def accent_lost(file: mido.MidiFile) -> None:
    head = next(m for m in track(file, "marimba, bass") if m.type == "note_on" and m.velocity)
    head.velocity = 72


def slower(file: mido.MidiFile) -> None:
    next(m for m in file.tracks[0] if m.type == "set_tempo").tempo = 600_000


def other_meter(file: mido.MidiFile) -> None:
    next(m for m in file.tracks[0] if m.type == "time_signature").numerator = 3


def renamed(file: mido.MidiFile) -> None:
    next(m for m in file.tracks[0] if m.type == "marker" and m.text == "Mill").text = "Weir"


def other_chord(file: mido.MidiFile) -> None:
    next(m for m in track(file, "harmony") if m.type == "marker" and m.text == "G").text = "F"


def part_added(file: mido.MidiFile) -> None:
    own = track(file, "marimba, bass")
    file.tracks.append(mido.MidiTrack([m.copy(name="Horn") if m.type == "track_name" else m for m in own]))


def part_taken(file: mido.MidiFile) -> None:
    track(file, "marimba, bass")[:] = [mido.MetaMessage("track_name", name="marimba, bass")]


Change = Callable[[mido.MidiFile], None]
CHANGES: dict[Change, str] = {
    note_moved: "other notes stand in marimba, bass, bar 3.",
    accent_lost: "other accents stand in marimba, bass, bar 1.",
    slower: "the tempo was changed.",
    other_meter: "the bars were changed, from bar 1 on.",
    renamed: "the sections were changed.",
    other_chord: "the chords were changed.",
    part_added: "Horn was added.",
    part_taken: "a part was taken out.",
}


@pytest.mark.parametrize("change", CHANGES, ids=lambda change: change.__name__)
def test_where_somebody_changed_the_file_its_notes_are_read_and_it_is_told(
    change: Callable[[mido.MidiFile], None], tmp_path: Path
) -> None:
    heard = read(midi_changed(change), tmp_path)
    told = "The notes were read, not the spec that barcross wrote in the file: "
    assert told + CHANGES[change] in heard.findings
    assert "what barcross wrote" not in heard.text.splitlines()[2]


def test_a_score_that_music21_writes_again_is_still_the_same_music(tmp_path: Path) -> None:
    """Another program's layout, ties and divisions; music21 keeps the field under a name of its own."""
    content = files_of(PLAIN)["piece.musicxml"]
    carried = content[content.index(b"<miscellaneous>") : content.index(b"</identification>")]
    again = music21.musicxml.m21ToXml.GeneralObjectExporter(
        music21.converter.parse(content, format="musicxml")
    ).parse()
    start = again.index(b"</identification>")
    heard = read(again[:start] + carried + again[start:], tmp_path, "piece.musicxml")
    assert heard.findings[0].startswith("Read from what barcross wrote")


def test_an_accent_that_was_moved_in_a_score_is_seen(tmp_path: Path) -> None:
    content = files_of(PLAIN)["piece.musicxml"]
    accent = b'<accent placement="above" />'
    place = content.index(accent, len(content) // 2)
    changed = content[:place] + b'<staccato placement="above" />' + content[place + len(accent) :]
    heard = read(changed, tmp_path, "piece.musicxml")
    assert any(
        line.startswith("The notes were read") and "other accents stand in" in line for line in heard.findings
    )


def carrying(text: str) -> bytes:
    """A MIDI file of three notes, by somebody else, that says it carries a spec."""
    file = mido.MidiFile(type=1, charset="utf8")
    notes = [
        mido.Message(kind, note=60, velocity=90, time=t) for t, kind in ((0, "note_on"), (60, "note_off")) * 3
    ]
    text_event = mido.MetaMessage("text", text=MARK + text)
    file.tracks.append(mido.MidiTrack([text_event, mido.MetaMessage("set_tempo", tempo=500_000), *notes]))
    content = io.BytesIO()
    file.save(file=content)
    return content.getvalue()


NAMES = ["a", *(f"b{index}" for index in range(40))]
BOMB = "\n".join(
    ["a: &a [x, x]", *(f"{after}: &{after} [*{name}, *{name}]" for name, after in pairwise(NAMES))]
)


@pytest.mark.parametrize(
    "text",
    ["", "[", "{", "tempo: !!python/name:os.system", BOMB, "[" * 5000, "form: []", '{"title": "x"}', "\x00"],
)
def test_a_stranger_s_spec_is_checked_like_any_other(text: str, tmp_path: Path) -> None:
    heard = read(carrying(text), tmp_path)
    assert not text or any(
        "the spec that barcross wrote in the file: it is damaged." in f for f in heard.findings
    )
    assert parse_spec(heard.text, "x.yaml").recording is None


def test_a_stranger_s_spec_opens_no_file(tmp_path: Path) -> None:
    text = (
        PLAIN
        + "recording: /etc/passwd\nsync: {1: 0}\nsegments: [{show: card, title: x, say: [{file: /etc/x}]}]\n"
    )
    content = files_of(PLAIN)["piece.mid"].replace(MARK.encode(), b"barcross spac: ")
    file = mido.MidiFile(file=io.BytesIO(content), charset="utf8")
    file.tracks[0].insert(1, mido.MetaMessage("text", text=MARK + text))
    changed = io.BytesIO()
    file.save(file=changed)
    heard = read(changed.getvalue(), tmp_path)
    assert heard.text.splitlines()[2] == "# Read from what barcross wrote in piece.mid."
    assert "passwd" not in heard.text
    assert "say" not in heard.text


def test_it_can_be_left_out_and_passed_over(tmp_path: Path) -> None:
    spec, bare, whole = tmp_path / "ferry.yaml", tmp_path / "bare", tmp_path / "whole"
    spec.write_text(PLAIN, encoding="utf-8")
    for folder, options in ((bare, ["--notes-only"]), (whole, [])):
        run("export", str(spec), "midi", "score", "--out", str(folder), *options)
    for name in ("piece.mid", "piece.musicxml"):
        assert b'"kiln"' not in (bare / name).read_bytes()
        found = "Read from what barcross wrote in the file"
        assert found in run("new", str(tmp_path / f"a{name}.yaml"), "--from", str(whole / name))
        assert found not in run("new", str(tmp_path / f"b{name}.yaml"), "--from", str(bare / name))
        passed = run("new", str(tmp_path / f"c{name}.yaml"), "--from", str(whole / name), "--notes-only")
        assert "A figure was found in marimba, bass" in passed
        named = run(
            "new", str(tmp_path / f"d{name}.yaml"), "--from", str(whole / name), "--part", "marimba, bass"
        )
        assert "the spec that barcross wrote in the file: a part was named." in named


def run(*arguments: str) -> str:
    result = CliRunner().invoke(main, arguments, catch_exceptions=False)
    return result.stdout + result.stderr
