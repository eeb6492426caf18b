"""The bands against what dyers of small lots tell: common practice, no source. They must contain it."""

import numpy as np
import pytest
from pots import capacity, kinds, ramp

from dyewright.core.uptake import clear_time, draw, first_reached_min, look_ahead
from dyewright.data.uptake import load_uptake
from dyewright.services.forecasting.foretell import forecast
from dyewright.services.planning import read_card

EVEN = np.full(500, 1 / 500)


def held(dye_class, **pot):
    ensemble = draw(kinds(dye_class), capacity(), is_superwash=False, samples=500, rng=np.random.default_rng(4))
    return look_ahead(ramp(**pot), ensemble, 95.0)


@pytest.mark.parametrize("from_c", [25.0, 30.0])
def test_a_pale_reactive_bath_on_untreated_wool(from_c):
    # 0.5 % of a dichlorotriazine dye with vinegar at 16:1, heated at about 3 °C/min: mostly clear 20 min after heat on
    # and pot clear at 20 to 55 min.
    outlook = held("reactive dichlorotriazine", from_c=from_c, c_per_min=3.0, liquor_l_kg=16.0, depth_owf=0.005, ph=5.0)
    mostly = clear_time(first_reached_min(outlook.held_min, outlook.held, 0.75), EVEN)
    clear = clear_time(first_reached_min(outlook.held_min, outlook.held, outlook.clear_goal), EVEN)

    assert mostly.low <= 20 <= mostly.high
    assert 20 <= clear.mid <= 55
    assert clear.low <= 30
    assert clear.high is None or clear.high >= 40


@pytest.mark.parametrize("depth_owf", [0.005, 0.01, 0.02])
@pytest.mark.parametrize("liquor_l_kg", [16.0, 30.0])
def test_an_acid_milling_bath_with_enough_acid(depth_owf, liquor_l_kg):
    # Mostly clear within 20 min of near-boil, clear within 60. Enough acid: pH 5.5 or below; near-boil: 95 °C.
    outlook = held("acid milling", ph=5.0, depth_owf=depth_owf, liquor_l_kg=liquor_l_kg)
    near_boil_min = 55.0
    mostly = clear_time(first_reached_min(outlook.held_min, outlook.held, 0.75), EVEN)
    clear = clear_time(first_reached_min(outlook.held_min, outlook.held, outlook.clear_goal), EVEN)

    assert mostly.high <= near_boil_min + 20
    assert 20 <= clear.low <= near_boil_min + 60
    # At 2 % and 30:1 the limit of 10 mg/L asks for 98.5 %, which less than half of the band reaches hot: the experience
    # lies inside the band, but not in its middle.
    assert depth_owf == 0.02 or clear.mid <= near_boil_min + 60


def pot(fibre, dye_class, *, superwash="false", depth="2 %", programme=""):
    return forecast(
        read_card(
            f"""
            yarn = {{ fibre = {{ {fibre} = 100 }}, dry = "100 g", superwash = {superwash} }}
            dye = [{{ class = "{dye_class}", depth = "{depth}" }}]
            water = {{ alkalinity = "100 mg/L" }}
            pot = [{{ volume = "8 L", heat = "thermostat vessel" }}]
            {programme}
            """
        )
    )


USUAL = [
    *((fibre.value, dye_class.value, "false") for fibre, dye_class in load_uptake().rows),
    *((fibre.value, dye_class.value, "true") for fibre, dye_class in load_uptake().rows if fibre.value == "wool"),
]


@pytest.mark.parametrize(("fibre", "dye_class", "superwash"), USUAL)
def test_a_careful_default_programme_is_not_called_uneven(fibre, dye_class, superwash):
    # Common practice, no source: the usual programme with the usual turning gives skeins that can be sold.
    level = pot(fibre, dye_class, superwash=superwash).level

    assert level.rating in {"level", "acceptable, slightly tonal"}


@pytest.mark.parametrize(
    ("fibre", "superwash", "enter", "rate"),
    [("wool", "false", 40, 3), ("wool", "false", 94, 1), ("wool", "true", 60, 1), ("nylon", "false", 40, 2)],
)
def test_a_rushed_pot_is_called_uneven(fibre, superwash, enter, rate):
    # Common practice, no source: full power under a small pot, or yarn put into a hot bath, gives blotches.
    programme = f'stage = [{{ enter = "{enter} C" }}, {{ to = "95 C", rate = "{rate} C/min" }}, {{ hold = "40 min" }}]'

    assert pot(fibre, "acid milling", superwash=superwash, programme=programme).level.rating == "likely uneven"


def test_a_dye_at_no_depth_is_left_out_by_name():
    notes = pot("wool", "acid milling", depth="0 %").notes

    assert any(": at 0 % there is nothing to forecast" in note for note in notes)


def test_an_alkaline_bath_is_said_to_lie_outside_the_model():
    # Common practice, no source: alkali strips acid dyes from wool. The titration curve ends at "no acid bound".
    soda = 'assistant = [{ kind = "soda ash", amount = "20 g/L" }]'

    assert any(
        "outside what the curve was made for" in note for note in pot("wool", "acid milling", programme=soda).notes
    )
    assert not any("outside what" in note for note in pot("wool", "acid milling").notes)
