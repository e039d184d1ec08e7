"""`new --from`: what a MIDI file or a score says, as a spec; and what can't be read is told, nothing written.

The files are made by mido and music21, which know nothing of barcross.
"""

import io
import re
import zipfile
from fractions import Fraction
from itertools import accumulate
from pathlib import Path

import mido
import music21
import pytest
from click.testing import CliRunner, Result

from renderer.command import main
from renderer.core.errors import FileError
from renderer.export.midi import make_midi
from renderer.lesson.lesson import Lesson
from renderer.listening.listen import Heard, listen_to
from renderer.listening.midi_file import CHORD, accent_level, quarters_of, read_midi
from renderer.listening.read_score import read_score
from renderer.listening.score import TempoChange
from renderer.listening.tempo_marks import TempoEntry, tempo_entries
from renderer.reading.load import parse_spec
from renderer.timeline.build import build_timeline
from renderer.timeline.model import Timeline
from tests.midi_files import QUARTER, figure_of_eleven, heading, meta, midi_bytes, notes


def timeline_of(data: bytes, folder: Path, name: str = "ferry.mid") -> Timeline:
    """What comes of a file."""
    return build_timeline(parse_spec(text_of(data, folder, name), "ferry.yaml"))


def heard_in(path: Path) -> Heard:
    return listen_to(read_score(path), path).heard()


def text_of(data: bytes, folder: Path, name: str = "ferry.mid") -> str:
    path = folder / name
    path.write_bytes(data)
    return heard_in(path).text


def score_bytes(score: music21.stream.Score) -> bytes:
    return music21.musicxml.m21ToXml.GeneralObjectExporter(score).parse()  # type: ignore[no-any-return]


