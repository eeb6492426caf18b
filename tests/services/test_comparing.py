"""Two ways beside each other: figures, which is better, the verdict, other ways in one tap, the page."""

from dataclasses import replace
from decimal import Decimal

import pytest

from dyewright.core.model import (
    Base,
    Card,
    CoolTo,
    Drain,
    Dye,
    DyeClass,
    DyeDose,
    Enter,
    Fibre,
    Heating,
    Hold,
    Pot,
    To,
    WhenKind,
    Yarn,
)
from dyewright.errors import InputError
from dyewright.files.cards import write_card
from dyewright.records import shelf
from dyewright.services.card_defaults import complete
from dyewright.services.comparing import beside
from dyewright.services.comparing.changes import Change, changed, offers, with_base, with_dye
from dyewright.services.comparing.editing import edit_fields, edited
from dyewright.services.comparing.measures import Prices
from dyewright.services.comparing.page import two_ways_view
from dyewright.services.comparing.pair import ready_pair
from dyewright.services.plain import plain
from dyewright.services.planning import plan

WOOL = {Fibre.WOOL: 1.0}
HEATHER = Dye("Heather", DyeClass.ACID_MILLING, price_per_g=Decimal("0.28"))
BLUEBELL = Dye("Bluebell", DyeClass.BROMOACRYLAMIDE, price_per_g=Decimal("0.34"))
FELLSIDE = Base("Fellside wool", WOOL)


def card_of(dye=HEATHER, depth_owf=0.01, **more):
    return Card(
        title=f"{dye.name} pot",
        yarn=Yarn(WOOL, dry_g=200.0, is_scoured=True),
        dyes=(DyeDose(dye.name, dye.dye_class, depth_owf),),
        pots=(Pot(12.0, 0.28, power_w=1800.0, heating=Heating.INDUCTION, turns_per_min=0.2),),
        **more,
    )


CARD = card_of()


def rows_of(left, right, **more):
    return {row.key: row for row in beside(left, right, **more).rows}


def test_a_way_beside_itself_differs_in_nothing():
    ways = beside(CARD, CARD)
    assert {row.better.value for row in ways.rows} == {"about the same"}
    assert ways.verdict == "No difference between the two that can be told beforehand."


def test_a_way_that_seldom_clears_is_about_the_same_beside_itself():
    # A levelling dye with little acid: the bath stays tinted in most pots, so that there is no middle to compare.
    dull = card_of(replace(HEATHER, dye_class=DyeClass.ACID_LEVELLING), stages=(Enter(30.0), To(60.0), Hold(10.0)))
    ways = beside(dull, replace(dull, title="The same"))

    assert next(row for row in ways.rows if row.key == "clear_at_min").left.value is None
    assert {row.better.value for row in ways.rows} == {"about the same"}


def test_the_reactive_way_wants_more_rinses_on_the_same_wool():
    ways = beside(CARD, card_of(BLUEBELL))
    rows = {row.key: row for row in ways.rows}

    # the trade's experience (common practice, no source): a moderate, exhausted acid dyeing wants one or two rinses,
    # a reactive one several
    assert rows["rinses"].left.value <= 2 < rows["rinses"].right.value
    assert rows["rinses"].better == "left"
    assert rows["rinses"].words.startswith(("the acid way", "probably the acid way"))
    assert "more rinses" in ways.verdict
    assert ways.verdict.startswith("The reactive way")


def test_ways_of_the_same_dye_are_compared_pot_by_pot():
    rows = rows_of(CARD, changed(CARD, Change.SLOWER, None, {}))

    clear = rows["mostly_clear_at_min"]
    # the bands overlap, yet heating half as fast is later in every pot: what is not known of the dye is in both alike
    assert clear.left.high > clear.right.low
    assert clear.better == "left"
    assert clear.chance == pytest.approx(1.0, abs=0.01)


def test_other_dyes_of_one_class_cannot_be_told_apart():
    row = rows_of(CARD, card_of(replace(HEATHER, name="Gorse")))["final_exhaustion"]
    assert row.better in {"about the same", "cannot tell"}


def test_the_cost_of_dye_and_power_is_arithmetic():
    prices = Prices(Decimal("0.50"), {"Heather": Decimal("0.28"), "Bluebell": Decimal("0.34")})
    rows = rows_of(CARD, card_of(BLUEBELL), prices=prices)

    assert rows["dye_cost"].left.value == pytest.approx(0.56)  # by hand: 2 g at 0.28
    assert rows["dye_cost"].right.value == pytest.approx(0.68)  # by hand: 2 g at 0.34
    assert rows["dye_cost"].better == "left"
    assert rows["energy_cost"].left.value == pytest.approx(0.5 * rows["energy_kwh"].left.value)


