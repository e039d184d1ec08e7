"""What is heard in a segment: every click and hit on its sample, in the harmony that holds there."""

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from renderer.audio.event_track import EventTrack
from renderer.audio.loudness import decibels, true_peak
from renderer.audio.pitch import key_to_hertz
from renderer.lesson.lesson import Lesson
from renderer.mix.notes import segment_notes
from renderer.mix.stems import choose_tones, segment_master, segment_stems
from renderer.schedule.play import PlaySchedule, schedule_piece
from renderer.spec.sound import VOICE_SOUNDS, SoundSpec, ToneSpec
from tests.lessons import EXAMPLE, make_lesson
from tests.test_tones import fundamental, strongest

RATE = 48_000
HEAD = (
    "tempo: 120\nmeter: 4/4\npulse: 1/16\nfigures: {kiln: [5, 3, 3], bell: {hits: X..x. xx., pulse: 1/8}}\n"
)
CROSSING = "form:\n  - {section: A, bars: 4, plays: kiln, harmony: {1: Em, 1.4: G, 3: N.C.}}\nclick: none\n"
TWO = "form:\n  - {section: A, bars: 4, voices: {main: kiln, bell: bell}, harmony: {1: Em, 2.2: G}}\n"


def nearest_sample(seconds: Fraction) -> int:
    """Halves up, in whole numbers, without the code under test."""
    return (2 * seconds.numerator * RATE + seconds.denominator) // (2 * seconds.denominator)


def play(lesson: Lesson) -> PlaySchedule:
    return schedule_piece(lesson.timeline, lesson.click)


def starts(track: NDArray[np.float32], threshold: float = 0.02) -> list[int]:
    """Samples above `threshold` after 10 that are nearly silent."""
    level = np.abs(track)
    loud = np.flatnonzero(level > threshold)
    padded = np.concatenate([np.zeros(10, np.float32), level])
    before = np.lib.stride_tricks.sliding_window_view(padded, 10)[:-1].max(axis=1)
    return [int(i) for i in loud if before[i] < threshold / 5]


def track(lesson: Lesson, name: str) -> NDArray[np.float32]:
    (stem,) = [stem for stem in segment_stems(lesson, play(lesson)) if stem.name == name]
    assert isinstance(stem.source, EventTrack)
    return stem.source.whole()


def test_every_hit_stands_on_its_sample() -> None:
    lesson = make_lesson(HEAD + TWO.replace("bars: 4", "bars: 4, tempo: {2: {to: 97}}"))
    lead = play(lesson).spans[0].seconds
    for voice in ("main", "bell"):
        hits = [hit.at for hit in lesson.timeline.hits if hit.voice == voice]
        expected = [nearest_sample(lead + lesson.timeline.seconds(at)) for at in hits]
        assert starts(track(lesson, voice)) == expected


@settings(max_examples=12, deadline=None)
@given(
    st.fractions(30, 260, max_denominator=50),
    st.sampled_from(["plucked", "struck", "low", "drum"]),
    st.sampled_from([Fraction(1), Fraction(3, 4), Fraction(1, 4)]),
)
def test_at_any_tempo_with_any_sound_and_speed(tempo: Fraction, sound: str, speed: Fraction) -> None:
    lesson = make_lesson(HEAD.replace("120", f"{float(tempo):.6f}") + CROSSING + f"sound: {sound}\n")
    timeline = lesson.timeline.slowed(speed)
    schedule = schedule_piece(timeline, lesson.click)
    notes = segment_notes(schedule)["main"]
    assert [note.seconds for note in notes] == [
        lesson.timeline.seconds(hit.at) / speed for hit in lesson.timeline.hits
    ]
    (stem,) = segment_stems(lesson, schedule)
    assert isinstance(stem.source, EventTrack)
    assert starts(stem.source.whole(), 0.01) == [nearest_sample(note.seconds) for note in notes]


