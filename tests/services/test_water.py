from dataclasses import replace

import pytest

from dyewright.core.model import (
    AssistantDose,
    Basis,
    Fibre,
    Strength,
    Substance,
    Water,
    When,
    WhenKind,
    Yarn,
)
from dyewright.errors import InputError, OutOfRangeError
from dyewright.services.assistants import parse_addition
from dyewright.services.water import (
    bath_acidity,
    bath_ph,
    parse_yarn,
    vinegar_rule,
)

TAP = Water(alkalinity_mg_l=100.0, ph=7.8)
WOOL = Yarn({Fibre.WOOL: 1.0}, 100.0)


def dose(text, **more):
    return replace(parse_addition(text), **more)


def test_five_millilitres_of_vinegar_in_a_litre():
    answer = bath_acidity(volume_l=1.0, water=TAP, additions=["white vinegar 5 %=5 mL"])

    # Reference notes J6: 4.690 with PHREEQC; 0.02 allows for the tap's neutral salt, 1 mmol/L.
    assert answer.ph_closed == pytest.approx(4.69, abs=0.02)
    assert answer.alkalinity_meq_l == pytest.approx(1.998, abs=0.001)  # 100/50.04
    assert answer.ph_before == pytest.approx(7.8, abs=0.01)
    assert answer.ph_closed_low == answer.ph_closed == answer.ph_closed_high
    assert answer.basis is Basis.MEASURED


def test_unknown_water_gives_a_range():
    answer = bath_acidity(volume_l=1.0, water=Water(), additions=["white vinegar 5 %=5 mL"])

    # Reference notes B2, column 5 mL/L: 3.58 at 0 mg/L, 4.69 at 100, 6.01 at 300.
    assert answer.ph_closed_low == pytest.approx(3.58, abs=0.02)
    assert answer.ph_closed == pytest.approx(4.69, abs=0.02)
    assert answer.ph_closed_high == pytest.approx(6.01, abs=0.02)
    assert answer.alkalinity_meq_l is None
    assert answer.basis is Basis.DEFAULT
    assert any("not known" in note for note in answer.notes)


def test_a_default_tap_ph_is_named():
    answer = bath_acidity(volume_l=1.0, water=Water(100.0), additions=["white vinegar 5 %=5 mL"])

    assert answer.basis is Basis.DEFAULT
    assert any("7.8 was taken" in note for note in answer.notes)


def test_too_little_acid_is_said_to_drift():
    answer = bath_acidity(volume_l=1.0, water=TAP, additions=["white vinegar 5 %=2 mL"])

    # Reference notes B2: 5.80 closed, 7.7 stripped.
    assert answer.ph_closed == pytest.approx(5.80, abs=0.02)
    assert answer.ph_stripped == pytest.approx(7.7, abs=0.05)
    assert any("drifts from pH 5.8 to 7.7" in note for note in answer.notes)


def test_an_alkaline_bath_does_not_drink_the_air():
    answer = bath_acidity(volume_l=1.0, water=Water(0.0), additions=["soda ash=10 g"])

    # Reference notes B2: 11.26 with PHREEQC's ion pairs.
    assert answer.ph_closed == pytest.approx(11.26, abs=0.05)
    assert answer.ph_stripped == answer.ph_closed


def test_pure_water_left_standing_reads_5_60():
    # Reference notes J6.
    assert bath_acidity(volume_l=1.0, water=Water(0.0)).ph_stripped == pytest.approx(5.60, abs=0.01)


def test_a_target_is_reached_with_kitchen_measures():
    answer = bath_acidity(volume_l=5.0, water=TAP, target_ph=4.69, target_with="white vinegar 5 %")

    # Five times the 5 mL of row J6; the tap's neutral salt moves the pH by 0.005, the dose by 1 %.
    assert answer.needed.amount == pytest.approx(25, rel=0.02)
    assert answer.needed.unit == "mL"
    assert answer.needed.kitchen == "1 tbsp + 2 tsp"  # 25 mL
    assert answer.ph_closed == pytest.approx(4.69, abs=0.001)
    assert [d.is_solved for d in answer.additions] == [True]


def test_a_solid_is_needed_in_grams():
    answer = bath_acidity(volume_l=1.0, water=TAP, target_ph=5.14, target_with="citric acid")

    # Reference notes B2: 0.2 g/L gives 5.14; they round it.
    assert answer.needed.amount == pytest.approx(0.2, rel=0.02)
    assert (answer.needed.unit, answer.needed.kitchen) == ("g", None)


def test_an_alkali_goes_up():
    answer = bath_acidity(volume_l=1.0, water=Water(0.0), target_ph=10.96, target_with="soda ash")

    assert answer.needed.amount == pytest.approx(1.0, rel=0.03)  # reference notes B2, PHREEQC: 1 g/L gives 10.96


