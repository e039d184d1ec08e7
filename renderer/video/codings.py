"""How films are coded: H.264 for viewing; ProRes 4444 and VP9 with alpha, to lay over other pictures."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Coding:
    """One way of coding a film."""

    name: str
    ending: str
    container: str
    """What FFmpeg calls the file's format."""
    transparent: bool = False
    """Whether the picture has no ground."""
    sound: str = "aac"
    """How its sound is coded."""


H264 = Coding("h264", ".mp4", "mp4")
PRORES = Coding("prores", ".mov", "mov", transparent=True)
VP9 = Coding("vp9", ".webm", "webm", transparent=True, sound="opus")
TRANSPARENT = {coding.ending.removeprefix("."): coding for coding in (PRORES, VP9)}
"""Films without a ground, by their ending."""
