import numpy as np
import pytest

from dyewright.core.model import TemperatureReading
from dyewright.core.uptake import Course, expected_c, retimed, wild_readings
from dyewright.errors import InputError

T = np.arange(0.0, 161.0)
PLAN = Course(T, np.interp(T, [0, 55, 100, 160], [40, 95, 95, 50]), 100.0)  # 1 °C/min, 45 min at 95 °C, cooling


def at(course, *minutes):
    return [pytest.approx(value, abs=0.01) for value in np.interp(minutes, course.t_min, course.bath_c)]


def read(*pairs):
    return [TemperatureReading(at_min, bath_c) for at_min, bath_c in pairs]


def test_without_readings_the_plan_stands():
    assert retimed(PLAN, ()) is PLAN


def test_a_pot_that_lags_reaches_its_hold_later_and_the_hold_keeps_its_length():
    # 50 °C at 20 min is where the plan was at 10: everything after comes 10 minutes later.
    course = retimed(PLAN, read((20, 50)))

    assert at(course, 20, 30, 65, 109) == [50, 60, 95, 95]
    assert course.hold_end_min == pytest.approx(110)
    assert course.t_min[-1] == pytest.approx(170)


def test_a_pot_that_is_ahead_reaches_its_hold_earlier():
    # 66 °C at 20 min is the plan's 26 min.
    course = retimed(PLAN, read((20, 66)))

    assert at(course, 20, 49) == [66, 95]
    assert course.hold_end_min == pytest.approx(94)


def test_a_pot_colder_than_it_began_has_the_whole_ramp_before_it():
    # 35 °C at 20 min: 5 °C below the start at 1 °C/min is 5 minutes before it, so 25 minutes late.
    course = retimed(PLAN, read((20, 35)))

    assert at(course, 20, 25, 80) == [35, 40, 95]
    assert course.hold_end_min == pytest.approx(125)


def test_a_hold_that_is_not_reached_yet_is_still_on_its_way():
    # 85 °C at 60 min, planned 95 since 55: the plan's 45 min.
    course = retimed(PLAN, read((60, 85)))

    assert at(course, 60, 70) == [85, 95]
    assert course.hold_end_min == pytest.approx(115)


def test_a_hold_a_little_low_stays_low_and_ends_as_planned():
    course = retimed(PLAN, read((60, 93)))

    assert at(course, 60, 99, 110) == [93, 93, 87.5]
    assert course.hold_end_min == 100


def test_two_readings_alike_say_that_a_hold_is_lower_than_planned():
    course = retimed(PLAN, read((70, 80), (85, 80)))

    assert at(course, 75, 99, 115) == [80, 80, 80]
    assert np.all(np.diff(course.bath_c[course.t_min > 85]) <= 1e-9)  # it does not warm up when cooling begins


def test_a_pot_a_few_degrees_low_at_the_end_of_its_hold_has_settled_there():
    # By hand: 5 °C are five minutes of this rise, and the pot has had 40 in its hold: it is not on its way any more.
    course = retimed(PLAN, read((95, 90)))

    assert at(course, 95, 100) == [90, 90]
    assert course.hold_end_min == 100


def test_an_overshoot_falls_back_to_the_hold_in_ten_minutes():
    course = retimed(PLAN, read((60, 101)))

    assert at(course, 60, 65, 70) == [101, 98, 95]


def test_a_faster_cooling_does_not_change_the_hold_before_it():
    # 70 °C at 120 min: the plan cools by 0.75 °C a minute to 80 there.
    course = retimed(PLAN, read((120, 70)))

    assert at(course, 60, 100, 120) == [95, 95, 70]
    assert course.hold_end_min == 100


def test_the_course_goes_through_every_reading():
    readings = read((10, 45), (30, 62), (50, 91), (58, 95))
    course = retimed(PLAN, readings)

    assert at(course, 10, 30, 50, 58) == [45, 62, 91, 95]
    assert np.all(np.diff(course.t_min) > 0)


def test_a_reading_before_heat_on_is_refused():
    with pytest.raises(InputError, match="-5 min"):
        retimed(PLAN, read((-5, 50)))


def test_a_reading_after_the_plan_finds_the_pot_as_the_plan_left_it():
    course = retimed(PLAN, read((200, 45)))

    assert at(course, 60, 100, 200) == [95, 95, 45]
    assert course.hold_end_min == 100


def test_what_no_pot_can_do_is_wild_and_the_rest_is_not():
    # 37 °C in a minute; 1.8 kW under 3 L of water gives 1.8 x 60/(3 x 4.19) = 8.6 °C a minute at the very most.
    assert wild_readings(PLAN, read((19, 58), (20, 95))) == (TemperatureReading(20, 95),)
    assert wild_readings(PLAN, read((10, 50), (20, 59), (21, 95), (30, 70))) == (TemperatureReading(21, 95),)
    assert wild_readings(PLAN, read((30, 300))) == (TemperatureReading(30, 300),)
    assert wild_readings(PLAN, read((20, 66), (40, 70))) == ()


def test_a_reading_that_fits_only_in_fahrenheit_is_not_taken_for_celsius():
    # Planned are 48 °C at 8 min. 105 °F is 40.6 °C, 7.4 off, and a pot could just be that hot in °C (8 °C a minute); at
    # 15 min, 55 planned, it is 14 off and stands, and so does 80 (26.7 °C).
    assert wild_readings(PLAN, read((8, 105))) == (TemperatureReading(8, 105),)
    assert wild_readings(PLAN, read((15, 105))) == ()
    assert wild_readings(PLAN, read((15, 80))) == ()


def test_what_is_expected_at_a_time_follows_the_other_readings():
    assert expected_c(PLAN, (), 30) == pytest.approx(70)
    assert expected_c(PLAN, read((20, 50)), 30) == pytest.approx(60)


def test_two_times_of_a_plan_a_hair_apart_are_never_one_time_of_the_course():
    plan = Course(np.array([0.0, 55.0, np.nextafter(55.0, 56.0), 115.0]), np.array([20.0, 63.0, 63.0, 40.0]), 55.0)
    course = retimed(plan, [TemperatureReading(45.0, 46.0)])
    assert np.all(np.diff(course.t_min) > 0)
