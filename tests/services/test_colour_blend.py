"""Plied and carded fibre: shares, both rules, what the page says of how sure it is."""

import numpy as np
import pytest

from dyewright.core.mixing import blended_reflectance
from dyewright.errors import InputError
from dyewright.services.colour_pages import blend_page


def blend(records, **asked):
    with records.read() as session:
        return blend_page.blend_of(session, {key.replace("_", "."): value for key, value in asked.items()})


def test_a_blend_of_one_colour_with_itself_is_that_colour(records):
    found = blend(records, part_1="50 20 10", part_2="50 20 10")
    assert found.lab == pytest.approx((50, 20, 10), abs=0.05)


@pytest.mark.parametrize("shares", [("1", "3"), ("25 %", "75 %"), ("12,5 g", "37,5 g")])
def test_plies_per_cent_and_grams_are_all_the_same_shares(records, shares):
    found = blend(records, part_1="80 0 0", part_2="30 0 0", share_1=shares[0], share_2=shares[1])
    assert [part.share_frac for part in found.parts] == pytest.approx([0.25, 0.75])


def test_no_shares_are_equal_parts(records):
    found = blend(records, part_1="80 0 0", part_2="30 0 0", part_3="50 10 0")
    assert [part.share_frac for part in found.parts] == pytest.approx([1 / 3, 1 / 3, 1 / 3])


def test_curves_are_blended_as_they_are(records):
    # Two flat curves, 64 % and 4 %, in equal parts by hand with M = 0.15:
    # (1 - .64) / (.15 (.64 - .01) + .01) = 3.445; (1 - .04) / (.15 (.04 - .01) + .01) = 66.207; their mean 34.826;
    # back: (1 - .01 (1 - .15) 34.826) / (1 + .15 * 34.826) = .1131; of a flat curve L* is
    # 116 (.1131)^(1/3) - 16 = 40.1.
    found = blend(records, part_1="curve " + "64 " * 31, part_2="curve " + "4 " * 31)
    assert found.lab == pytest.approx((40.1, 0, 0), abs=0.1)
    assert "All its colours are measured curves." in found.inferred


def test_a_blend_lies_between_its_parts_and_is_lighter_than_dyes_would_be(records):
    found = blend(records, part_1="85 0 5", part_2="25 0 0")
    assert 25 < found.lab[0] < 85
    assert "the blend stays lighter" in found.as_dyes
    assert "darker" in found.as_dyes  # the rule for dyes says a darker colour


def test_colours_known_by_lab_only_say_that_their_curves_are_inferred(records):
    one = blend(records, part_1="curve " + "40 " * 31, part_2="30 0 0")
    both = blend(records, part_1="60 0 0", part_2="30 0 0")
    assert one.inferred.startswith("One of its colours is known by Lab only")
    assert both.inferred.startswith("All its colours are known by Lab only")


def test_more_of_the_darker_is_never_lighter(records):
    lightness = [
        blend(records, part_1="75 10 30", part_2="35 -15 -20", share_1="1", share_2=str(share)).lab[0]
        for share in (0.2, 0.5, 1, 2, 5)
    ]
    assert np.all(np.diff(lightness) < 0)


@pytest.mark.parametrize(
    ("asked", "field", "says"),
    [
        ({"part_1": "50 5 10", "blend": "1"}, "part.2", "a blend needs two colours"),
        ({"part_1": "50 5 10", "part_2": "teal"}, "part.2", "'teal' is not understood"),
        ({"part_1": "50 5 10", "part_3": "40 0 0", "share_1": "2"}, "share.3", "Give every colour its share"),
        ({"part_1": "50 5 10", "part_2": "40 0 0", "share_1": "2", "share_2": "some"}, "share.2", "is no number"),
        ({"part_1": "50 5 10", "part_2": "40 0 0", "share_1": "0", "share_2": "1"}, "share.1", "lies above 0"),
        ({"part_1": "50 5 10", "part_2": "40 0 0", "share_1": "nan", "share_2": "1"}, "share.1", "lies above 0"),
    ],
)
def test_a_wrong_field_is_named(records, asked, field, says):
    with pytest.raises(InputError, match=says) as error:
        blend(records, **asked)
    assert error.value.field == field


def test_the_rule_itself_is_that_of_the_core():
    parts = np.array([[0.64] * 31, [0.04] * 31])
    assert blended_reflectance(parts, [0.5, 0.5])[0] == pytest.approx(0.1131, abs=1e-4)  # by hand, above