@pytest.mark.parametrize("per_kwh", ["0.05", "0.30", "3.00"])
def test_power_and_its_price_never_disagree_on_the_better_way(per_kwh):
    longer = changed(CARD, Change.LONGER, None, {})
    rows = rows_of(CARD, longer, prices=Prices(Decimal(per_kwh), {}))

    # twenty more minutes of hold under a lid are less than 0.1 kWh: about the same, whatever a kilowatt hour costs
    assert rows["energy_kwh"].right.value > rows["energy_kwh"].left.value
    assert rows["energy_cost"].better == rows["energy_kwh"].better == "about the same"


def test_warming_the_water_counts_as_power_drawn():
    cool, warm = (card_of(stages=(Enter(at_c), To(90.0), Hold(30.0), CoolTo(40.0))) for at_c in (15.0, 45.0))
    rows = rows_of(cool, warm)

    # by hand: both heat the same water from the tap's 15 °C to 90 °C at full power and hold it as long
    assert rows["energy_kwh"].right.value == pytest.approx(rows["energy_kwh"].left.value, rel=0.02)
    assert rows["energy_kwh"].better == "about the same"
    assert rows["hob_min"].right.value == pytest.approx(rows["hob_min"].left.value, abs=1.5)


def test_time_at_the_pot_ends_with_the_last_rinse_that_is_expected():
    rows = rows_of(CARD, card_of(BLUEBELL))
    sheets = [plan(card) for card in (CARD, card_of(BLUEBELL))]
    for side, sheet in zip(("left", "right"), sheets, strict=True):
        steps = {step.key: step for step in sheet.steps}
        first = steps["rinse-1"]
        wanted = first.at_min + getattr(rows["rinses"], side).value * first.duration_min - steps["make-bath"].at_min
        assert getattr(rows["pot_min"], side).value == pytest.approx(wanted)


def test_a_dye_without_a_model_leaves_figures_unknown_and_not_an_error():
    rows = rows_of(CARD, card_of(Dye("Beet", DyeClass.DIRECT)))
    assert rows["clear_at_min"].right.words == "not foretold"
    assert rows["clear_at_min"].better == "not known"


def test_the_answer_is_plain_and_names_its_units():
    told = plain(beside(CARD, card_of(BLUEBELL)))
    assert {"left_title", "right_title", "verdict", "rows", "notes", "price_per_kwh"} <= told.keys()
    assert {"clear_at_min", "water_l", "rinses", "energy_kwh", "pot_min"} <= {row["key"] for row in told["rows"]}


@pytest.mark.parametrize("change", [one for one in Change if one not in {Change.ACID, Change.SQUEEZED}])
def test_every_change_that_is_offered_can_be_planned_and_changes_something(change):
    assert change in {offer.change for offer in offers(CARD, None)}
    other = changed(CARD, change, None, {})
    assert complete(other)[0] != complete(CARD)[0]
    assert plan(other).title == other.title


def test_changes_are_what_their_words_say():
    slow, late, cool = (changed(CARD, one, None, {}) for one in (Change.SLOWER, Change.ACID_LATER, Change.COOLER))
    full = complete(CARD)[0]
    rates = [[stage.rate_c_per_min for stage in card.stages if isinstance(stage, To)] for card in (full, slow)]
    assert rates[1] == [rate / 2 for rate in rates[0]]
    assert late.assistants[0].when.kind is WhenKind.TEMPERATURE
    assert cool.stages[0].at_c == full.stages[0].at_c - 15
    assert changed(CARD, Change.SPUN, None, {}).rinse.drain is Drain.SPUN


def test_more_water_is_not_offered_where_the_pot_cannot_hold_it():
    small = replace(CARD, pots=(Pot(8.0),))
    assert Change.MORE_WATER not in {offer.change for offer in offers(small, None)}


def test_a_change_that_makes_no_sense_is_refused():
    with pytest.raises(InputError, match="changes nothing"):
        changed(CARD, Change.SQUEEZED, None, {})


def test_another_class_is_dyed_as_is_usual_for_it():
    said = complete(CARD)[0]
    other = with_dye(said, BLUEBELL)
    assert other.dyes == (DyeDose("Bluebell", DyeClass.BROMOACRYLAMIDE, 0.01),)
    assert (other.assistants, other.stages) == ((), ())  # unsaid: planning takes the class's own
    assert with_dye(said, replace(HEATHER, name="Gorse")).stages == said.stages


def test_another_kind_takes_the_shelfs_dye_before_one_without_a_name():
    assert changed(CARD, Change.REACTIVE, None, {BLUEBELL.dye_class: BLUEBELL}).dyes[0].name == "Bluebell"
    assert changed(CARD, Change.REACTIVE, None, {}).dyes[0].dye_class is DyeClass.DICHLOROTRIAZINE


def test_another_base_takes_its_own_programme():
    superwash = Base("Towpath sock", WOOL, is_superwash=True)
    other = with_base(complete(CARD)[0], superwash)
    assert other.yarn.is_superwash
    assert other.stages == ()