def test_inside_a_repetition_the_pitch_turns_with_the_harmony() -> None:
    lesson = make_lesson(HEAD + CROSSING)
    notes = segment_notes(play(lesson))["main"]
    # Beat 4 of bar 1 is sixteenth 12: in the second repetition, after its first hit (11), before 16 and 19.
    assert [note.root for note in notes[:6]] == [4, 4, 4, 4, 7, 7]
    assert [note.above for note in notes[:6]] == [0, 7, 7, 0, 7, 7]
    assert notes[3].end == lesson.timeline.seconds(lesson.timeline.grid * 12 // 16)
    sounding = track(lesson, "main")
    for index, half_tones in ((0, 4), (1, 4 + 7), (4, 7 + 7), (5, 7 + 7)):
        start = nearest_sample(notes[index].seconds)
        end = min(nearest_sample(notes[index].end), start + 12_000)
        pitch = key_to_hertz(48 + half_tones)
        heard = strongest(sounding[start + 480 : end])
        assert heard / round(heard / pitch) == pytest.approx(pitch, rel=0.02)


PLACED = """
tempo: 60
meter: 4/4
pulse: 1/8
figures: {weir: {hits: X.x.x x.x.. X.x.x.}}
click: none
"""
"""Sixteen eighths, half a second each: a repetition fills two bars; groups begin on pulses 1, 6 and 11."""


@pytest.mark.parametrize("sound", VOICE_SOUNDS)
@pytest.mark.parametrize(
    ("harmony", "third", "fifth"),
    [("Em", 3, 7), ("E", 4, 7), ("Edim", 3, 6), ("Esus4", 5, 7), ("E5", 12, 7), ("Eaug", 4, 8)],
)
def test_by_its_pitch_the_ear_knows_where_in_the_figure_a_hit_stands(
    sound: str, harmony: str, third: int, fifth: int
) -> None:
    lesson = make_lesson(
        PLACED + f"form: [{{section: A, bars: 2, plays: weir, harmony: {harmony}}}]\nsound: {sound}\n"
    )
    heard = pitches(lesson)
    expected = [0, third, third, fifth, third, fifth, third, third]
    assert len(heard) == len(expected)
    for hertz, half_tones in zip(heard, expected, strict=True):
        # Equal temperament; a quarter of a half tone is 1.5 per cent.
        assert hertz / heard[0] == pytest.approx(2 ** (half_tones / 12), rel=0.015)


@pytest.mark.parametrize("sound", VOICE_SOUNDS)
def test_a_crossing_turns_all_of_them(sound: str) -> None:
    form = "form: [{section: A, bars: 4, plays: weir, harmony: {1: Em, 3: Gm}}]\n"
    lesson = make_lesson(PLACED + form + f"sound: {sound}\n")
    heard = pitches(lesson)
    before, after = heard[:8], heard[8:]
    turned = {round(12 * np.log2(late / early)) % 12 for early, late in zip(before, after, strict=True)}
    assert turned == {3}  # from E to G, whatever octave the sound plays them in


def test_a_crossing_inside_a_repetition_turns_what_is_left_of_it() -> None:
    form = "form: [{section: A, bars: 2, plays: weir, harmony: {1: Em, 2: G}}]\n"
    notes = segment_notes(play(make_lesson(PLACED + form)))["main"]
    assert [note.root for note in notes] == [4, 4, 4, 4, 4, 7, 7, 7]
    assert [note.above for note in notes] == [0, 3, 3, 7, 3, 7, 4, 4]


def pitches(lesson: Lesson) -> list[float]:
    """The pitch of each note, in hertz, from the samples: the lag at which it is most like itself."""
    sounding = track(lesson, "main")
    notes = segment_notes(play(lesson))["main"]
    starts = [nearest_sample(note.seconds) for note in notes]
    return [fundamental(sounding[start + 2_400 : start + 21_600]) for start in starts]


def test_a_tone_that_rings_into_another_harmony_is_stopped_there() -> None:
    lesson = make_lesson(HEAD + CROSSING)
    turn = nearest_sample(lesson.timeline.seconds(lesson.timeline.grid * 12 // 16))
    sounding = track(lesson, "main")
    assert np.abs(sounding[turn - 2_000 : turn - 1_000]).max() > 0.05
    assert not sounding[turn : turn + 1_000].any()


def test_where_no_root_is_named_tones_are_damped() -> None:
    lesson = make_lesson(HEAD + CROSSING)
    notes = segment_notes(play(lesson))["main"]
    damped = [note.damped for note in notes]
    assert damped == [lesson.timeline.whole(hit.at) >= 2 for hit in lesson.timeline.hits]
    assert not any(n.damped for n in segment_notes(play(make_lesson(HEAD + TWO)))["bell"])


def test_accents_are_heard() -> None:
    lesson = make_lesson(HEAD + TWO.replace("bars: 4", "bars: 3"))
    notes = segment_notes(play(lesson))["bell"]
    assert [note.accent for note in notes[:4]] == [True, False, False, False]
    sounding = track(lesson, "bell")
    levels = [np.abs(sounding[nearest_sample(n.seconds) :][:4_000]).max() for n in notes[:3]]
    assert levels[0] > 1.8 * levels[1]
    assert levels[1] == pytest.approx(levels[2], rel=0.1)


def test_the_figure_is_counted_plain_and_then_accented() -> None:
    lesson = make_lesson(HEAD + TWO + "click: beat\nsegments: [{show: figure, figure: bell}]\n")
    (planned,) = lesson.segments()
    notes = segment_notes(planned.schedule)["bell"]
    assert [note.accent for note in notes] == [False] * 4 + [True, False, False, False]
    onsets = [click.seconds for click in planned.schedule.clicks]
    assert notes[0].seconds in onsets


def test_what_the_spec_leaves_open_is_chosen_by_place() -> None:
    four = choose_tones(None, ("a", "b", "c"), False)
    assert [(t.sound, float(t.pan or 0)) for t in four.values()] == [
        ("plucked", -40),
        ("struck", 0),
        ("low", 40),
    ]
    assert choose_tones(None, ("a",), True) == {}
    assert choose_tones(SoundSpec(ToneSpec("off")), ("a",), False) == {}
    asked = SoundSpec(ToneSpec("low", Fraction(-3)), {"b": ToneSpec(pan=Fraction(9)), "c": ToneSpec("off")})
    assert choose_tones(asked, ("a", "b", "c"), True) == {
        "a": ToneSpec("low", Fraction(-3), Fraction(-40)),
        "b": ToneSpec("low", Fraction(-3), Fraction(9)),
    }


def test_voices_stand_where_they_are_put() -> None:
    lesson = make_lesson(HEAD + TWO + "click: none\nsound: {voices: {main: {pan: left}, bell: {pan: 50}}}\n")
    made = segment_master(lesson, play(lesson))
    main, bell = made.stem(0), made.stem(1)
    assert not main[:, 1].any()
    assert 0 < np.abs(bell[:, 0]).max() < np.abs(bell[:, 1]).max()


def test_the_click_alone_as_a_stem_is_the_click() -> None:
    lesson = make_lesson(HEAD + TWO + "click: [beat, figure]\nsound: off\n")
    made = segment_master(lesson, play(lesson))
    assert [stem.name for stem in made.sources] == ["click"]
    assert made.true_peak_db <= -1
    onsets = sorted({nearest_sample(click.seconds) for click in play(lesson).clicks})
    assert starts(made.mix[:, 0], 0.05) == onsets


def test_the_example_is_at_its_loudness_in_every_segment_that_plays() -> None:
    from renderer.lesson.lesson import open_lesson

    lesson = open_lesson(EXAMPLE)
    for planned in lesson.segments():
        made = segment_master(lesson, planned.schedule)
        assert decibels(true_peak(made.mix)) <= -1
        assert made.lufs == pytest.approx(-14, abs=0.5) or not made.reached
        assert len(made.mix) == nearest_sample(planned.schedule.seconds)
        assert not np.any(made.mix - sum(made.stem(i) for i in range(len(made.sources))))
    assert made.reached
    parts = [made[start : start + 77_777] for start in range(0, made.sample_count, 77_777)]
    assert np.array_equal(np.concatenate(parts), made.mix)


def test_a_crossing_close_up_is_heard_at_its_own_pace() -> None:
    lesson = make_lesson(HEAD + CROSSING.replace("none", "beat") + "segments: [crossings]\n")
    (planned,) = lesson.segments()
    notes = segment_notes(planned.schedule)["main"]
    shown = [hit.at for hit in lesson.timeline.hits]
    at = [planned.schedule.seconds_at(tick) for tick in shown]
    assert [note.seconds for note in notes] == [seconds for seconds in at if seconds is not None]
    assert {4, 7} <= {note.root for note in notes}


def test_nothing_rings_while_the_picture_waits_for_words() -> None:
    words = (
        "say: [One two three four five six seven eight nine ten, Now the five and the three and the three]"
    )
    text = HEAD + TWO + "click: beat\nsegments: [{show: figure, figure: kiln, " + words + "}]\n"
    (planned,) = make_lesson(text).segments()
    plain = make_lesson(text.replace(", " + words, ""))
    said = segment_notes(planned.schedule)["main"]
    inner = segment_notes(plain.segments()[0].schedule)["main"]
    assert planned.schedule.seconds > plain.segments()[0].schedule.seconds
    assert [note.root for note in said] == [note.root for note in inner]
    assert all(
        later.end - later.seconds <= note.end - note.seconds for later, note in zip(said, inner, strict=True)
    )
    clicks = [click.seconds for click in planned.schedule.clicks]
    assert said[0].seconds in clicks
