from dataclasses import replace

import pytest

from dyewright.core.model import (
    AssistantDose,
    Base,
    Card,
    DyeClass,
    DyeDose,
    Fibre,
    Heating,
    Pot,
    Rinse,
    Substance,
    Yarn,
)
from dyewright.errors import InputError
from dyewright.services.repeating import repeated_card

WOOL = {Fibre.WOOL: 1.0}
CARD = Card(
    title="Dusk",
    yarn=Yarn(WOOL, dry_g=300.0, skeins=3),
    dyes=(DyeDose("Reed", DyeClass.ACID_MILLING, 0.008),),
    water_l=7.5,
    assistants=(
        AssistantDose("vinegar", Substance.ACETIC_ACID, volume_l=0.06),
        AssistantDose("citric acid", Substance.CITRIC_ACID, mass_g=3.0),
        AssistantDose("salt", Substance.GLAUBERS_SALT, owf=0.1),
        AssistantDose("acid", Substance.ACETIC_ACID, target_ph=5.0),
    ),
    pots=(Pot(12.0),),
    rinse=Rinse(water_l=6.0),
)


def test_what_was_given_outright_grows_with_the_yarn_and_ratios_stay():
    card = repeated_card(CARD, dry_g=500.0).card
    # By hand, times 500/300: 7.5 L -> 12.5 L, 60 mL -> 100 mL, 3 g -> 5 g, 6 L -> 10 L, 3 skeins -> 5.
    assert (card.yarn.dry_g, card.yarn.skeins, card.water_l, card.rinse.water_l) == pytest.approx(
        (500.0, 5, 12.5, 10.0)
    )
    vinegar, citric, salt, acid = card.assistants
    assert (vinegar.volume_l, citric.mass_g, salt.owf, acid.target_ph) == pytest.approx((0.1, 5.0, 0.1, 5.0))
    assert card.dyes == CARD.dyes
    assert card.pots == CARD.pots


def test_skeins_that_do_not_come_out_whole_are_not_said():
    assert repeated_card(CARD, dry_g=350.0).card.yarn.skeins is None


def test_nothing_said_changes_nothing():
    assert repeated_card(CARD, dry_g=300.0) == repeated_card(CARD)
    assert (repeated_card(CARD).card, repeated_card(CARD).notes) == (CARD, ())


def test_another_base_brings_its_fibre_and_skeins_and_says_so():
    base = Base("Shoreline", {Fibre.WOOL: 0.7, Fibre.SILK: 0.3}, skein_g=50.0)
    changed = repeated_card(CARD, base=base)
    assert changed.card.yarn == Yarn(base.fibre_frac, dry_g=300.0, skeins=6)  # 300 g in skeins of 50 g
    assert "another fibre takes the dyes otherwise" in changed.notes[0]


def test_a_base_of_the_same_fibre_needs_no_word():
    changed = repeated_card(CARD, base=Base("Other mill", WOOL))
    assert (changed.card, changed.notes) == (CARD, ())


def test_what_a_wet_skein_keeps_goes_with_the_base():
    weighed = replace(CARD, rinse=Rinse(kept_l_kg=1.2))
    kept = [
        repeated_card(weighed, base=base).card.rinse.kept_l_kg
        for base in (Base("Other mill", WOOL), Base("Silky", {Fibre.SILK: 1.0}), Base("Weighed", WOOL, kept_l_kg=1.6))
    ]

    assert kept == [1.2, None, 1.6]


def test_other_pots_are_those_of_the_shelf():
    changed = repeated_card(
        CARD,
        pots=[
            Pot(20.0, name="Big", heating=Heating.INDUCTION, power_w=2200.0),
            Pot(7.0, name="Small", heating=Heating.GAS),
        ],
    )
    assert [(pot.name, pot.volume_l, pot.heating) for pot in changed.card.pots] == [
        ("Big", 20.0, Heating.INDUCTION),
        ("Small", 7.0, Heating.GAS),
    ]
    assert changed.notes == ("Repeated in Big and Small.",)


def test_no_yarn_is_refused():
    with pytest.raises(InputError, match="of yarn cannot be dyed") as refused:
        repeated_card(CARD, dry_g=0.0)
    assert refused.value.field == "dry"
