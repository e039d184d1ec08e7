"""MusicXML as it is read: against music21 on its corpus and on files that it writes, else by hand.

What repeats mean is in the W3C's MusicXML 4.0 documentation (`repeat`, `ending`, `sound`); it was written from memory.
"""

import io
import time
import zipfile
from fractions import Fraction
from pathlib import Path
from typing import Any

import music21
import pytest

from renderer.core.errors import FileError
from renderer.listening.musicxml_file import read_musicxml, unpacked
from renderer.listening.read_score import read_score
from renderer.listening.repeats import RepeatSign, played_order
from renderer.listening.score import Score
from renderer.reading.load import parse_spec
from renderer.timeline.build import build_timeline
from tests.test_listening_files import heard_in

CORPUS = (
    "bach/bwv66.6",
    "bach/bwv846",
    "corelli/opus3no1/1grave",
    "schoenberg/opus19/movement2",
)


def onsets_by_music21(part: Any) -> set[Fraction]:
    """Where notes begin, in whole notes; what is only held is left out."""
    found = set()
    for element in part.flatten().notes:
        if "Harmony" in element.classes or element.duration.isGrace:
            continue
        notes = element.notes if "Chord" in element.classes else [element]
        if not all(note.tie and note.tie.type in ("stop", "continue") for note in notes):
            found.add(Fraction(element.offset).limit_denominator(1 << 14) / 4)
    return found


@pytest.mark.parametrize("name", CORPUS)
def test_all_parts_of_a_corpus_piece_are_read_as_music21_reads_them(name: str) -> None:
    path = Path(music21.corpus.getWork(name))
    data = path.read_bytes()
    score = read_musicxml(unpacked(data) if data.startswith(b"PK") else data, "x")
    parts = [*music21.converter.parse(path).parts]
    assert len(score.parts) == len(parts)
    for part, other in zip(score.parts, parts, strict=True):
        start = Fraction(score.bars[0].at, score.grid)
        assert {Fraction(each.at, score.grid) - start for each in part.onsets} == onsets_by_music21(other)
        assert part.endless_tie is None


def signs(text: str) -> list[list[RepeatSign]]:
    """Bars parted by blanks: `|:` and `:|` (`:3|` three times), `[1` to `]`, jumps by their names."""
    found = []
    for bar in text.split():
        own = []
        for sign in bar.split(","):
            match sign:
                case "|:":
                    own.append(RepeatSign("forward"))
                case ":|":
                    own.append(RepeatSign("backward"))
                case ":3|":
                    own.append(RepeatSign("backward", "3"))
                case "]":
                    own.append(RepeatSign("ending stop"))
                case "-":
                    pass
                case _ if sign.startswith("["):
                    own.append(RepeatSign("ending start", sign[1:].replace("+", ", ")))
                case _:
                    own.append(RepeatSign(sign, "yes"))
        found.append(own)
    return found


@pytest.mark.parametrize(
    ("text", "order"),
    [
        ("- - -", "123"),
        ("- :| -", "12123"),
        ("- |: :| -", "123234"),
        ("- :3| -", "1212123"),
        ("|: - [1,:|,] [2,] -", "1231245"),
        ("|: [1+2,:|,] [3,] -", "1212134"),
        ("|: [1,:|,] [2,:|,] [3,] -", "1213145"),
        ("|: [1,:|,] - |: :|", "12134545"),
        ("|: [1,:|,] [2,:|,] -", "12134"),
        ("- fine - dacapo", "123412"),
        ("- segno - dalsegno -", "12342345"),
        ("- segno tocoda dalsegno coda -", "12342356"),
        ("|: - :| fine dacapo", "123123451234"),
        ("|: [1,:|,] [2,] dacapo", "12134134"),
    ],
)
def test_bars_are_played_as_repeats_endings_and_jumps_say(text: str, order: str) -> None:
    """By hand."""
    assert "".join(str(index + 1) for index in played_order(signs(text))) == order


