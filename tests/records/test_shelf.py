from dataclasses import replace
from decimal import Decimal

import pytest

from dyewright.core.model import Base, Colourway, Dye, DyeClass, Fibre, Heating, Settings, Spoons, Swatch, Vessel, Water
from dyewright.errors import InputError, NotFoundError
from dyewright.records import colourways, shelf
from dyewright.records import swatches as swatches_of

SETTINGS = Settings(
    name="Boathouse",
    spoons=Spoons.AUSTRALIAN,
    water=Water(alkalinity_mg_l=110.0, ph=7.8, temperature_c=14.0),
    scale_resolution_g=0.01,
    tolerance_de00=0.8,
    is_tonal_wanted=True,
)
DYE = Dye(
    "Reed", DyeClass.ACID_MILLING, price_per_g=Decimal("0.123456"), on_shelf_g=Decimal("48.125"), note="half full"
)
BASE = Base("Shoreline", {Fibre.WOOL: 0.7, Fibre.SILK: 0.3}, undyed_lab=(88.5, -0.5, 11.25), skein_g=100.0)
VESSEL = Vessel("Big pot", 12.0, Heating.INDUCTION, diameter_m=0.28, power_w=1800.0, turns_per_min=0.5)


def test_a_studio_begins_with_its_first_settings_and_keeps_later_ones(records):
    with records.begin() as session:
        assert not shelf.is_begun(session)
        assert shelf.studio_settings(session) is None
        shelf.save_settings(session, SETTINGS)
    with records.begin() as session:
        assert shelf.studio_settings(session) == SETTINGS
        shelf.save_settings(session, replace(SETTINGS, name="Jetty"))
    with records.read() as session:
        assert shelf.is_begun(session)
        assert shelf.studio_settings(session) == replace(SETTINGS, name="Jetty")


@pytest.mark.parametrize(
    ("save", "read", "thing"),
    [
        (shelf.save_dye, shelf.dye, DYE),
        (shelf.save_base, shelf.base, BASE),
        (shelf.save_vessel, shelf.vessel, VESSEL),
        (
            colourways.save_colourway,
            colourways.colourway,
            Colourway(
                "Choir", (55.0, -20.0, 1.5), "lab 55 -20 1.5", {"Reed": 0.004, "Lagoon": 0.002}, (54.0, -19.0, 2.0)
            ),
        ),
    ],
)
def test_what_is_saved_comes_back_and_changes(records, save, read, thing):
    with records.begin() as session:
        saved = save(session, thing)
        assert saved == replace(thing, id=saved.id)
    with records.begin() as session:
        assert read(session, saved.id) == saved
        save(session, replace(saved, name="Renamed"))
    with records.read() as session:
        assert read(session, saved.id) == replace(saved, name="Renamed")


def test_money_and_stock_are_exact(records):
    # 0.1 + 0.2 in binary fractions is 0.30000000000000004; six and three places are what the tables keep.
    with records.begin() as session:
        saved = shelf.save_dye(session, replace(DYE, price_per_g=Decimal("0.300000"), on_shelf_g=Decimal("99999.001")))
    with records.read() as session:
        read = shelf.dye(session, saved.id)
    assert (str(read.price_per_g), str(read.on_shelf_g)) == ("0.300000", "99999.001")


@pytest.mark.parametrize(
    ("save", "thing"), [(shelf.save_dye, DYE), (shelf.save_base, BASE), (shelf.save_vessel, VESSEL)]
)
def test_a_name_is_given_once(records, save, thing):
    with records.begin() as session:
        save(session, thing)
        with pytest.raises(InputError, match=f"“{thing.name}” is there already") as refused:
            save(session, thing)
        assert refused.value.field == "name"
        with pytest.raises(InputError, match="needs a name"):
            save(session, replace(thing, name="  "))


