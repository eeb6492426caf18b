"""A swatch evening: what goes into the jars, in which order, and what becomes of them."""

from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal
from uuid import uuid4

import pytest

from dyewright.core.model import (
    Base,
    Colourway,
    Dye,
    DyeClass,
    Evening,
    Fibre,
    Heating,
    Jar,
    Judgement,
    Pot,
    Settings,
    Swatch,
    Water,
)
from dyewright.errors import InputError
from dyewright.records import colourways, evenings, photos, shelf, swatches
from dyewright.services.assistants import parse_substance
from dyewright.services.evening import amounts as evening_amounts
from dyewright.services.evening import judging as evening_judging
from dyewright.services.evening import outcome as evening_outcome
from dyewright.services.evening import plan as evening_plan
from dyewright.services.evening import sheet as evening_sheet

WOOL = Base("Fellside wool", {Fibre.WOOL: 1.0}, id=1)
DYES = (
    Dye("Lagoon", DyeClass.ACID_MILLING),
    Dye("Soot", DyeClass.METAL_COMPLEX),
    Dye("Gorse", DyeClass.ACID_LEVELLING),
)
SETTINGS = Settings("Test shed", water=Water(95.0), scale_resolution_g=0.01)


def jar(number, recipe, mass="5", seat=""):
    return Jar(number, recipe, Decimal(mass), seat)


def an_evening(*jars, liquor=40.0, stock=10.0, **more):
    return Evening("Ladders", date(2026, 11, 26), 1, liquor, stock, jars, **more)


def measured(planned, number=1, **more):
    return evening_amounts.jar_amounts(planned, planned.jars[number - 1], WOOL, DYES, SETTINGS, **more)


def test_a_jar_is_measured_out_by_syringe():
    amounts = measured(an_evening(jar(1, {"Lagoon": 0.01, "Soot": 0.0005})))

    # by hand: 5 g at 40:1 is 200 mL; 1 % of 5 g is 50 mg, 5 mL of 1 %; 0.05 % is 2.5 mg, which is 0.25 mL of 1 % and so
    # 2.5 mL of 0.1 %
    assert amounts.liquor_l == pytest.approx(0.2)
    lagoon, soot = amounts.doses
    assert (lagoon.strength_g_l, lagoon.drawn_l) == (10.0, pytest.approx(0.005))
    assert (soot.strength_g_l, soot.drawn_l) == (1.0, pytest.approx(0.0025))
    vinegar = amounts.assistants[0]
    assert amounts.water_l + amounts.carried_l + 0.0075 + vinegar.drawn_l == pytest.approx(0.2)
    # wool is 1.31 g/mL (data/fibre_water), so 5 g are 3.8 mL: (200 + 3.8) / 500
    assert amounts.fill_frac == pytest.approx(0.4076, abs=1e-4)


def test_the_acid_is_what_the_bath_model_says_and_is_drawn_by_the_mark():
    amounts = measured(an_evening(jar(1, {"Lagoon": 0.01})))

    vinegar = amounts.assistants[0]
    assert vinegar.name == "white vinegar 5 %"
    assert vinegar.target_ph == 5.0  # data/practice_doses: milling dye on wool
    assert amounts.ph == pytest.approx(5.0, abs=0.01)
    assert vinegar.drawn_l * 10_000 == pytest.approx(round(vinegar.drawn_l * 10_000))


def test_a_solid_too_fine_for_the_scale_is_drawn_as_a_solution():
    citric = measured(an_evening(jar(1, {"Gorse": 0.01}))).assistants[0]

    assert citric.name == "citric acid"  # data/practice_doses: levelling dye on wool
    assert citric.is_solution
    assert citric.drawn_l == pytest.approx(citric.mass_g / 100, abs=0.00005)  # 10 % is 100 g in a litre


def test_a_swatch_is_kept_with_the_depth_that_was_drawn():
    [dose] = measured(an_evening(jar(1, {"Lagoon": 0.0033}))).doses

    # by hand: 0.33 % of 5 g is 16.5 mg, 1.65 mL; the syringe gives 1.7 mL, 17 mg, 0.34 %
    assert dose.depth_owf == 0.0033
    assert dose.drawn_owf == pytest.approx(0.0034)


