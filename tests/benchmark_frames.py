"""How fast films are made, against Manim's own way and against the encoder alone.

Run `python -m tests.benchmark_frames` for all parts, or name some: speed, transparent, command, changes, processes,
growth, start.
All sides of a comparison run in turn in one call and ratios are printed; single times vary with the machine,
ratios much less. `speed` and `transparent` count processor time, all others the clock. `--seconds` shortens the
stretch that `speed` measures.
"""

import argparse
import os
import re
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from multiprocessing import get_context
from pathlib import Path
from statistics import median
from typing import Any, NamedTuple

import av
import numpy as np
from manim import Camera, ManimColor

from renderer.core.time_grid import frame_index_to_seconds
from renderer.lesson.lesson import Lesson, open_lesson
from renderer.reading.load import parse_spec
from renderer.timeline.build import build_timeline
from renderer.video.chunks import ChunkRenderer, Film
from renderer.video.codings import H264, PRORES, VP9
from renderer.video.h264 import encode_chunk
from renderer.video.pixels import PixelBox
from renderer.video.planes import Planes
from renderer.video.render import DRAFT, FINAL, Quality, build_film, render_lesson
from renderer.video.workers import in_this_process, local_workers
from scenes.draw.look import look_of
from scenes.draw.segment import Moment
from scenes.stage import Mobjects
from tests.lessons import EXAMPLE

PROCESSES = 2
SHOWS = {"play": "Play", "spread": "Spread"}


def lesson_of(text: str) -> Lesson:
    """A lesson from a spec's text."""
    spec = parse_spec(text, "example.yaml")
    return Lesson(spec, build_timeline(spec))


def film_of(lesson: Lesson, show: str, quality: Quality = FINAL) -> Film:
    """The film of the lesson's first segment of a show."""
    planned = next(planned for planned in lesson.segments() if planned.show == show)
    return build_film(planned, quality, look_of(lesson.spec.theme))


# Three ways to make one chunk, each timed without its preparation, in seconds of this process's one core: the
# encoder has a single thread, and another program's load should not count.


_studios: dict[str, ChunkRenderer] = {}


def studio_of(film: Film) -> ChunkRenderer:
    """A process draws all its chunks of a film in one studio."""
    return _studios.get(film.key()) or _studios.setdefault(film.key(), ChunkRenderer(film))


def time_ours(film: Film, chunk: int) -> float:
    """Name, draw only what changed, convert only that, encode."""
    studio = studio_of(film)
    start = time.process_time()
    studio.make(chunk, ())
    return time.process_time() - start


def time_encoder(film: Film, chunk: int) -> float:
    """Encode the same frames, which lie in memory."""
    frames = []
    for pixels in ours(film, chunk):
        planes = Planes(film.width, film.height)
        planes.update(pixels, [PixelBox(0, 0, film.width, film.height)])
        frames.append(planes.frame)
    start = time.process_time()
    encode_chunk(frames, film.width, film.height, film.frames_per_second)
    return time.process_time() - start


def time_manim(film: Film, chunk: int) -> float:
    """Manim's camera draws each frame as a whole; converted as a whole; the same encoder."""
    segment = studio_of(film).segment
    camera = Camera(
        pixel_width=film.width,
        pixel_height=film.height,
        frame_height=8.0,
        frame_width=8.0 * film.width / film.height,
        background_color=ManimColor(film.look.ground),
    )
    planes, whole = Planes(film.width, film.height), [PixelBox(0, 0, film.width, film.height)]
    mobjects = Mobjects()
    converting = 0.0

    def frames() -> Iterator[av.VideoFrame]:
        nonlocal converting
        for moment in moments(film, chunk):
            picture = segment.picture(moment)
            begun = time.process_time()
            converted = mobjects.of(picture)
            converting += time.process_time() - begun  # a Manim scene would have mobjects from the start
            camera.reset()
            camera.capture_mobjects(converted)
            planes.update(np.array(camera.pixel_array), whole)  # Manim too hands on a copy
            yield planes.frame

    start = time.process_time()
    encode_chunk(frames(), film.width, film.height, film.frames_per_second)
    return time.process_time() - start - converting


def moments(film: Film, chunk: int) -> Iterator[Moment]:
    """The moments of a chunk's frames."""
    for index in film.stretches()[chunk]:
        seconds = frame_index_to_seconds(index, film.frames_per_second)
        yield Moment(seconds, 1 / film.frames_per_second)


def ours(film: Film, chunk: int) -> Iterator[Any]:
    """The pixels of a chunk's frames."""
    studio = studio_of(film)
    for moment in moments(film, chunk):
        yield studio.drawer.painter.paint(studio.segment.picture(moment))