def test_repeats_with_endings_are_played_as_music21_plays_them() -> None:
    """Each bar has a rhythm of its own."""
    part = music21.stream.Part()
    rhythms: tuple[list[float], ...] = ([1, 3], [2, 2], [3, 1], [1, 1, 2], [0.5, 3.5], [4])
    for number, rhythm in enumerate(rhythms, 1):
        measure = music21.stream.Measure(number=number)
        if number == 1:
            measure.append(music21.meter.TimeSignature("4/4"))
        for length in rhythm:
            measure.append(music21.note.Note("C5", quarterLength=length))
        part.append(measure)
    measures = [*part.getElementsByClass("Measure")]
    measures[1].leftBarline = music21.bar.Repeat(direction="start")
    measures[2].rightBarline = music21.bar.Repeat(direction="end")
    measures[4].leftBarline = None
    part.insert(0, music21.spanner.RepeatBracket(measures[2], number=1))
    part.insert(0, music21.spanner.RepeatBracket(measures[3], number=2))
    score = read_musicxml(exported(music21.stream.Score([part])), "x")
    assert len(score.bars) == 7
    assert placed(score) == onsets_by_music21(part.expandRepeats())


def placed(score: Score, part: int = 0) -> set[Fraction]:
    return {Fraction(each.at, score.grid) for each in score.parts[part].onsets}


def exported(stream: Any) -> bytes:
    return music21.musicxml.m21ToXml.GeneralObjectExporter(stream).parse()  # type: ignore[no-any-return]


LISTED = '<part-list><score-part id="P1"><part-name>Drum</part-name></score-part></part-list>'
NOTE = "<note><unpitched/><duration>{}</duration></note>"
BEATS = (
    "<attributes><divisions>2</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>"
)


def by_hand(bars: list[str], head: str = "", dtd: str = "") -> bytes:
    """A score of one part, in eighths."""
    measures = "".join(f'<measure number="{number}">{bar}</measure>' for number, bar in enumerate(bars, 1))
    body = f'{head}{LISTED}<part id="P1">{measures}</part>'
    return f'<?xml version="1.0"?>{dtd}<score-partwise>{body}</score-partwise>'.encode()


def test_percussion_without_pitch_is_read(tmp_path: Path) -> None:
    """3+3+2 eighths in 4/4, and once 3+3 over the bars: invented."""
    row = [3] * 40
    score = read_musicxml(by_hand([*bars_of(row)]), "x")
    assert placed(score) == {Fraction(3 * k, 8) for k in range(40)}
    assert score.parts[0].name == "Drum"


def bars_of(lengths: list[int]) -> list[str]:
    """Notes of so many eighths, tied over the bar lines of 4/4."""
    bars, room, text = [], 8, BEATS + TEMPO
    for length in lengths:
        first = min(length, room)
        tie = '<tie type="start"/>' if first < length else ""
        text += f"<note><unpitched/><duration>{first}</duration>{tie}</note>"
        room -= first
        if not room:
            bars.append(text)
            room, text = 8, ""
        if first < length:
            text += f'<note><unpitched/><duration>{length - first}</duration><tie type="stop"/></note>'
            room -= length - first
    return [*bars, text] if room < 8 else bars


TEMPO = '<direction><direction-type/><sound tempo="112"/></direction>'


def test_a_figure_of_an_unpitched_part_is_found(tmp_path: Path) -> None:
    path = tmp_path / "drum.musicxml"
    path.write_bytes(by_hand(bars_of([3, 2, 2] * 16)))
    heard = heard_in(path)
    assert (
        heard.findings[0]
        == "A figure was found in Drum that crosses the bars: 7 eighths, 3+2+2, 16 times whole."
    )
    read = build_timeline(parse_spec(heard.text, "x.yaml"))
    assert [read.whole(hit.at) for hit in read.hits][:4] == [
        0,
        Fraction(3, 8),
        Fraction(5, 8),
        Fraction(7, 8),
    ]