def test_the_undyed_skein_goes_through_the_same_bath():
    planned = an_evening(jar(1, {}), jar(2, {"Lagoon": 0.01}))

    blank, dyed = measured(planned, 1), measured(planned, 2)
    assert blank.doses == ()
    assert blank.assistants[0].drawn_l == dyed.assistants[0].drawn_l


@pytest.mark.parametrize(
    ("mass", "liquor", "jar_l", "said"),
    [
        ("10", 60, 0.5, "jar 1: liquor and yarn are 608.*a jar of 500.*full enough at 425.*lower the liquor ratio"),
        ("5", 40, 0.2, "jar 1: liquor and yarn are 204"),
    ],
)
def test_a_jar_that_would_overflow_says_so(mass, liquor, jar_l, said):
    with pytest.raises(InputError, match=said):
        measured(an_evening(jar(1, {"Lagoon": 0.01}, mass), liquor=liquor), jar_l=jar_l)


def test_doses_beyond_the_liquor_are_refused():
    with pytest.raises(InputError, match="mix a stronger stock"):
        measured(an_evening(jar(1, {"Lagoon": 0.04}), stock=1.0))  # 200 mg at 1 g/L are the whole 200 mL


def test_stocks_are_enough_for_every_jar_and_weaker_ones_are_thinned():
    planned = an_evening(
        jar(1, {"Lagoon": 0.0005}), jar(2, {"Lagoon": 0.01}), jar(3, {"Lagoon": 0.04}), jar(4, {"Soot": 0.001})
    )
    stocks = evening_amounts.stocks_to_mix([measured(planned, n) for n in range(1, 5)], 10.0, 0.01)

    # by hand: jar 1 takes 2.5 mL of 0.1 %, made as 100 mL of it from 10 mL of 1 %; jars 2 and 3 5 and 20 mL of 1 %:
    # 35 mL with the thinning, so 100 mL and 1 g; Soot 0.5 mL of 1 %
    lagoon, thin, soot = stocks
    assert (lagoon.strength_g_l, lagoon.volume_l, lagoon.powder_g) == (10.0, pytest.approx(0.1), pytest.approx(1.0))
    assert lagoon.taken_l == pytest.approx(0.025)
    assert (thin.strength_g_l, thin.from_g_l, thin.powder_g) == (pytest.approx(1.0), 10.0, None)
    assert thin.from_l == pytest.approx(0.01)
    assert thin.volume_l == pytest.approx(0.1)
    assert (soot.name, soot.powder_g, soot.taken_l) == ("Soot", pytest.approx(1.0), pytest.approx(0.0005))


BIG_POT = Pot(20.0, 0.32, name="Big pot", power_w=2200.0, heating=Heating.INDUCTION)


def sheet(*jars, pot=BIG_POT, jar_l=0.5, assistants=(), dyes=DYES, **more):
    setup = evening_sheet.Setup(pot, jar_l, assistants, is_pot_said=True)
    return evening_sheet.paper_evening(an_evening(*jars, **more), WOOL, dyes, SETTINGS, setup)


THREE = (jar(1, {}), jar(2, {"Lagoon": 0.01}), jar(3, {"Gorse": 0.0005, "Lagoon": 0.0033}, seat="Window"))


def test_the_sheet_gives_every_jar_its_tag_water_acid_and_doses():
    page = sheet(*THREE).page

    assert [one.number for one in page.jars] == [1, 2, 3]
    assert page.jars[0].recipe == "undyed"
    assert [(dose.name, dose.amount) for dose in page.jars[2].doses] == [
        ("Gorse, 0.1\u202f%", "2.5\u202fmL"),  # 0.25 mL of 1 %, by hand
        ("Lagoon, 1\u202f%", "1.7\u202fmL"),  # 1.65 mL, to the mark
    ]
    assert "0.34\u202f%" in page.jars[2].note
    assert page.jars[2].seat == "Window"
    assert all(one.assistants for one in page.jars)


def test_the_sheet_lists_what_to_mix_and_for_which_jar():
    stocks = {stock.name: stock for stock in sheet(*THREE, jar(4, {"Gorse": 0.01})).page.stocks}

    assert stocks["Lagoon, 1\u202f%"].jars == "jar 2 5.0\u202fmL, jar 3 1.7\u202fmL"
    assert "1.00\u202fg of powder, made up to 100\u202fmL" in stocks["Lagoon, 1\u202f%"].how
    assert "of the 1\u202f% stock, made up to" in stocks["Gorse, 0.1\u202f%"].how
    assert "jar 4" in stocks["citric acid, 10\u202f%"].jars  # the levelling dye's acid, too fine to weigh


