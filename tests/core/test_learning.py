"""What one pot teaches, and what all pots together say of the next.

Truths are invented and the readings computed from them by the uptake model, so these tests say whether learning finds
what is there, not whether the model is right.
"""

from dataclasses import replace

import numpy as np
import pytest
from pots import capacity, kinds, ramp
from scipy.stats import multivariate_normal

from dyewright.core.learning import WatchedPot, learnt, lesson, prior_variance
from dyewright.core.learning.pooling import EYE_POT_FRAC, POT, SPLIT
from dyewright.core.model import (
    ClarityAtHeat,
    ClarityReading,
    DyeClass,
    FibreGroup,
    Lesson,
    LevelLesson,
    Observed,
    Subject,
)
from dyewright.core.uptake import at_shifts, class_prior_sd, draw, k95_of_t50, look_ahead, t50_of_k95
from dyewright.core.uptake.samples import EA_SD_FRAC

LAGOON = Subject("Lagoon", DyeClass.ACID_MILLING, FibreGroup.WOOL)
HEATHER = Subject("Heather", DyeClass.ACID_MILLING, FibreGroup.WOOL)
LAGOON_ON_SOCK = replace(LAGOON, yarn=FibreGroup.SUPERWASH)
PINE = Subject("Pine", DyeClass.ACID_UNKNOWN, FibreGroup.WOOL)
CLEAR = 1 - 1 / 32
HOLD_END_MIN = 120.0


def pot(*classes, dyes=None, **more):
    bath = ramp(len(classes) or 1, from_c=30.0, to_c=93.0, depth_owf=0.008)
    return WatchedPot(bath, dyes or kinds(*(classes or ("acid milling",))), capacity(), False, HOLD_END_MIN, **more)


def ahead(of_pot, shifts):
    ensemble = at_shifts(of_pot.dyes, of_pot.saturation_owf, np.atleast_2d(shifts), is_superwash=False)
    return look_ahead(of_pot.bath, ensemble, of_pot.hold_end_min)


def looks(of_pot, shifts, minutes=(30.0, 40.0, 48.0, 55.0)):
    """What a dyer with these shifts sees, to the exact rung."""
    outlook = ahead(of_pot, shifts)
    uptake = np.interp(minutes, outlook.held_min, outlook.held[0])
    return tuple(
        ClarityReading(at_min, CLEAR if seen >= outlook.clear_goal[0] else min(float(seen), 0.96))
        for at_min, seen in zip(minutes, uptake, strict=True)
    )


def t50_of(said, n=0):
    return said.mean[3 * n], np.sqrt(said.covariance[3 * n][3 * n])


def test_without_lessons_the_class_prior_stands():
    said = learnt([LAGOON, LAGOON_ON_SOCK, PINE], [])

    # The doubt of the class itself; what kind and superwash leave open is drawn apart. Dyes of one class and of one
    # name hang together even before a pot: that is what lets one teach of the other.
    np.testing.assert_allclose(np.diag(said.covariance), class_prior_sd(3) ** 2)
    np.testing.assert_allclose(learnt([LAGOON], []).covariance, np.diag(class_prior_sd(1) ** 2), atol=1e-12)
    assert said.mean == (0.0,) * 10
    assert said.pots == (0, 0, 0)
    assert (said.studio_pots, said.ln_movement, said.level_pots) == (0, 0.0, 0)


def test_the_parts_of_the_doubt_add_up_to_the_whole():
    np.testing.assert_allclose(SPLIT.sum(axis=1), 1.0)


@pytest.mark.parametrize("shift_c", [-8.0, -3.0, 4.0, 9.0])
def test_a_well_watched_pot_tells_its_half_temperature(shift_c):
    watched = pot()
    minutes = np.arange(30.0, 78.0, 3.0)
    told = lesson([LAGOON], watched, Observed(clarities=looks(watched, [shift_c, 0, 0, 0], minutes)))

    precision = np.array(told.precision) + np.diag(1 / np.append(prior_variance(LAGOON), class_prior_sd(0)[-1] ** 2))
    mode = np.linalg.solve(precision, told.pull)
    # Exact readings, so only the prior pulls back: by the share of the doubt it still holds, at most a sixth here.
    assert mode[0] == pytest.approx(shift_c, abs=abs(shift_c) / 6)
    assert told.readings == len(minutes)


