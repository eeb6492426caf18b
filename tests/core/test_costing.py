"""What a dyeing costs."""

from decimal import Decimal

from dyewright.core.costing import dye_cost, energy_cost


def test_dyes_cost_their_grams():
    # by hand: 2 g at 0.28 and 0.5 g at 0.34 are 0.56 + 0.17
    assert dye_cost([2.0, 0.5], [Decimal("0.28"), Decimal("0.34")]) == Decimal("0.73")


def test_a_dye_without_a_price_makes_the_cost_unknown_unless_none_of_it_goes_in():
    assert dye_cost([2.0, 0.5], [Decimal("0.28"), None]) is None
    assert dye_cost([2.0, 0.0], [Decimal("0.28"), None]) == Decimal("0.56")  # by hand


def test_power_costs_its_kilowatt_hours():
    assert energy_cost(1.2, Decimal("0.30")) == Decimal("0.36")  # by hand