def test_what_stands_over_the_notes_is_read_at_its_place() -> None:
    """Marks, chords in all their parts, metronome marks with dots, offsets; a pick-up, and a meter in groups."""
    over = (
        "<direction><direction-type><rehearsal>A\u202e[1]</rehearsal></direction-type></direction>"
        "<direction><direction-type><metronome><beat-unit>quarter</beat-unit><beat-unit-dot/>"
        "<per-minute>c. 76</per-minute></metronome></direction-type></direction>"
    )
    chords = (
        "<harmony><root><root-step>B</root-step><root-alter>-1</root-alter></root><kind>minor-seventh</kind></harmony>"
        "<harmony><root><root-step>F</root-step></root><kind text='Δ'>major-seventh</kind>"
        "<bass><bass-step>C</bass-step><bass-alter>1</bass-alter></bass><offset>3</offset></harmony>"
    )
    more = (
        "<harmony><root><root-step>C</root-step></root><kind text='7'>dominant</kind><degree><degree-value>9"
        "</degree-value><degree-alter>-1</degree-alter><degree-type>alter</degree-type></degree></harmony>"
        "<harmony><root><root-step>C</root-step></root><kind>none</kind><offset>2</offset></harmony>"
        "<attributes><time><beats>2+2+3</beats><beat-type>8</beat-type></time></attributes>"
    )
    score = read_musicxml(
        by_hand([BEATS + over + NOTE.format(2), chords + NOTE.format(8), more + NOTE.format(7)]), "x"
    )
    assert [bar.at for bar in score.bars] == [-score.grid // 4, 0, score.grid]
    assert [bar.meter.text for bar in score.bars] == ["4/4", "4/4", "7/8 in 2+2+3"]
    assert [(mark.name, mark.at) for mark in score.sections] == [("A [1]", 0)]
    assert [change.quarters for change in score.tempo] == [114]
    eighth = score.grid // 8
    assert [(chord.name, chord.at // eighth) for chord in score.chords] == [
        ("Bbm7", 0),
        ("FΔ/C#", 3),
        ("C7b9", 8),
        ("N.C.", 10),
    ]


def test_staffs_voices_grace_notes_and_chords_are_read() -> None:
    chord = "<note><chord/><unpitched/><duration>4</duration></note>"
    grace = "<note><grace/><unpitched/></note>"
    lower = "<backup><duration>8</duration></backup><forward><duration>3</duration></forward>"
    bar = BEATS + grace + NOTE.format(4) + chord + NOTE.format(4) + lower
    bar += NOTE.format(5).replace("</note>", "<staff>2</staff></note>")
    score = read_musicxml(by_hand([bar]), "x")
    assert [part.name for part in score.parts] == ["Drum", "Drum 2"]
    assert placed(score) == {0, Fraction(1, 2)}
    assert placed(score, 1) == {Fraction(3, 8)}


def test_a_score_by_bars_is_read_like_one_by_parts() -> None:
    """`score-timewise`: the same elements the other way round."""
    own = [f'<part id="P1">{bar}</part>' for bar in bars_of([3] * 8)]
    bars = "".join(f'<measure number="{number}">{part}</measure>' for number, part in enumerate(own, 1))
    timewise = f"<score-timewise>{LISTED}{bars}</score-timewise>".encode()
    assert read_musicxml(timewise, "x") == read_musicxml(by_hand(bars_of([3] * 8)), "x")


def test_nothing_is_fetched_or_unfolded(tmp_path: Path) -> None:
    secret = tmp_path / "secret"
    secret.write_text("behind", encoding="utf-8")
    dtd = f'<!DOCTYPE score-partwise [<!ENTITY s SYSTEM "{secret.as_uri()}"><!ENTITY t "tiny">]>'
    title = "<work><work-title>Safe &s;&t;</work-title></work>"
    assert read_musicxml(by_hand(bars_of([4, 4]), title, dtd), "x").title == "Safe"
    entities = "".join(f'<!ENTITY b{k} "{f"&b{k - 1};" * 10 if k else "boom"}">' for k in range(12))
    bomb = by_hand(
        bars_of([4, 4]),
        "<work><work-title>&b11;</work-title></work>",
        f"<!DOCTYPE score-partwise [{entities}]>",
    )
    path = tmp_path / "x.musicxml"
    path.write_bytes(bomb)
    with pytest.raises(FileError, match="damaged, or not whole"):
        read_score(path)


PARTS_200 = b"".join(b'<score-part id="P%d"><part-name>a</part-name></score-part>' % k for k in range(200))
BODIES_200 = b"".join(
    b'<part id="P%d"><measure>%s</measure></part>' % (k, (BEATS + NOTE.format(8)).encode())
    for k in range(200)
)
FAULTS = {
    "nothing in it": (by_hand([]), "there are no bars in it."),
    "no notes": (by_hand([BEATS + TEMPO, ""]), "there are no notes in it."),
    "no tempo": (
        by_hand([BEATS + NOTE.format(8)]),
        "it says no tempo. Say it with --tempo, in quarter notes a minute: --tempo 112",
    ),
    "a million notes": (
        by_hand([BEATS + "<note/>" * 1_000_000]),
        "it has more than 200,000 notes. Save the part that you need alone.",
    ),
    "200 parts": (
        b"<score-partwise><part-list>" + PARTS_200 + b"</part-list>" + BODIES_200 + b"</score-partwise>",
        "it has 200 parts; at most 100 are read. Save those that you need.",
    ),
    "longer than a day": (
        by_hand([BEATS + TEMPO.replace("112", "1"), *([NOTE.format(8)] * 400)]),
        "it is longer than a day, the most that a piece can be.",
    ),
    "repeats without end": (
        by_hand(
            [BEATS + NOTE.format(8) + '<barline><repeat direction="backward" times="999999999"/></barline>']
        ),
        "it has more than 100,000 bars, the most that a piece can have.",
    ),
    "an odd meter": (
        by_hand([BEATS.replace(">4<", ">999999999<", 1) + NOTE.format(8)]),
        "the meter: got 999999999/4; a meter is two numbers, and the beats felt in it.",
    ),
    "no division": (by_hand([BEATS.replace(">2<", ">0<") + NOTE.format(8)]), "this MusicXML file is damaged"),
    "no number": (by_hand([BEATS + NOTE.format("1e999999999")]), "this MusicXML file is damaged"),
    "too fine": (
        by_hand([BEATS.replace(">2<", ">999999937<") + NOTE.format(1) + NOTE.format(1)]),
        "its notes are too finely divided to be counted.",
    ),
    "a text": (
        b"a text about <score-partwise",
        "this MusicXML file is damaged, or not whole. Save it again.",
    ),
}


@pytest.mark.parametrize(("data", "said"), FAULTS.values(), ids=FAULTS)
def test_what_cannot_be_read_is_told(data: bytes, said: str, tmp_path: Path) -> None:
    path = tmp_path / "x.musicxml"
    path.write_bytes(data)
    begun = time.process_time()
    with pytest.raises(FileError) as raised:
        heard_in(path)
    assert str(raised.value).startswith(f"{path}: {said}")
    assert time.process_time() - begun < 10


def test_a_jump_that_is_only_written_is_told(tmp_path: Path) -> None:
    words = "<direction><direction-type><words>D.C. al Fine</words></direction-type></direction>"
    score = read_musicxml(by_hand([*bars_of([4] * 4), words + NOTE.format(8)]), "x")
    assert score.remarks == (
        "The words D.C. or D.S. stand in the file without saying where to go on; here they are not followed.",
    )


def test_a_compressed_score_that_unpacks_without_end_is_refused(tmp_path: Path) -> None:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("META-INF/container.xml", '<rootfile full-path="x.xml"/>')
        archive.writestr("x.xml", b"<score-partwise>" + b" " * 70_000_000)
    (tmp_path / "x.mxl").write_bytes(packed.getvalue())
    with pytest.raises(FileError, match="it holds more than 32 MB"):
        read_score(tmp_path / "x.mxl")