def test_cautions_stand_at_the_step_that_can_hurt():
    steps = {step.title: step for step in sheet(*THREE).page.steps}

    assert "respirator" in steps["Mix the stocks"].caution
    assert "Add acid to water" in steps["Fill the jars"].caution
    assert "Glass cracks" in steps["Set the jars into the water bath"].caution
    assert "lids lie loose" in steps["Set the jars into the water bath"].caution
    assert "tongs" in steps["Lift the jars out"].caution
    assert any(
        "Steam scalds" in (step.caution or "") for title, step in steps.items() if title.startswith("Raise to 9")
    )
    throughout = " ".join(sheet(*THREE).page.cautions)
    assert "never used for food" in throughout
    assert "maker's safety sheets" in throughout


def test_the_clock_runs_from_wetting_out_and_never_back():
    steps = sheet(*THREE).page.steps
    clocks = [step.clock for step in steps]
    assert clocks[0] == "before"
    assert clocks[1] == "0:00"
    assert clocks[-1] == "after"
    minutes = [int(h) * 60 + int(m) for h, m in (clock.split(":") for clock in clocks if ":" in clock)]
    assert minutes == sorted(minutes)
    # wool, milling (data/practice): 40 to 85 and on to 96 °C at 1 °C/min, 45 min there, then the look
    titles = {step.title: step.clock for step in steps}
    on = minutes[[step.title for step in steps].index("Yarn in, heat on") - 1]
    look = int(titles["Are the jars clear?"].split(":")[0]) * 60 + int(titles["Are the jars clear?"].split(":")[1])
    assert look - on == pytest.approx(56 + 45, abs=2)


def test_reactive_powder_gets_its_own_caution():
    dyes = (Dye("Bluebell", DyeClass.BROMOACRYLAMIDE),)
    steps = {step.title: step for step in sheet(jar(1, {"Bluebell": 0.01}), dyes=dyes).page.steps}
    assert "sensitise the lungs" in steps["Mix the stocks"].caution


def test_too_many_jars_for_the_pot_is_said():
    small = Pot(7.0, 0.22, name="Small pot", power_w=1500.0)
    notes = " ".join(sheet(*[jar(n, {"Lagoon": 0.01}) for n in range(1, 9)], pot=small).page.notes)
    assert "Small pot takes 4 of these jars side by side, not 8" in notes  # 22 cm is 2.44 jars of 9 cm: by the rings
    assert "takes" not in " ".join(sheet(*THREE).page.notes)


def test_what_is_told_of_the_acid_wins():
    told = evening_sheet._acid({"acid": "citric acid", "ph": "4"})
    page = sheet(*THREE, assistants=told).page
    assert {dose.name for one in page.jars for dose in one.assistants} == {"citric acid, as 10\u202f% solution"}
    assert page.figures[1].value == "4.0"


def test_a_ph_without_its_acid_is_refused():
    with pytest.raises(InputError, match="Name it"):
        evening_sheet._acid({"ph": "4"})


# Planning


@pytest.fixture
def studio(records):
    """A shelf of three dyes on one base: Lagoon has two swatches of an old tub, the yarn itself is not measured."""
    with records.begin() as session:
        shelf.save_settings(session, SETTINGS)
        base = shelf.save_base(session, replace(WOOL, id=None))
        for dye in DYES:
            shelf.save_dye(session, dye)
        lagoon = [
            Swatch({"Lagoon": depth}, base.name, lab=lab, dye_lots={"Lagoon": "25-C"})
            for depth, lab in ((0.001, (72.0, -14.0, -10.0)), (0.01, (45.0, -22.0, -18.0)))
        ]
        swatches.add_swatches(session, lagoon)
    return records, base


def proposed(records, **typed):
    with records.read() as session:
        return evening_plan.planning_page(session, {"propose": "1", **typed}, today=date(2026, 11, 26))


def recipes_of(view):
    keys = sorted((key for key in view["typed"] if key.endswith(".recipe")), key=lambda key: int(key.split(".")[1]))
    return [view["typed"][key].replace("\u202f", " ") for key in keys]


