"""The thumbnail: what stands on it, that it can be read at 320 pixels, and how it is asked for."""

from pathlib import Path

import pytest
from click.testing import CliRunner
from PIL import Image

from renderer.command import main
from renderer.core.errors import SpecError
from renderer.reading.load import parse_spec
from renderer.video.stills import thumbnail_of
from scenes.draw.look import CAPITAL, canvas_for
from tests.boxes import overlaps, text_boxes
from tests.lessons import DARK, SHORT, make_lesson

SMALL, LEAST_CAPITAL = 320, 9.0
"""Pixels: the width at which it is looked at, and how high a capital is then at least."""


def spec_with(groups: str = "[4, 4, 3]", words: str | None = None) -> str:
    text = SHORT.replace("weir: [4, 4, 3]", f"weir: {groups}", 1)
    return text + (f"thumbnail: {words}\n" if words else "")


@pytest.mark.parametrize("size", [(1280, 720), (720, 1280), (720, 720), (1680, 720)], ids=str)
@pytest.mark.parametrize(
    ("groups", "sum_shown"),
    [
        ("[4, 4, 3]", ["4", "+4", "+3"]),
        ("[5, 3, 3]", ["5", "+3", "+3"]),
        ("[7]", ["7"]),
        (f"[{', '.join(['5'] * 40)}]", ["200"]),
    ],
)
def test_the_sum_is_read_at_320_pixels(groups: str, sum_shown: list[str], size: tuple[int, int]) -> None:
    canvas = canvas_for(*size)
    boxes = text_boxes(thumbnail_of(make_lesson(spec_with(groups, "over four?")), DARK.on(canvas)))
    texts = [box.text for box in boxes]
    assert [text for text in texts if text != "over four?"] == sum_shown
    assert not overlaps(boxes)
    for box in boxes:
        assert box.size * CAPITAL * SMALL / max(canvas.width, 1280 * 1.5) >= LEAST_CAPITAL
        assert box.left >= 0
        assert box.right <= canvas.width
        assert box.top >= 0
        assert box.bottom <= canvas.height
    if size == (1280, 720):
        assert "over four?" in texts


def test_without_words_the_title_stands_there_if_it_is_short() -> None:
    def words(text: str) -> list[str]:
        picture = thumbnail_of(make_lesson(text), DARK)
        return [box.text for box in text_boxes(picture) if not box.text.strip("+").isdigit()]

    assert words(spec_with()) == ["Weir"]
    assert words(spec_with().replace("title: Weir", "title: Variations on a rainy afternoon")) == []
    assert words(spec_with(words="eleven?")) == ["eleven?"]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ("one two three four", "thumbnail: got 4 words; there is room for 3."),
        ("x" * 25, "thumbnail: got 25 characters; there is room for 24."),
    ],
)
def test_too_many_words_are_told(words: str, told: str) -> None:
    with pytest.raises(SpecError) as caught:
        parse_spec(spec_with(words=words), "weir.yaml")
    assert told in str(caught.value)


def test_the_command_writes_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("weir.yaml").write_text(spec_with(words="over four?"), encoding="utf-8")
    for options, name, size in (
        ([], "thumbnail.png", (1280, 720)),
        (["--theme", "light", "--size", "1080x1920"], "thumbnail-light-1080x1920.png", (1080, 1920)),
    ):
        result = CliRunner().invoke(main, ["still", "weir.yaml", "--thumbnail", *options])
        assert result.exit_code == 0, result.output
        assert result.stdout.split() == [f"out/weir/{name}"]
        with Image.open(f"out/weir/{name}") as image:
            assert image.size == size
