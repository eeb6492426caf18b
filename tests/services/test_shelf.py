"""What is typed on the shelf's forms."""

import pytest

from dyewright.core.model import Heating, Settings, Spoons
from dyewright.errors import InputError
from dyewright.services.shelf import (
    base_from_form,
    dye_from_form,
    form_of,
    settings_from_form,
    vessel_from_form,
)


def test_a_jar_that_says_nothing_is_an_acid_dye_of_unknown_kind():
    assert dye_from_form({"name": " Reed "}).dye_class == "acid, kind unknown"
    assert dye_from_form({"name": "Reed"}).name == "Reed"


def test_a_pot_is_read_with_its_units():
    pot = vessel_from_form(
        {"name": "Big", "volume": "20 L", "diameter": "30 cm", "power": "1.8 kW", "heating": "induction"}
    )
    assert (pot.volume_l, pot.diameter_m, pot.power_w, pot.heating) == (20, 0.3, 1800, Heating.INDUCTION)
    assert not pot.has_lid, "an unticked box is not sent by a browser"


@pytest.mark.parametrize(("volume", "field"), [("0 L", "volume"), ("20 zorks", "volume"), ("", "volume")])
def test_a_pot_without_a_volume_is_refused_at_its_field(volume, field):
    with pytest.raises(InputError) as caught:
        vessel_from_form({"name": "Big", "volume": volume})
    assert caught.value.field == field


def test_a_base_keeps_the_mass_of_its_skein():
    base = base_from_form({"name": "Shawl", "fibres": "wool 80, silk 20", "skein_g": "4 oz", "is_superwash": "on"})
    assert base.skein_g == pytest.approx(113.398, abs=0.001)  # NIST SP 811: 1 oz = 28.34952 g
    assert base.is_superwash


def test_unknown_water_stays_unknown():
    settings = settings_from_form({"name": "S", "scale": "0.01", "spoons": "US"}, Settings("S", is_demo=True))
    assert settings.water.alkalinity_mg_l is None
    assert settings.is_demo
    assert settings.spoons == Spoons.US


def test_a_scale_of_nothing_is_refused():
    with pytest.raises(InputError, match="above 0 g"):
        settings_from_form({"name": "S", "scale": "0"}, Settings("S"))


@pytest.mark.parametrize(
    ("read", "typed"),
    [
        (dye_from_form, {"name": "Reed", "dye_class": "acid milling", "price_per_g": "0.40", "is_blend": "on"}),
        (base_from_form, {"name": "Shawl", "fibres": "wool 72.5, silk 27.5", "skein_g": "50 g", "note": "soft"}),
        (base_from_form, {"name": "Shawl", "fibres": "wool 100", "kept": "1.4 L/kg"}),
        (
            vessel_from_form,
            {"name": "Big", "volume": "20 L", "diameter": "28 cm", "turns": "0.5 /min", "has_lid": "on"},
        ),
    ],
)
def test_what_a_form_shows_reads_back_the_same(read, typed):
    item = read(typed)
    assert read(form_of(item)) == item


def test_a_skein_cannot_keep_ten_times_its_weight_in_water():
    with pytest.raises(InputError, match=r"keeps 0\.2 to 8 L a kilogram") as caught:
        base_from_form({"name": "Shawl", "fibres": "wool", "kept": "10"})
    assert caught.value.field == "kept"
    assert base_from_form({"name": "Shawl", "fibres": "wool", "kept": "1.4"}).kept_l_kg == 1.4
