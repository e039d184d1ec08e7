"""Films, reopened and counted: every frame, every sample, every tag."""

import gc
import hashlib
import struct
import subprocess
import sys
import weakref
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest
from numpy.typing import NDArray

from renderer.core.errors import BarcrossError, FileError
from renderer.spec.click import Click
from tests.films import (
    decode_frames,
    decode_planes,
    decode_sound,
    describe_film,
    find_onsets,
    walk_boxes,
)
from tests.mixed_clicks import mix_clicks
from tests.whole_files import write_film

WIDTH, HEIGHT = 128, 64
RATES = [Fraction(24000, 1001), Fraction(24), Fraction(25), Fraction(30000, 1001), Fraction(50), Fraction(60)]
BITS = 8
AUDIBLE = 0.08
"""-22 dBFS, half of the softest kind's peak: above what AAC adds before an onset."""

# ITU-R BT.709, colour bars of 100 %, 8 bits, limited range: RGB and Y, Cb, Cr.
BARS = {
    "white": ((255, 255, 255), (235, 128, 128)),
    "yellow": ((255, 255, 0), (219, 16, 138)),
    "cyan": ((0, 255, 255), (188, 154, 16)),
    "green": ((0, 255, 0), (173, 42, 26)),
    "magenta": ((255, 0, 255), (78, 214, 230)),
    "red": ((255, 0, 0), (63, 102, 240)),
    "blue": ((0, 0, 255), (32, 240, 118)),
    "black": ((0, 0, 0), (16, 128, 128)),
}