def test_the_first_jar_is_the_undyed_yarn_where_it_is_not_measured(studio):
    records, base = studio
    view = proposed(records, base=str(base.id), jars="6")

    assert recipes_of(view)[0] == "undyed"
    assert view["why"]["1"] == "the undyed yarn is not measured yet"
    assert len(recipes_of(view)) == 6


def test_a_measured_yarn_needs_no_jar_and_a_new_tub_one(studio):
    records, base = studio
    with records.begin() as session:
        swatches.add_swatches(session, [Swatch({}, base.name, lab=(88.0, 0.0, 10.0))])
        lagoon = next(dye for dye in shelf.dyes(session) if dye.name == "Lagoon")
        shelf.save_dye(session, replace(lagoon, dye_lot="26-A"))
    view = proposed(records, base=str(base.id), jars="4")

    recipes = recipes_of(view)
    assert "undyed" not in recipes
    assert recipes[0] in {"Lagoon 0.1 %", "Lagoon 1 %"}  # a depth that the old tub was dyed at
    assert "new tub (26-A)" in view["why"]["1"]


def test_ladders_are_of_the_ticked_dyes(studio):
    records, base = studio
    with records.read() as session:
        soot = next(dye for dye in shelf.dyes(session) if dye.name == "Soot")
    view = proposed(records, base=str(base.id), jars="4", **{f"dye.{soot.id}": "on"})
    assert recipes_of(view) == ["undyed", "Soot 0.1 %", "Soot 1 %", "Soot 4 %"]  # core/mixing/ladder: 1 %, 0.1, 4


def test_seats_stay_with_their_jars_when_others_are_proposed(studio):
    records, base = studio
    view = proposed(records, base=str(base.id), jars="3", **{"jar.2.seat": "Window", "jar.2.recipe": "Soot 2 %"})
    assert view["typed"]["jar.2.seat"] == "Window"


def test_sharpening_asks_for_the_dyes_of_the_colourways(studio):
    records, base = studio
    with records.begin() as session:
        swatches.add_swatches(session, [Swatch({}, base.name, lab=(88.0, 0.0, 10.0))])
        way = Colourway("Reed bed", (60.0, -5.0, 2.0), "lab", {"Lagoon": 0.004, "Gorse": 0.001}, base_id=base.id)
        colourways.save_colourway(session, way)
    view = proposed(records, base=str(base.id), jars="5", purpose="sharpen")

    recipes = recipes_of(view)
    assert recipes[0] == "Gorse 1 %"  # no swatch of it at all
    assert {recipe.split(" ")[0] for recipe in recipes[1:]} == {"Lagoon"}
    assert "become sure to" in view["why"]["2"]


def test_sharpening_nothing_says_what_is_missing(studio):
    records, base = studio
    error = proposed(records, base=str(base.id), purpose="sharpen")["error"]
    assert error.field == "palette"
    assert "keep one, or choose depth ladders" in error.message


PLAN = {"name": "First ladders", "held_on": "2026-11-28", "mass": "5 g", "liquor": "40:1", "stock": "1 %"}


def kept(records, base, typed):
    with records.begin() as session:
        return evening_plan.keep_plan(session, {**PLAN, "base": str(base.id)} | typed)


def test_a_plan_is_kept_as_typed(studio):
    records, base = studio
    rows = {"jar.1.recipe": "undyed", "jar.3.recipe": "lagoon 0.5 + Soot 0,1", "jar.3.mass": "8 g", "jar.3.seat": "A"}
    made = kept(records, base, rows)

    with records.read() as session:
        planned = evenings.evening(session, made.id)
    assert planned.jars == (
        Jar(1, {}, Decimal("5.000")),
        Jar(2, {"Lagoon": 0.005, "Soot": 0.001}, Decimal("8.000"), "A"),
    )
    assert (planned.held_on, planned.liquor_l_kg, planned.stock_g_l) == (date(2026, 11, 28), 40.0, 10.0)