def measure_speed(seconds: float) -> None:
    """Chunk by chunk, all three ways in turn, in two processes at once."""
    lesson = open_lesson(EXAMPLE)
    ways: list[Callable[[Film, int], float]] = [time_ours, time_encoder, time_manim]
    with ProcessPoolExecutor(PROCESSES, get_context("spawn")) as pool:
        for show in SHOWS:
            film = film_of(lesson, show)
            stretches = film.stretches()
            chunks = range(min(len(stretches), round(seconds / 2)))
            spent = dict.fromkeys(ways, 0.0)
            for first in range(0, len(chunks), PROCESSES):
                for way in ways:
                    together = list(chunks[first : first + PROCESSES])
                    spent[way] += sum(pool.map(way, [film] * len(together), together))
            count = sum(len(stretches[chunk]) for chunk in chunks)
            mine, encoder, manim = (spent[way] for way in ways)
            print(
                f"{show}, {count} frames, 1920x1080, {PROCESSES} processes: ours {1000 * mine / count:.2f} ms a frame"
                f" in each, encoder alone {1000 * encoder / count:.2f}, Manim's drawing {1000 * manim / count:.2f}"
            )
            print(
                f"  {mine and manim / mine:.2f} x Manim's drawing; {encoder / mine:.2f} of the encoder's rate"
            )


def measure_transparent() -> None:
    """Films without a ground against H.264, a chunk of each show, twice in turn; the second time counts."""
    lesson = open_lesson(EXAMPLE)
    for show in ("figure", *SHOWS):
        opaque = film_of(lesson, show)
        spent: dict[str, float] = {}
        for coding in (H264, PRORES, VP9) * 2:
            spent[coding.name] = time_ours(replace(opaque, coding=coding), 1)
        ratios = ", ".join(f"{name} {spent[H264.name] / value:.2f}" for name, value in spent.items())
        print(f"{show}, speed by that of H.264: {ratios}")


def measure_command() -> None:
    """The whole of `render` against Manim's command line with its defaults."""
    text = re.sub(r"segments: .*", "segments: [spread, play]", EXAMPLE.read_text(encoding="utf-8"))
    root = EXAMPLE.parent.parent
    with tempfile.TemporaryDirectory() as folder:
        spec = Path(folder) / "example.yaml"
        spec.write_text(text, encoding="utf-8")
        command = [sys.executable, "-c", "from renderer.command import main; main()", "render", str(spec)]
        manim = [
            sys.executable,
            "-m",
            "manim",
            "render",
            "-v",
            "ERROR",
            "--progress_bar",
            "none",
            "--media_dir",
            folder,
            "-r",
            "1920,1080",
            "--fps",
            "60",
        ]
        for show, scene in SHOWS.items():
            mine = run([*command, show, "--out", f"{folder}/out"], root)
            theirs = run([*manim, "scenes/stage.py", scene], root, BARCROSS_SPEC=str(spec))
            print(
                f"{show}, command lines: ours {mine.clock:.1f} s, Manim's {theirs.clock:.1f} s: "
                f"{theirs.clock / mine.clock:.1f} x by the clock, "
                f"{theirs.processor / mine.processor:.1f} x in processor time"
            )


def timed_run(command: list[str], folder: Path, **environment: str) -> float:
    """Seconds that a command takes by the clock."""
    return run(command, folder, **environment).clock


class Spent(NamedTuple):
    """Seconds by the clock, and of all processors together."""

    clock: float
    processor: float


