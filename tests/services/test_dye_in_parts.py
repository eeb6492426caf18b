"""A dye that goes in by parts: what is measured, what is done at the pot, and with what care."""

import pytest

from dyewright.core.model import StepKind
from dyewright.errors import InputError
from dyewright.services.planning import plan, read_card


def sheet_of(dyes, more=""):
    return plan(
        read_card(
            f"""
            yarn = {{ fibre = {{ wool = 100 }}, dry = "240 g", skeins = 4 }}
            {more or 'pot = [{ volume = "12 L", heat = "thermostat vessel" }]'}
            stage = [{{ enter = "40 C" }}, {{ to = "95 C", rate = "1 C/min" }}, {{ hold = "40 min" }}]
            assistant = [{{ kind = "white vinegar 5 %", amount = "40 mL", when = "20 min" }}]
            dye = [{dyes}]
            """
        )
    )


LAGOON = (
    '{ name = "Lagoon", class = "acid milling", depth = "1.5 %", stock = "1 %", when = ["start", "20 min", "75 C"] }'
)
MOSS = '{ name = "Moss", class = "acid milling", depth = "0.5 %", stock = "1 %", when = "20 min" }'


def steps_at_the_pot(sheet):
    return [step for step in sheet.steps if step.kind is StepKind.ADD and step.at_min is not None]


def test_three_parts_go_in_at_their_moments_by_thirds():
    steps = steps_at_the_pot(sheet_of(LAGOON))

    # By hand: 1.5 % of 240 g is 3.6 g, 360 mL of a 1 % stock, 120 mL a third; 75 °C is reached after 35 min.
    assert [step.key for step in steps] == ["add-dye", "dye-1", "add-1", "dye-2"]
    assert [round(step.at_min) for step in steps[1:]] == [20, 20, 35]
    thirds = [step for step in steps if "Lagoon" in step.text]
    for step, which in zip(thirds, ("first", "second", "third"), strict=True):
        assert f"the {which} third of Lagoon (120\u202fmL)" in step.text
    assert [step.title for step in thirds] == [
        "Stir in the first of the dye",
        "Add the next part of the dye",
        "Add the rest of the dye",
    ]


def test_the_sheet_names_the_moments():
    notes = sheet_of('{ name = "Rust", class = "acid milling", depth = "2 %", parts = 2 }').notes

    assert any("Rust goes in by 2 equal parts: start, 20 min." in note for note in notes)


def test_every_later_part_lifts_the_yarn_out_and_says_why():
    for step in steps_at_the_pot(sheet_of(f"{LAGOON}, {MOSS}"))[1:]:
        assert step.text.startswith("Lift the yarn out on a rod")
        assert "Steam and hot liquor scald" in step.caution
        assert "gloves" in step.caution.lower()


def test_a_dye_that_follows_whole_is_named():
    sheet = sheet_of(MOSS)
    steps = steps_at_the_pot(sheet)

    assert [step.title for step in steps] == ["Add the Moss", "Add the white vinegar 5 %"]
    assert "all of Moss (120\u202fmL)" in steps[0].text


def test_powder_is_divided_once_it_is_dissolved():
    sheet = sheet_of('{ name = "Rust", class = "acid milling", depth = "2 %", parts = 2 }')
    dissolve = next(step for step in sheet.steps if step.key == "dissolve-dye")

    assert "Divide it into 2 equal parts" in dissolve.text
    # By hand: 2 % of 240 g is 4.8 g.
    assert "the second half of Rust (2.4\u202fg of it, dissolved)" in steps_at_the_pot(sheet)[1].text


def test_each_pot_gets_its_share_of_each_part():
    pots = 'pot = [{ name = "A", volume = "8 L", heat = "thermostat vessel" }, { name = "B", volume = "8 L" }]'
    step = next(step for step in steps_at_the_pot(sheet_of(LAGOON, pots)) if step.key == "dye-1")

    # By hand: two skeins of four in each pot, so half of 120 mL.
    assert "(120\u202fmL; A 60\u202fmL, B 60\u202fmL)" in step.text


def test_a_part_that_never_comes_is_an_error_at_its_dye():
    with pytest.raises(
        InputError, match="Lagoon is to go in at 98\u202f°C, but the programme never comes there"
    ) as caught:
        sheet_of(LAGOON.replace("75 C", "98 C"))
    assert caught.value.field == "dye.1.when"


def test_a_dye_that_goes_in_at_once_keeps_its_words():
    sheet = sheet_of('{ name = "Lagoon", class = "acid milling", depth = "1.5 %", stock = "1 %" }')
    step = next(step for step in sheet.steps if step.key == "add-dye")

    assert step.title == "Stir in the dye"
    assert "first step of the clarity ladder" in step.text
    assert not any(step.key.startswith("dye-") for step in sheet.steps)
