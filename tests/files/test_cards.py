"""Cards are read, written back, and refused with the key, the value and the way out."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dyewright.core.model import (
    AssistantDose,
    Card,
    CoolTo,
    Drain,
    DyeClass,
    DyeDose,
    Enter,
    Fibre,
    Handling,
    Heating,
    Hold,
    Pot,
    Rinse,
    Spoons,
    Strength,
    Substance,
    To,
    Water,
    When,
    WhenKind,
    Yarn,
)
from dyewright.errors import InputError
from dyewright.files.cards import card_from, read_card, write_card

# the card format of the project's interfaces, kept here as a copy so that the format cannot drift unnoticed
CARD = """
title = "Harbour dusk, second try"
[yarn]
fibre = { wool = 80, nylon = 20 }
superwash = true
dry = "250 g"
[[dye]]
name = "Blue one"
class = "acid milling"
depth = "0.8 %"
stock = "1 %"
mixed_days_ago = 0
[bath]
liquor = "25:1"
[water]
alkalinity = "110 mg/L"
ph = 7.8
temperature = "14 C"
[[assistant]]
kind = "white vinegar 5 %"
target_ph = 5.5
when = "start"
[[pot]]
volume = "12 L"
diameter = "28 cm"
lid = true
power = "1800 W"
heat = "induction"
turns_per_min = 0.5
[[stage]]
enter = "30 C"
[[stage]]
to = "75 C"
rate = "0.5 C/min"
[[stage]]
to = "88 C"
rate = "1 C/min"
[[stage]]
hold = "40 min"
[[stage]]
cool_to = "40 C"
[rinse]
litres = "6 L"
drain = "squeezed"
[scale]
resolution = "0.01 g"
"""


def named(text):
    """Know two substances, as the layer above does."""
    if text.startswith("white vinegar"):
        return AssistantDose(text, Substance.ACETIC_ACID, Strength(w_v_g_l=50.0))
    if text == "citric acid":
        return AssistantDose(text, Substance.CITRIC_ACID)
    raise InputError(f"'{text}' is not known")


def read(text):
    return read_card(text, spoons=Spoons.METRIC, named_assistant=named)


def test_the_card_of_the_interfaces_is_read_into_core_units():
    assert read(CARD) == Card(
        title="Harbour dusk, second try",
        yarn=Yarn({Fibre.WOOL: 0.8, Fibre.NYLON: 0.2}, 250.0, is_superwash=True),
        dyes=(DyeDose("Blue one", DyeClass.ACID_MILLING, 0.008, 10.0),),
        liquor_l_kg=25.0,
        water=Water(110.0, 7.8, 14.0),
        assistants=(AssistantDose("white vinegar 5 %", Substance.ACETIC_ACID, Strength(w_v_g_l=50.0), target_ph=5.5),),
        pots=(Pot(12.0, 0.28, power_w=1800.0, heating=Heating.INDUCTION, turns_per_min=0.5),),
        stages=(Enter(30.0), To(75.0, 0.5), To(88.0, 1.0), Hold(40.0), CoolTo(40.0)),
        rinse=Rinse(6.0, Drain.SQUEEZED),
        scale_resolution_g=0.01,
    )


def test_kitchen_and_imperial_amounts_are_as_good_as_metric():
    card = read(
        '[yarn]\ndry = "9 oz"\n[[dye]]\ndepth = "1 %"\n[water]\ntemperature = "57 F"\n'
        '[[assistant]]\nkind = "white vinegar 5 %"\namount = "2 tbsp"\nwhen = "180 F"\n'
    )
    assert card.yarn.dry_g == pytest.approx(255.146, abs=1e-3)  # 9 x 28.3495 g
    assert card.assistants[0].volume_l == pytest.approx(0.030)  # NIST: 15 mL a tablespoon
    assert card.assistants[0].when.kind is WhenKind.TEMPERATURE
    assert card.assistants[0].when.value == pytest.approx(82.22, abs=0.01)  # (180 - 32) x 5/9
    assert card.water.temperature_c == pytest.approx(13.89, abs=0.01)  # (57 - 32) x 5/9


def test_what_is_not_said_stays_open():
    card = read('[yarn]\ndry = "100 g"\n[[dye]]\ndepth = "1 %"\n')
    assert card.yarn.fibre_frac == {}
    assert card.dyes[0].dye_class is DyeClass.ACID_UNKNOWN
    assert (card.liquor_l_kg, card.water_l, card.pots, card.stages, card.assistants) == (None, None, (), (), ())
    assert read('[yarn]\ndry = "100 g"\n[water]\nalkalinity = "unknown"\n').water.alkalinity_mg_l is None
    assert read('[yarn]\ndry = "100 g"\n[water]\nalkalinity = "0 mg/L"\n').water.alkalinity_mg_l == 0.0


WRONG = [
    ("title = ", "the card is no readable TOML"),
    ("titel = 'x'\n[yarn]\ndry='1 g'", r"titel: not known; did you mean 'title'"),
    ("[yarn]\nfibre = 'wool'", r"\[yarn\] dry: the yarn's dry weight is missing"),
    ("[yarn]\ndry = 250", r"\[yarn\] dry = 250: write the amount as text with its unit"),
    ("[yarn]\ndry = '250 zorks'", r"\[yarn\] dry '250 zorks': unknown unit 'zorks'"),
    ("[yarn]\ndry = '0 g'", r"\[yarn\] dry = '0 g': the dry weight must be above 0 g"),
    ("[yarn]\ndry = '1 g'\nskeins = 1.5", r"\[yarn\] skeins = 1\.5: write a whole number"),
    ("[yarn]\ndry = '1 g'\nfibre = { wool = 80 }", r"add up to 80 %, they must make 100 %"),
    ("[yarn]\ndry = '1 g'\nfibre = { wol = 100 }", r"fibre wol = 100: not known; did you mean 'wool'"),
    ("[yarn]\ndry = '1 g'\nfibre = { wool = 120, nylon = -20 }", "a share is 0 % or more"),
    ("[yarn]\ndry = '1 g'\nsuperwash = 'yes'", "write true or false"),
    ("yarn = 3", r"\[yarn\] must be a table"),
    ("[yarn]\ndry = '1 g'\n[dye]\ndepth = '1 %'", r"\[\[dye\]\] must be tables in double brackets"),
    ("[yarn]\ndry = '1 g'\n[[dye]]\nname = 'x'", r"\[\[dye\]\] depth: the depth is missing"),
    ("[yarn]\ndry = '1 g'\n[[dye]]\ndepth = '-1 %'", r"\[\[dye\]\] depth '-1 %'.*below 0"),
    ("[yarn]\ndry = '1 g'\n[[dye]]\ndepth = '101 %'", "between 0 and 100 %"),
    ("[yarn]\ndry = '1 g'\n[[dye]]\ndepth = '1 %'\nclass = 'acid miling'", "did you mean 'acid milling'"),
    ("[yarn]\ndry = '1 g'\n[[dye]]\ndepth = '1 %'\nstock = '0 %'", "stronger than 0 %"),
    ("[yarn]\ndry = '1 g'\n[[dye]]\ndepth = '1 %'\n[[dye]]\ndepth = '1'", r"\[\[dye\]\] 2 depth '1'"),
    ("[yarn]\ndry = '1 g'\n[bath]\nliquor = '25:1'\nwater = '6 L'", r"\[bath\] liquor is given too"),
    ("[yarn]\ndry = '1 g'\n[water]\nph = 15", "a pH lies between 0 and 14"),
    ("[yarn]\ndry = '1 g'\n[water]\ntemperature = '120 C'", "between 0 and 100 °C"),
    ("[yarn]\ndry = '1 g'\n[[assistant]]\namount = '2 g'", "say what it is"),
    ("[yarn]\ndry = '1 g'\n[[assistant]]\nkind = 'vim'", r"\[\[assistant\]\] kind: 'vim' is not known"),
    (
        "[yarn]\ndry = '1 g'\n[[assistant]]\nkind = 'citric acid'\namount = '2 g'\ntarget_ph = 5",
        "target_ph is given too",
    ),
    ("[yarn]\ndry = '1 g'\n[[assistant]]\nkind = 'citric acid'\nwhen = 'later'", "write soak, start, a temperature"),
    ("[yarn]\ndry = '1 g'\n[[pot]]\nlid = true", "volume to the brim is missing"),
    ("[yarn]\ndry = '1 g'\n[[pot]]\nvolume = '0 L'", "more than 0 L"),
    ("[yarn]\ndry = '1 g'\n[[pot]]\nvolume = '5 L'\nheat = 'candle'", "heat = 'candle': not known"),
    ("[yarn]\ndry = '1 g'\n[[pot]]\nvolume = '5 L'\nturns_per_min = -1", "0 times a minute or more"),
    ("[yarn]\ndry = '1 g'\n[[pot]]\nvolume = '5 L'\nloss_factor = 9", "0.2 to 5 times the computed heat"),
    ("[yarn]\ndry = '1 g'\n[[stage]]\nenter = '30 C'\nhold = '5 min'", "exactly one of enter"),
    ("[yarn]\ndry = '1 g'\n[[stage]]\nhold = '5 min'\nrate = '1 C/min'", "only a stage with 'to' has a rate"),
    ("[yarn]\ndry = '1 g'\n[[stage]]\nto = '110 C'", "a bath stays between 0 and 100 °C"),
    ("[yarn]\ndry = '1 g'\n[scale]\nresolution = '0 g'", "steps of 0.0001 to 100 g"),
    ("[yarn]\ndry = '1 g'\nresidue = 9999", "500 meq/kg of acid or alkali at most"),
    ("[yarn]\ndry = '1 g'\nskeins = nan", "can be counted to"),
    ("[yarn]\ndry = '1 g'\nresidue = inf", "can be counted to"),
    ("[yarn]\ndry = '1 g'\n[rinse]\nlitres = '0 L'", "more than 0 L"),
    ("[yarn]\ndry = '1 g'\n[rinse]\nkept = '20 L/kg'", "keeps 0.2 to 8 L a kilogram, got 20: weigh one"),
    ("[yarn]\ndry = '1 g'\n[rinse]\ntemperature = '101 C'", "between 0 and 100 °C"),
    ("[yarn]\ndry = '1 g'\n[rinse]\nhandling = 'wrung'", "handling = 'wrung': not known"),
    ("[yarn]\ndry = '1 g'\n[rinse]\ndrain = 'wrung'", "drain = 'wrung': not known"),
]


@pytest.mark.parametrize(("text", "words"), WRONG)
def test_a_wrong_card_names_the_key_the_value_and_the_way_out(text, words):
    with pytest.raises(InputError, match=words) as caught:
        read(text)
    assert caught.value.field


def test_a_form_may_leave_out_usual_units_and_leave_fields_empty():
    fields = {
        "yarn": {"dry": "250", "fibre": {"wool": "100", "nylon": ""}, "superwash": "on", "skeins": ""},
        "dye": [{"name": "", "depth": "0,8 %"}],
        "bath": {"liquor": "25", "water": ""},
        "pot": [{"volume": "12", "lid": "", "diameter": "28"}],
    }
    card = card_from(fields, spoons=Spoons.METRIC, named_assistant=named, is_form=True)
    assert card.yarn == Yarn({Fibre.WOOL: 1.0}, 250.0, is_superwash=True)
    assert card.dyes[0].name == "Dye 1"
    assert card.dyes[0].depth_owf == pytest.approx(0.008)
    assert card.liquor_l_kg == 25
    assert card.pots[0].diameter_m == pytest.approx(0.28)


def positive(high):
    return st.floats(0.001, high).map(lambda value: float(f"{value:.6g}"))


texts = st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=20).filter(lambda t: t.strip())
whens = st.one_of(
    st.sampled_from([When(WhenKind.SOAK), When(WhenKind.START)]),
    st.builds(When, st.sampled_from([WhenKind.TEMPERATURE, WhenKind.MINUTE]), positive(100)),
)
amounts = st.one_of(
    *(
        st.builds(dict, **{name: positive(5)})
        for name in ("mass_g", "volume_l", "owf", "bath_g_l", "bath_l_l", "target_ph")
    ),
    st.just({}),
)
assistants = st.builds(
    lambda kind, when, amount: AssistantDose(kind, named(kind).substance, named(kind).strength, when=when, **amount),
    st.sampled_from(["white vinegar 5 %", "citric acid"]),
    whens,
    amounts,
)
pots = st.builds(
    Pot,
    positive(60),
    st.one_of(st.none(), positive(1)),
    st.booleans(),
    st.one_of(st.none(), positive(4000)),
    st.sampled_from(Heating),
    st.one_of(st.none(), positive(3)),
    st.one_of(st.none(), texts),
    st.one_of(st.none(), positive(4000)),
    st.one_of(st.just(1.0), st.floats(0.2, 5)),
)
stages = st.one_of(
    st.builds(Enter, positive(100)),
    st.builds(To, positive(100), st.one_of(st.none(), positive(5))),
    st.builds(Hold, positive(200)),
    st.builds(CoolTo, positive(100)),
)
later = st.one_of(
    st.builds(When, st.just(WhenKind.TEMPERATURE), positive(100)),
    st.builds(When, st.just(WhenKind.MINUTE), positive(200)),
)
dye_moments = st.lists(st.one_of(st.just(When()), later), min_size=1, max_size=4, unique=True).map(tuple)
cards = st.builds(
    Card,
    title=texts,
    yarn=st.builds(
        Yarn,
        st.sampled_from([{}, {Fibre.WOOL: 1.0}, {Fibre.WOOL: 0.75, Fibre.SILK: 0.25}]),
        positive(5000),
        st.booleans(),
        st.one_of(st.none(), st.integers(1, 40)),
        st.floats(-50, 50).map(lambda v: float(f"{v:.6g}")),
        st.booleans(),
    ),
    dyes=st.lists(
        st.builds(
            DyeDose,
            texts,
            st.sampled_from(DyeClass),
            positive(0.9),
            st.one_of(st.none(), positive(50)),
            positive(60),
            dye_moments,
        ),
        max_size=3,
    ).map(tuple),
    liquor_l_kg=st.one_of(st.none(), st.floats(2, 60).map(lambda v: float(f"{v:.6g}"))),
    water=st.builds(
        Water,
        st.one_of(st.none(), positive(500)),
        st.one_of(st.none(), positive(14)),
        st.one_of(st.none(), positive(90)),
    ),
    assistants=st.lists(assistants, max_size=3).map(tuple),
    pots=st.lists(pots, max_size=3).map(tuple),
    stages=st.lists(stages, max_size=5).map(tuple),
    rinse=st.builds(
        Rinse,
        st.one_of(st.none(), positive(60)),
        st.sampled_from(Drain),
        at_c=st.one_of(st.none(), positive(100)),
        has_soap=st.booleans(),
        handling=st.sampled_from(Handling),
        kept_l_kg=st.one_of(st.none(), st.floats(0.2, 8).map(lambda v: float(f"{v:.6g}"))),
    ),
    scale_resolution_g=st.one_of(st.none(), positive(1)),
    is_tonal_wanted=st.sampled_from([None, True, False]),
    is_after_treated=st.booleans(),
)


@settings(max_examples=150, deadline=None)
@given(cards)
def test_there_and_back_is_the_same_card(card):
    text = write_card(card)
    again = read(text)
    assert write_card(again) == text
    assert again.title == card.title
    assert [dye.name for dye in again.dyes] == [dye.name for dye in card.dyes]
    assert [dye.depth_owf for dye in again.dyes] == pytest.approx([dye.depth_owf for dye in card.dyes], rel=1e-12)
    assert (again.stages, again.yarn, again.water) == (card.stages, card.yarn, card.water)
    assert [dose.when for dose in again.assistants] == [dose.when for dose in card.assistants]
    assert [dye.parts for dye in again.dyes] == [dye.parts for dye in card.dyes]
    assert again.is_tonal_wanted is card.is_tonal_wanted
    assert again.is_after_treated is card.is_after_treated
    assert replace(again.rinse, water_l=None) == replace(card.rinse, water_l=None)


def test_a_bare_zero_is_pure_water_and_any_other_bare_number_lacks_its_unit():
    read = {"spoons": "metric", "named_assistant": named}
    assert read_card("[yarn]\ndry = '1 g'\n[water]\nalkalinity = 0", **read).water.alkalinity_mg_l == 0
    with pytest.raises(InputError, match="unit"):
        read_card("[yarn]\ndry = '1 g'\n[water]\nalkalinity = 110", **read)


def dye_in(lines):
    return read(f'[yarn]\ndry = "100 g"\n[[dye]]\ndepth = "1 %"\n{lines}\n').dyes[0]


@pytest.mark.parametrize(
    ("lines", "parts"),
    [
        ("", (When(),)),
        ('when = "20 min"', (When(WhenKind.MINUTE, 20.0),)),
        (
            'when = ["start", "20 min", "75 C"]',
            (When(), When(WhenKind.MINUTE, 20.0), When(WhenKind.TEMPERATURE, 75.0)),
        ),
        ("parts = 2", (When(), When(WhenKind.MINUTE, 20.0))),
        ('parts = 2\nwhen = ["start", "140 F"]', (When(), When(WhenKind.TEMPERATURE, 60.0))),
    ],
)
def test_a_dye_goes_in_once_or_in_equal_parts(lines, parts):
    assert dye_in(lines).parts == parts


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        ('when = "soak"', "'soak' is no moment for a dye"),
        ('when = ["start", "soon"]', "'soon' is no moment for a dye"),
        ('when = ["start", "start"]', "a moment of its own"),
        ("parts = 0", "1 to 6 equal parts"),
        ("parts = 5", "name the moment of every part"),
        ('parts = 3\nwhen = ["start", "20 min"]', "2 moments are named for 3 parts"),
        ("when = [20]", "moments in quotation marks"),
        ('when = ["1 min", "2 min", "3 min", "4 min", "5 min", "6 min", "7 min"]', "6 parts at most"),
    ],
)
def test_odd_parts_are_refused_with_the_way_out(lines, said):
    with pytest.raises(InputError, match=said) as caught:
        dye_in(lines)
    assert caught.value.field in {"dye.1.when", "dye.1.parts"}


def test_a_form_names_the_moments_in_one_line():
    fields = {"yarn": {"dry": "100"}, "dye": [{"depth": "1 %", "parts": "3", "when": "start, 20 min; 75 C"}]}
    card = card_from(fields, spoons=Spoons.METRIC, named_assistant=named, is_form=True)

    assert card.dyes[0].parts == (When(), When(WhenKind.MINUTE, 20.0), When(WhenKind.TEMPERATURE, 75.0))


@pytest.mark.parametrize(("lines", "wish"), [("", None), ("tonal = true", True), ("tonal = false", False)])
def test_level_or_tonal_may_stay_unsaid(lines, wish):
    assert read(f'{lines}\n[yarn]\ndry = "100 g"\n').is_tonal_wanted is wish