def test_the_lesson_leaves_the_prior_out():
    # Laplace's approximation of a linear Gaussian likelihood is the likelihood itself: where one number is told
    # precisely, pull over precision is that number, whatever the prior said. Ten exact looks, T50 alone in question.
    watched = pot()
    told = lesson([LAGOON], watched, Observed(clarities=looks(watched, [6.0, 0, 0, 0], np.linspace(25, 45, 10))))

    assert told.pull[0] / told.precision[0][0] == pytest.approx(6.0, abs=0.5)


def test_one_wild_reading_does_not_drag_the_others():
    watched = pot()
    good = looks(watched, [4.0, 0, 0, 0], (28.0, 34.0, 40.0, 46.0))
    wild = ClarityReading(20.0, CLEAR)  # the wrong glass: a fiftieth of that is in
    alone = t50_of(learnt([LAGOON], [lesson([LAGOON], watched, Observed(clarities=good))]))
    dragged = t50_of(learnt([LAGOON], [lesson([LAGOON], watched, Observed(clarities=(wild, *good)))]))

    # A least-squares fit with the same doubts would move by 4 °C and more; a third of the doubt may stay.
    assert abs(dragged[0] - alone[0]) < alone[1] / 3


def test_a_look_of_which_only_the_heat_is_known_tells_as_one_with_its_time():
    watched = pot()
    uptake = 0.35
    bath_c = float(np.interp(35.0, watched.bath.t_min, watched.bath.bath_c))
    by_time = lesson([LAGOON], watched, Observed(clarities=(ClarityReading(35.0, uptake),)))
    by_heat = lesson([LAGOON], watched, Observed(clarities_at_heat=(ClarityAtHeat(bath_c, uptake),)))

    np.testing.assert_allclose(by_heat.pull, by_time.pull, rtol=1e-6)
    assert lesson([LAGOON], watched, Observed(clarities_at_heat=(ClarityAtHeat(99.0, 0.5),))) is None


def test_nothing_seen_teaches_nothing():
    assert lesson([LAGOON], pot(), Observed()) is None
    assert lesson([], pot(), Observed(clarities=(ClarityReading(30.0, 0.5),))) is None
    assert lesson([LAGOON], pot(), Observed(rinses=3)) is None  # nothing here foretells waters


def test_counted_rinses_tell_of_what_there_was_to_wash_out():
    # Smooth waters: a count is rounded up, so that "3" is told by 2.5.
    watched = pot(waters=lambda _outlook, ensemble: 1.5 + np.log(ensemble.load_factor[:, 0]))
    told = lesson([LAGOON], watched, Observed(rinses=3))
    said = learnt([LAGOON], [told])

    # By hand: prior variance 0.25 of which 0.1 is the pot's; one look of variance 0.36 says +1.
    # For the dye itself: 0.15/(0.15 + 0.1 + 0.36) = 0.246, near enough in the Student weight 1/(1 + z²/4).
    assert said.mean[2] == pytest.approx(0.246, abs=0.06)
    assert said.mean[0] == pytest.approx(0.0, abs=1e-9)


def test_one_water_of_a_bath_that_was_clear_anyway_tells_of_no_load():
    # One water is given in any case: a pot that wanted none, by three waters, is as likely as one that wanted one.
    watched = pot(waters=lambda _outlook, ensemble: -2.0 + np.log(ensemble.load_factor[:, 0]))
    assert learnt([LAGOON], [lesson([LAGOON], watched, Observed(rinses=1))]).mean[2] == 0.0

    # Where more than one was expected, that one was enough does tell.
    dirty = pot(waters=lambda _outlook, ensemble: 2.5 + np.log(ensemble.load_factor[:, 0]))
    assert learnt([LAGOON], [lesson([LAGOON], dirty, Observed(rinses=1))]).mean[2] < -0.1


def test_the_eye_that_calls_a_tinted_bath_clear_is_learnt():
    watched = pot()
    generous = looks(watched, [0, 0, 0, 1.2], (45.0, 55.0, 62.0, 66.0, 70.0, 74.0))
    strict = looks(watched, [0, 0, 0, -1.2], (45.0, 55.0, 65.0, 80.0, 100.0, 115.0))

    eye = [learnt([LAGOON], 3 * [lesson([LAGOON], watched, Observed(clarities=seen))]) for seen in (generous, strict)]

    assert eye[0].mean[-1] > 0.2
    assert eye[1].mean[-1] < 0.0


