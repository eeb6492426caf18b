"""An experiment: planned in steps, foretold, dyed as runs, read, and what it says it taught."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from dyewright.core.model import (
    Base,
    Dye,
    DyeClass,
    Factor,
    Fibre,
    Heating,
    RunState,
    Settings,
    Swatch,
    Vessel,
    Water,
)
from dyewright.errors import InputError
from dyewright.records import experiments as records_of
from dyewright.records import runs, shelf, swatches
from dyewright.services import running
from dyewright.services.experiments import colours, doing, factors, page, plan, sheet
from dyewright.services.planning import plan as plan_card
from dyewright.services.planning import read_card

NOW = datetime(2026, 11, 26, 18, 0, tzinfo=UTC)
TODAY = NOW.date()
PH = {
    "factor": "pH",
    "name": "How much acid",
    "dye.1.name": "lagoon",
    "dye.1.depth": "1 %",
    "sample": "5 g",
    "liquor": "40:1",
    "from": "4",
    "to": "7",
    "steps": "4",
    "twin": "1",
    "blank": "1",
}


@pytest.fixture
def studio(records):
    """A studio with one yarn, one dye and its swatches, and a pot."""
    with records.begin() as session:
        shelf.save_settings(session, Settings("Test shed", water=Water(95.0), scale_resolution_g=0.01))
        shelf.save_base(session, Base("Fellside wool", {Fibre.WOOL: 1.0}, undyed_lab=(88.0, 0.0, 10.0)))
        shelf.save_dye(session, Dye("Lagoon", DyeClass.ACID_MILLING, dye_lot="26-A"))
        shelf.save_vessel(session, Vessel("Small pot", 8.0, heating=Heating.INDUCTION, diameter_m=0.24, power_w=1800.0))
    return records


def add_swatches(session):
    depths = {0.001: (78.0, -14.0, -2.0), 0.005: (63.0, -26.0, -14.0), 0.02: (45.0, -26.0, -24.0)}
    swatches.add_swatches(session, [Swatch({"Lagoon": d}, "Fellside wool", lab=lab) for d, lab in depths.items()])


def base_of(session):
    return shelf.base_named(session, "Fellside wool").id


def kept(session, **said):
    return plan.keep_plan(session, {**PH, "base": str(base_of(session)), **said}, today=TODAY)


def test_a_series_has_its_steps_a_twin_of_the_middle_and_a_blank(studio):
    with studio.begin() as session:
        made = kept(session)
        assert made.base_id == base_of(session)
    # by hand: four steps from 4 to 7 are one pH each; the twin repeats the third
    assert [one.value for one in made.samples] == [4.0, 5.0, 6.0, 7.0, 6.0, None]
    assert sorted(one.place for one in made.samples) == [1, 2, 3, 4, 5, 6]


def test_depths_go_by_ratio_and_keep_their_ends(studio):
    with studio.begin() as session:
        made = kept(session, factor="depth", **{"from": "0.25 %", "to": "4 %", "steps": "5", "twin": "", "blank": ""})
    # by hand: a doubling each time
    assert [one.value for one in made.samples] == pytest.approx([0.0025, 0.005, 0.01, 0.02, 0.04])


def test_each_jar_gets_its_own_acid_and_the_blank_that_of_the_middle(studio):
    with studio.begin() as session:
        bench = sheet.kept_bench(session, kept(session))
    for jar, sample in zip(bench.jars, bench.experiment.samples, strict=True):
        assert jar.ph == pytest.approx(6.0 if sample.value is None else sample.value, abs=0.01)
    drawn = [jar.assistants[0].drawn_l / jar.assistants[0].times for jar in bench.jars]
    assert drawn[0] > drawn[1] > drawn[2] > drawn[3]
    assert bench.jars[5].doses == ()
    assert drawn[5] == pytest.approx(drawn[2])


def test_more_water_needs_more_acid_and_the_same_dye(studio):
    said = {"factor": "liquor ratio", "from": "20:1", "to": "60:1", "steps": "3", "twin": "", "blank": ""}
    with studio.begin() as session:
        bench = sheet.kept_bench(session, kept(session, **said))
    assert [jar.liquor_l for jar in bench.jars] == pytest.approx([0.1, 0.2, 0.3])  # 5 g at 20, 40 and 60 L/kg
    assert {jar.doses[0].drawn_l for jar in bench.jars} == {0.005}  # 50 mg of 1 % stock
    acids = [jar.assistants[0].drawn_l / jar.assistants[0].times for jar in bench.jars]
    assert acids[0] < acids[1] < acids[2]


def test_a_jar_is_dyed_as_the_water_bath_really_heats(studio):
    with studio.begin() as session:
        bench = sheet.kept_bench(session, kept(session))
    card = bench.pot_card(0)
    assert card.pots[0].volume_l == bench.jar_l == 0.5
    planned = plan_card(card, bench.settings)
    assert max(planned.bath_c) == pytest.approx(max(bench.curve(0).bath_c), abs=0.5)
    assert planned.ph_closed == pytest.approx(4.0, abs=0.02)


def test_rates_are_dyed_one_after_another_and_no_faster_than_the_bath_can(studio):
    said = {"factor": "heating rate", "from": "0.5", "to": "1.5", "steps": "3", "blank": "", "twin": ""}
    with studio.begin() as session:
        bench = sheet.kept_bench(session, kept(session, **said))
        titles = [step.title for step in sheet.paper_experiment(bench).steps]
        weak = Vessel("Weak pot", 20.0, heating=Heating.ELECTRIC, diameter_m=0.32, power_w=150.0)
        too_fast = {**said, "name": "Too fast", "pot": str(shelf.save_vessel(session, weak).id)}
        with pytest.raises(InputError, match=r"raises a jar in its water by .* smaller or stronger pot") as refused:
            kept(session, **too_fast)
    entries = [title.split(":")[0] for title in titles if title.endswith("yarn in, heat on")]
    by_turn = sorted(bench.experiment.samples, key=lambda one: one.place)
    assert entries == [f"{one.number}, {factors.FACTORS[Factor.RAMP].show(one.value)}" for one in by_turn]
    assert refused.value.field == "to"


def test_every_caution_stands_at_its_step(studio):
    with studio.begin() as session:
        steps = {step.title: step for step in sheet.paper_experiment(sheet.kept_bench(session, kept(session))).steps}
    assert "respirator" in steps["Mix the stocks"].caution
    assert "Add acid to water" in steps["Fill the jars"].caution
    assert "Glass cracks" in steps["Set the jars into the water bath"].caution
    assert "order that chance gave" in steps["Set the jars into the water bath"].text
    assert "no jar more time" in steps["Are the jars clear?"].text


@pytest.mark.parametrize(
    ("said", "field", "sentence"),
    [
        ({"steps": "2"}, "steps", "3 to 7 steps"),
        ({"steps": "many"}, "steps", "3 to 7 steps"),
        ({"from": "1"}, "from", "outside what a sample can be given, pH 2.5 to pH 8"),
        ({"from": "5", "to": "5"}, "to", "both pH 5"),
        ({"from": "5", "to": "5.2", "steps": "5"}, "steps", "too fine to set apart"),
        ({"values": "4, 5"}, "values", "3 to 7 different steps"),
        ({"values": "4, 5, 5"}, "values", "two of them alike"),
        ({"values": "4, five, 6"}, "values", "cannot be read"),
        ({"sample": "200 g"}, "sample", "1 to 50 g"),
        ({"base": "9999"}, "base", "not on the shelf"),
        ({"pot": "9999"}, "pot", "not on the shelf"),
        ({"dye.1.name": ""}, "dye.1.name", "which dye"),
        ({"acid": "cola"}, "acid", "not known"),
        ({"acid": "soda ash"}, "acid", "say how much"),
        ({"factor": "moon"}, "factor", "nothing to vary"),
        ({"name": "x" * 201}, "name", "too long"),
    ],
)
def test_what_cannot_be_is_said_at_its_field(studio, said, field, sentence):
    with studio.begin() as session, pytest.raises(InputError, match=sentence) as refused:
        kept(session, **said)
    assert refused.value.field == field


def test_a_name_is_taken_once(studio):
    with studio.begin() as session:
        kept(session)
        with pytest.raises(InputError):
            kept(session)


def test_an_experiment_can_begin_from_a_run_and_keeps_its_card(studio):
    toml = (
        'title = "Moor"\n[yarn]\nfibre = { wool = 100 }\ndry = "200 g"\n[[dye]]\nname = "Lagoon"\n'
        'class = "acid milling"\ndepth = "0.6 %"\n[bath]\nwater = "6 L"\n[[assistant]]\nkind = "citric acid"\n'
        'target_ph = 4.5\n[[pot]]\nvolume = "8 L"\nname = "Small pot"\n'
    )
    with studio.begin() as session:
        run = running.keep_run(session, running.planned_run(session, card_toml=toml, now=NOW, base_id=base_of(session)))
        view = plan.planning_page(session, {"run": str(run.id), "factor": "depth"}, today=TODAY)
        assert view["error"] is None
        made = plan.keep_plan(session, {**view["typed"], "keep": "1"}, today=TODAY)
    card = read_card(made.card_toml)
    assert card.liquor_l_kg == pytest.approx(30.0)  # 6 L on 200 g
    assert (card.yarn.dry_g, card.assistants[0].label, card.assistants[0].target_ph) == (5.0, "citric acid", 4.5)
    # by hand: from a quarter of 0.6 % to four times
    assert (made.samples[0].value, made.samples[4].value) == pytest.approx((0.0015, 0.024))


def foretold(session, **said):
    return plan.planning_page(session, {**PH, "base": str(base_of(session)), **said}, today=TODAY)["outlook"]


def test_the_forecast_says_before_dyeing_whether_a_difference_can_show(studio):
    with studio.begin() as session:
        add_swatches(session)
        wide = foretold(session, **{"from": "4", "to": "7"})
        narrow = foretold(session, **{"from": "4", "to": "4.2", "steps": "3"})
        depths = foretold(session, factor="depth", **{"from": "0.25 %", "to": "4 %"})
    # less acid leaves more milling dye in the bath (science notes, I4: pH 4.5 .985, 7 .940 and this water drifts up)
    ends = [one.told.final_exhaustion.mid for one in wide.expected[:4]]
    assert ends == sorted(ends, reverse=True)
    assert wide.is_telling
    assert not narrow.is_telling
    assert narrow.advice.startswith("Take pH 3 to pH 7 instead")
    assert depths.is_telling
    assert "plain to see" in depths.verdict
    lightness = [one.lab[0] for one in depths.expected if one.sample.value][:4]
    assert lightness == sorted(lightness, reverse=True)  # more dye is darker


def test_without_swatches_the_colours_stay_unsaid_and_the_bath_still_tells(studio):
    with studio.begin() as session:
        told = foretold(session)
    assert all(one.lab is None for one in told.expected if one.sample.value is not None)
    assert "the bath keeps" in told.verdict
    assert any("takes a swatch of each dye" in note for note in told.notes)


def test_a_bath_that_drifts_is_named(studio):
    with studio.begin() as session:
        notes = " ".join(foretold(session).notes)
    assert "pH drifts" in notes
    assert "pH 7 towards" in notes
    assert "pH 4 towards" not in notes


# --- dyed and read ---------------------------------------------------------------------------------------------------

GRID = {"heat_on": "2026-11-26T10:00:00+00:00", "half.1": "30", "clear.1": "52", "end.1": "0.96875", "rinses.1": "1"}


def test_readings_make_runs_and_stand_in_them(studio):
    with studio.begin() as session:
        made = kept(session)
        doing.keep_readings(session, made.id, {**GRID, "end.4": "0.75"}, now=NOW)
        made = records_of.experiment(session, made.id)
        first, blank = made.samples[0], made.samples[-1]
        run = runs.run(session, first.run_id)
    assert blank.run_id is None
    seen = doing.seen_of(run)
    assert (seen.half_min, seen.clear_min, seen.end, seen.rinses) == (30.0, 52.0, 0.96875, 1)
    assert run.state is RunState.DYED
    assert (30.0, 0.5) in seen.looks


def test_a_reading_put_right_undoes_the_one_before_and_the_rest_stays(studio):
    with studio.begin() as session:
        made = kept(session)
        doing.keep_readings(session, made.id, GRID, now=NOW)
        before = runs.run(session, records_of.experiment(session, made.id).samples[0].run_id)
        doing.keep_readings(session, made.id, GRID, now=NOW)  # the same form again
        again = runs.run(session, before.id)
        doing.keep_readings(session, made.id, {**GRID, "clear.1": "58", "half.1": ""}, now=NOW)
        after = doing.seen_of(runs.run(session, before.id))
    assert len(again.events) == len(before.events)
    assert (after.half_min, after.clear_min, after.rinses) == (None, 58.0, 1)


@pytest.mark.parametrize(
    ("said", "field"),
    [
        ({"heat_on": ""}, "heat_on"),
        ({"heat_on": "2026-11-27T10:00:00+00:00"}, "heat_on"),
        ({"half.1": "soon"}, "half.1"),
        ({"clear.1": "20"}, "clear.1"),
        ({"clear.1": "5000"}, "clear.1"),
        ({"half_c.1": "300"}, "half_c.1"),
        ({"end.1": "0.3"}, "end.1"),
        ({"rinses.1": "none"}, "rinses.1"),
    ],
)
def test_a_wrong_reading_is_named_and_nothing_is_kept(studio, said, field):
    with studio.begin() as session:
        made = kept(session)
    with pytest.raises(InputError) as refused, studio.begin() as session:
        doing.keep_readings(session, made.id, {**GRID, **said}, now=NOW)
    assert refused.value.field == field
    with studio.read() as session:
        assert all(one.run_id is None for one in records_of.experiment(session, made.id).samples)


def test_typed_colours_lie_in_the_experiment_and_depths_become_swatches(studio):
    said = {"factor": "depth", "from": "0.25 %", "to": "4 %", "steps": "3"}
    typed = {"lab.1": "80 -12 -2", "lab.2": "63 -26 -14", "lab.5": "88 0 11", "source": "colorimeter", "swatches": "1"}
    with studio.begin() as session:
        made = kept(session, **said)
        colours.keep_colours(session, made.id, None, typed)
        colours.keep_colours(session, made.id, None, {**typed, "lab.1": "81 -12 -2"})  # read again
        read = records_of.experiment(session, made.id)
        on_record = swatches.swatches(session)
    assert read.samples[0].lab == (81.0, -12.0, -2.0)
    assert {tuple(one.depths_owf.items()): one.lab for one in on_record} == {
        (("Lagoon", 0.0026),): (81.0, -12.0, -2.0),  # by hand: 0.25 % of 5 g is 1.25 mL of 1 %; the mark gives 1.3 mL
        (("Lagoon", 0.01),): (63.0, -26.0, -14.0),
        (): (88.0, 0.0, 11.0),
    }
    assert on_record[0].dye_lots == {"Lagoon": "26-A"}


def test_samples_of_another_factor_are_no_swatches(studio):
    with studio.begin() as session:
        made = kept(session)
        colours.keep_colours(session, made.id, None, {"lab.1": "63 -26 -14", "swatches": "1"})
        assert swatches.swatches(session) == []
        assert page.print_cards(session, made.id).startswith(b"%PDF-")


# --- what was learnt --------------------------------------------------------------------------------------------------


def told(session, labs, grid=None, **said):
    """Return what an experiment with these colours, and readings, says it taught."""
    made = kept(session, **said)
    samples = tuple(replace(one, lab=lab) for one, lab in zip(made.samples, labs, strict=True))
    records_of.save_experiment(session, replace(made, samples=samples))
    if grid:
        doing.keep_readings(session, made.id, {"heat_on": GRID["heat_on"], **grid}, now=NOW)
    return page.experiment_page(session, made.id, now=NOW)["learned"]


def grey(lightness):
    return lightness, 0.0, 0.0


def test_within_the_scatter_it_says_that_it_cannot_tell(studio):
    with studio.begin() as session:
        said = told(session, [grey(50), grey(50.4), grey(50.2), grey(50.6), grey(50.3), grey(88)])
    assert "no difference can be told" in said.answer
    # by hand: near L* 50 CIEDE2000 is about the difference of L*, so 0.6 at most
    assert "0.6 ΔE00 at most" in said.answer


def test_four_samples_that_lie_as_far_apart_as_four_alike_do_tell_nothing(studio):
    with studio.begin() as session:
        said = told(session, [grey(50), grey(51.05), grey(50.2), grey(50.6), None, grey(88)])
    # by hand: six pairs; the root of the chi-squared of three at 0.95^(1/6) is 3.42, over 2.795: 1.2 times one pair's
    assert "no difference can be told: 1.0 ΔE00 at most, and 4 samples dyed alike lie up to 1.2 apart" in said.answer


def test_ends_that_come_out_alike_are_not_told_apart(studio):
    with studio.begin() as session:
        said = told(session, [grey(50), grey(54), grey(53), grey(50.3), None, grey(88)])
    assert said.answer.endswith("Between pH 4 and pH 7 no difference can be told: 0.3 ΔE00.")


def test_a_flat_stretch_and_what_tells_beyond_it(studio):
    with studio.begin() as session:
        said = told(session, [grey(50), grey(50.4), grey(54), grey(60), grey(54.2), grey(88)])
    assert said.answer.startswith("From pH 4 to pH 5 it makes no odds. At pH 7 the yarn is")
    assert "lighter" in said.answer
    assert any(line.startswith("The twins came out 0.2 ΔE00 apart") for line in said.more)


def test_twins_far_apart_take_the_telling_away(studio):
    with studio.begin() as session:
        said = told(session, [grey(50), grey(51), grey(52), grey(53), grey(57), grey(88)])
    # by hand: one twin of about 5 beside four pairs of the estimate: sqrt((4 x 0.384 + 25) / 5) x 1.614 = 3.7 > 3
    assert "no difference can be told" in said.answer
    assert said.alike == pytest.approx(3.7, abs=0.2)


def test_the_baths_tell_without_any_colour(studio):
    grid = {"clear.1": "35", "clear.2": "58", "end.1": "0.96875", "end.4": "0.75", "rinses.1": "1", "rinses.4": "3"}
    with studio.begin() as session:
        said = told(session, [None] * 6, grid)
    assert said.answer == "At pH 7 a quarter of the dye stayed in the bath; the others came clear."
    assert "The bath cleared at 35 min at pH 4, at 58 at pH 5." in said.more
    assert "Rinses until clear: 1 at pH 4, 3 at pH 7." in said.more


def test_the_blank_tells_what_heat_and_acid_do(studio):
    with studio.begin() as session:
        said = told(session, [grey(50), grey(52), grey(54), grey(60), grey(54.2), (85.0, 1.0, 16.0)])
    assert any(line.startswith("Heat and acid alone made the yarn") for line in said.more)


def test_nothing_read_teaches_nothing(studio):
    with studio.begin() as session:
        assert told(session, [None] * 6) is None


def test_colours_lie_in_the_order_of_the_factor_with_their_differences(studio):
    with studio.begin() as session:
        add_swatches(session)
        made = kept(session)
        samples = tuple(replace(one, lab=grey(50 + 2 * one.number)) for one in made.samples)
        records_of.save_experiment(session, replace(made, samples=samples))
        view = page.experiment_page(session, made.id, now=NOW)
    shown = view["results"]
    assert [one.words for one in shown[:4]] == ["pH 4", "pH 5", "pH 6", "pH 7"]
    # by hand, CIEDE2000's S_L = 1 + 0.015 (L - 50)^2 / sqrt(20 + (L - 50)^2) at 53, 55, 57: 1.0251, 1.0559, 1.0885
    assert [one.to_next for one in shown[:3]] == pytest.approx([1.951, 1.894, 1.837], abs=0.001)
    assert shown[3].to_next is None
    assert shown[2].to_middle == 0.0
    assert view["overlay"].startswith("<svg")
    assert [panel.title for panel in view["panels"]][:2] == ["Lightness L*", "Chroma C*"]


def test_its_own_baths_do_not_count_in_what_was_foretold(studio):
    with studio.begin() as session:
        made = kept(session)
        before = page.experiment_page(session, made.id, now=NOW)["outlook"].expected
        grid = {f"half.{n}": "12" for n in range(1, 6)} | {f"clear.{n}": "20" for n in range(1, 6)}
        doing.keep_readings(
            session, made.id, {**grid, "heat_on": GRID["heat_on"], "end.1": "0.96875"}, now=NOW + timedelta(hours=1)
        )
        after = page.experiment_page(session, made.id, now=NOW)["outlook"].expected
    assert [one.clear for one in before] == [one.clear for one in after]
