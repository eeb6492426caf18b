import pytest

from dyewright.core.colour import colour_words, difference_words, visibility_words


# What a person calls these Labs (common practice, no source): the screen sketch's teal, and plain cases.
@pytest.mark.parametrize(
    ("lab", "words"),
    [
        ((45, -20, -5), "deep greyish teal"),
        ((30, 20, 20), "dark soft brown"),
        ((50, 60, 35), "vivid red"),
        ((97, 0, 1), "white"),
        ((10, 0, 0), "black"),
        ((55, 1, 1), "grey"),
        ((87, 1, 12), "cream"),
        ((75, 25, 8), "light soft pink"),
        ((50, 0, 45), "olive"),
    ],
)
def test_colours_have_plain_names(lab, words):
    assert colour_words(lab) == words


@pytest.mark.parametrize(
    ("standard", "sample", "words"),
    [
        ((50, 20, 20), (50, 20, 20), "no difference to see"),
        ((50, 20, 20), (53, 20, 20), "lighter"),
        ((50, 20, 20), (40, 20, 20), "clearly darker"),
        ((50, 0, 0), (50, 0, -1), "a touch bluer"),
        ((50, 0, 0), (50, 0.3, 0), "a hair redder"),
        ((50, 20, 0.1), (50, 20, 3), "yellower"),  # from red the hue angle grows towards yellow
        ((50, -20, 0.1), (50, -20, 3), "yellower"),  # from green it falls towards yellow
        ((50, 0.1, -30), (50, 4, -30), "redder"),  # from blue it grows towards red
    ],
)
def test_differences_have_plain_words(standard, sample, words):
    assert difference_words(standard, sample) == words


def test_the_larger_part_comes_first():
    assert difference_words((50, 20, 20), (48, 16, 16)).split(", ") == ["duller", "darker"]


def test_there_and_back_use_opposite_words():
    there, back = difference_words((50, 20, -10), (54, 12, -6)), difference_words((54, 12, -6), (50, 20, -10))
    assert "lighter" in there
    assert "darker" in back
    assert "duller" in there
    assert "brighter" in back


# The ladder that is used for skeins (common practice, no source), in CMC(2:1).
@pytest.mark.parametrize(("cmc", "words"), [(0.4, "not visible"), (0.9, "one lot"), (1.5, "alternate"), (3, "apart")])
def test_a_difference_says_what_to_do(cmc, words):
    assert words in visibility_words(cmc)