def test_amounts_below_zero_are_refused(records):
    with records.begin() as session:
        with pytest.raises(InputError, match="must not be below 0, got -1"):
            shelf.save_dye(session, replace(DYE, on_shelf_g=Decimal(-1)))
        with pytest.raises(InputError, match="must hold more than 0 L, got 0"):
            shelf.save_vessel(session, replace(VESSEL, volume_l=0.0))
        with pytest.raises(InputError, match="must be above 0 g, got 0"):
            shelf.save_settings(session, replace(SETTINGS, scale_resolution_g=0.0))


@pytest.mark.parametrize("missing", [0, -1, 77, 2**31, 2**80])
def test_what_is_not_there_is_said(records, missing):
    with records.read() as session, pytest.raises(NotFoundError, match=f"no dye {missing} in this studio"):
        shelf.dye(session, missing)


def test_swatches_come_back_as_they_were_and_bring_their_dyes_and_bases(records):
    curve = Swatch(
        {"Reed": 0.01, "Lagoon": 0.0025},
        "Shoreline",
        reflectance=tuple(0.1 + i / 100 for i in range(31)),
        source="invented",
        note="band",
        origin={"generator": "test"},
        dye_lots={"Lagoon": "L-7"},
        noise_de00=0.2,
        reads=4,
    )
    undyed = Swatch({}, "Mystery", lab=(90.0, 0.0, 9.0), illuminant="D50", observer=2)
    with records.begin() as session:
        shelf.save_base(session, BASE)
        saved = swatches_of.add_swatches(session, [curve, undyed])
    with records.read() as session:
        assert swatches_of.swatches(session) == saved
        assert [replace(swatch, id=None) for swatch in saved] == [curve, undyed]
        assert swatches_of.swatches(session, "Mystery") == saved[1:]
        assert {dye.name: dye.dye_class for dye in shelf.dyes(session)} == dict.fromkeys(
            ["Lagoon", "Reed"], DyeClass.ACID_UNKNOWN
        )
        assert shelf.base_named(session, "Mystery").note == swatches_of.NOTE_OF_A_NEW_BASE


def test_a_swatch_that_was_noted_wrong_is_put_right(records):
    with records.begin() as session:
        (swatch,) = swatches_of.add_swatches(session, [Swatch({"Reed": 0.01}, "Shoreline", lab=(50.0, 0.0, 0.0))])
    right = replace(swatch, depths_owf={"Reed": 0.005, "Soot": 0.001}, base="Mystery", dye_lots={"Soot": "4"}, reads=2)
    with records.begin() as session:
        assert swatches_of.change_swatch(session, right) == right
    with records.read() as session:
        assert swatches_of.swatches(session) == [right]
        assert swatches_of.swatch(session, swatch.id) == right


def test_swatches_follow_a_dye_and_a_base_that_are_renamed(records):
    with records.begin() as session:
        dye, base = shelf.save_dye(session, DYE), shelf.save_base(session, BASE)
        swatches_of.add_swatches(session, [Swatch({"Reed": 0.01}, "Shoreline", lab=(50.0, 0.0, 0.0))])
    with records.begin() as session:
        shelf.save_dye(session, replace(dye, name="Reed, new tub"))
        shelf.save_base(session, replace(base, name="Shore"))
    with records.read() as session:
        (swatch,) = swatches_of.swatches(session)
    assert (swatch.base, dict(swatch.depths_owf)) == ("Shore", {"Reed, new tub": 0.01})


def test_what_is_in_use_stays_on_the_shelf(records):
    with records.begin() as session:
        dye, base = shelf.save_dye(session, DYE), shelf.save_base(session, BASE)
        (swatch,) = swatches_of.add_swatches(session, [Swatch({"Reed": 0.01}, "Shoreline", lab=(50.0, 0.0, 0.0))])
        with pytest.raises(InputError, match="Reed is part of a swatch"):
            shelf.remove_dye(session, dye.id)
        with pytest.raises(InputError, match="Shoreline is the base of a swatch"):
            shelf.remove_base(session, base.id)
        swatches_of.remove_swatch(session, swatch.id)
        shelf.remove_dye(session, dye.id)
        shelf.remove_base(session, base.id)
        assert (shelf.dyes(session), shelf.bases(session)) == ([], [])
