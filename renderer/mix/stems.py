"""A segment's whole sound: click, figure voices, recording and voice over, each a stem, and their mix."""

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from renderer.audio.click_room import click_room
from renderer.audio.click_sounds import SAMPLES_PER_SECOND
from renderer.audio.click_track import click_events
from renderer.audio.ducking import ducking
from renderer.audio.event_track import EventTrack, SoundEvent, in_order
from renderer.audio.master import Master, master
from renderer.audio.slowed import SlowedSound
from renderer.audio.stem import Stem
from renderer.audio.voice_sounds import build_tone
from renderer.core.time_grid import seconds_to_sample_index
from renderer.lesson.lesson import Lesson
from renderer.mix.narration import narration_stem, under_narration
from renderer.mix.notes import Note, segment_notes
from renderer.mix.recording import Slowing, open_recording, recording_track
from renderer.schedule.model import Schedule
from renderer.schedule.play import PlaySchedule
from renderer.spec.sound import NO_SOUND, VOICE_SOUNDS, ClickSpec, SoundSpec, ToneSpec

CLICK = "click"
SPREAD_PAN = 40
"""How far out the first and the last of several voices stand, of 100."""
HELD_IN = SAMPLES_PER_SECOND // 2
"""Tones are made as long as a segment's longest note, in steps of half a second, so that segments share them."""


def segment_master(lesson: Lesson, schedule: Schedule) -> Master:
    """A segment's stems mixed, at the loudness that the lesson asks for. Raises FileError if a recording or voice file
    can't be used."""
    count = seconds_to_sample_index(schedule.seconds, SAMPLES_PER_SECOND)
    loudness = float((_sound(lesson, schedule) or SoundSpec()).loudness)
    return master(segment_stems(lesson, schedule), count, loudness)


def _sound(lesson: Lesson, schedule: Schedule) -> SoundSpec | None:
    """What is said of a segment's sound, or of the piece's."""
    return schedule.sound or lesson.spec.sound


def segment_stems(lesson: Lesson, schedule: Schedule, slowing: Slowing = SlowedSound) -> tuple[Stem, ...]:
    """The sources of a segment's sound, as long as it is; those that are silent all through are left out. `slowing`
    makes a recording slower."""
    stems: list[Stem] = []
    if schedule.clicks:
        click = schedule.click or lesson.click or ClickSpec()
        stems.append(
            Stem(CLICK, click_events(schedule.clicks, schedule.seconds, text=click), click.pan, True)
        )
    recorded = lesson.spec.recording is not None and isinstance(schedule, PlaySchedule)
    sound = _sound(lesson, schedule)
    tones = choose_tones(sound, lesson.timeline.voices, recorded)
    notes = segment_notes(schedule)
    for voice, played in notes.items():
        tone = tones.get(voice)
        if tone is not None and played:
            events = voice_events(played, tone, schedule.seconds)
            stems.append(Stem(voice, events, tone.pan or Fraction(0)))
    hits = [note.seconds for voice in notes if voice in tones for note in notes[voice]]
    recording = _recording_stem(lesson, schedule, hits, slowing)
    stems += [recording] if recording else []
    spoken = narration_stem(lesson.folder, schedule)
    if spoken is not None:
        duck = float((sound or SoundSpec()).duck)
        stems = [*under_narration(stems, schedule, duck), spoken]
    return _making_room(stems, schedule)


def _making_room(stems: Sequence[Stem], schedule: Schedule) -> tuple[Stem, ...]:
    """The stems, all but the click leaving room for it."""
    if not stems or stems[0].name != CLICK:
        return tuple(stems)
    click, *others = stems
    clicks = (
        (seconds_to_sample_index(each.seconds, SAMPLES_PER_SECOND), each.kind) for each in schedule.clicks
    )
    count = seconds_to_sample_index(schedule.seconds, SAMPLES_PER_SECOND)
    room = click_room(count, clicks, click, others)
    return (click, *(replace(stem, room=room) for stem in others))


def _recording_stem(
    lesson: Lesson, schedule: Schedule, hits: Sequence[Fraction], slowing: Slowing
) -> Stem | None:
    """The recording under a `play`, stepping back where click or voices sound."""
    if not isinstance(schedule, PlaySchedule):
        return None
    recording = open_recording(lesson)
    if recording is None:
        return None
    text = _sound(lesson, schedule) or SoundSpec()
    track = recording_track(recording, lesson.timeline, schedule, float(text.recording_level), slowing)
    onsets = [*(click.seconds for click in schedule.clicks), *hits]
    duck = ducking(onsets, float(text.duck))
    return Stem("recording", track, ducks=(duck,) if duck else ())


def choose_tones(sound: SoundSpec | None, voices: Sequence[str], recorded: bool) -> dict[str, ToneSpec]:
    """How each voice sounds; those that are silent are left out.

    What the spec leaves open: the first voice is plucked, the second struck and so on; several voices stand
    side by side from left to right; over a recording no voice sounds that is not asked for.
    """
    text = sound or SoundSpec()
    tones: dict[str, ToneSpec] = {}
    for index, voice in enumerate(voices):
        own, common = text.voices.get(voice), text.figure
        if recorded and own is None and (common is None or common.sound is None):
            continue
        given = [tone for tone in (own, common) if tone is not None]
        name = next((tone.sound for tone in given if tone.sound), VOICE_SOUNDS[index % len(VOICE_SOUNDS)])
        level = next((tone.level for tone in given if tone.level is not None), Fraction(0))
        pan = next((tone.pan for tone in given if tone.pan is not None), _pan(index, len(voices)))
        if name != NO_SOUND:
            tones[voice] = ToneSpec(name, level, pan)
    return tones


def _pan(index: int, count: int) -> Fraction:
    return Fraction(0) if count == 1 else Fraction(2 * SPREAD_PAN * index, count - 1) - SPREAD_PAN


def voice_events(notes: Sequence[Note], tone: ToneSpec, seconds: Fraction) -> EventTrack:
    """A voice's notes as a track of nearest(seconds x 48,000) samples.

    Each note's first sample stands on the one nearest to its exact time.
    """
    count = seconds_to_sample_index(seconds, SAMPLES_PER_SECOND)
    gain = 10 ** (float(tone.level or 0) / 20)
    places = [
        [seconds_to_sample_index(seconds, SAMPLES_PER_SECOND) for seconds in (note.seconds, note.end)]
        for note in notes
    ]
    longest = max((end - start for start, end in places), default=0)
    longest += HELD_IN - longest % HELD_IN
    sound = tone.sound or VOICE_SOUNDS[0]
    events = []
    for note, (start, stop) in zip(notes, places, strict=True):
        end = min(count, stop)
        if 0 <= start < end:
            sounding = build_tone(sound, note.root, note.above, note.accent, note.damped, longest)
            length = min(len(sounding), end - start)
            events.append(SoundEvent(start, length, sounding, gain, let_go=length < len(sounding)))
    return in_order(count, events)