def gaussian_lesson(subjects, mean, sd):
    """A lesson that tells every number of its subjects with the same standard deviation."""
    precision = np.eye(3 * len(subjects) + 1) / sd**2
    return Lesson(tuple(subjects), tuple(map(tuple, precision)), tuple(precision @ np.asarray(mean, float)), 1)


def test_pooling_is_the_conditional_normal_distribution():
    # Against scipy: the joint normal of next pot and readings, conditioned by its textbook formula, and the same
    # posterior density ratio from scipy's multivariate normal at two points.
    seen = [(LAGOON, -6.0), (LAGOON, -4.0), (HEATHER, -1.0)]
    sd = 1.5
    said = learnt([LAGOON], [gaussian_lesson([subject], [t50, 0, 0, 0], sd) for subject, t50 in seen])

    whole = class_prior_sd(1)[0] ** 2
    by_class, by_dye, by_yarn, by_pot = SPLIT[0] * whole
    same = by_class + by_dye + by_yarn
    joint = np.array(
        [
            [same + by_pot, same, same, by_class],
            [same, same + by_pot + sd**2, same, by_class],
            [same, same, same + by_pot + sd**2, by_class],
            [by_class, by_class, by_class, same + by_pot + sd**2],
        ]
    )
    gain = joint[0, 1:] @ np.linalg.inv(joint[1:, 1:])
    mean, variance = gain @ [-6.0, -4.0, -1.0], joint[0, 0] - gain @ joint[1:, 0]
    assert said.mean[0] == pytest.approx(mean, rel=1e-9)
    assert said.covariance[0][0] == pytest.approx(variance, rel=1e-9)
    density = multivariate_normal(np.zeros(4), joint)
    ratio = density.pdf([-3.0, -6, -4, -1]) / density.pdf([-5.0, -6, -4, -1])
    mine = multivariate_normal(said.mean[0], said.covariance[0][0])
    assert mine.pdf(-3.0) / mine.pdf(-5.0) == pytest.approx(ratio, rel=1e-6)


def test_kin_gains_by_how_near_it_is():
    lessons = 3 * [gaussian_lesson([LAGOON], [-6.0, 0, 0, 0], 1.0)]
    stranger = Subject("Moss", DyeClass.METAL_COMPLEX, FibreGroup.WOOL)
    said = learnt([LAGOON, LAGOON_ON_SOCK, HEATHER, stranger], lessons)
    shifts = [said.mean[3 * n] for n in range(4)]
    doubts = [said.covariance[3 * n][3 * n] for n in range(4)]

    assert shifts[0] < shifts[1] < shifts[2] < 0
    assert shifts[3] == 0
    assert doubts[0] < doubts[1] < doubts[2] < doubts[3]
    assert said.pots == (3, 0, 0, 0)


def test_an_unknown_kind_has_more_to_learn_and_learns_it():
    assert prior_variance(PINE)[0] > prior_variance(LAGOON)[0]
    said = learnt([PINE], 4 * [gaussian_lesson([PINE], [-7.0, 0, 0, 0], 1.5)])

    assert said.mean[0] < -5.5


def test_judged_pots_teach_of_movement_alone():
    level = LevelLesson(index=2.4, is_level=True, evenness_de00=0.4)
    said = learnt([LAGOON], 3 * [Lesson((), (), (), 0, level)])

    assert said.level_pots == 3
    assert said.ln_movement > 0
    assert said.studio_pots == 0


@pytest.fixture(scope="module")
def worlds():
    """Forty invented dyes, each dyed in eight pots: error of the dye's T50, its cover of the next pot, by pots seen."""
    rng = np.random.default_rng(20261126)
    sd, pot_share = class_prior_sd(1), np.append(SPLIT[:, POT], EYE_POT_FRAC)
    watched = pot()
    errors, covers, doubts = (np.empty((40, 9)) for _ in range(3))
    for world in range(40):
        dye = rng.normal(size=4) * sd * np.sqrt(1 - pot_share)
        lessons = []
        for pots in range(9):
            said = learnt([LAGOON], lessons)
            here = dye + rng.normal(size=4) * sd * np.sqrt(pot_share)
            mean, doubt = t50_of(said)
            errors[world, pots], doubts[world, pots] = mean - dye[0], doubt
            covers[world, pots] = abs(here[0] - mean) < 1.645 * doubt
            lessons.append(lesson([LAGOON], watched, Observed(clarities=seen_by_eye(watched, here, rng))))
    return errors, covers, doubts


