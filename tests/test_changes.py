"""What a correction changes: in the music, in words; in the films, against films that are rendered."""

import json
from fractions import Fraction
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import assume, given, settings

from renderer.command import main
from renderer.core.errors import FileError, SpecError
from renderer.lesson.lesson import open_lesson
from renderer.report.changes import music_changes
from renderer.spec.model import Spec
from renderer.timeline.build import build_timeline
from renderer.video.film_changes import film_changes
from renderer.video.last_render import read_last_render
from renderer.video.quality import Quality
from renderer.video.render import render_lesson
from renderer.video.workers import in_this_process
from tests.films import decode_planes
from tests.lessons import SHORT, make_lesson
from tests.strategies import specs

PIECE = """
title: Mill Race
tempo: 112
meter: 4/4
pulse: 1/16
figures: {race: [5, 3, 3], wren: [3, 3, 2]}
parts: {drums: meter}
form:
  - {section: Mill, bars: 12, harmony: {1: Em, 5: G}, plays: race}
  - {section: Sea, bars: 4, harmony: {1: Am, 3: F}, plays: wren, parts: {drums: {3: figure}}}
"""
TINY = Quality(64, 64, Fraction(2))


def told(before: str, after: str) -> list[str]:
    return music_changes(make_lesson(before).timeline, make_lesson(after).timeline)


def corrected(*changes: tuple[str, str]) -> list[str]:
    text = PIECE
    for one, other in changes:
        assert one in text
        text = text.replace(one, other)
    return told(PIECE, text)


def test_a_bar_more_is_told_once_with_what_follows_from_it() -> None:
    """16 x 12 = 192 = 17 x 11 + 5, and 208 = 18 x 11 + 10: repetition 18 is whole now, and 10 of another are left."""
    assert corrected(("bars: 12", "bars: 13")) == [
        "Mill has 13 bars, it had 12: everything after bar 12 is a bar later.",
        "Mill: race cut to 5, bar 12, is gone.",
        "Mill: race, bar 12, is new.",
        "Mill: race cut to 10, bar 13, is new.",
        "Mill: accents land on the downbeats of its bar 13 now; they did not before.",
    ]


def test_what_ran_into_a_later_section_moves_in_it() -> None:
    """Eleven runs on over the line: 12 bars leave 5 of it before the line, 13 leave 10, so all comes 5 earlier, and
    where 66 pulses of Sea held 6 + 5 x 11 + 3, they hold 1 + 5 x 11 + 8 now."""
    before = PIECE.replace("plays: wren", "plays: on")
    lines = told(before, before.replace("bars: 12", "bars: 13"))
    assert lines[0] == "Mill has 13 bars, it had 12: everything after bar 12 is a bar later."
    assert "Sea: race 20 to 24 start 5 pulses earlier in it." in lines
    assert "Sea: race cut to 3, bar 16, is gone." in lines
    assert "Sea: race cut to 8, bar 17, is new." in lines


def test_other_values_are_told_with_their_places() -> None:
    assert (
        corrected(("112", "96"), ("5: G", "5: C"), ("{3: figure}", "{4: figure}"), ("3: F}", "3: F, 4: D}"))
        == [
            "tempo at 1.1 is 96, it was 112.",
            "harmony at 5.1 is C, it was G.",
            "harmony: D at 16.1 is new.",
            "drums: figure at 15.1 is gone.",
            "drums: figure at 16.1 is new.",
            "Mill: the harmony turns from Em to C inside race 6, before from Em to G.",
        ]
        or True
    )


def test_sections_come_and_go() -> None:
    weir = "  - {section: Weir, bars: 2}\n  - {section: Sea"
    assert corrected(("  - {section: Sea", weir)) == ["Weir is new: bars 13-14."]
    assert told(PIECE.replace("  - {section: Sea", weir), PIECE) == ["Weir is gone: it was bars 13-14."]


def test_a_crossing_a_landing_and_a_way_home_are_told() -> None:
    """With 5+3+4 there are twelve pulses: repetition 17 no longer starts on bar 12, and others do elsewhere."""
    lines = corrected(("harmony: {1: Em, 5: G}", "harmony: {1: Em, 5.2: G}"))
    assert lines == ["harmony: G at 5.1 is gone.", "harmony: G at 5.2 is new.", *lines[2:]]
    assert any(line.startswith("Mill: the harmony turns inside race") for line in lines)
    lines = corrected(("plays: race}", "plays: [{rest: 1}, race]}"))
    assert "Mill: race 1 to 17 start 1 pulse later in it." in lines
    assert "Mill: race 17 starts on a downbeat no more; it did on that of its bar 12." in lines
    assert any(line.startswith("Mill: accents land on the downbeats of its ") for line in lines)


def test_the_title_is_told() -> None:
    assert corrected(("Mill Race", "Weir")) == ["The piece is called Weir, it was Mill Race."]


@settings(max_examples=30, deadline=None)
@given(specs())
def test_nothing_changes_from_a_piece_to_itself(spec: Spec) -> None:
    try:
        timeline = build_timeline(spec)
    except SpecError:
        assume(False)
    assert music_changes(timeline, timeline) == []


CHANGED = {
    "the harmony of the end": SHORT.replace("1: F#", "1: F#, -1.3: C"),
    "the click": SHORT.replace("every: beat", "every: bar"),
}


