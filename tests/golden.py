"""Golden stills: small snapshots of every segment. They say that a picture has changed, never that it is right.

`python -m tests.golden` draws them anew; look at what changed before it is committed.
"""

from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from renderer.lesson.lesson import Lesson, open_lesson
from renderer.video.stills import Still, draw_image, picture_at
from scenes.draw.look import look_of

FOLDER = Path(__file__).parent / "golden"
SPECS = Path(__file__).parent.parent / "specs"
WIDTH, HEIGHT = 480, 270
MOMENTS = (Fraction(2, 5), Fraction(1))

MEAN_TOLERANCE = 0.6
"""Levels: the mean difference that another version of the drawing libraries may make."""
FAR, FAR_SHARE = 48, 0.002
"""No more than this share of pixels may differ by more than so many levels."""


class Golden(NamedTuple):
    """One snapshot: which spec and segment, and at which share of its length."""

    spec: Path
    number: int
    show: str
    share: Fraction

    @property
    def path(self) -> Path:
        per_cent = int(self.share * 100)
        return FOLDER / f"{self.spec.stem}-{self.number:02}-{self.show}-{per_cent:03}.png"


def goldens() -> Iterator[Golden]:
    """All snapshots: every segment of every example at two moments, and of pieces for what no example has."""
    for spec in (*sorted(SPECS.glob("*.yaml")), *sorted(FOLDER.glob("*.yaml"))):
        for planned in open_lesson(spec).segments():
            for share in MOMENTS:
                yield Golden(spec, planned.number, planned.show, share)


def draw_golden(lesson: Lesson, golden: Golden) -> Image.Image:
    """The segment as it is drawn today."""
    planned = lesson.segments()[golden.number - 1]
    seconds = min(planned.schedule.seconds * golden.share, planned.schedule.seconds - Fraction(1, 60))
    look = look_of(lesson.spec.theme)
    return draw_image(picture_at(Still(planned, seconds, ""), look), WIDTH, HEIGHT, look.ground)


def differences(image: Image.Image, kept: Image.Image) -> tuple[float, float]:
    """The mean difference in levels, and the share of pixels that differ by more than `FAR`."""
    difference: NDArray[np.int64] = np.abs(
        np.asarray(image.convert("RGB"), int) - np.asarray(kept.convert("RGB"), int)
    )
    return float(difference.mean()), float((difference.max(axis=2) > FAR).mean())


def main() -> None:
    """Draw all snapshots anew and remove those that no segment has any more."""
    FOLDER.mkdir(exist_ok=True)
    wanted = list(goldens())
    lessons = {golden.spec: open_lesson(golden.spec) for golden in wanted}
    for golden in wanted:
        draw_golden(lessons[golden.spec], golden).quantize(256).save(golden.path, optimize=True)
    for path in set(FOLDER.glob("*.png")) - {golden.path for golden in wanted}:
        path.unlink()


if __name__ == "__main__":
    main()
