"""Pictures as a message to a browser: every outline once, then each frame as the outlines that it paints, in order.

A message is a length (4 bytes, little-endian), so many bytes of JSON padded to a whole number of 4, then 32-bit floats:
x and y of the curves of all outlines in canvas pixels, eight numbers a curve. In the JSON `shapes` are rows of
identity, colour, opacity, first curve and count of curves; an identity is the same for the same outline in every
message. `frames` are rows of how many shapes stay at the start and at the end of the frame before, and the identities
between.
"""

import json
import re
from collections.abc import Iterable, Sequence
from fractions import Fraction
from struct import pack
from typing import Any

import numpy as np

from renderer.core.time_grid import frame_index_to_seconds
from renderer.video.chunks import without_collection
from renderer.video.drawing import digest_shape
from scenes.draw.look import WIDE
from scenes.draw.segment import Moment, Picture, Segment
from scenes.draw.shapes import PIXEL, FilledShape

BARS = re.compile(r"[0-9]+ bars?")


def draw_frames(segment: Segment, frames: Iterable[int], rate: Fraction) -> list[Picture]:
    """The pictures of a segment's frames."""
    with without_collection():
        return [segment.picture(Moment(frame_index_to_seconds(frame, rate), 1 / rate)) for frame in frames]


def pictures_message(pictures: Sequence[Picture], **also: Any) -> bytes:
    """Pictures as a message; `also` stands in its JSON."""
    shapes: dict[int, FilledShape] = {}
    frames: list[tuple[int, int, list[int]]] = []
    last: list[int] = []
    for picture in pictures:
        identities = []
        for shape in picture:
            if len(shape.points):
                identity = _identity(shape)
                shapes.setdefault(identity, shape)
                identities.append(identity)
        start, end = _unchanged(last, identities)
        frames.append((start, end, identities[start : len(identities) - end]))
        last = identities
    rows, first = [], 0
    for identity, shape in shapes.items():
        curves = len(shape.points) // 4
        red, green, blue, alpha = shape.fill
        colour = "".join(f"{round(part * 255):02x}" for part in (red, green, blue))
        rows.append((identity, f"#{colour}", round(alpha, 4), first, curves))
        first += curves
    head = json.dumps({**also, "shapes": rows, "frames": frames}, separators=(",", ":")).encode()
    head += b" " * (-len(head) % 4)
    return pack("<I", len(head)) + head + _coordinates(shapes.values())


def bar_labels(picture: Picture) -> list[tuple[float, float, float, float]]:
    """Where numbers of bars stand in a picture, as `12 bars`: left, top, right, bottom in canvas pixels."""
    boxes = []
    for shape in picture:
        if shape.text and BARS.fullmatch(shape.text) and len(shape.points):
            left, low, right, high = shape.extent
            x, y = (WIDE.width / 2 + end / PIXEL for end in (left, right)), (high, low)
            boxes.append((*x, *(WIDE.height / 2 - end / PIXEL for end in y)))
    return [(left, top, right, bottom) for left, right, top, bottom in boxes]


def _identity(shape: FilledShape) -> int:
    """A number that a browser can hold exactly; two outlines in a million million share one."""
    if shape.digest is None:
        shape.digest = digest_shape(shape)
    return int.from_bytes(shape.digest[:6], "big")


def _unchanged(before: Sequence[int], now: Sequence[int]) -> tuple[int, int]:
    """How many are the same at the start of two lists, and then at their ends."""
    shorter = min(len(before), len(now))
    start = next((i for i in range(shorter) if before[i] != now[i]), shorter)
    left = shorter - start
    end = next((i for i in range(left) if before[-1 - i] != now[-1 - i]), left)
    return start, end


def _coordinates(shapes: Iterable[FilledShape]) -> bytes:
    points = [shape.points[: len(shape.points) // 4 * 4, :2] for shape in shapes]
    if not points:
        return b""
    middle = np.array([WIDE.width / 2, WIDE.height / 2])
    flat = np.concatenate(points) / np.array([PIXEL, -PIXEL]) + middle
    return bytes(flat.astype("<f4").tobytes())
