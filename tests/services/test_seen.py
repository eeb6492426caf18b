"""What was seen of a bath, as words say it, and the questions that values which can hardly be call for."""

import pytest

from dyewright.errors import InputError
from dyewright.services.forecasting.seen import observed_in_words
from dyewright.services.questions import ask, sure_limits

ACID = sure_limits(4.6)


@pytest.mark.parametrize(
    ("text", "reading"),
    [
        ("21 min: 0.87", (21.0, 0.87)),
        ("1 h 5 min: 87 %", (65.0, 0.87)),
        ("30 min: 7/8", (30.0, 0.875)),
        ("30 min: ⅞", (30.0, 0.875)),
        ("40 min:1", (40.0, 1.0)),
        ("50 min: clear", (50.0, 31 / 32)),  # the palest glass holds 1/32 of the start, by the ladder's definition
    ],
)
def test_looks_at_the_bath_are_written_as_dyers_write_them(text, reading):
    (seen,) = observed_in_words([text]).clarities
    assert (seen.at_min, seen.exhaustion) == pytest.approx(reading)


def test_every_kind_of_thing_seen_has_its_words():
    seen = observed_in_words(["68 C: 1/2", "25 min: 82 C", "30 min: 190 F", "5 min: pH 4.4", "rinses: 3"])
    assert (seen.clarities_at_heat[0].bath_c, seen.clarities_at_heat[0].exhaustion) == (68.0, 0.5)
    # By hand: (190 - 32) × 5 / 9 = 87.78
    assert [read.bath_c for read in seen.temperatures] == pytest.approx([82.0, 87.78], abs=0.01)
    assert (seen.phs[0].at_min, seen.phs[0].ph) == (5.0, 4.4)
    assert seen.rinses == 3
    assert seen.clarities == ()


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ("0.87", "0.87"),
        ("21 min:", "21 min:"),
        ("21 min: lots", "lots"),
        ("soon: 0.5", "soon"),
        ("21 min: 1/0", "1/0"),
        ("21 min: nan", "nan"),
        ("rinses: some", "rinses: some"),
        ("20 min: 1.4", "1.4"),
    ],
)
def test_what_says_nothing_is_refused_by_its_own_words(text, named):
    with pytest.raises(InputError) as refused:
        observed_in_words([text])
    assert named in refused.value.message


@pytest.mark.parametrize(
    ("text", "asked"),
    [
        ("20 min: 300 C", "300 °C is beyond a pot: water boils at 100 °C. 300 °F would be 149 °C."),
        ("20 min: 180 C", "Did you mean 180 °F, 82 °C or 18 °C?"),
        ("300 C: 1/2", "Did you mean 30 °C?"),
        ("5 min: pH 12", "pH 12 in an acid bath"),
        ("rinses: 25", "Did you mean 2 rinses or 5 rinses?"),
    ],
)
def test_a_value_that_can_hardly_be_is_refused_with_a_question(text, asked):
    with pytest.raises(InputError) as refused:
        observed_in_words([text])
    assert asked in refused.value.message.replace("\u202f", " ")


@pytest.mark.parametrize(
    ("kind", "number", "values"),
    [
        ("temperature", 300, ["30", "300\u202f°C"]),
        ("temperature", 180, ["180 F", "18", "180\u202f°C"]),  # by hand: (180 - 32) / 1.8 = 82.2 °C
        ("temperature", 120, ["120 F", "12", "120"]),  # a pressure vessel may be at 120 °C
        ("temperature", -5, ["5", "-5\u202f°C"]),
        ("ph", 45, ["4.5", "pH 45"]),
        ("ph", 12, ["12"]),
        ("rinsed", 25, ["2", "5", "25"]),
        ("rinsed", 400, ["4", "400 rinses"]),
        ("rinsed", 0, ["0 rinses"]),
    ],
)
def test_a_question_offers_what_may_have_been_meant_and_loses_nothing(kind, number, values):
    question = ask(kind, number, ACID)
    assert [way.value.replace("−", "-") for way in question.ways] == values
    assert question.ways[-1].kind in {"note", kind}


@pytest.mark.parametrize(
    ("kind", "number"), [("temperature", 0), ("temperature", 103), ("ph", 2.4), ("rinsed", 15), ("clarity", 0.5)]
)
def test_a_value_that_can_be_is_not_questioned(kind, number):
    assert ask(kind, number, ACID) is None


def test_an_alkaline_bath_is_not_asked_about_its_alkali():
    assert ask("ph", 11.0, ACID) is not None
    assert ask("ph", 11.0, sure_limits(10.8)) is None
