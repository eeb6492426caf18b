import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from synthetic_shelf import TABLES, invented_curves, known_shelf

from dyewright.core.colour import delta_e00
from dyewright.core.matching.gamut import gamut_of, outside_de00
from dyewright.core.matching.harmony import CommonChange, changed, contrast_kept, harmonise
from dyewright.core.mixing import lab_of_mix

DYES = 8
SHELF = known_shelf(invented_curves(np.random.default_rng(2), DYES))
GAMUT = gamut_of(SHELF, TABLES)
SHORE = np.array([(75, -4, -14), (45, -15, -22), (72, 4, 24), (30, 5, -10)], float)
SHARES = np.array([0.4, 0.25, 0.3, 0.05])
VIVID = np.array([(75, -20, -40), (45, -30, -45), (72, 8, 55), (30, 25, -50)], float)


def test_a_palette_within_reach_stays_as_it_is():
    depths = np.eye(DYES)[:4] * 0.004
    found = harmonise(SHELF, GAMUT, lab_of_mix(SHELF, depths, TABLES), TABLES)
    assert found.change.is_none
    assert found.together is found.nearest
    assert found.nearest.de00.max() < 0.31  # of recipes within 0.3 the one with fewest dyes is taken
    assert found.nearest.contrast_kept_frac > 0.98


def test_a_palette_out_of_reach_keeps_more_of_its_contrasts_as_a_whole():
    found = harmonise(SHELF, GAMUT, VIVID, TABLES, weights=SHARES)

    assert (outside_de00(GAMUT, VIVID) > 3).sum() >= 2
    assert not found.change.is_none
    assert found.together.contrast_kept_frac > found.nearest.contrast_kept_frac
    assert found.together.contrast_ratio <= 1
    # Each colour by itself is nearer when each is taken by itself: that is what harmony costs.
    assert found.nearest.de00 @ SHARES <= found.together.de00 @ SHARES
    # And by the change the colours come nearer to the shelf.
    assert outside_de00(GAMUT, found.aims) @ SHARES < outside_de00(GAMUT, VIVID) @ SHARES


def test_recipes_are_what_the_colours_are_foretold_from():
    found = harmonise(SHELF, GAMUT, SHORE, TABLES, weights=SHARES)
    for way in (found.nearest, found.together):
        assert np.allclose(lab_of_mix(SHELF, way.depths_owf, TABLES), way.labs)
        assert np.allclose(delta_e00(SHORE, way.labs), way.de00)
        assert (way.depths_owf > 0).sum(axis=1).max() <= 3


@given(
    lightness_ratio=st.floats(0.5, 1),
    chroma_ratio=st.floats(0.3, 1),
    shift=st.tuples(*(st.floats(-5, 5),) * 3),
)
def test_squeezing_and_shifting_all_alike_keeps_every_contrast(lightness_ratio, chroma_ratio, shift):
    change = CommonChange(55.0, lightness_ratio, chroma_ratio, shift)
    kept, ratio = contrast_kept(SHORE, changed(SHORE, change), SHARES)
    assert kept == pytest.approx(1, abs=1e-5)
    # Both parts shrink by their own ratio, so the whole by one between them.
    low, high = sorted((lightness_ratio, chroma_ratio))
    assert low - 1e-9 <= ratio <= high + 1e-9


def test_a_change_is_worked_by_hand():
    # L* 50 + 0.5 (70 - 50) + 2 = 62, a* 0.5 · 20 + 1 = 11, b* 0.5 · (-10) - 3 = -8.
    assert changed((70, 20, -10), CommonChange(50.0, 0.5, 0.5, (2.0, 1.0, -3.0))) == pytest.approx([62, 11, -8])


def test_contrasts_turned_upside_down_are_not_kept():
    kept, ratio = contrast_kept(SHORE, SHORE * np.array([-1, -1, -1]), SHARES)
    assert kept == 0
    assert ratio == pytest.approx(1)


def test_two_colours_that_fall_together_lose_their_contrast():
    kept, ratio = contrast_kept(SHORE[:2], np.stack([SHORE[0], SHORE[0]]), SHARES[:2])
    assert kept == 0
    assert ratio == 0


def test_a_single_colour_has_no_contrast_to_lose():
    assert contrast_kept(SHORE[:1], VIVID[:1], SHARES[:1]) == (1.0, 1.0)
    assert len(harmonise(SHELF, GAMUT, SHORE[:1], TABLES).nearest.labs) == 1


def test_the_order_from_dark_to_light_is_watched():
    # Three colours of which the darkest, a vivid yellow at L* 40, is no colour of dye on yarn: it comes out lighter.
    found = harmonise(SHELF, GAMUT, np.array([(30.0, 0, 60), (33.0, 5, -10), (60.0, 0, 0)]), TABLES)
    lightness = found.nearest.labs[:, 0]
    assert found.nearest.is_order_kept == bool(lightness[0] < lightness[1] + 1 < lightness[2] + 2)