def test_fields_show_what_planning_takes_and_only_changes_are_said():
    fields = {field.path: field.text for field in edit_fields(CARD, None)}
    assert fields["dye.1.depth"] == "1 %"
    assert fields["assistant.1.amount"].startswith("pH ")

    assert edited(CARD, fields, None, {}) == CARD
    deeper = edited(CARD, fields | {"dye.1.depth": "2 %"}, None, {})
    assert deeper.dyes[0].depth_owf == pytest.approx(0.02)
    assert (deeper.stages, deeper.assistants) == ((), ())  # still unsaid
    slower = edited(CARD, fields | {"stage.2.rate": "0.5 C/min"}, None, {})
    assert slower.stages[1].rate_c_per_min == 0.5
    sour = edited(CARD, fields | {"assistant.1.amount": "pH 4"}, None, {})
    assert sour.assistants[0].target_ph == 4
    measured = edited(CARD, fields | {"assistant.1.amount": "20 mL"}, None, {})
    assert (measured.assistants[0].volume_l, measured.assistants[0].target_ph) == (0.02, None)


def test_a_dye_changed_to_one_of_the_shelf_gets_its_class():
    other = edited(CARD, {"dye.1.name": "bluebell"}, None, {"bluebell": BLUEBELL})
    assert other.dyes[0].dye_class is DyeClass.BROMOACRYLAMIDE


def test_a_field_that_cannot_be_read_is_named():
    with pytest.raises(InputError, match="depth") as refused:
        edited(CARD, {"dye.1.depth": "much"}, None, {})
    assert refused.value.field == "dye.1.depth"


@pytest.fixture
def session(records):
    with records.begin() as session:
        for dye in (HEATHER, BLUEBELL):
            shelf.save_dye(session, dye)
        shelf.save_base(session, FELLSIDE)
        yield session


def test_the_page_begins_with_a_pair_worth_a_look(session):
    view = two_ways_view(session, {})
    assert (view["pair"].acid, view["pair"].reactive, view["pair"].base) == ("Heather", "Bluebell", "Fellside wool")
    assert view["answer"] is None
    assert ready_pair(session) == view["pair"]


def test_two_dyes_of_the_shelf_are_set_beside_each_other(session):
    view = two_ways_view(session, {"dye": "Heather", "other": "Bluebell", "base": "Fellside wool"})
    assert view["error"] is None
    assert view["answer"].ways.left_title == "Heather on Fellside wool"
    assert "stroke-dasharray" in view["answer"].svg
    assert "Heather 1" in dict(view["sides"][0].lines)["Dye"]


def test_a_plan_is_carried_along_and_changed_in_one_tap(session):
    begun = two_ways_view(session, {"card": write_card(CARD)})
    assert (len(begun["sides"]), begun["answer"]) == (1, None)

    typed = {"left": begun["sides"][0].card_toml, "change": "slower"}
    view = two_ways_view(session, typed)
    assert view["answer"].ways.right_title == "Heat half as fast"
    again = {side.name: side.card_toml for side in view["sides"]}
    assert two_ways_view(session, again)["answer"].ways == view["answer"].ways


def test_both_ways_stay_when_a_field_is_wrong(session):
    both = {"left": write_card(CARD), "right": write_card(card_of(BLUEBELL))}
    view = two_ways_view(session, both | {"right.dye.1.depth": "much", "left.dye.1.depth": "2 %"})
    assert view["error"].field == "right.dye.1.depth"
    assert [side.title for side in view["sides"]] == ["Heather pot", "Bluebell pot"]
    assert "2" in dict(view["sides"][0].lines)["Dye"]  # what could be read is kept


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"dye": "Nettle", "other": "Heather", "base": "Fellside wool"}, "dye"),
        ({"dye": "Heather", "other": "Bluebell", "base": "Nowhere"}, "base"),
        ({"dye": "Heather", "other": "Bluebell", "base": "Fellside wool", "price": "a lot"}, "price"),
        ({"dye": "Heather", "other": "Bluebell", "base": "Fellside wool", "price": "-1"}, "price"),
        ({"dye": "Heather", "other": "Bluebell", "base": "Fellside wool", "depth": "much"}, "depth"),
        ({"run": "17"}, "run"),
        ({"card": "no card"}, "card"),
        ({"card": write_card(CARD), "change": "magic"}, "change"),
        ({"card": write_card(CARD), "take": "base", "other_base": "x"}, "other_base"),
    ],
)
def test_what_cannot_be_is_said_at_its_field(session, typed, field):
    assert two_ways_view(session, typed)["error"].field == field


def test_how_sure_is_said_in_pots():
    rows = beside(CARD, card_of(BLUEBELL)).rows
    said = [row for row in rows if row.chance is not None and row.better in {"left", "right"}]
    assert said
    for row in said:
        # the words and the share behind them: certain, 19 of 20 or more, 15 to 18 of 20
        assert ("of 20" in row.words) is (row.chance < 1)
        assert row.words.startswith("probably") is (row.chance < 0.95)
        assert row.chance >= 0.75