def small_score() -> music21.stream.Score:
    """Four bars of quarters in 4/4 after a quarter's pick-up; the second bar's last note is tied over the line."""
    part = music21.stream.Part(id="Reed")
    part.partName = "Reed"
    first = music21.stream.Measure(number=0)
    first.append(music21.meter.TimeSignature("4/4"))
    first.insert(0, music21.tempo.MetronomeMark(number=96))
    first.append(music21.note.Note("G4"))
    first.paddingLeft = 3
    part.append(first)
    for number in range(1, 5):
        measure = music21.stream.Measure(number=number)
        for beat in range(4):
            note = music21.note.Note("C5")
            if (number, beat) == (2, 3):
                note.tie = music21.tie.Tie("start")
            if (number, beat) == (3, 0):
                note.tie = music21.tie.Tie("stop")
            if beat == 0:
                note.articulations.append(music21.articulations.Accent())
            measure.insert(beat, note)
        if number in (1, 3):
            measure.insert(0, music21.expressions.RehearsalMark("AB"[number // 2]))
        part.append(measure)
    for number, beat, name in ((1, 0, "E-m7"), (2, 2, "F#7/C#")):
        part.measure(number).insert(beat, music21.harmony.ChordSymbol(name))
    score = music21.stream.Score([part])
    score.metadata = music21.metadata.Metadata(title="Reed Bed")
    return score


def test_a_midi_file_gives_tempo_meters_sections_harmony_and_parts(tmp_path: Path) -> None:
    bar = 4 * QUARTER
    conductor = heading(
        (0, meta("track_name", name="Otter Weir")),
        (0, meta("marker", text="Bank")),
        (2 * bar, meta("marker", text="Mill")),
        (2 * bar, meta("time_signature", numerator=3, denominator=4)),
        (3 * bar, meta("set_tempo", tempo=600_000)),
    )
    horn = [(0, meta("track_name", name="Horn")), *notes(range(0, 3 * bar, QUARTER))]
    chords = [(0, meta("marker", text="Em")), (bar + 2 * QUARTER, meta("marker", text="F#m7"))]
    timeline = timeline_of(midi_bytes(conductor, horn, chords), tmp_path)
    assert timeline.title == "Otter Weir"
    assert [(s.name, s.first_bar_number, s.bar_count) for s in timeline.sections] == [
        ("Bank", 1, 2),
        ("Mill", 3, 2),
    ]
    assert [b.meter.text for b in timeline.bars] == ["4/4", "4/4", "3/4", "3/4"]
    assert [(h.name, timeline.whole(h.at)) for h in timeline.harmony] == [("Em", 0), ("F#m7", Fraction(3, 2))]
    assert [f"{t.quarters} at {timeline.whole(t.at)}" for t in timeline.tempo] == ["120 at 0", "100 at 3"]
    assert {side.part for side in timeline.sides} == {"Horn"}


def test_a_score_gives_pick_up_sections_harmony_and_tempo(tmp_path: Path) -> None:
    data = score_bytes(small_score())
    timeline = timeline_of(data, tmp_path, "reed.musicxml")
    assert timeline.title == "Reed Bed"
    assert timeline.whole(timeline.start) == Fraction(-1, 4)
    assert [(s.name, s.first_bar_number, s.bar_count) for s in timeline.sections] == [
        ("A", 1, 2),
        ("B", 3, 2),
    ]
    assert [(h.name, timeline.whole(h.at)) for h in timeline.harmony] == [
        ("Ebm7", 0),
        ("F#7/C#", Fraction(3, 2)),
    ]
    assert [t.quarters for t in timeline.tempo] == [96]
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr("META-INF/container.xml", '<container><rootfile full-path="inner.xml"/></container>')
        archive.writestr("inner.xml", data)
    assert text_of(packed.getvalue(), tmp_path, "reed.mxl") == text_of(data, tmp_path, "reed.mxl")


def test_a_tie_whose_end_is_not_marked_ends_at_the_next_note_and_utf_16_is_read(tmp_path: Path) -> None:
    """Not every program marks where ties stop; some write UTF-16."""
    data = score_bytes(small_score())
    plain = data.replace(b'<tie type="stop" />', b"")
    assert plain != data
    wide = plain.decode().replace("utf-8", "utf-16").encode("utf-16")
    for each in (data, plain, wide):
        (tmp_path / "reed.xml").write_bytes(each)
        (part,) = read_score(tmp_path / "reed.xml").parts
        assert part.endless_tie is None
        assert len(part.onsets) == 16


def test_names_of_a_file_are_text(tmp_path: Path) -> None:
    names = ("Study #2: \x1b[2J{x}", "on", '"q" & *star', "é" * 90, "on")
    tracks = [[(0, meta("track_name", name=name.encode().decode("latin1"))), *notes([0])] for name in names]
    timeline = timeline_of(midi_bytes(heading(), *tracks), tmp_path)
    shown = ["Study #2: [2J{x}", "on", '"q" & *star', "é" * 40, "on 2"]
    assert [side.part for side in timeline.sides] == shown


def test_names_that_the_fonts_lack_are_left_out_and_told(tmp_path: Path) -> None:
    """`check` takes the spec, so all of it can be drawn."""
    tracks = [
        [(0, meta("track_name", name=name.encode().decode("latin1"))), *notes([0])]
        for name in ("鼓", "Horn 🎵")
    ]
    mark = (0, meta("marker", text="鼓".encode().decode("latin1")))
    path = tmp_path / "鼓.mid"
    path.write_bytes(midi_bytes(heading(mark), *tracks))
    heard = heard_in(path)
    assert "Left out of names, because the fonts don't have them: 鼓 and 🎵." in heard.findings
    spec = parse_spec(heard.text, "x.yaml")
    assert (spec.title, spec.form[0].name, [*spec.parts]) == ("New Piece", "Section 1", ["Part 1", "Horn"])
    (tmp_path / "x.yaml").write_text(heard.text, encoding="utf-8")
    assert CliRunner().invoke(main, ["check", str(tmp_path / "x.yaml")]).exit_code == 0


def test_a_figure_on_the_drum_channel_is_found(tmp_path: Path) -> None:
    """General MIDI's channel 10, where keys are instruments: 3+2+2 eighths, sixteen times."""
    places = [QUARTER // 2 * (7 * k + hit) for k in range(16) for hit in (0, 3, 5)]
    (tmp_path / "ferry.mid").write_bytes(midi_bytes(heading(), [*notes(places, channel=9)]))
    heard = heard_in(tmp_path / "ferry.mid")
    assert heard.findings[0] == (
        "A figure was found in Track 2 that crosses the bars: 7 eighths, 3+2+2, 16 times whole."
    )


@pytest.mark.parametrize(
    ("microseconds", "quarters"), [(535_714, "112"), (500_000, "120"), (533_333, "112.5"), (769_231, "78")]
)
def test_a_tempo_is_the_shortest_number_that_the_file_can_mean(microseconds: int, quarters: str) -> None:
    """RP-001 states microseconds a quarter: 60,000,000 divided by quarters a minute, rounded."""
    assert quarters_of(microseconds) == Fraction(quarters)
    assert abs(60_000_000 / Fraction(quarters) - microseconds) <= Fraction(1, 2)


def test_many_small_steps_are_a_move() -> None:
    """A straight way from 112 to 80 over two bars, in eighths, each step with the tempo of its middle."""
    steps = [TempoChange(64 + 2 * k, Fraction(112) - Fraction(2 * k + 1)) for k in range(16)]
    changes = [TempoChange(0, Fraction(112)), *steps, TempoChange(96, Fraction(80))]
    assert tempo_entries(changes, 16, 200) == [
        TempoEntry(0, Fraction(112)),
        TempoEntry(64, Fraction(80), moves=True),
        TempoEntry(96, Fraction(80)),
    ]
    plain = [TempoChange(0, Fraction(112)), TempoChange(64, Fraction(80)), TempoChange(128, Fraction(96))]
    assert [entry.moves for entry in tempo_entries(plain, 16, 200)] == [False] * 3


def test_two_levels_of_velocity_are_accents_and_a_slope_is_none() -> None:
    assert accent_level([72] * 8 + [112] * 3) == 112
    assert accent_level([70, 74, 71, 108, 112, 73, 110]) == 108
    assert accent_level([60, 70, 80, 90, 100]) is None
    assert accent_level([90] * 9) is None


@pytest.mark.parametrize("name", ["Em", "B♭7", "F#m7/C#", "Gsus4", "C6/9", "Dm7b5", "A", "N.C."])
def test_chords_are_told_from_names(name: str) -> None:
    assert CHORD.fullmatch(name)
    assert not CHORD.fullmatch(f"{name} again")
    assert not CHORD.fullmatch("Bridge")


def endless() -> bytes:
    score = small_score()
    score.parts[0].measure(3).notes[0].tie = None
    score.parts[0].measure(3).notes[0].pitch = music21.pitch.Pitch("D5")
    return score_bytes(score)


def seconds_only() -> bytes:
    data = bytearray(midi_bytes(heading(), [*notes([0])]))
    data[12:14] = b"\xe7\x28"  # 25 frames a second, 40 ticks a frame (RP-001)
    return bytes(data)


WHOLE = midi_bytes(heading(), [*notes(range(0, 40 * QUARTER, QUARTER))])
MIDI_FAULTS = {
    "text": (b"tempo: 112\n", "this is neither a MIDI file nor MusicXML."),
    "empty": (b"", "this is neither a MIDI file nor MusicXML."),
    "cut off": (WHOLE[:100], "this MIDI file is damaged, or not whole. Save it again."),
    "no notes": (midi_bytes(heading(), []), "there are no notes in it."),
    "no tracks": (midi_bytes(), "there are no notes in it."),
    "no tempo": (
        midi_bytes([*notes([0, 480])]),
        "it says no tempo. Say it with --tempo, in quarter notes a minute: --tempo 112",
    ),
    "several pieces": (
        midi_bytes(heading(), kind=2),
        "it holds several pieces, one a track. Save each as a file of its own.",
    ),
    "seconds": (seconds_only(), "it counts seconds, not beats. Save it with its bars and beats."),
    "too slow": (
        midi_bytes(heading(tempo=0xFFFFFF), [*notes([0, 7000 * 4 * QUARTER])]),
        "it is longer than a day, the most that a piece can be.",
    ),
    "too long": (
        midi_bytes(heading(tempo=60_000), [*notes([0, 120_000 * 4 * QUARTER])]),
        "it has more than 100,000 bars, the most that a piece can have.",
    ),
    "too fast": (
        midi_bytes(heading(tempo=100), [*notes([0])]),
        "it has a tempo of 600000 quarter notes a minute; a tempo is 1 to 1,000.",
    ),
    "parts": (
        midi_bytes(heading(), *([*notes([0])] for _ in range(200))),
        "it has 200 parts; at most 100 are read. Save those that you need.",
    ),
}
SCORE_FAULTS = {
    "cut off": (
        score_bytes(small_score())[:3000],
        "this MusicXML file is damaged, or not whole. Save it again.",
    ),
    "zip": (b"PK\x03\x04 nothing", "this MusicXML file is damaged, or not whole. Save it again."),
    "no parts": (b"<score-partwise/>", "there are no parts in it."),
    "an endless tie": (
        endless(),
        "in bar 2 a tie of Reed begins and never ends. Mend it, and save the file again.",
    ),
}


@pytest.mark.parametrize(("data", "said"), [*MIDI_FAULTS.values(), *SCORE_FAULTS.values()])
def test_what_cannot_be_read_is_told_and_nothing_is_written(data: bytes, said: str, tmp_path: Path) -> None:
    source = tmp_path / "ferry.mid"
    source.write_bytes(data)
    result = new(tmp_path / "ferry.yaml", "--from", str(source))
    assert (result.exit_code, result.stdout, result.stderr) == (1, "", f"{source}: {said}\n")
    assert [path.name for path in tmp_path.iterdir()] == ["ferry.mid"]


def test_every_cut_of_a_file_is_read_or_told(tmp_path: Path) -> None:
    path = tmp_path / "ferry.mid"
    for length in range(0, len(WHOLE), 7):
        path.write_bytes(WHOLE[:length])
        with pytest.raises(FileError):
            heard_in(path)


def test_a_million_notes_are_told_without_reading_them(tmp_path: Path) -> None:
    many = b"\x10\x90\x3c\x40\x10\x80\x3c\x00" * 1_000_000
    data = b"MThd\0\0\0\6\0\0\0\1\1\xe0MTrk" + len(many).to_bytes(4, "big") + many
    (tmp_path / "ferry.mid").write_bytes(data)
    result = new(tmp_path / "ferry.yaml", "--from", str(tmp_path / "ferry.mid"))
    assert (
        result.stderr
        == f"{tmp_path / 'ferry.mid'}: it is larger than 4 MB. Save the part that you need alone.\n"
    )


def new(path: Path, *arguments: str) -> Result:
    return CliRunner().invoke(main, ["new", str(path), *arguments], catch_exceptions=False)


def test_the_command_says_what_it_wrote_and_takes_part_and_tempo(tmp_path: Path) -> None:
    source, path = tmp_path / "ferry.mid", tmp_path / "ferry.yaml"
    source.write_bytes(midi_bytes([(0, meta("track_name", name="Horn")), *notes([0, 480, 960])]))
    result = new(path, "--from", str(source), "--tempo", "3/8 = 76", "--part", "horn")
    assert result.exit_code == 0
    assert result.stdout.endswith(f"Wrote {path}. Next: barcross preview {path}\n")
    assert "tempo: 114\n" in path.read_text(encoding="utf-8")
    assert CliRunner().invoke(main, ["check", str(path)]).exit_code == 0
    again = new(path, "--from", str(source), "--tempo", "96")
    assert again.stderr == f"{path} already exists; not overwritten. Choose another name.\n"
    other = new(tmp_path / "x.yaml", "--from", str(source), "--tempo", "96", "--part", "Harn")
    assert other.stderr == f"{source}: there is no part Harn. Write Horn? There are: Horn.\n"
    wrong = new(tmp_path / "x.yaml", "--from", str(source), "--tempo", "fast")
    assert wrong.exit_code == 2
    assert "a tempo is 1 to 1,000 quarter notes a minute" in wrong.stderr
    alone = new(tmp_path / "x.yaml", "--part", "Horn")
    assert "--part, --tempo, --reading and --notes-only need a file. Add --from FILE." in alone.stderr
    missing = new(tmp_path / "x.yaml", "--from", str(tmp_path / "none.mid"))
    assert missing.stderr == f"{tmp_path / 'none.mid'}: can't be read: no such file.\n"
    assert not (tmp_path / "x.yaml").exists()


def test_the_command_writes_another_reading(tmp_path: Path) -> None:
    source = tmp_path / "weir.mid"
    source.write_bytes(figure_of_eleven())
    first = new(tmp_path / "one.yaml", "--from", str(source))
    assert "Other readings: --reading 2 (3+3+5), --reading 3 (3+5+3).\n" in first.stdout
    second = new(tmp_path / "two.yaml", "--from", str(source), "--reading", "2")
    assert "How sure: less than 5+3+3, which plays the same notes in a shorter spec.\n" in second.stdout
    assert "Other readings: --reading 1 (5+3+3), --reading 3 (3+5+3).\n" in second.stdout
    texts = [(tmp_path / name).read_text(encoding="utf-8") for name in ("one.yaml", "two.yaml")]
    assert [next(line for line in text.split("\n") if "figure A: [" in line) for text in texts] == [
        "  figure A: [5, 3, 3]",
        "  figure A: [3, 3, 5]",
    ]
    one, two = (build_timeline(parse_spec(text, "weir.yaml")) for text in texts)
    assert [one.seconds(hit.at) for hit in one.hits] == [two.seconds(hit.at) for hit in two.hits]
    none = new(tmp_path / "x.yaml", "--from", str(source), "--reading", "4")
    assert none.exit_code == 1
    assert none.stderr == (
        f"{source}: there is no reading 4 of Marimba. There are: 1 (5+3+3), 2 (3+3+5), 3 (3+5+3).\n"
    )
    assert new(tmp_path / "x.yaml", "--from", str(source), "--reading", "7").exit_code == 2
    assert not (tmp_path / "x.yaml").exists()


def test_how_far_the_times_of_a_file_are_missed_is_said() -> None:
    """The pause at the end of Slow Water comes back as tempi that miss it. The file's times are mido's."""
    path = Path(__file__).parent.parent / "specs" / "slow-water.yaml"
    spec = parse_spec(path.read_text(encoding="utf-8"), path.name)
    (made,) = make_midi(Lesson(spec, build_timeline(spec), text=""), Fraction(60), notes_only=True)
    heard = listen_to(read_midi(made.content, "x"), Path("piece.mid")).heard()
    own = build_timeline(parse_spec(heard.text, "read.yaml"))
    file = mido.MidiFile(file=io.BytesIO(made.content), charset="utf8")
    times = [*accumulate(message.time for message in file)]
    played = [
        time
        for time, m in zip(times, file, strict=True)
        if m.type == "note_on" and m.velocity and m.channel != 9
    ]
    first = -6 * 60 / 69  # a bar of 12/8 before bar 1, which ends with the pick-up, at 69 quarters a minute
    last = float(own.seconds(max(hit.at for hit in own.hits))) - first - played[-1]
    assert f"Times differ from the file's by up to {last:.3f} s, most in bar 16." in heard.findings
    late = re.search(r"The piece ends ([\d.]+) s later than the file.", "\n".join(heard.findings))
    assert late
    assert float(late[1]) == pytest.approx(float(own.seconds(own.end)) - first - times[-1], abs=0.001)


def test_groups_that_nothing_marks_are_not_claimed(tmp_path: Path) -> None:
    """Six notes of eleven, as loud as each other: readings are told apart by their hits."""
    source = tmp_path / "weir.mid"
    sixteenth = QUARTER // 4
    ticks = [sixteenth * (11 * turn + hit) for turn in range(17) for hit in (0, 1, 3, 5, 6, 8)]
    source.write_bytes(midi_bytes(heading(), [(0, meta("track_name", name="Shaker")), *notes(ticks)]))
    result = new(tmp_path / "weir.yaml", "--from", str(source))
    assert "that crosses the bars: 11 sixteenths, XX.X.XX.X.., 17 times whole.\n" in result.stdout
    assert "Nothing in the file marks the groups." in result.stdout
    assert "--reading 2 (" in result.stdout
    assert "1+2+2" not in result.stdout


def test_a_name_of_a_file_is_text_in_the_comment(tmp_path: Path) -> None:
    text = text_of(figure_of_eleven(), tmp_path, "we\x1bir\ntitle: Mine.mid")
    assert "# Read from we ir title: Mine.mid.\n" in text
    assert parse_spec(text, "weir.yaml").title == "We Ir Title: Mine"