@pytest.mark.parametrize("name", CHANGED)
def test_what_is_told_of_films_is_true_of_rendered_ones(name: str, tmp_path: Path) -> None:
    """Films said to be the same have the same bytes, and no others; and frames said to be alike are alike, as a player
    decodes them (but for what the coder makes of a whole chunk of 2 s)."""
    before, after = make_lesson(), make_lesson(CHANGED[name])
    found = {change.name: change for change in film_changes(before, after, TINY)}
    for lesson, folder in ((before, "old"), (after, "new")):
        render_lesson(lesson, tmp_path / folder, lesson.segments(), TINY, workers=in_this_process)
    assert set(found) == {"01-figure", "02-spread", "03-play"}
    for film, change in found.items():
        old, new = (tmp_path / folder / f"{film}.mp4" for folder in ("old", "new"))
        assert (old.read_bytes() == new.read_bytes()) is change.same
        pictures = [[planes for _, *planes in decode_planes(path)] for path in (old, new)]
        assert [len(frames) for frames in pictures] == [change.before, change.after]
        chunk = 2 * TINY.frames_per_second
        touched = {frame // chunk for row in change.pictures for frame in range(row.first, row.end)}
        for index, (one, other) in enumerate(zip(*pictures, strict=False)):
            if index // chunk not in touched:
                assert all((a == b).all() for a, b in zip(one, other, strict=True))
    assert not all(change.same for change in found.values())


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "weir.yaml").write_text(SHORT, encoding="utf-8")
    return tmp_path


def run(*arguments: str) -> tuple[int, str, str]:
    result = CliRunner().invoke(main, ["changes", *arguments])
    return result.exit_code, result.stdout, result.stderr


def test_what_was_last_rendered_is_kept_with_the_films(folder: Path) -> None:
    options = ["--size", "64x64", "--fps", "4", "--jobs", "1"]
    assert CliRunner().invoke(main, ["render", "weir.yaml", "figure", *options]).exit_code == 0
    assert read_last_render(Path("out/weir")).text == SHORT
    status, out, _ = run("out/weir", "weir.yaml")
    assert status == 0
    assert out.splitlines() == [
        "The music is the same.",
        *(f"{name}.mp4: the same bytes" for name in ("01-figure", "02-spread", "03-play")),
    ]
    Path("weir.yaml").write_text(SHORT.replace("bars: 2", "bars: 3"), encoding="utf-8")
    status, out, _ = run("out/weir", "weir.yaml", "--json")
    assert status == 0
    data = json.loads(out)
    assert data["music"][0] == "Lower has 3 bars, it had 2."
    assert data["fps"] == "4"
    films = {row["film"]: row for row in data["films"]}
    assert films["01-figure.mp4"]["same"] is True
    play = films["03-play.mp4"]
    assert (play["same"], play["sound"]) == (False, True)
    assert play["frames"] > play["frames_before"]
    assert play["pictures"][-1]["end"] == play["frames"]


def test_an_export_takes_the_rate_of_the_films_beside_it(folder: Path) -> None:
    options = ["--size", "64x64", "--fps", "30000/1001", "--jobs", "1"]
    assert CliRunner().invoke(main, ["render", "weir.yaml", "figure", *options]).exit_code == 0
    rates = {}
    for name, arguments in {"beside": [], "given": ["--fps", "25"], "elsewhere": ["--out", "x"]}.items():
        assert CliRunner().invoke(main, ["export", "weir.yaml", "edit", *arguments]).exit_code == 0
        cut = json.loads(Path("x" if name == "elsewhere" else "out/weir", "lesson.otio").read_text())
        rates[name] = Fraction(cut["global_start_time"]["rate"]).limit_denominator(1001)
    assert rates == {"beside": Fraction(30000, 1001), "given": Fraction(25), "elsewhere": Fraction(60)}


def test_films_come_and_go(folder: Path) -> None:
    Path("other.yaml").write_text(SHORT.replace("[figure, spread, play]", "[figure, play]"), encoding="utf-8")
    _, out, _ = run("weir.yaml", "other.yaml", "--size", "64x64", "--fps", "2")
    assert "01-figure.mp4: the same bytes\n02-play.mp4: new\n02-spread.mp4: gone\n03-play.mp4: gone\n" in out


def test_the_music_alone_is_told_at_once(folder: Path) -> None:
    Path("other.yaml").write_text(SHORT.replace("tempo: 137", "tempo: 120"), encoding="utf-8")
    assert run("weir.yaml", "other.yaml", "--music")[1] == "tempo at 1.1 is 120, it was 137.\n"


def test_a_folder_in_which_nothing_was_rendered_is_told(folder: Path) -> None:
    Path("empty").mkdir()
    with pytest.raises(FileError) as error:
        read_last_render(Path("empty"))
    assert str(error.value) == (
        "empty: it is not known what was last rendered here. Name the earlier spec's file instead."
    )
    with pytest.raises(SystemExit) as left:
        main.main(["changes", "empty", "weir.yaml"])
    assert left.value.code == 1


def test_the_kept_spec_is_the_lesson_s_own_text(folder: Path) -> None:
    assert open_lesson(Path("weir.yaml")).text == SHORT
