"""Colours read by a grey card or white paper: surer than nothing, poorer than a chart, and said so."""

import numpy as np
import pytest
from scenes import Scene, jpeg, render, saved

from dyewright.core.colour import delta_e00
from dyewright.core.model import ChartKind, Shape
from dyewright.errors import InputError
from dyewright.services.judging.chart_choice import PlainChoice, chart_from_text
from dyewright.services.judging.verdict import judge

TRUTH = np.array([(45.0, -18.0, -12.0), (55.0, 12.0, 30.0), (60.0, 5.0, 4.0)])
PLACES = [(80 + 300 * i, 400, 200, 400) for i in range(3)]
BOXES = [Shape.box(*place) for place in PLACES]
CARD = ((100, 100), (300, 100), (300, 250), (100, 250))
TEXT = "100,100 300,100 300,250 100,250"


def photographed(**options):
    """Three flat skeins on a white board with a grey card of 18 %."""
    skeins = [(place, tuple(lab)) for place, lab in zip(PLACES, TRUTH, strict=True)]
    return render(Scene(skeins=[*skeins, ((100, 100, 200, 150), (49.5, 0.0, 0.0))], **options))


def tinted(codes):
    """The same with red and blue pulled apart, as a camera's white balance would."""
    linear = (codes / 255) ** 2.2 * np.array([1.08, 1.0, 0.8])
    return np.uint8(np.round(255 * np.clip(linear, 0, 1) ** (1 / 2.2)))


@pytest.mark.parametrize("choice", [f"grey: {TEXT}", "paper", "paper: 700,100 1100,100 1100,300 700,300"])
def test_a_card_or_paper_takes_out_a_cast_and_the_interval_holds_the_colour(choice):
    result = judge([saved(tinted(photographed()), "PNG")], chart=chart_from_text(choice), boxes=BOXES)

    labs = np.array([skein.lab for skein in result.skeins])
    assert result.basis == "default"
    assert result.chart.found
    assert result.chart.left_out_de00_median is None
    assert result.chart.patches == ()
    # The scene's camera has channels that overlap, which no card tells: up to 8 ΔE00. Without a card the cast stays.
    uncorrected = judge([saved(tinted(photographed()), "PNG")], chart="none", boxes=BOXES)
    assert np.all(delta_e00(labs, TRUTH) < 9)
    assert delta_e00(labs, TRUTH).mean() < delta_e00(np.array([s.lab for s in uncorrected.skeins]), TRUTH).mean() - 1
    for skein, truth in zip(result.skeins, TRUTH, strict=True):
        assert np.all(np.array(skein.lab_low) <= truth)
        assert np.all(truth <= np.array(skein.lab_high))


def test_a_card_is_no_skein_and_its_kind_is_told():
    result = judge([jpeg(photographed())], chart=chart_from_text(f"grey:{TEXT}"))

    assert result.chart.kind is ChartKind.GREY_CARD
    assert result.chart.corners == CARD
    assert len(result.skeins) == 3
    assert any("grey card" in warning for warning in result.chart.warnings)


def test_a_chart_is_far_surer_than_a_card():
    from dyewright.services.judging._chart import reference_of

    reference = reference_of(None, is_older_chart=False)
    place = ((700, 60), (1060, 60), (1060, 300), (700, 300))
    by_card = judge([saved(photographed(), "PNG")], chart=chart_from_text(f"grey:{TEXT}"), boxes=BOXES)
    codes = photographed(chart_xyz=reference.xyz, chart_corners=place)
    by_chart = judge([saved(codes, "PNG")], chart=place, boxes=BOXES)

    def width(result):
        return np.mean([np.subtract(skein.lab_high, skein.lab_low) for skein in result.skeins])

    assert width(by_card) > 2 * width(by_chart)


@pytest.mark.parametrize(
    ("codes", "choice", "said"),
    [
        (lambda: np.full((900, 1200, 3), 255), "paper", "the white paper is overexposed in 100% of it"),
        (lambda: np.full((900, 1200, 3), 20), "paper", "the white paper is too dark"),
        (photographed, "grey: 200,150 500,150 500,500 200,500", "the grey card is not plain"),
    ],
)
def test_a_surface_that_cannot_be_read_by_is_refused(codes, choice, said):
    with pytest.raises(InputError, match=said):
        judge([saved(np.uint8(codes()), "PNG")], chart=chart_from_text(choice), boxes=BOXES)


@pytest.mark.parametrize(
    "text", ["card", "grey", "white: 1,2 3,4 5,6 7,8", "grey: 1,2 3,4", "grey:", "1,2,3 4,5 6,7 8,9"]
)
def test_what_is_no_choice_is_refused_with_the_choices(text):
    with pytest.raises(InputError, match="neither auto, none, paper"):
        chart_from_text(text)


def test_the_choices_as_text():
    assert chart_from_text(" Paper ") == PlainChoice(ChartKind.WHITE_PAPER)
    assert chart_from_text("GREY: 1,2 3,4 5,6 7,8") == PlainChoice(
        ChartKind.GREY_CARD, ((1, 2), (3, 4), (5, 6), (7, 8))
    )
    assert chart_from_text("auto") == "auto"
