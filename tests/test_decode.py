"""Sound files: what is opened, what is refused and in which words, and how little of a file is held."""

import os
import re
import socket
import subprocess
import sys
from fractions import Fraction
from pathlib import Path
from threading import Thread

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from renderer.audio.audio_file import read_recording
from renderer.audio.decode import open_sound
from renderer.core import limits
from renderer.core.errors import FileError
from renderer.spec.click import Click
from tests.films import find_onsets
from tests.mixed_clicks import mix_clicks
from tests.sound_bytes import EXTENSIBLE, FLOAT, RATE, chunk, encode, pcm, tone, wave_bytes

NOT_SOUND = "this is not a sound file, or it is damaged. Use a wav, aiff, flac, mp3, m4a or ogg file."


def read(path: Path) -> tuple[NDArray[np.float32], int]:
    with open_sound(path) as sound:
        return np.concatenate([*sound.blocks()]), sound.rate


def told(path: Path) -> str:
    """Why the file can't be used, its path left out."""
    with pytest.raises(FileError) as caught:
        read_recording(path)
    assert str(caught.value).startswith(f"{path}: ")
    return str(caught.value).removeprefix(f"{path}: ")


def write(path: Path, content: bytes) -> Path:
    path.write_bytes(content)
    return path


class TestRead:
    @pytest.mark.parametrize(
        ("name", "codec", "tolerance"),
        [("take.flac", "flac", 2.0**-15), ("take.m4a", "aac", 0.15), ("take.mp3", "libmp3lame", 0.15)],
    )
    def test_onsets_of_encoded_sound_stay_where_they_were(
        self, tmp_path: Path, name: str, codec: str, tolerance: float
    ) -> None:
        mix = mix_clicks([Click(Fraction(1, 4), "downbeat"), Click(Fraction(1, 2), "beat")], Fraction(7, 8))
        encode(tmp_path / name, codec, mix)
        samples, rate = read(tmp_path / name)
        assert rate == RATE
        assert samples.shape == mix.shape
        assert find_onsets(samples, RATE, 0.15) == [12_000, 24_000]
        # One sample late would be an error of 0.5 at the downbeat; the lossy codecs' own is below 0.1.
        assert np.abs(samples - mix).max() < tolerance

    def test_24_bits_are_kept(self, tmp_path: Path) -> None:
        exact = np.array([[1, -1], [2**23 - 1, -(2**23)], [12_345, 0]]) / 2.0**23
        encode(tmp_path / "fine.wav", "pcm_s24le", exact.astype(np.float32))
        assert (read(tmp_path / "fine.wav")[0] * 2.0**23).tolist() == [
            [1, -1],
            [2**23 - 1, -(2**23)],
            [12_345, 0],
        ]

    @pytest.mark.parametrize(
        ("name", "codec"),
        [
            ("a.wav", "pcm_s16le"),
            ("a.wav", "pcm_f32le"),
            ("a.w64", "pcm_s16le"),
            ("a.aiff", "pcm_s16be"),
            ("a.flac", "flac"),
            ("a.mp3", "libmp3lame"),
            ("a.m4a", "aac"),
            ("a.mov", "alac"),
            ("a.mp4", "aac"),
            ("a.mov", "pcm_s16le"),
            ("a.ogg", "vorbis"),
            ("a.opus", "libopus"),
            ("a.ogg", "flac"),
        ],
    )
    def test_every_format_that_the_reference_names(self, name: str, codec: str, tmp_path: Path) -> None:
        if codec == "vorbis":  # FFmpeg's own encoder is an experiment
            soundfile.write(tmp_path / name, tone(2), RATE, "VORBIS", format="OGG")
        else:
            encode(tmp_path / name, codec, np.repeat(tone(2), 2, axis=1))
        recording = read_recording(tmp_path / name)
        assert recording.seconds == pytest.approx(2, abs=0.05)
        heard = recording[RATE // 2 : RATE]
        assert np.argmax(np.abs(np.fft.rfft(heard[:, 0]))) == 110  # 220 Hz in half a second

    @pytest.mark.parametrize("codec", ["adpcm_ms", "adpcm_ima_wav"])
    def test_a_wav_of_adpcm_is_not_damaged(self, codec: str, tmp_path: Path) -> None:
        encode(tmp_path / "take.wav", codec, tone(3))
        assert read_recording(tmp_path / "take.wav").seconds == pytest.approx(3, abs=0.05)

    def test_a_wav_whose_header_does_not_know_its_length(self, tmp_path: Path) -> None:
        content = wave_bytes(pcm(tone(2)))
        content = content.replace(b"data" + len(pcm(tone(2))).to_bytes(4, "little"), b"data\xff\xff\xff\xff")
        assert read_recording(write(tmp_path / "take.wav", content)).seconds == 2

    def test_an_mp3_that_does_not_say_its_length(self, tmp_path: Path) -> None:
        # Soft, then loud, at an even quality: its length, guessed from its beginning, would be far too long.
        noise = np.random.default_rng(1).normal(0, 0.2, (10 * RATE, 1)).astype(np.float32)
        sound = np.concatenate([noise, 1e-4 * noise, 1e-4 * noise])
        quality = {"write_xing": "0"}
        encode(tmp_path / "take.mp3", "libmp3lame", sound, options=quality)
        assert read_recording(tmp_path / "take.mp3").seconds == pytest.approx(30, abs=0.1)

    @pytest.mark.parametrize("tag", [b"K\xe4se", b"\xff\xfe\x00\xd8", bytes(range(128, 256))])
    def test_tags_that_are_not_utf_8_do_not_matter(self, tag: bytes, tmp_path: Path) -> None:
        info = chunk(b"LIST", b"INFO" + chunk(b"INAM", tag) + chunk(b"IART", tag))
        assert read_recording(write(tmp_path / "take.wav", wave_bytes(pcm(tone(2)), more=info))).seconds == 2
        encode(tmp_path / "take.mp3", "libmp3lame", tone(2))
        # ID3v1: 128 bytes at the end: TAG, then title, artist and album of 30 bytes each (id3.org).
        ending = b"TAG" + tag[:30].ljust(30, b"\0") * 3
        with (tmp_path / "take.mp3").open("ab") as file:
            file.write(ending.ljust(128, b"\0"))
        assert read_recording(tmp_path / "take.mp3").seconds == pytest.approx(2, abs=0.06)

    def test_more_than_two_channels(self, tmp_path: Path) -> None:
        left, right, center, low, *back = (tone(2, hertz=hertz) for hertz in (200, 300, 400, 500, 600, 700))
        encode(tmp_path / "round.wav", "pcm_s16le", np.concatenate([left, right, center, low, *back], axis=1))
        heard = read_recording(tmp_path / "round.wav")[0:RATE]
        loudest = [sorted(np.argsort(np.abs(np.fft.rfft(heard[:, side])))[-2:].tolist()) for side in (0, 1)]
        assert loudest == [[200, 400], [300, 400]]
        unnamed = write(
            tmp_path / "four.wav", wave_bytes(pcm(np.concatenate([left, right, low, low], 1)), channels=4)
        )
        heard = read_recording(unnamed)[0:RATE]
        assert [int(np.argmax(np.abs(np.fft.rfft(heard[:, side])))) for side in (0, 1)] == [200, 300]


class TestRefused:
    def test_what_is_not_there(self, tmp_path: Path) -> None:
        assert told(tmp_path / "take.flac") == "no such file. Sound files are looked for beside the spec."
        assert told(tmp_path / ("x" * 300)) == "can't be read: the name is too long. Name a sound file."

    def test_a_folder(self, tmp_path: Path) -> None:
        assert told(tmp_path) == "can't be read: it is a folder. Name a sound file."

    def test_a_pipe_at_once(self, tmp_path: Path) -> None:
        os.mkfifo(tmp_path / "take.wav")
        answers: list[str] = []
        waiting = Thread(target=lambda: answers.append(told(tmp_path / "take.wav")), daemon=True)
        waiting.start()
        waiting.join(5)
        assert answers == ["can't be read: not a regular file. Name a sound file."]

    def test_a_device(self, tmp_path: Path) -> None:
        (tmp_path / "take.wav").symlink_to("/dev/zero")
        assert told(tmp_path / "take.wav") == "can't be read: not a regular file. Name a sound file."

    @pytest.mark.parametrize(
        "content",
        [
            b"",
            b"no sound at all\n" * 100,
            b"RIFF\x00\x00\x00\x00WAVE",
            b"RIFF\x00\x00\x00\x00WAVE" + bytes(100_000),
            b"fLaC" + bytes(5_000),
            b"OggS" + bytes(5_000),
            b"\x00\x00\x00\x18ftypM4A " + bytes(5_000),
        ],
        ids=[
            "empty",
            "text",
            "wav without sound",
            "wav of zeros",
            "flac of zeros",
            "ogg of zeros",
            "m4a of zeros",
        ],
    )
    def test_what_is_not_sound(self, content: bytes, tmp_path: Path) -> None:
        assert told(write(tmp_path / "take.wav", content)) == NOT_SOUND

    def test_other_containers(self, tmp_path: Path) -> None:
        encode(tmp_path / "take.mka", "flac", tone(2))
        assert told(tmp_path / "take.mka") == NOT_SOUND

    def test_other_codecs(self, tmp_path: Path) -> None:
        encode(tmp_path / "take.mov", "ac3", tone(2))
        assert told(tmp_path / "take.mov") == "its sound is coded as ac3. Export it as wav or flac."

    @pytest.mark.parametrize("tag", [1, FLOAT])
    def test_samples_of_no_bits(self, tag: int, tmp_path: Path) -> None:
        content = bytearray(wave_bytes(pcm(tone(2)), tag=tag))
        content[34:36] = b"\0\0"
        expected = "its header says that a sample has 0 bits. Export or copy it again."
        assert told(write(tmp_path / "take.wav", bytes(content))) == expected

    @pytest.mark.parametrize(
        ("rate", "stated"), [(1, "1 sample"), (3_999, "3,999 samples"), (800_000, "800,000 samples")]
    )
    def test_rates_at_which_nothing_is_recorded(self, rate: int, stated: str, tmp_path: Path) -> None:
        expected = f"it has {stated} a second; from 4,000 to 768,000 are read. Export it again, at 48,000."
        assert told(write(tmp_path / "take.wav", wave_bytes(pcm(tone(0.2)), rate=rate))) == expected

    def test_too_many_channels(self, tmp_path: Path) -> None:
        content = wave_bytes(pcm(np.repeat(tone(1), 64, axis=1)), channels=64)
        expected = "it has 64 channels; at most 32 are read. Export it again, in stereo."
        assert told(write(tmp_path / "take.wav", content)) == expected

    @pytest.mark.parametrize(
        ("value", "what"),
        [
            (np.nan, "values that are not numbers"),
            (np.inf, "values that are not numbers"),
            (-1e30, "values far louder than any sound"),
        ],
    )
    def test_values_that_are_no_sound(self, value: float, what: str, tmp_path: Path) -> None:
        samples = tone(3)
        samples[2 * RATE + RATE // 2] = value
        content = wave_bytes(samples.astype("<f4").tobytes(), 32, tag=FLOAT)
        expected = f"at 0:02.5 it holds {what}. Export it again, as wav of 24 bits."
        assert told(write(tmp_path / "take.wav", content)) == expected

    @pytest.mark.parametrize("tag", [1, EXTENSIBLE])
    def test_a_wav_that_is_cut_off(self, tag: int, tmp_path: Path) -> None:
        content = wave_bytes(pcm(tone(4)), tag=1)
        expected = "it is damaged: of 0:04.0 only 0:02.0 can be read. Export or copy it again."
        assert told(write(tmp_path / "take.wav", content[: len(content) - 2 * 2 * RATE])) == expected

    def test_a_hole_in_an_mp3(self, tmp_path: Path) -> None:
        encode(tmp_path / "take.mp3", "libmp3lame", tone(8))
        content = bytearray((tmp_path / "take.mp3").read_bytes())
        content[len(content) // 2 : len(content) // 2 + 2_000] = bytes(2_000)
        wrong = told(write(tmp_path / "take.mp3", bytes(content)))
        assert re.fullmatch(
            r"it is damaged(: of 0:08\.0 only 0:0\d\.\d can be read| at 0:0\d\.\d)\. .*", wrong
        )

    def test_longer_than_can_be(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(limits, "SOUND_FILE_SECONDS", 3)
        encode(tmp_path / "take.flac", "flac", tone(4))
        assert told(tmp_path / "take.flac") == "it is longer than 4 hours. Cut it into shorter files."
        # One that does not say how long it is, is refused once it has become too long.
        size = len(pcm(tone(4))).to_bytes(4, "little")
        unstated = wave_bytes(pcm(tone(4))).replace(b"data" + size, b"data" + b"\xff" * 4)
        assert told(write(tmp_path / "take.wav", unstated)).startswith("it is longer than 4 hours.")
        assert read_recording(write(tmp_path / "short.wav", wave_bytes(pcm(tone(3))))).seconds == 3

    def test_silent(self, tmp_path: Path) -> None:
        path = write(tmp_path / "take.wav", wave_bytes(bytes(4 * RATE)))
        assert told(path) == "it is silent from beginning to end. Name the right file."

    def test_one_that_changes_meanwhile(self, tmp_path: Path) -> None:
        path = write(tmp_path / "take.wav", wave_bytes(pcm(tone(3))))
        recording = read_recording(path)
        write(path, wave_bytes(pcm(tone(2))))
        with pytest.raises(FileError, match=r"it has changed since it was read\. Run the command again\."):
            recording[0:10]
        assert read_recording(path).seconds == 2

    def test_no_room_for_what_is_decoded(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        recording = read_recording(write(tmp_path / "take.wav", wave_bytes(pcm(tone(3)))))
        monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "gone"))
        with pytest.raises(
            FileError, match="gone: temporary sound can't be written here: there is no such folder"
        ):
            recording[0:10]


class TestNothingIsFetched:
    @pytest.fixture
    def server(self) -> socket.socket:
        """A socket that waits for whoever may come."""
        listening = socket.create_server(("127.0.0.1", 0))
        listening.setblocking(False)
        return listening

    @staticmethod
    def nobody_came(server: socket.socket) -> bool:
        with server:
            try:
                server.accept()[0].close()
            except BlockingIOError:
                return True
        return False

    def test_a_file_whose_name_is_an_address(
        self, server: socket.socket, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.chdir(tmp_path)
        path = Path(f"http://127.0.0.1:{server.getsockname()[1]}/take.wav")
        path.parent.mkdir(parents=True)
        assert read_recording(write(path, wave_bytes(pcm(tone(2))))).seconds == 2
        assert self.nobody_came(server)

    def test_a_playlist(self, server: socket.socket, tmp_path: Path) -> None:
        address = f"http://127.0.0.1:{server.getsockname()[1]}/a.ts"
        head = "#EXTM3U\n#EXT-X-TARGETDURATION:10\n#EXTINF:9,\n"
        path = tmp_path / "take.m3u8"
        path.write_text(f"{head}{address}\n#EXT-X-ENDLIST\n", encoding="utf-8")
        assert told(path) == NOT_SOUND
        assert self.nobody_came(server)

    @pytest.mark.parametrize(
        "name", ["concat:a.wav|a.wav", "subfile,,start,0,end,0,,:a.wav", "data:a.wav", "-"]
    )
    def test_a_name_that_ffmpeg_would_take_for_a_command(
        self, name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.chdir(tmp_path)
        write(Path("a.wav"), wave_bytes(pcm(tone(5))))
        assert read_recording(write(Path(name), wave_bytes(pcm(tone(2))))).seconds == 2

    def test_a_list_of_files(self, tmp_path: Path) -> None:
        write(tmp_path / "a.wav", wave_bytes(pcm(tone(5))))
        assert told(write(tmp_path / "take.wav", b"ffconcat version 1.0\nfile a.wav\n")) == NOT_SOUND


class TestTakenInParts:
    def test_parts_are_the_whole(self, tmp_path: Path) -> None:
        sound = np.random.default_rng(3).normal(0, 0.1, (3 * 44_100, 2)).astype(np.float32)
        encode(tmp_path / "take.flac", "flac", sound, 44_100)
        recording = read_recording(tmp_path / "take.flac")
        assert (recording.sample_count, float(recording.seconds)) == (3 * RATE, 3.0)
        whole = recording[0 : 3 * RATE]
        assert whole.shape == (3 * RATE, 2)
        parts = [recording[start : start + 9_999] for start in range(0, 3 * RATE, 9_999)]
        assert np.array_equal(np.concatenate(parts), whole)

    def test_another_rate_is_converted_as_in_one_go(self, tmp_path: Path) -> None:
        import soxr

        sound = np.random.default_rng(3).normal(0, 0.1, (2 * 44_100, 1)).astype(np.float32)
        encode(tmp_path / "take.wav", "pcm_f32le", sound, 44_100)
        exact = soxr.resample(sound[:, 0], 44_100, RATE, "VHQ")
        assert np.abs(read_recording(tmp_path / "take.wav")[0 : 2 * RATE][:, 1] - exact).max() < 1e-5

    def test_the_mark_is_that_of_the_samples(self, tmp_path: Path) -> None:
        plain = read_recording(write(tmp_path / "a.wav", wave_bytes(pcm(tone(2)))))
        tagged = wave_bytes(pcm(tone(2)), more=chunk(b"LIST", b"INFO" + chunk(b"INAM", b"Weir")))
        assert read_recording(write(tmp_path / "b.wav", tagged)).mark == plain.mark
        assert (
            read_recording(write(tmp_path / "c.wav", wave_bytes(pcm(tone(2, hertz=221))))).mark != plain.mark
        )


HELD = """
import sys
from pathlib import Path
from renderer.audio.audio_file import read_recording
from renderer.core.errors import FileError

try:
    recording = read_recording(Path(sys.argv[1]))
    for start in range(0, recording.sample_count, 480_000):
        recording[start : start + 480_000]
    print(float(recording.seconds))
except FileError as error:
    print(error)
status = Path("/proc/self/status").read_text()
print(int(status.partition("VmHWM:")[2].split()[0]) / 1024)
"""


@pytest.mark.slow
@pytest.mark.parametrize("beginning", [0.0, 0.2])
def test_an_hour_takes_less_than_200_megabytes(beginning: float, tmp_path: Path) -> None:
    """It is 1.4 GB of samples in half a megabyte of flac."""
    path = tmp_path / "hour.flac"
    hour = np.broadcast_to(np.zeros((1, 2), np.float32), (60 * RATE, 2))
    write_long_flac(path, [beginning * np.repeat(tone(60), 2, axis=1), *[hour] * 59])
    assert path.stat().st_size < 8_000_000
    done = subprocess.run([sys.executable, "-c", HELD, str(path)], capture_output=True, text=True, check=True)
    first, megabytes = done.stdout.splitlines()
    assert first == (
        "3600.0" if beginning else f"{path}: it is silent from beginning to end. Name the right file."
    )
    assert float(megabytes) < 200


def write_long_flac(path: Path, minutes: list[NDArray[np.float32]]) -> None:
    import av
    from av.audio.stream import AudioStream

    with av.open(path, "w") as container:
        stream = container.add_stream("flac", rate=RATE, layout="stereo")
        assert isinstance(stream, AudioStream)
        resampler = av.AudioResampler(stream.format, "stereo", RATE, 4608)
        for number, minute in enumerate(minutes):
            frame = av.AudioFrame.from_ndarray(np.ascontiguousarray(minute.T), format="fltp", layout="stereo")
            frame.sample_rate, frame.pts = RATE, number * 60 * RATE
            for part in resampler.resample(frame):
                container.mux(stream.encode(part))
        for part in resampler.resample(None):
            container.mux(stream.encode(part))
        container.mux(stream.encode(None))


def test_a_file_is_judged_once_as_long_as_it_does_not_change(tmp_path: Path) -> None:
    path = write(tmp_path / "take.wav", wave_bytes(pcm(tone(2))))
    first = read_recording(path)
    assert read_recording(path) is first
    write(path, wave_bytes(pcm(tone(3))))
    assert read_recording(path) is not first