def test_out_of_reach_names_the_nearest_ph():
    with pytest.raises(OutOfRangeError, match=r"pH 2 is out of reach: this bath stands at pH 7\.79.*2\.5"):
        bath_acidity(volume_l=5.0, water=TAP, target_ph=2.0, target_with="white vinegar 5 %")


def test_acid_does_not_raise_a_ph():
    with pytest.raises(OutOfRangeError, match="out of reach"):
        bath_acidity(
            volume_l=1.0, water=TAP, additions=["white vinegar 5 %=20 mL"], target_ph=6.0, target_with="citric acid"
        )


def test_amounts_on_the_fibre_and_a_litre_are_resolved():
    assistants = [dose("acetic acid 56 %=2 % owf"), dose("common salt=5 g/L"), dose("vinegar=15 mL/L")]

    answer = bath_ph(yarn=WOOL, liquor_l=3.0, water=TAP, assistants=assistants)

    assert [d.mass_g for d in answer.doses[:2]] == [pytest.approx(2.0), pytest.approx(15.0)]  # 100 g, 3 L
    assert answer.doses[2].volume_l == pytest.approx(0.045)
    assert answer.doses[0].volume_l == pytest.approx(2.0 / 1.06 / 1000)  # 56 % acid is 1.06 kg/L
    assert answer.doses[1].volume_l is None


def test_a_target_counts_what_is_in_by_then():
    first = dose("white vinegar 5 %=pH 6")
    citric = dose("citric acid=0.1 g")
    later = dose("white vinegar 5 %=pH 4", when=When(WhenKind.TEMPERATURE, 70.0))

    answer = bath_ph(yarn=None, liquor_l=5.0, water=TAP, assistants=[later, first, citric])

    assert [d.label for d in answer.doses] == ["white vinegar 5 %", "white vinegar 5 %", "citric acid"]
    assert answer.ph_closed == pytest.approx(4.0, abs=0.001)
    assert answer.doses[0].volume_l > answer.doses[1].volume_l > 0


def test_what_goes_into_the_soak_does_not_count():
    soak = dose("white vinegar 5 %=50 mL", when=When(WhenKind.SOAK))

    answer = bath_ph(yarn=WOOL, liquor_l=3.0, water=TAP, assistants=[soak])

    assert answer.ph_closed == bath_ph(yarn=WOOL, liquor_l=3.0, water=TAP, assistants=[]).ph_closed
    assert len(answer.doses) == 1
    assert any("soak" in note for note in answer.notes)


def test_wool_takes_acid_and_superwash_alike():
    vinegar = [dose("white vinegar 5 %=30 mL")]
    superwash = Yarn({Fibre.WOOL: 1.0}, 100.0, is_superwash=True)

    with_wool = bath_ph(yarn=WOOL, liquor_l=3.0, water=Water(50.0, 7.8), assistants=vinegar)
    without = bath_ph(yarn=None, liquor_l=3.0, water=Water(50.0, 7.8), assistants=vinegar)

    assert with_wool.acid_bound_mol_kg == pytest.approx(0.025, abs=0.001)  # reference notes B3, third table
    assert 0.1 < with_wool.ph_closed - without.ph_closed < 0.3  # "0.1 to 0.3 pH in a vinegar bath"
    assert bath_ph(yarn=superwash, liquor_l=3.0, water=Water(50.0, 7.8), assistants=vinegar) == with_wool


def test_cotton_takes_none():
    vinegar = [dose("white vinegar 5 %=30 mL")]
    cotton = Yarn({Fibre.COTTON: 1.0}, 100.0)

    with_cotton = bath_ph(yarn=cotton, liquor_l=3.0, water=TAP, assistants=vinegar)

    assert with_cotton.ph_closed == bath_ph(yarn=None, liquor_l=3.0, water=TAP, assistants=vinegar).ph_closed


@pytest.mark.parametrize(("residue_meq_kg", "sign"), [(50.0, -1), (-50.0, 1)])
def test_yarn_brings_acid_or_alkali_from_the_mill(residue_meq_kg, sign):
    yarn = Yarn({Fibre.COTTON: 1.0}, 100.0, residue_meq_kg=residue_meq_kg)
    clean = Yarn({Fibre.COTTON: 1.0}, 100.0)

    change = bath_ph(yarn=yarn, liquor_l=2.0, water=TAP, assistants=[]).ph_closed - (
        bath_ph(yarn=clean, liquor_l=2.0, water=TAP, assistants=[]).ph_closed
    )

    assert change * sign > 0.1