@pytest.mark.parametrize(
    ("typed", "field", "said"),
    [
        ({"jar.2.recipe": "Lagon 1 %"}, "jar.2.recipe", "did you mean Lagoon"),
        ({"jar.2.recipe": "Lagoon"}, "jar.2.recipe", "not a dye with its depth"),
        ({"jar.2.recipe": ""}, "jar.1.recipe", "no jar has a recipe"),
        ({"jar.4.recipe": "Soot 1 %", "jar.4.mass": "20 g"}, "jar.4.mass", "jar 2: liquor and yarn are 815"),
        ({"jar.2.mass": "0 g"}, "jar.2.mass", "weighs 1 to 50 g, got 0 g"),
        ({"mass": "5 apples"}, "mass", "apples"),
        ({"held_on": "soon"}, "held_on", "write it as 2026-11-26"),
        ({"stock": "20 %"}, "stock", "up to 5 % they dissolve"),
        ({"base": "99"}, "base", "which yarn"),
        ({"name": " "}, "name", "needs a name"),
        ({"jar.2.seat": "a" * 201}, "jar.2.seat", "201 letters is too long; 200"),
    ],
)
def test_what_cannot_be_planned_is_named_at_its_field(studio, typed, field, said):
    records, base = studio
    with pytest.raises(InputError, match=said) as refused:
        kept(records, base, {"jar.2.recipe": "Lagoon 1 %"} | typed)
    assert refused.value.field == field


@pytest.mark.parametrize("jars", ["0", "25", "many", ""])
def test_the_number_of_jars_is_one_that_can_be_dyed(studio, jars):
    records, base = studio
    assert proposed(records, base=str(base.id), jars=jars)["error"].field == "jars"


# Judging


def judged(records, labs, *, half=2.0, places=None):
    """Keep a photo and a verdict on it, one skein for each colour, laid in a row; `half` None is without a chart."""
    skeins = []
    for i, lab in enumerate(labs):
        x, y = (i * 120, 0) if places is None else places[i]
        skeins.append(
            {
                "id": i + 1,
                "outline": [[x, y], [x + 100, y], [x + 100, y + 80], [x, y + 80]],
                "lab": list(lab),
                "lab_low": None if half is None else [value - half for value in lab],
                "lab_high": None if half is None else [value + half for value in lab],
                "hex": "#888888",
                "colour_words": "grey",
            }
        )
    now = datetime(2026, 11, 29, 10, tzinfo=UTC)
    result = {"skeins": skeins, "basis": "relative" if half is None else "measured"}
    with records.begin() as session:
        photo = photos.add_photo(
            session,
            b"x",
            photo_id=uuid4(),
            run_id=None,
            media_type="image/jpeg",
            width_px=900,
            height_px=600,
            taken_at=now,
        )
        return photos.add_judgement(session, Judgement(uuid4(), None, photo.id, now, result, "0")).id


@pytest.fixture
def evening_of_three(studio):
    """The undyed yarn, Lagoon between its two swatches, and a mix with a dye that has no swatch yet."""
    records, base = studio
    rows = {"jar.1.recipe": "undyed", "jar.2.recipe": "Lagoon 0.33 %", "jar.3.recipe": "Lagoon 0.5 % + Soot 0.1 %"}
    return records, kept(records, base, rows)


LABS = ((88.0, 0.0, 10.0), (58.0, -19.0, -15.0), (48.0, -15.0, -12.0))
EACH = {"region.1": "1", "region.2": "2", "region.3": "3"}


def keep_swatches(records, made, judgement_id, form=EACH):
    with records.begin() as session:
        return evening_judging.keep_swatches(session, made.id, judgement_id, form)


def test_every_jar_becomes_a_swatch(evening_of_three):
    records, made = evening_of_three
    judgement_id = judged(records, LABS)
    with records.begin() as session:
        lagoon = next(dye for dye in shelf.dyes(session) if dye.name == "Lagoon")
        shelf.save_dye(session, replace(lagoon, dye_lot="26-A"))
    done = keep_swatches(records, made, judgement_id)

    with records.read() as session:
        undyed, single, mix = (swatches.swatch(session, jar.swatch_id) for jar in done.jars)
    assert done.judgement_id == judgement_id
    assert (undyed.depths_owf, undyed.lab) == ({}, LABS[0])
    assert single.depths_owf == pytest.approx({"Lagoon": 0.0034})  # 1.65 mL drawn as 1.7, by hand
    assert single.base == "Fellside wool"
    assert single.dyed_on == date(2026, 11, 28)
    assert single.dye_lots == {"Lagoon": "26-A"}
    assert single.source == "photo"
    assert single.origin == {"evening": str(made.id), "jar": "2", "judgement": str(judgement_id), "skein": "2"}
    assert mix.depths_owf == pytest.approx({"Lagoon": 0.005, "Soot": 0.001})
    # by hand: ± 2 in each of L, a, b is a standard deviation of 1.02; ΔE00 counts chroma less the farther from grey
    assert 0.4 < single.noise_de00 < 1.02
    assert undyed.noise_de00 == pytest.approx(1.0, abs=0.25)


