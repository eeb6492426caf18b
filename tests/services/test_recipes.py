"""Recipes as text: what a dyer writes, there and back."""

import pytest

from dyewright.errors import InputError
from dyewright.services.recipes import recipe_from_text, recipe_text


@pytest.mark.parametrize(
    ("text", "depths"),
    [
        ("Lagoon 0.5 %", {"Lagoon": 0.005}),
        ("Lagoon 0,5 + Soot 0.1", {"Lagoon": 0.005, "Soot": 0.001}),
        ("Old rose: 2 %", {"Old rose": 0.02}),
        ("Lagoon 0.5 + Lagoon 0.25", {"Lagoon": 0.0075}),  # 0.5 + 0.25
        (" undyed ", {}),
        ("", {}),
    ],
)
def test_a_recipe_is_read_in_per_cent(text, depths):
    assert recipe_from_text(text) == pytest.approx(depths)


@pytest.mark.parametrize("text", ["Lagoon", "0.5 %", "Lagoon 0.5 +", "Lagoon 0 %", "Lagoon 101 %", "Lagoon half"])
def test_what_is_no_dye_with_its_depth_is_named(text):
    with pytest.raises(InputError, match=r"Lagoon 0\.5 %, or undyed") as refused:
        recipe_from_text(text, field="jar.3.recipe")
    assert refused.value.field == "jar.3.recipe"


def test_a_recipe_is_written_as_it_is_read():
    depths = {"Lagoon": 0.005, "Soot": 0.00012}
    assert recipe_from_text(recipe_text(depths)) == pytest.approx(depths)
    assert recipe_text({}) == "undyed"
