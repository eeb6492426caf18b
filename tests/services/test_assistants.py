import pytest

from dyewright.core.model import Strength, Substance
from dyewright.errors import InputError
from dyewright.services.assistants import caution_key, known_assistants, parse_addition, parse_substance


@pytest.mark.parametrize(
    ("text", "label", "substance", "strength"),
    [
        ("white vinegar 5 %", "white vinegar 5 %", Substance.ACETIC_ACID, Strength(w_v_g_l=50.0)),
        ("White Vinegar 6%", "white vinegar 6 %", Substance.ACETIC_ACID, Strength(w_v_g_l=60.0)),
        ("white vinegar, 12,5 %", "white vinegar 12.5 %", Substance.ACETIC_ACID, Strength(w_v_g_l=125.0)),
        ("vinegar", "vinegar 5 %", Substance.ACETIC_ACID, Strength(w_v_g_l=50.0)),
        ("acetic acid 56 % w/w", "acetic acid 56 % w/w", Substance.ACETIC_ACID, Strength(w_w_frac=0.56)),
        ("acetic acid 56 %", "acetic acid 56 %", Substance.ACETIC_ACID, Strength(w_w_frac=0.56)),
        ("acetic acid 10 % w/v", "acetic acid 10 % w/v", Substance.ACETIC_ACID, Strength(w_v_g_l=100.0)),
        ("glacial acetic acid", "glacial acetic acid", Substance.ACETIC_ACID, Strength(w_w_frac=1.0)),
        ("citric acid", "citric acid", Substance.CITRIC_ACID, Strength()),
        ("citric acid 10 %", "citric acid 10 %", Substance.CITRIC_ACID, Strength(w_v_g_l=100.0)),
        ("washing soda", "washing soda", Substance.SODA_ASH_DECAHYDRATE, Strength()),
        ("ammonium sulfate", "ammonium sulfate", Substance.AMMONIUM_SULPHATE, Strength()),
        ("Glauber’s salt", "Glauber's salt", Substance.GLAUBERS_SALT, Strength()),
        ("formic acid 85 %", "formic acid 85 %", Substance.FORMIC_ACID, Strength(w_w_frac=0.85)),
    ],
)
def test_names_with_their_strength(text, label, substance, strength):
    dose = parse_substance(text)

    assert (dose.label, dose.substance) == (label, substance)
    assert dose.strength == strength


@pytest.mark.parametrize("name", known_assistants())
def test_a_label_reads_back_as_itself(name):
    needs_strength = name in {"acetic acid", "formic acid", "ammonia"}
    dose = parse_substance(f"{name} 10 %" if needs_strength else name)

    assert parse_substance(dose.label) == dose


@pytest.mark.parametrize("substance", list(Substance))
def test_every_substance_is_known_by_its_own_name(substance):
    names = {name.casefold() for name in known_assistants()}

    assert substance.value.casefold() in names


@pytest.mark.parametrize(
    ("text", "place", "value"),
    [
        ("white vinegar 5 %=25 mL", "volume_l", 0.025),
        ("citric acid=2 g", "mass_g", 2),
        ("acetic acid 56 %=2 % owf", "owf", 0.02),
        ("soda ash=20 g/L", "bath_g_l", 20),
        ("white vinegar 5 %=2 tbsp per 8 cups", "bath_l_l", 0.015),
        ("white vinegar 5 %=pH 4.5", "target_ph", 4.5),
    ],
)
def test_amounts_land_in_their_own_field(text, place, value):
    dose = parse_addition(text)
    places = ("mass_g", "volume_l", "owf", "bath_g_l", "bath_l_l", "target_ph")

    assert {name: getattr(dose, name) for name in places if getattr(dose, name) is not None} == {
        place: pytest.approx(value)
    }


def test_spoons_are_the_studios():
    # An Australian tablespoon holds 20 mL, a metric one 15.
    assert parse_addition("vinegar=1 tbsp", "Australian").volume_l == pytest.approx(0.020)
    assert parse_addition("vinegar=1 tbsp", "metric").volume_l == pytest.approx(0.015)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("zork=5 g", "'zork' is not known; known are white vinegar"),
        ("citrik acid=5 g", "did you mean 'citric acid'"),
        ("white vinegar 5 %", "the amount is missing"),
        ("acetic acid=5 mL", "how strong is it"),
        ("white vinegar 0 %=5 mL", "strength of 0 % is not possible"),
        ("acetic acid 120 %=5 mL", "strength of 120 % is not possible"),
        ("citric acid=5 zorks", "unknown unit 'zorks'"),
        ("citric acid=-5 g", "below 0"),
        ("=5 g", "is not known"),
    ],
)
def test_what_cannot_be_read_gets_a_sentence(text, words):
    with pytest.raises(InputError, match=words) as caught:
        parse_addition(text, field="add")

    assert caught.value.field == "add"


@pytest.mark.parametrize(
    ("text", "key"),
    [  # which caution goes with which assistant: common practice, no source; 25 % as in the code, from memory
        ("white vinegar 5 %", "acid"),
        ("acetic acid 24 %", "acid"),
        ("acetic acid 25 %", "strong-acid"),
        ("formic acid 85 %", "strong-acid"),
        ("citric acid", "acid"),
        ("ammonia 10 %", "ammonia"),
        ("soda ash", "alkali"),
        ("sodium acetate", None),
    ],
)
def test_each_assistant_has_its_caution(text, key):
    assert caution_key(parse_substance(text)) == key