def test_keeping_twice_keeps_each_once_and_takes_the_later_colour(evening_of_three):
    records, made = evening_of_three
    first = keep_swatches(records, made, judged(records, LABS))
    darker = tuple((L - 2, a, b) for L, a, b in LABS)
    second = keep_swatches(records, made, judged(records, darker))

    assert [jar.swatch_id for jar in second.jars] == [jar.swatch_id for jar in first.jars]
    with records.read() as session:
        assert len(swatches.swatches(session)) == 2 + 3
        assert swatches.swatch(session, second.jars[1].swatch_id).lab == darker[1]


def test_a_swatch_that_was_taken_away_is_made_anew(evening_of_three):
    records, made = evening_of_three
    judgement_id = judged(records, LABS)
    first = keep_swatches(records, made, judgement_id)
    with records.begin() as session:
        swatches.remove_swatch(session, first.jars[0].swatch_id)
    again = keep_swatches(records, made, judgement_id)
    with records.read() as session:
        assert swatches.swatch(session, again.jars[0].swatch_id).lab == LABS[0]


def test_regions_are_offered_in_the_order_of_the_tags(evening_of_three):
    records, made = evening_of_three
    judgement_id = judged(records, LABS, places=[(200, 300), (300, 10), (20, 25)])
    with records.read() as session:
        view = evening_judging.assign_page(session, made.id, judgement_id)
    assert [region.id for region in view["regions"]] == [
        3,
        2,
        1,
    ]  # by hand: the upper row from the left, then the lower
    assert {key: text for key, text in view["typed"].items() if key.startswith("region")} == {
        "region.3": "1",
        "region.2": "2",
        "region.1": "3",
    }


def test_a_skein_that_was_not_found_shifts_no_other(evening_of_three):
    records, made = evening_of_three
    with records.begin() as session:
        swatches.add_swatches(session, [Swatch({}, "Fellside wool", lab=(88.0, 0.0, 10.0))])
    judgement_id = judged(records, LABS[1:])  # the undyed skein was not seen
    with records.read() as session:
        view = evening_judging.assign_page(session, made.id, judgement_id)

    assert view["typed"]["region.1"] == "2"
    assert view["typed"]["region.2"] == "3"
    assert view["doubts"] == ("2 skeins were found for 3 jars: jar 1 has none, by order and colour.",)


def test_a_skein_unlike_its_jar_is_pointed_at(evening_of_three):
    records, made = evening_of_three
    with records.begin() as session:
        swatches.add_swatches(session, [Swatch({}, "Fellside wool", lab=(88.0, 0.0, 10.0))])
    judgement_id = judged(records, (LABS[1], LABS[0], LABS[2]))  # the first two are swapped
    with records.read() as session:
        doubts = evening_judging.assign_page(session, made.id, judgement_id)["doubts"]
    assert len(doubts) == 2
    assert doubts[0].startswith("Skein 1 is 3")  # ΔE00 of the two colours is in the thirties
    assert doubts[0].endswith("from what jar 1 should be: is it another jar?")


def test_a_region_may_be_left_out_and_a_colour_typed(evening_of_three):
    records, made = evening_of_three
    form = {"region.1": "1", "region.2": "", "region.3": "", "lab.2": "57 -18 -15", "source": "colorimeter"}
    done = keep_swatches(records, made, judged(records, LABS), form)
    with records.read() as session:
        typed = swatches.swatch(session, done.jars[1].swatch_id)
    assert (typed.lab, typed.source, typed.noise_de00) == ((57.0, -18.0, -15.0), "colorimeter", None)
    assert done.jars[2].swatch_id is None