def run(command: list[str], folder: Path, **environment: str) -> Spent:
    """What a command takes, its workers included."""
    before, start = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    subprocess.run(
        command,
        cwd=folder,
        env=os.environ | {"PYTHONDONTWRITEBYTECODE": ""} | environment,  # as Manim's own code, compiled once
        check=True,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    used = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return Spent(time.perf_counter() - start, used)


LIST_SIZE = 4000
"""Bytes: lists of a minute's chunks are shorter, chunks longer."""
CHANGES = {
    "the click's level": ("count_in: 1", "count_in: 1, level: -3"),
    "a harmony near the end": ("6: Bb", "6: C"),
    "a part's name": ("organ", "piano"),
    "a bar count": ("bars: 12\n    harmony: {1: [Am", "bars: 13\n    harmony: {1: [Am"),
}


def measure_changes() -> None:
    """What a change of the spec costs, in shares of a cold render of `play`."""
    text = EXAMPLE.read_text(encoding="utf-8")
    with tempfile.TemporaryDirectory() as folder:
        spec, out = Path(folder) / "example.yaml", Path(folder) / "out"
        command = [
            sys.executable,
            "-c",
            "from renderer.command import main; main()",
            "render",
            str(spec),
            "play",
            "--out",
            str(out),
        ]
        root = EXAMPLE.parent.parent
        spec.write_text(text, encoding="utf-8")
        cold = timed_run(command, root)
        print(f"cold render of play: {cold:.1f} s; unchanged: {timed_run(command, root) / cold:.0%} of it")
        for name, (old, new) in CHANGES.items():
            assert old in text
            before = count_chunks(out)
            spec.write_text(text.replace(old, new), encoding="utf-8")
            seconds = timed_run(command, root)
            drawn = count_chunks(out) - before
            print(f"  {name}: {seconds / cold:.0%} of a cold render, {drawn} chunks drawn")


def count_chunks(folder: Path) -> int:
    """The chunks of pictures that are kept: beside them lie parts of sound, and lists of names of a line a chunk."""
    entries = [path for path in (folder / ".chunks").iterdir() if "." not in path.name]
    return sum(path.stat().st_size > LIST_SIZE for path in entries)


def measure_processes() -> None:
    """Two processes against one, cold, in turn."""
    lesson = open_lesson(EXAMPLE)
    play = [planned for planned in lesson.segments() if planned.show == "play"]
    seconds: dict[int, list[float]] = {1: [], 2: []}
    for _ in range(2):
        for count in seconds:
            with tempfile.TemporaryDirectory() as folder:
                start = time.perf_counter()
                render_lesson(lesson, Path(folder), play, FINAL, workers=local_workers(count))
                seconds[count].append(time.perf_counter() - start)
    print(f"two processes: {median(seconds[1]) / median(seconds[2]):.2f} x one")


def measure_growth() -> None:
    """Time a frame and peak memory for longer and longer pieces."""
    for bars in (30, 300, 560):
        code = f"from tests.benchmark_frames import grow; grow({bars})"
        subprocess.run([sys.executable, "-c", code], check=True, cwd=EXAMPLE.parent.parent)


def grow(bars: int) -> None:
    """Render a draft of a piece of so many bars in this process."""
    text = re.sub(r"bars: 8\n", f"bars: {bars - 24}\n", EXAMPLE.read_text(encoding="utf-8"))
    lesson = lesson_of(text)
    play = [planned for planned in lesson.segments() if planned.show == "play"]
    with tempfile.TemporaryDirectory() as folder:
        start = time.process_time()
        film = render_lesson(lesson, Path(folder), play, DRAFT, workers=in_this_process)[-1]
        seconds = time.process_time() - start
    assert film.frames is not None
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"play of {bars} bars, {float(film.seconds) / 60:.1f} min, draft, one process: "
        f"{1000 * seconds / film.frames:.2f} ms a frame, {peak:.0f} MB at most"
    )


def measure_start() -> None:
    """A first still, the answers without pictures, and a draft, against the import of Manim."""
    root = EXAMPLE.parent.parent
    main = [sys.executable, "-c", "from renderer.command import main; main()"]
    with tempfile.TemporaryDirectory() as folder:
        commands = {
            "import manim": [sys.executable, "-c", "import manim"],
            "still play@9.3": [*main, "still", str(EXAMPLE), "play@9.3", "--out", folder],
            "check": [*main, "check", str(EXAMPLE)],
            "timeline": [*main, "timeline", str(EXAMPLE)],
        }
        seconds: dict[str, list[float]] = {name: [] for name in commands}
        for _ in range(5):
            for name, command in commands.items():
                seconds[name].append(timed_run(command, root))
        manim = median(seconds["import manim"])
        for name, values in seconds.items():
            print(f"{name}: {median(values):.2f} s, {median(values) / manim:.2f} x the import of Manim")
        draft = timed_run([*main, "render", str(EXAMPLE), "play", "--draft", "--out", folder], root)
    length = film_of(open_lesson(EXAMPLE), "play", DRAFT).schedule.seconds
    print(f"render --draft of play: {float(length) / draft:.1f} x real time")


def main() -> None:
    """Run the parts that are named."""
    parts: dict[str, Callable[[], None]] = {
        "transparent": measure_transparent,
        "command": measure_command,
        "changes": measure_changes,
        "processes": measure_processes,
        "growth": measure_growth,
        "start": measure_start,
    }
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("parts", nargs="*", choices=["speed", *parts, []], help="all unless named")
    parser.add_argument("--seconds", type=float, default=60.0, help="of film that speed measures")
    options = parser.parse_args()
    if not options.parts or "speed" in options.parts:
        measure_speed(options.seconds)
    for name, part in parts.items():
        if not options.parts or name in options.parts:
            part()


if __name__ == "__main__":
    main()