def test_auxiliaries_take_no_part():
    plain = bath_ph(yarn=None, liquor_l=3.0, water=TAP, assistants=[])
    agent = bath_ph(yarn=None, liquor_l=3.0, water=TAP, assistants=[dose("levelling agent=5 mL")])

    assert agent.ph_closed == plain.ph_closed
    assert agent.doses[0].volume_l == pytest.approx(0.005)


def test_a_spoon_of_powder_is_said_to_be_rough():
    answer = bath_acidity(volume_l=1.0, water=TAP, additions=["citric acid=1 tsp"])

    assert any("40 %" in note for note in answer.notes)


def test_an_unsaid_strength_is_named():
    answer = bath_acidity(volume_l=1.0, water=TAP, additions=["white vinegar=5 mL"])

    assert any("5 % was taken" in note for note in answer.notes)


def test_heavy_salt_is_noted():
    answer = bath_acidity(volume_l=1.0, water=TAP, additions=["common salt=60 g/L"])

    assert any("activity model" in note for note in answer.notes)


@pytest.mark.parametrize("spoons", ["metric", "US", "UK", "Australian"])
def test_the_trades_rule_is_worked_out_for_this_bath(spoons):
    rule = vinegar_rule(yarn=WOOL, liquor_l=3.0, water=TAP, spoons=spoons)

    # 2 tbsp in 8 cups is 15 mL/L with metric measures, 13.2 to 20 with the others; so 40 to 60 mL in 3 L for 100 g.
    assert 0.039 < rule.volume_l < 0.0601
    assert rule.volume_per_100_g_l == pytest.approx(rule.volume_l)
    assert 3.8 < rule.ph_closed < 4.7


def test_yarn_from_text():
    assert parse_yarn("wool", 100.0) == WOOL
    assert parse_yarn("wool=80,nylon=20", 50.0).fibre_frac == {
        Fibre.WOOL: pytest.approx(0.8),
        Fibre.NYLON: pytest.approx(0.2),
    }
    assert parse_yarn(None, None) is None


@pytest.mark.parametrize(
    ("fibre", "dry_g", "words"),
    [
        ("wool", None, "go together"),
        (None, 100.0, "go together"),
        ("bool", 100.0, "'bool' is not a fibre"),
        ("wool=80", 100.0, "add up to 80 %"),
        ("wool,nylon", 100.0, "cannot be read"),
    ],
)
def test_yarn_that_cannot_be_read(fibre, dry_g, words):
    with pytest.raises(InputError, match=words):
        parse_yarn(fibre, dry_g)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"volume_l": 0.0}, "above 0 L"),
        ({"volume_l": float("nan")}, "above 0 L"),
        ({"water": Water(-5.0)}, "no tap water"),
        ({"water": Water(100.0, 3.0)}, "fizzes"),
        ({"water": Water(10.0, 11.5)}, "more alkalinity"),
        ({"water": Water(100.0, 7.0, 140.0)}, "0 to 100 °C"),
        ({"yarn": Yarn({Fibre.WOOL: 1.0}, 0.0)}, "above 0 g"),
        ({"yarn": Yarn({Fibre.WOOL: 1.0}, 5000.0)}, "add water"),
        ({"target_ph": 4.5}, "give both"),
        ({"target_with": "citric acid"}, "give both"),
        ({"target_ph": 20.0, "target_with": "citric acid"}, "from 0 to 14"),
        ({"target_ph": 4.5, "target_with": "levelling agent"}, "cannot be measured out by pH"),
        ({"additions": ["white vinegar 5 %=6 L"]}, "alone are 6 L"),
        ({"additions": ["citric acid=2 % owf"]}, "needs the yarn"),
        ({"target_ph": 7.5, "target_with": "common salt"}, "common salt cannot be measured out by pH"),
        ({"additions": ["citric acid=900 kg"]}, "water holds no more than 1000 g"),
        ({"additions": ["citric acid=200000 kg"], "target_ph": 4.0, "target_with": "soda ash"}, "check the amounts"),
        ({"additions": ["formic acid 85 %=200000 kg"], "target_ph": 4.0, "target_with": "soda ash"}, "additions alone"),
    ],
)
def test_wrong_input_gets_a_sentence(change, words):
    given = {"volume_l": 1.0, "water": TAP, **change}
    with pytest.raises(InputError, match=words):
        bath_acidity(**given)


@pytest.mark.parametrize("amounts", [{}, {"mass_g": 1.0, "owf": 0.1}, {"mass_g": -1.0}])
def test_a_dose_says_exactly_one_amount(amounts):
    bad = AssistantDose("citric acid", Substance.CITRIC_ACID, Strength(), **amounts)

    with pytest.raises(InputError, match="citric acid"):
        bath_ph(yarn=None, liquor_l=1.0, water=TAP, assistants=[bad])
