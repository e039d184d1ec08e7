"""Damaged sound files by the thousand: `python -m tests.fuzz_sound --minutes N` looks for what reading does not stand.

Each begins as a second of sound in one of the containers that the reference names. Some of it is cut, flipped, zeroed,
doubled, taken from another container, or its header's numbers become huge; its ending is that of any container. Each
is judged and decoded. Found is: anything but samples or a message with the file's name, more than the time, more than
the memory. What was found is left beside where one stands, as fuzz-sound-N and the ending.
"""

import argparse
import faulthandler
import random
import resource
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import soundfile

from renderer.audio.audio_file import read_recording
from renderer.core.errors import FileError
from tests.sound_bytes import FLOAT, RATE, encode, pcm, tone, wave_bytes

SECONDS = 2.0
MEGABYTES = 300
HUGE = (
    b"\xff\xff\xff\xff",
    b"\xff\xff\xff\x7f",
    b"\x00\x00\x00\x80",
    b"\x00\x00\x00\x00",
    b"\x01\x00\x00\x00",
)
ENDINGS = ("wav", "aiff", "flac", "mp3", "m4a", "mp4", "mov", "ogg", "opus", "w64", "m3u8", "txt")


def sources(folder: Path) -> list[bytes]:
    """A second of sound in each container and coding that is read."""
    sound = np.repeat(tone(1), 2, axis=1)
    made = [wave_bytes(pcm(tone(1))), wave_bytes(tone(1).astype("<f4").tobytes(), 32, tag=FLOAT)]
    for name, codec in (
        ("a.wav", "adpcm_ms"),
        ("a.wav", "adpcm_ima_wav"),
        ("a.w64", "pcm_s16le"),
        ("a.aiff", "pcm_s16be"),
        ("a.flac", "flac"),
        ("a.mp3", "libmp3lame"),
        ("a.mp4", "aac"),
        ("a.mov", "alac"),
        ("a.mov", "pcm_s16le"),
        ("a.opus", "libopus"),
        ("a.ogg", "flac"),
    ):
        encode(folder / name, codec, sound)
        made.append((folder / name).read_bytes())
    soundfile.write(folder / "vorbis.ogg", sound, RATE, "VORBIS", format="OGG")
    return [*made, (folder / "vorbis.ogg").read_bytes()]


def damaged(content: bytes, others: list[bytes], chance: random.Random) -> bytes:
    """The file with one to four places damaged, most of them near its beginning."""
    data = bytearray(content)
    for _ in range(chance.choice([1, 1, 1, 2, 4])):
        reach = min(len(data), chance.choice([64, 512, 4096, len(data) or 1]))
        at = chance.randrange(reach + 1)
        size = chance.choice([1, 2, 4, 100, 5_000])
        match chance.randrange(8):
            case 0:
                del data[at:]
            case 1:
                del data[at : at + size]
            case 2:
                for place in range(at, min(len(data), at + size)):
                    data[place] ^= 1 << chance.randrange(8)
            case 3:
                data[at : at + size] = bytes(size)
            case 4:
                data[at : at + 4] = chance.choice(HUGE)
            case 5:
                data[at:at] = data[at : at + size]
            case 6:
                other = chance.choice(others)
                data[at:] = other[at:]
            case _:
                data[at : at + size] = chance.randbytes(size)
    return bytes(data)


def fault_of(path: Path) -> str | None:
    """What is wrong with how a file is read; None if nothing is."""
    started = time.perf_counter()
    try:
        recording = read_recording(path)
        part = recording[0 : recording.sample_count]
        if not np.isfinite(part).all():
            return "samples that are not numbers"
    except FileError as error:
        if not str(error).startswith(f"{path}: ") or not str(error).endswith("."):
            return f"a message without its file: {error}"
    except Exception as error:
        return f"{type(error).__name__}: {error}"
    taken = time.perf_counter() - started
    return f"{taken:.1f} s" if taken > SECONDS else None


def fuzz(
    folder: Path, begin: int, until: float, most: int | None = None
) -> tuple[int, list[tuple[str, bytes]]]:
    """Read damaged files until a moment of time.monotonic: how many, and those at fault."""
    whole = sources(folder)
    found: list[tuple[str, bytes]] = []
    count = 0
    while time.monotonic() < until and (most is None or count < most):
        chance = random.Random(begin + count)
        content = damaged(chance.choice(whole), whole, chance)
        path = folder / f"take-{count % 50}.{chance.choice(ENDINGS)}"
        path.write_bytes(content)
        fault = fault_of(path)
        path.unlink()
        if fault:
            found.append((f"{begin + count}: {fault}", content))
        count += 1
    return count, found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=1)
    parser.add_argument("--begin", type=int, default=0, help="the first file's number")
    options = parser.parse_args()
    faulthandler.enable()
    with tempfile.TemporaryDirectory() as folder:
        count, found = fuzz(Path(folder), options.begin, time.monotonic() + 60 * options.minutes)
    for number, (fault, content) in enumerate(found):
        Path(f"fuzz-sound-{number}").write_bytes(content)
        print(fault)
    megabytes = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{count:,} files, {len(found)} at fault, {megabytes:.0f} MB at most")
    sys.exit(bool(found) or megabytes > MEGABYTES)


if __name__ == "__main__":
    main()
