"""From one picture to another: at both ends the pictures themselves, in between straight on."""

import numpy as np
import pytest

from scenes.draw.blending import NEAR, Blend
from scenes.draw.look import WIDE
from scenes.draw.paths import disc, rectangle
from scenes.draw.shapes import PIXEL, FilledShape, draw, draw_text

LOW, HIGH = (0.0, 100.0, 200.0), (50.0, 250.0, 450.0)


def outline(picture: list[FilledShape]) -> np.ndarray:
    return np.concatenate([shape.points for shape in picture])


def middle(shape: FilledShape) -> float:
    return float(WIDE.height / 2 - (shape.points[:, 1].min() + shape.points[:, 1].max()) / 2 / PIXEL)


def blended() -> tuple[list[FilledShape], list[FilledShape], Blend]:
    first = [draw("#ff0000", rectangle(0, 0, 10, 100)), draw_text("7", 40, 90, 34, "#ffffff")]
    second = [draw("#ff0000", rectangle(0, 50, 10, 250)), draw_text("7", 40, 230, 56, "#ffffff")]
    return first, second, Blend({"post": first[:1], "name": first[1:]}, {"post": second[:1], "name": second[1:]},
                                (LOW, HIGH))  # fmt: skip


def test_it_begins_and_ends_with_the_pictures() -> None:
    first, second, blend = blended()
    np.testing.assert_allclose(outline(blend.at(0)), outline(first), atol=1e-12)
    np.testing.assert_allclose(outline(blend.at(1)), outline(second), atol=1e-12)


def test_half_way_everything_is_half_way() -> None:
    first, second, blend = blended()
    middle_way = blend.at(0.5)
    np.testing.assert_allclose(outline(middle_way), (outline(first) + outline(second)) / 2, atol=1e-12)
    assert [shape.text for shape in middle_way] == [None, "7"]
    assert middle_way[1].size_px == 45


def test_all_of_it_can_stand_lower() -> None:
    _, _, blend = blended()
    lower = outline(blend.at(0.3)) - outline(blend.at(0.3, down=12))
    np.testing.assert_allclose(lower, np.broadcast_to([0, 12 * PIXEL, 0], lower.shape), atol=1e-12)


def test_what_is_in_one_picture_only_goes_along_and_fades_near_it() -> None:
    mast, post = draw("#ffffff", disc(30, 150, 9)), draw("#ff0000", rectangle(0, 0, 10, 100))
    blend = Blend({"post": [post], "mast": [mast]}, {"post": [post]}, (LOW, HIGH))
    for share in (0.0, 0.1, 0.2, NEAR, 0.9):
        shape = blend.at(share)[1]
        assert shape.fill_opacity == pytest.approx(max(0.0, 1 - share / NEAR))
        assert shape.fill_rgbas[0, 3] == shape.fill_opacity
        # Half way between two levels it stays half way between them: from 150 to 350.
        assert middle(shape) == pytest.approx(150 + 200 * share)
    back = Blend({"post": [post]}, {"post": [post], "mast": [mast]}, (HIGH, LOW))
    assert [back.at(share)[1].fill_opacity for share in (0.5, 1.0)] == [0.0, 1.0]


def test_parts_are_told_apart_by_name_not_by_looks() -> None:
    mast, landing = draw("#ffffff", disc(30, 20, 9)), draw("#ffffff", disc(30, 100, 9))
    low = draw("#ffffff", disc(30, 250, 9))
    blend = Blend({"mast": [mast], "landing": [landing]}, {"landing": [low]}, (LOW, HIGH))
    going, landed = blend.at(0.5)
    assert going.fill_opacity == 0
    assert landed.fill_opacity == 1
    assert middle(landed) == pytest.approx(175)


def test_neighbours_of_one_colour_are_one_shape() -> None:
    posts = [draw("#ff0000", rectangle(x, 0, x + 4, 50)) for x in (0, 20, 40)]
    beam = draw("#00ff00", rectangle(0, 50, 60, 54))
    blend = Blend({"posts": posts, "beam": [beam]}, {"posts": posts, "beam": [beam]}, (LOW, LOW))
    merged = blend.at(0.5)
    assert [len(shape.points) for shape in merged] == [48, 16]
    np.testing.assert_allclose(outline(merged), outline([*posts, beam]), atol=1e-12)