def numbered(count: int, channel_count: int = 4) -> Iterator[NDArray[np.uint8]]:
    """Frames that carry their index as eight columns, black for 0 and white for 1; one array drawn over."""
    frame = np.zeros((HEIGHT, WIDTH, channel_count), np.uint8)
    for index in range(count):
        for bit in range(BITS):
            column = slice(bit * WIDTH // BITS, (bit + 1) * WIDTH // BITS)
            frame[:, column] = 255 * (index >> bit & 1)
        yield frame


def read_number(frame: NDArray[np.uint8]) -> int:
    """The index that a frame of `numbered` carries."""
    columns = frame.mean(axis=(0, 2)).reshape(BITS, -1).mean(axis=1)
    return sum(1 << bit for bit in range(BITS) if columns[bit] > 127)


def write_numbered(path: Path, rate: Fraction = Fraction(25), count: int = 10, seconds: int = 1) -> None:
    sound = mix_clicks([Click(Fraction(0), "downbeat"), Click(Fraction(1, 3), "beat")], Fraction(seconds))
    write_film(path, numbered(count), WIDTH, HEIGHT, rate, count, sound)


class TestPicture:
    @pytest.mark.parametrize("rate", RATES, ids=str)
    def test_every_frame_is_shown_once_and_at_its_time(self, tmp_path: Path, rate: Fraction) -> None:
        path = tmp_path / "film.mp4"
        write_film(path, numbered(150), WIDTH, HEIGHT, rate, 150)
        frames = list(decode_frames(path))
        assert [seconds for seconds, _ in frames] == [index / rate for index in range(150)]
        assert [read_number(frame) for _, frame in frames] == list(range(150))

    @pytest.mark.parametrize("rate", RATES, ids=str)
    def test_the_file_says_what_it_holds(self, tmp_path: Path, rate: Fraction) -> None:
        write_numbered(tmp_path / "film.mp4", rate, 37, 2)
        film = describe_film(tmp_path / "film.mp4")
        assert (film.codec, film.pixel_format, film.width, film.height) == ("h264", "yuv420p", WIDTH, HEIGHT)
        assert (film.primaries, film.transfer, film.matrix, film.range) == (1, 1, 1, 1)
        assert (film.frames_per_second, film.frame_count, film.seconds) == (rate, 37, 37 / rate)
        assert film.boxes.index("moov") < film.boxes.index("mdat")

    def test_the_rate_is_constant_in_the_table_of_times(self, tmp_path: Path) -> None:
        # ISO/IEC 14496-12, 8.6.1.2: one entry, so many samples of one duration.
        write_numbered(tmp_path / "film.mp4", Fraction(30000, 1001), 37)
        data = (tmp_path / "film.mp4").read_bytes()
        boxes = {name: content for name, content, handler in walk_boxes(data) if handler == "vide"}
        assert struct.unpack(">4xIII", boxes["stts"]) == (1, 37, 1001)
        assert struct.unpack_from(">12xI", boxes["mdhd"]) == (30_000,)
        assert "ctts" not in boxes  # decoding order is showing order

    def test_the_colours_are_tagged_in_the_container_too(self, tmp_path: Path) -> None:
        # ISO/IEC 14496-12, 12.1.5: nclx, primaries, transfer, matrix, and no full-range flag.
        write_numbered(tmp_path / "film.mp4")
        assert b"colrnclx" + struct.pack(">HHHB", 1, 1, 1, 0) in (tmp_path / "film.mp4").read_bytes()

    @pytest.mark.parametrize("channel_count", [3, 4])
    def test_the_bars_are_within_one_level(self, tmp_path: Path, channel_count: int) -> None:
        frame = np.zeros((32, 16 * len(BARS), channel_count), np.uint8)
        for bar, (rgb, _) in enumerate(BARS.values()):
            frame[:, 16 * bar : 16 * bar + 16, :3] = rgb
        write_film(tmp_path / "bars.mp4", [frame] * 3, frame.shape[1], 32, Fraction(25), 3)
        for _, luma, blue, red in decode_planes(tmp_path / "bars.mp4"):
            for bar, (_, expected) in enumerate(BARS.values()):
                middle = luma[16, 16 * bar + 8], blue[8, 8 * bar + 4], red[8, 8 * bar + 4]
                assert np.abs(np.array(middle, int) - expected).max() <= 1

    @pytest.mark.parametrize("shift", [0, 1], ids=["edges between the squares", "edges inside the squares"])
    def test_chroma_is_the_mean_of_its_square_of_four_pixels(self, tmp_path: Path, shift: int) -> None:
        random = np.random.default_rng(5)
        frame = np.repeat(np.repeat(random.integers(0, 256, (4, 4, 3), dtype=np.uint8), 8, 0), 8, 1)
        frame = np.roll(frame, (shift, shift), (0, 1))
        write_film(tmp_path / "film.mp4", [frame], 32, 32, Fraction(25), 1)
        ((_, luma, blue, red),) = decode_planes(tmp_path / "film.mp4")
        r, g, b = np.moveaxis(frame / 255, 2, 0)
        y = 0.2126 * r + 0.7152 * g + 0.0722 * b  # ITU-R BT.709
        cb, cr = (
            128 + 224 * difference.reshape(16, 2, 16, 2).mean(axis=(1, 3))
            for difference in ((b - y) / 1.8556, (r - y) / 1.5748)
        )
        # The encoder's own loss at edges comes on top of half a level of rounding; a chroma sample taken at
        # one pixel, or a filter wider than the square, is off by tens.
        assert np.abs(luma - (16 + 219 * y)).max() < 8
        assert np.abs(blue - cb).max() < 8
        assert np.abs(red - cr).max() < 8

    def test_a_thin_line_that_moves_leaves_no_trace(self, tmp_path: Path) -> None:
        frames = []
        for index in range(40):
            frame = np.full((HEIGHT, WIDTH, 3), 24, np.uint8)
            frame[10:54, 4 + 3 * index : 6 + 3 * index] = 240
            frames.append(frame)
        write_film(tmp_path / "film.mp4", frames, WIDTH, HEIGHT, Fraction(60), 40)
        for (_, decoded), frame in zip(decode_frames(tmp_path / "film.mp4"), frames, strict=True):
            assert np.abs(decoded.astype(int) - frame).max() <= 16

    def test_a_keyframe_comes_every_two_seconds(self, tmp_path: Path) -> None:
        write_film(tmp_path / "film.mp4", numbered(61), WIDTH, HEIGHT, Fraction(12), 61)
        with av.open(tmp_path / "film.mp4") as container:
            keys = [index for index, packet in enumerate(container.demux(video=0)) if packet.is_keyframe]
        assert keys == [0, 24, 48]


class TestSound:
    @pytest.mark.parametrize("rate", RATES, ids=str)
    def test_onsets_are_heard_on_their_sample(self, tmp_path: Path, rate: Fraction) -> None:
        count = 4 * round(rate)
        times = [k * Fraction(60, 97) for k in range(6)]
        clicks = [Click(time, "downbeat" if k % 3 == 0 else "pulse") for k, time in enumerate(times)]
        path = tmp_path / "film.mp4"
        write_film(path, numbered(count), WIDTH, HEIGHT, rate, count, mix_clicks(clicks, count / rate))
        samples, samples_per_second = decode_sound(path)
        assert samples_per_second == 48_000
        onsets = find_onsets(samples, samples_per_second, AUDIBLE)
        expected = [(2 * 60 * k * 48_000 + 97) // (2 * 97) for k in range(6)]
        assert np.abs(np.array(onsets) - expected).max() <= 1

    @pytest.mark.parametrize("rate", RATES, ids=str)
    @pytest.mark.parametrize("count", [1, 7, 64])
    def test_sound_and_picture_end_together(self, tmp_path: Path, rate: Fraction, count: int) -> None:
        write_numbered(tmp_path / "film.mp4", rate, count, 5)
        film = describe_film(tmp_path / "film.mp4")
        assert film.sound is not None
        assert abs(film.sound.sample_count - 48_000 * film.seconds) <= Fraction(1, 2)
        # What the encoder puts before the sound is one frame of AAC (ISO/IEC 14496-3), and the file says so.
        assert film.sound.priming == 1024
        assert (film.sound.codec, film.sound.samples_per_second) == ("aac", 48_000)

    def test_the_click_sounds_with_the_frame_that_shows_it(self, tmp_path: Path) -> None:
        # At 132 quarters a minute eleven sixteenths last 1.25 s: 75 frames at 60, 60,000 samples at 48 kHz.
        lit = np.full((HEIGHT, WIDTH, 3), 255, np.uint8)
        frames = [lit if index == 75 else np.zeros_like(lit) for index in range(90)]
        sound = mix_clicks([Click(Fraction(11, 16) * Fraction(240, 132), "beat")], Fraction(3, 2))
        write_film(tmp_path / "film.mp4", frames, WIDTH, HEIGHT, Fraction(60), 90, sound)
        bright = [seconds for seconds, frame in decode_frames(tmp_path / "film.mp4") if frame.mean() > 127]
        samples, rate = decode_sound(tmp_path / "film.mp4")
        assert bright == [Fraction(5, 4)]
        assert find_onsets(samples, rate, AUDIBLE) == [60_000]

    def test_a_shorter_sound_is_filled_with_silence(self, tmp_path: Path) -> None:
        write_numbered(tmp_path / "film.mp4", Fraction(25), 100, 1)
        samples, _ = decode_sound(tmp_path / "film.mp4")
        assert len(samples) == 4 * 48_000
        assert np.abs(samples[60_000:]).max() < 1e-3

    def test_a_film_without_sound_has_no_sound_track(self, tmp_path: Path) -> None:
        write_film(tmp_path / "film.mp4", numbered(5), WIDTH, HEIGHT, Fraction(25), 5)
        assert describe_film(tmp_path / "film.mp4").sound is None

    def test_sound_and_picture_lie_near_each_other_in_the_file(self, tmp_path: Path) -> None:
        write_numbered(tmp_path / "film.mp4", Fraction(25), 200, 8)
        with av.open(tmp_path / "film.mp4") as container:
            packets = [packet for packet in container.demux() if packet.size and packet.dts is not None]
            order = sorted(packets, key=lambda packet: packet.pos or 0)
            latest = {"video": Fraction(0), "audio": Fraction(0)}
            for packet in order:
                assert packet.time_base is not None
                assert packet.dts is not None
                latest[packet.stream.type] = packet.dts * packet.time_base
                assert abs(latest["video"] - latest["audio"]) < 1


class TestWhole:
    def test_frames_that_fail_leave_nothing_and_tell_why(self, tmp_path: Path) -> None:
        def damaged() -> Iterator[NDArray[np.uint8]]:
            yield from numbered(7)
            raise ArithmeticError("the eighth frame")

        with pytest.raises(ArithmeticError, match="the eighth frame"):
            write_film(tmp_path / "film.mp4", damaged(), WIDTH, HEIGHT, Fraction(25), 20)
        assert list(tmp_path.iterdir()) == []

    def test_frames_that_fail_leave_the_film_that_was_there(self, tmp_path: Path) -> None:
        path = tmp_path / "film.mp4"
        write_numbered(path)
        before = path.read_bytes()
        with pytest.raises(ValueError, match="fewer than 20 frames"):
            write_film(path, numbered(19), WIDTH, HEIGHT, Fraction(25), 20)
        assert path.read_bytes() == before
        assert list(tmp_path.iterdir()) == [path]

    @pytest.mark.parametrize(
        ("frame", "count", "complaint"),
        [
            (np.zeros((HEIGHT, WIDTH, 4), np.uint8), 3, "more than 3 frames"),
            (np.zeros((HEIGHT, WIDTH, 4), np.uint8), 5, "fewer than 5 frames"),
            (np.zeros((WIDTH, HEIGHT, 4), np.uint8), 4, "frame 0 is"),
            (np.zeros((HEIGHT, WIDTH), np.uint8), 4, "frame 0 is"),
            (np.zeros((HEIGHT, WIDTH, 4), np.float32), 4, "frame 0 is"),
        ],
    )
    def test_wrong_frames_are_refused(
        self, tmp_path: Path, frame: NDArray[np.uint8], count: int, complaint: str
    ) -> None:
        with pytest.raises(ValueError, match=complaint):
            write_film(tmp_path / "film.mp4", [frame] * 4, WIDTH, HEIGHT, Fraction(25), count)
        assert list(tmp_path.iterdir()) == []

    @pytest.mark.parametrize("shape", [(100,), (100, 1), (2, 100)])
    def test_sound_of_another_shape_is_refused(self, tmp_path: Path, shape: tuple[int, ...]) -> None:
        sound = np.zeros(shape, np.float32)
        with pytest.raises(ValueError, match="sound is"):
            write_film(tmp_path / "film.mp4", numbered(4), WIDTH, HEIGHT, Fraction(25), 4, sound)
        assert list(tmp_path.iterdir()) == []

    @pytest.mark.parametrize(
        ("width", "height", "mend"), [(1921, 1080, "1922x1080"), (640, 359, "640x360"), (0, 0, "2x2")]
    )
    def test_an_odd_size_is_refused_with_the_nearest_one(
        self, tmp_path: Path, width: int, height: int, mend: str
    ) -> None:
        with pytest.raises(BarcrossError) as caught:
            write_film(tmp_path / "film.mp4", [], width, height, Fraction(25), 1)
        assert str(caught.value) == (
            f"A film can't be {width}x{height}: width and height must be even. The nearest size is {mend}."
        )

    def test_a_missing_folder_is_told_before_a_frame_is_drawn(self, tmp_path: Path) -> None:
        frames = numbered(3)
        with pytest.raises(FileError, match="there is no folder"):
            write_film(tmp_path / "nowhere" / "film.mp4", frames, WIDTH, HEIGHT, Fraction(25), 3)
        assert read_number(next(frames)) == 0

    def test_a_full_disk_is_told_and_leaves_nothing(self, tmp_path: Path) -> None:
        resource = pytest.importorskip("resource")
        random = np.random.default_rng(1)
        frames = (random.integers(0, 256, (HEIGHT, WIDTH, 3), dtype=np.uint8) for _ in range(60))
        limits = resource.getrlimit(resource.RLIMIT_FSIZE)
        resource.setrlimit(resource.RLIMIT_FSIZE, (50_000, limits[1]))  # no file may grow beyond it
        try:
            with pytest.raises(
                FileError, match=r"film\.mp4: can't be written: the file gets too large for this disk"
            ):
                write_film(tmp_path / "film.mp4", frames, WIDTH, HEIGHT, Fraction(25), 60)
        finally:
            resource.setrlimit(resource.RLIMIT_FSIZE, limits)
        assert list(tmp_path.iterdir()) == []


class TestManner:
    def test_frames_are_let_go_while_more_are_drawn(self, tmp_path: Path) -> None:
        alive: list[weakref.ref[NDArray[np.uint8]]] = []
        most = 0

        def fresh() -> Iterator[NDArray[np.uint8]]:
            nonlocal most
            for _ in range(60):
                frame = np.zeros((HEIGHT, WIDTH, 4), np.uint8)
                alive.append(weakref.ref(frame))
                gc.collect()
                most = max(most, sum(reference() is not None for reference in alive))
                yield frame

        write_film(tmp_path / "film.mp4", fresh(), WIDTH, HEIGHT, Fraction(25), 60)
        assert most <= 3

    def test_the_same_input_gives_the_same_bytes_in_another_process(self, tmp_path: Path) -> None:
        write_numbered(tmp_path / "one.mp4")
        program = (
            "import sys, pathlib; from tests.test_video import write_numbered;"
            "write_numbered(pathlib.Path(sys.argv[1]))"
        )
        subprocess.run([sys.executable, "-c", program, str(tmp_path / "two.mp4")], check=True)
        one, two = (
            hashlib.sha256((tmp_path / name).read_bytes()).hexdigest() for name in ("one.mp4", "two.mp4")
        )
        assert one == two
        assert "creation_time" not in dict(describe_film(tmp_path / "one.mp4").metadata)