def seen_by_eye(watched, shifts, rng):
    """Three looks as a dyer takes them: half rungs, a quarter of a rung out."""
    outlook = ahead(watched, shifts)
    seen = []
    for at_min in np.sort(rng.uniform(25, 80, 3)):
        uptake = float(np.interp(at_min, outlook.held_min, outlook.held[0]))
        rung = np.clip(np.round(2 * (-np.log2(1 - uptake) + 0.25 * rng.normal())) / 2, 0, 4.5)
        seen.append(ClarityReading(at_min, CLEAR if uptake >= outlook.clear_goal[0] else 1 - 0.5**rung))
    return tuple(seen)


def test_the_error_falls_from_pot_to_pot(worlds):
    errors, _, doubts = worlds
    rms = np.sqrt(np.mean(errors**2, axis=0))

    # One pot halves it about; theory's floor with n pots is near 2.4/√n °C, the pot's own scatter.
    assert rms[1] < 0.75 * rms[0]
    assert rms[3] < 0.55 * rms[0]
    assert rms[8] < 0.42 * rms[0]
    assert np.all(np.diff(doubts.mean(axis=0)) < 0)


def test_nine_tenths_bands_hold_nine_of_ten_pots(worlds):
    _, covers, _ = worlds

    # 40 worlds of eight taught pots: 0.90 ± 0.02 by chance alone; pots of one world hang together, so twice that.
    assert 0.85 <= covers[:, 1:].mean() <= 0.95


def test_bands_of_the_final_uptake_hold_for_a_dye_of_unknown_kind():
    # Sixty invented dyes that are levelling, 1:2 or milling, each dyed in five pots, with an activation energy of its
    # own, and then foretold. 0.90 ± 0.04 by chance alone; with no more doubt than the Gaussian sum leaves, 0.72.
    rng = np.random.default_rng(20261127)
    may_be = kinds("acid levelling", "metal complex 1:2", "acid milling")
    pine = pot("acid milling", dyes=[tuple(kind[0] for kind in may_be)])
    sd, of_pot = class_prior_sd(1), np.append(SPLIT[:, POT], EYE_POT_FRAC)
    covers = []
    for kind in np.repeat(may_be, 20, axis=0):
        dyed = pot(dyes=[tuple(map(tuple, kind))])
        row = dyed.dyes[0][0][0]
        strange = replace(row, ea_kj_mol=row.ea_kj_mol * (1 + EA_SD_FRAC * rng.normal()))
        dyed = replace(dyed, dyes=[((strange,),)])
        here = rng.normal(size=4) * sd * np.sqrt(1 - of_pot) + rng.normal(size=(6, 4)) * sd * np.sqrt(of_pot)
        told = [lesson([PINE], pine, Observed(clarities=seen_by_eye(dyed, shifts, rng))) for shifts in here[:5]]
        said = learnt([PINE], told)
        drawn = draw(pine.dyes, capacity(), is_superwash=False, samples=200, rng=rng, learnt=said)
        low, high = np.quantile(look_ahead(pine.bath, drawn, HOLD_END_MIN).bath[:, -1], [0.05, 0.95])
        covers.append(low <= ahead(dyed, here[5]).bath[0, -1] <= high)

    assert 0.84 <= np.mean(covers) <= 0.97


def test_a_rate_has_its_half_temperature():
    t50_c = np.array([45.0, 60.0, 80.0, 95.0])

    # There and back: halving 100 °C forty times leaves less than a millionth.
    np.testing.assert_allclose(t50_of_k95(k95_of_t50(t50_c, 95.0), 95.0), t50_c, atol=1e-6)
    # docs/science/uptake.md: superwash wool with a milling dye, k95 0.160 and Ea 38, is computed there as T50 52.
    assert t50_of_k95(0.160, 38.0) == pytest.approx(52.0, abs=0.5)
