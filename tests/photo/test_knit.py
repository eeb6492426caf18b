"""Drawings of knitting, hanks and maps: their colours, not their looks."""

from io import BytesIO

import numpy as np
import pytest
from PIL import Image

from dyewright.photo.knit import cloth_png, hank_png, parts_png

TEAL = np.array([0.05, 0.16, 0.21])


def opened(png):
    """Return linear light and cover of a picture; the curve written out anew (IEC 61966-2-1)."""
    codes = np.asarray(Image.open(BytesIO(png)), float) / 255
    light = np.where(codes[..., :3] <= 0.04045, codes[..., :3] / 12.92, ((codes[..., :3] + 0.055) / 1.055) ** 2.4)
    return light, codes[..., 3]


@pytest.mark.parametrize("draw", [cloth_png, hank_png])
def test_a_drawing_keeps_the_hue_and_is_no_brighter_than_lit_yarn(draw):
    light, cover = opened(draw(np.broadcast_to(TEAL, (12, 10, 3))))
    inside = light[cover > 0.99]

    # Shadow takes light away in all three channels alike. 8-bit steps move a mean of dark values by less than 2 %.
    assert inside.mean(axis=0) / inside.mean() == pytest.approx(TEAL / TEAL.mean(), rel=0.02)
    assert np.percentile(inside, 99.5, axis=0) == pytest.approx(TEAL, rel=0.12)  # strands differ by 3.5 % (1 sd)
    assert inside.mean() > 0.4 * TEAL.mean()


def test_rows_stand_with_the_first_at_the_bottom():
    cloth = np.zeros((10, 6, 3))
    cloth[:5] = (0.5, 0.0, 0.0)
    cloth[5:] = (0.0, 0.0, 0.5)
    light, cover = opened(cloth_png(cloth, stitch_px=12, row_frac=0.75))

    assert light.shape[:2] == (10 * 9, 6 * 12)
    assert light[:30, :, 2].mean() > 20 * light[:30, :, 0].mean()
    assert light[-30:, :, 0].mean() > 20 * light[-30:, :, 2].mean()
    assert cover[45].min() > 0.99  # no ground shows inside


def test_a_map_lays_parts_edge_to_edge_inside_the_outline():
    light, cover = opened(
        parts_png([25, 75], [50, 50], [(0.5, 0, 0), (0, 0, 0.5)], ((0, 0), (100, 0), (50, 100)), side_px=200)
    )

    assert light.shape[:2] == (200, 200)
    assert light[20, 60] == pytest.approx((0.5, 0, 0), abs=0.005)
    assert light[20, 140] == pytest.approx((0, 0, 0.5), abs=0.005)
    assert (cover[150, 10], cover[100, 100]) == (0, 1)  # outside and inside the triangle
