"""How the dose of a dye is measured, what a mix costs, and where its planning starts."""

from decimal import Decimal
from urllib.parse import parse_qs

import pytest

from dyewright.core.model import Dye
from dyewright.services.mix_doses import LEAST_STOCK_G, dose_of, mix_cost, plan_query


def test_a_dose_that_the_scale_reads_goes_on_it_as_powder():
    # 1 % of 250 g is 2.5 g; a step of 0.1 g is 4 % of it, within the 5 % of core.bath
    dose = dose_of("Lagoon", 0.01, 250, 0.1)
    assert (dose.label, dose.amount.replace("\u202f", " "), dose.why) == ("Lagoon", "2.5 g", "")


@pytest.mark.parametrize(
    ("depth", "amount", "strength"),
    [
        # by hand, of 100 g: 0.05 % is 50 mg, 5 mL of 1 % stock (10 g/L)
        (0.0005, "5 mL", "1"),
        # 0.04 % is 40 mg: 4 mL of 1 % would be below 5 mL, so 40 mL of 0.1 %
        (0.0004, "40 mL", "0.1"),
        # 0.003 % is 3 mg: 30 mL of 0.01 %
        (0.00003, "30 mL", "0.01"),
    ],
)
def test_a_smaller_dose_comes_from_the_strongest_stock_that_can_be_measured(depth, amount, strength):
    dose = dose_of("Lagoon", depth, 100, 0.01)
    assert dose.amount.replace("\u202f", " ").replace("\u00a0", " ") == amount
    assert dose.label == f"Lagoon, as {strength}\u00a0% stock"
    assert "too little for a scale of 0.01\u00a0g" in dose.why
    assert "leave it out" not in dose.why


def test_below_the_weakest_stock_the_way_out_is_said():
    # 0.5 mg is 5 mL of 0.01 % stock, by hand: the least that can be measured
    assert pytest.approx(0.0005) == LEAST_STOCK_G
    assert "leave it out, or dye more yarn at once" in dose_of("Lagoon", 0.000004, 100, 0.01).why
    assert "leave it out" not in dose_of("Lagoon", 0.000005, 100, 0.01).why


def test_no_dye_is_no_dose_to_worry_about():
    assert dose_of("Lagoon", 0.0, 100, 0.01).why == ""


def test_the_cost_of_a_mix_is_known_only_with_every_price():
    tubs = {"Lagoon": Dye("Lagoon", price_per_g=Decimal("0.29")), "Soot": Dye("Soot")}
    # 0.5 % of 200 g is 1 g at 0.29
    assert mix_cost({"Lagoon": 0.005}, tubs, 200) == "0.29"
    assert mix_cost({"Lagoon": 0.005, "Soot": 0.001}, tubs, 200) is None
    assert mix_cost({}, tubs, 200) is None


def test_planning_starts_from_the_dyes_that_are_in_the_mix():
    query = parse_qs(plan_query({"Lagoon": 0.00505, "Soot": 0.0}, 100, 3))
    assert query == {"dyes": ["Lagoon 0.505 %"], "weight": ["100 g"], "base": ["3"]}
