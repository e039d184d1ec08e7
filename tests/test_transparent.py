"""Films without a ground: read back by FFmpeg through PyAV, laid over a picture, and compared with drawing on it."""

from collections.abc import Iterator
from fractions import Fraction
from functools import cache
from io import BytesIO
from pathlib import Path

import av
import cairo
import numpy as np
import pytest
from click.testing import CliRunner
from numpy.typing import NDArray

from renderer.command import main
from renderer.core.files import whole_file
from renderer.export.vector import outlines
from renderer.video.chunks import ChunkRenderer, Film, pack, unpack
from renderer.video.coders import check_coded
from renderer.video.codings import H264, PRORES, VP9, Coding
from renderer.video.mp4 import join_chunks
from renderer.video.pixels import PixelBox
from renderer.video.prores import ProResEncoder, put_together, take_apart
from renderer.video.rasterizer import Painter
from renderer.video.straight import StraightPlanes
from scenes.catalogue import build_segment
from scenes.draw.look import canvas_for
from scenes.draw.segment import Moment
from tests.lessons import DARK, SHORT, make_lesson

WIDTH, HEIGHT, RATE = 320, 184, Fraction(10)
LEAST_DB = {PRORES: 48.0, VP9: 36.0}
"""Peak signal to noise of what is laid over a picture against what is drawn on it. ProRes is a master, VP9 a small file
of 8 bits with a quarter of the chroma samples, which alone costs as much at edges of such colours."""
EDGE_DB = {PRORES: 44.0, VP9: 30.0}
"""The same, over the pixels of edges alone: a halo is there or nowhere."""

Image = NDArray[np.float64]


@cache
def film(coding: Coding) -> Film:
    schedule = make_lesson().segments()[1].schedule
    look = DARK.on(canvas_for(WIDTH, HEIGHT))
    return Film(schedule, look, WIDTH, HEIGHT, RATE, coding)


@cache
def written(coding: Coding) -> bytes:
    """The film's first two chunks as a file."""
    renderer = ChunkRenderer(film(coding))
    chunks = [unpack(renderer.make(number, ()).content or b"") for number in range(2)]
    stretches = film(coding).stretches()[:2]
    for chunk, stretch in zip(chunks, stretches, strict=True):
        check_coded(coding, chunk, len(stretch), WIDTH, HEIGHT, RATE)
    path = Path(f"film{coding.ending}")
    with whole_file(path) as file:
        join_chunks(file, chunks, WIDTH, HEIGHT, RATE, stretches[-1].stop, coding=coding)
    return path.read_bytes()


@pytest.fixture(autouse=True)
def in_a_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def decoded(coding: Coding) -> Iterator[tuple[Image, Image, Image, Image]]:
    """Luma, chromas and alpha of each frame, 0 to 1023, at full size. VP9's alpha is only read by libvpx."""
    with av.open(BytesIO(written(coding)), "r") as container:
        if coding == PRORES:
            for frame in container.decode(video=0):
                yield _planes(frame.reformat(format="yuva444p10le"), np.uint16, 1)
            return
        context = av.CodecContext.create("libvpx-vp9", "r")
        for packet in container.demux(video=0):
            for frame in context.decode(packet):
                yield _planes(frame, np.uint8, 4)