def test_without_a_chart_the_colours_count_for_little(evening_of_three):
    records, made = evening_of_three
    done = keep_swatches(records, made, judged(records, LABS, half=None))
    with records.read() as session:
        one = swatches.swatch(session, done.jars[1].swatch_id)
    assert one.noise_de00 == 5.0  # services/swatch_photo: an estimate
    assert "without a chart" in one.note


@pytest.mark.parametrize(
    ("form", "field", "said"),
    [
        ({"region.1": "1", "region.2": "1"}, "region.2", "jar 1 is given twice"),
        ({"region.1": "9"}, "region.1", "no jar 9"),
        ({}, "jars", "no jar has a colour"),
        ({"lab.2": "green"}, "lab.2", "green"),
        ({"lab.2": "50 0 0", "source": "guess"}, "source", "guess"),
    ],
)
def test_what_cannot_be_kept_is_named(evening_of_three, form, field, said):
    records, made = evening_of_three
    with pytest.raises(InputError, match=said) as refused:
        keep_swatches(records, made, judged(records, LABS), form)
    assert refused.value.field == field
    with records.read() as session:
        assert len(swatches.swatches(session)) == 2


def test_what_came_out_stands_beside_what_was_foretold(evening_of_three):
    records, made = evening_of_three
    with records.begin() as session:
        swatches.add_swatches(session, [Swatch({}, "Fellside wool", lab=(88.0, 0.0, 10.0))])
    done = keep_swatches(records, made, judged(records, LABS))
    with records.read() as session:
        undyed, single, mix = evening_outcome.outcomes(session, done)
        told = evening_outcome.surer(session, done)

    assert single.de00 < 8  # Lagoon lies between two swatches of it
    assert single.band > 0
    assert single.is_as_foretold == (single.de00 <= single.band)
    assert mix.de00 is None  # Soot had no swatch before
    assert (undyed.de00, undyed.band) == (pytest.approx(0, abs=0.3), None)  # as the undyed yarn on record
    assert told.before is None
    assert told.after > 0


def test_the_shelf_is_surer_after_the_evening(evening_of_three):
    records, made = evening_of_three
    with records.begin() as session:
        swatches.add_swatches(session, [Swatch({}, "Fellside wool", lab=(88.0, 0.0, 10.0))])
        way = Colourway("Reed bed", (60.0, -5.0, 2.0), "lab", {"Lagoon": 0.004}, base_id=made.base_id)
        colourways.save_colourway(session, way)
    done = keep_swatches(records, made, judged(records, LABS))
    with records.read() as session:
        told = evening_outcome.surer(session, done)

    assert told.of_what == "1 colourway with these dyes"
    assert told.after < told.before


def test_an_evening_without_swatches_tells_nothing(evening_of_three):
    records, made = evening_of_three
    with records.read() as session:
        assert evening_outcome.surer(session, made) is None
        assert [one.lab for one in evening_outcome.outcomes(session, made)] == [None, None, None]


def test_an_acid_too_little_to_draw_comes_from_a_thinned_bottle():
    # by hand: 2 g at 40:1 is 80 mL; the usual vinegar for it is below 0.5 mL, so ten times as much of a tenth is drawn
    small = measured(an_evening(jar(1, {"Lagoon": 0.01}, mass="2"))).assistants[0]
    usual = measured(an_evening(jar(1, {"Lagoon": 0.01}, mass="5"))).assistants[0]

    assert (usual.times, small.times) == (1, 10)
    assert small.drawn_l / 10 == pytest.approx(usual.drawn_l * 2 / 5, abs=0.00005)

    stocks = {stock.name: stock for stock in sheet(jar(1, {"Lagoon": 0.01}, mass="2")).page.stocks}
    assert stocks["white vinegar 5 %, thinned 10 times"].how == "10\u202fmL of the bottle made up to 100\u202fmL"


def test_a_trace_of_a_solid_comes_from_a_tenth_of_its_solution():
    # by hand: 30 mg of citric acid is 0.3 mL of 10 %, below 0.5 mL, and so 3 mL of 1 %
    helper = evening_amounts._assistant("citric acid", None, 0.03, parse_substance("citric acid"), 0.1)

    assert (helper.times, helper.drawn_l) == (10, pytest.approx(0.003))
    assert evening_sheet._helper_name(helper) == "citric acid, as 1\u202f% solution"
