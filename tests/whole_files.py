"""Films and sounds written to a path, as the commands write them: whole or not at all."""

from collections.abc import Callable, Iterable
from fractions import Fraction
from pathlib import Path

from renderer.audio import click_track, encode
from renderer.audio.click_sounds import SAMPLES_PER_SECOND
from renderer.audio.loudness import Samples, Sound
from renderer.core.files import whole_file
from renderer.video import mp4
from renderer.video.pixels import Pixels


def write_film(
    path: Path,
    frames: Iterable[Pixels],
    width: int,
    height: int,
    frames_per_second: Fraction,
    frame_count: int,
    sound: Sound | None = None,
) -> None:
    with whole_file(path) as file:
        mp4.write_film(file, frames, width, height, frames_per_second, frame_count, sound)


def write_wav(path: Path, samples: Sound, samples_per_second: int = SAMPLES_PER_SECOND) -> None:
    with whole_file(path) as file:
        click_track.write_wav(file, samples, samples_per_second)


def write_sound(path: Path, blocks: Callable[[], Iterable[Samples]], sample_count: int) -> None:
    with whole_file(path) as file:
        encode.write_sound(file, path.suffix.removeprefix("."), blocks, sample_count)