def _planes(frame: av.VideoFrame, kind: type, scale: int) -> tuple[Image, Image, Image, Image]:
    found = []
    for plane in frame.planes:
        lines: NDArray[np.generic] = np.frombuffer(memoryview(plane), kind)
        lines = lines.reshape(-1, plane.line_size // lines.itemsize)
        part = lines[: plane.height, : plane.width].astype(float) * scale
        if plane.width < WIDTH:
            part = part.repeat(2, axis=0).repeat(2, axis=1)
        found.append(part)
    luma, blueness, redness, alpha = found
    return luma, blueness, redness, alpha


def laid_over(planes: tuple[Image, Image, Image, Image], under: Image) -> Image:
    """Straight colour over a picture, as ITU-R BT.709-6, 3.2 to 3.5 (limited range, 10 bits), turned back to colour."""
    luma, blueness, redness, alpha = planes
    y, b, r = (luma - 64) / 876, (blueness - 512) / 896, (redness - 512) / 896
    red, blue = y + 1.5748 * r, y + 1.8556 * b
    green = (y - 0.2126 * red - 0.0722 * blue) / 0.7152
    colour = np.clip(np.stack([red, green, blue], axis=2), 0, 1) * 255
    share = (alpha / 1023)[..., None]
    return colour * share + under * (1 - share)


def test_picture() -> Image:
    """Stripes of saturated colours and a ramp: on it a dark or bright rim shows."""
    x, y = np.meshgrid(np.arange(WIDTH), np.arange(HEIGHT))
    stripes = np.array([[230, 40, 40], [250, 250, 250], [30, 160, 60], [40, 60, 220]])[(x // 40) % 4]
    picture: Image = stripes * (0.6 + 0.4 * (y / HEIGHT))[..., None]
    return np.rint(picture)


test_picture.__test__ = False  # type: ignore[attr-defined]


def drawn_over(index: int, under: Image) -> Image:
    """The same picture filled by cairo on that ground, shape by shape."""
    look = film(H264).look
    pixels = np.zeros((HEIGHT, WIDTH, 4), np.uint8)
    pixels[..., 2::-1] = under
    surface = cairo.ImageSurface.create_for_data(pixels.data, cairo.FORMAT_RGB24, WIDTH, HEIGHT)
    context = cairo.Context(surface)
    context.scale(WIDTH / look.canvas.width, HEIGHT / look.canvas.height)
    for shape in build_segment(film(H264).schedule, look).picture(Moment(index / RATE, 1 / RATE)):
        for contour in outlines(shape) if len(shape.points) else ():
            context.move_to(*contour[0, 0])
            for curve in contour:
                context.curve_to(*curve[1:].ravel())
            context.close_path()
        red, green, blue, alpha = shape.fill
        context.set_source_rgba(red, green, blue, alpha)
        context.fill()
    surface.flush()
    return pixels[..., 2::-1].astype(float)


def decibels(one: Image, other: Image, where: NDArray[np.bool_] | None = None) -> float:
    apart = ((one - other) ** 2).mean(axis=2)
    mean = float((apart if where is None else apart[where]).mean())
    return 10 * float(np.log10(255**2 / max(mean, 1e-9)))


@pytest.mark.parametrize("coding", [PRORES, VP9], ids=lambda coding: coding.name)
def test_it_lies_over_a_picture_as_if_it_had_been_drawn_there(coding: Coding) -> None:
    under = test_picture()
    frames = list(decoded(coding))
    assert len(frames) == film(coding).stretches()[1].stop
    for index in (0, 7, len(frames) - 1):
        laid, drawn = laid_over(frames[index], under), drawn_over(index, under)
        alpha = frames[index][3] / 1023
        edges = (alpha > 0.02) & (alpha < 0.98)
        rim = (
            edges
            | np.roll(edges, 1, 0)
            | np.roll(edges, -1, 0)
            | np.roll(edges, 1, 1)
            | np.roll(edges, -1, 1)
        )
        assert rim.any()
        print(coding.name, index, decibels(laid, drawn), decibels(laid, drawn, rim))
        assert decibels(laid, drawn) > LEAST_DB[coding]
        assert decibels(laid, drawn, rim) > EDGE_DB[coding]


def test_prores_says_what_it_is() -> None:
    """4444 with alpha is `ap4h` (SMPTE RDD 36); BT.709 is 1 in ITU-T H.273, for primaries, transfer and matrix."""
    with av.open(BytesIO(written(PRORES))) as container:
        stream = container.streams.video[0]
        context = stream.codec_context
        assert (context.name, context.codec_tag, context.profile) == ("prores", "ap4h", "4444")
        assert str(context.pix_fmt).startswith("yuva444")
        assert (context.color_primaries, context.color_trc, context.colorspace) == (1, 1, 1)
        assert stream.average_rate == RATE
    assert b"colrnclc\0\1\0\1\0\1" in written(PRORES)


def test_webm_says_that_it_has_alpha() -> None:
    """AlphaMode is the element 53C0 (RFC 9559, 5.1.4.1.28.5)."""
    assert bytes.fromhex("53c08101") in written(VP9)
    with av.open(BytesIO(written(VP9)), "r") as container:
        stream = container.streams.video[0]
        assert stream.codec_context.name == "vp9"
        assert stream.metadata["ALPHA_MODE"] == "1"
        assert all(
            packet.has_sidedata("matroska_block_additional") for packet in container.demux(0) if packet.size
        )


@pytest.mark.parametrize("coding", [PRORES, VP9], ids=lambda coding: coding.name)
def test_the_same_pictures_give_the_same_bytes(coding: Coding) -> None:
    renderer = ChunkRenderer(film(coding))
    second = renderer.make(1, ())
    first, again = renderer.make(0, ()), ChunkRenderer(film(coding)).make(1, ())
    assert second == again, "whatever was drawn before"
    assert first.name != second.name
    kept = written(coding)
    written.cache_clear()
    assert written(coding) == kept


def test_chunks_of_other_codings_have_other_names() -> None:
    names = {ChunkRenderer(film(coding)).make(0, ()).name for coding in (H264, PRORES, VP9)}
    assert len(names) == 3
    assert len({film(coding).key() for coding in (H264, PRORES, VP9)}) == 3


@pytest.mark.parametrize(("width", "height"), [(384, 216), (320, 184)])
def test_slices_that_are_coded_apart_are_those_of_the_whole_frame(width: int, height: int) -> None:
    """What FFmpeg makes of all of a frame, to the byte, is what is put together from the slices that have changed; also
    where a frame ends inside a slice, and where slices have several widths."""
    canvas = canvas_for(width, height)
    painter, planes = Painter(width, height, None, canvas), StraightPlanes(width, height)
    segment = build_segment(film(PRORES).schedule, DARK.on(canvas))
    kept: list[list[NDArray[np.uint16]]] = []

    def frames() -> Iterator[tuple[tuple[NDArray[np.uint16], ...], list[PixelBox]]]:
        for index in range(20, 40):
            boxes = painter.repaint(segment.picture(Moment(index / RATE, 1 / RATE)))
            changed = planes.update(painter.pixels, boxes)
            kept.append([plane.copy() for plane in planes.planes])
            yield planes.planes, changed

    chunk = ProResEncoder(width, height, RATE).encode(frames())
    assert len(set(chunk.frames)) > 10
    for frame, parts in zip(chunk.frames, kept, strict=True):
        (alone,) = ProResEncoder(width, height, RATE).encode([(tuple(parts), [])]).frames
        assert frame == alone
        assert put_together(*take_apart(frame)) == frame


def test_a_damaged_chunk_is_found() -> None:
    for coding in (PRORES, VP9):
        chunk = unpack(ChunkRenderer(film(coding)).make(0, ()).content or b"")
        count = len(film(coding).stretches()[0])
        broken = [frame[:-1] if coding == PRORES else frame[1:] for frame in chunk.frames]
        with pytest.raises(ValueError, match=r"chunk|frame"):
            check_coded(coding, unpack(pack(type(chunk)(b"", tuple(broken)))), count, WIDTH, HEIGHT, RATE)


def test_where_nothing_is_painted_alpha_is_nothing_and_all_is_opaque_where_it_is() -> None:
    planes = StraightPlanes(16, 16)
    pixels = np.zeros((16, 16, 4), np.uint8)
    pixels[:8, :8] = (200, 100, 50, 255)
    pixels[8, 8] = (50, 25, 12, 64)
    planes.update(pixels, [PixelBox(0, 0, 16, 16)])
    luma, _, _, alpha = planes.planes
    assert (alpha[:8, :8] == 1023).all()
    assert alpha[:8, 8:].max() == 0
    assert alpha[8, 8] == 257, "64 of 255, in 10 bits"
    red, green, blue = 50 * 255 / 64, 25 * 255 / 64, 12 * 255 / 64
    expected = 64 + 876 * (0.2126 * red + 0.7152 * green + 0.0722 * blue) / 255
    assert abs(int(luma[8, 8]) - expected) < 3, "colour is straight: it is not multiplied by alpha"
    assert (luma[8:, 8:] == luma[8, 8]).all(), "and goes on where nothing is painted beside it"


@pytest.mark.slow
@pytest.mark.parametrize(("kind", "sound"), [("mov", "aac"), ("webm", "opus")])
def test_the_command_writes_it_with_its_sound(kind: str, sound: str) -> None:
    Path("weir.yaml").write_text(SHORT, encoding="utf-8")
    arguments = [
        "render",
        "weir.yaml",
        "figure",
        "--size",
        "64x64",
        "--fps",
        "4",
        "--jobs",
        "1",
        "--out",
        "o",
    ]
    result = CliRunner().invoke(main, [*arguments, "--transparent", "--format", kind, "--joined"])
    assert result.exit_code == 0, result.output
    for name in (f"o/01-figure.{kind}", f"o/lesson.{kind}"):
        with av.open(name) as container:
            assert [stream.codec_context.name for stream in container.streams.audio] == [sound]


def test_a_format_without_transparent_is_told() -> None:
    Path("weir.yaml").write_text(SHORT, encoding="utf-8")
    result = CliRunner().invoke(main, ["render", "weir.yaml", "--format", "mov"])
    assert result.exit_code == 2
    assert result.stderr.endswith("Error: --format is for transparent films. Add --transparent.\n")
