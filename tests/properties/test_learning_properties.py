"""What must hold of learning whatever pots taught."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from dyewright.core.learning import learnt, prior_variance
from dyewright.core.model import DyeClass, FibreGroup, Lesson, Subject

DYES = (("Lagoon", DyeClass.ACID_MILLING), ("Heather", DyeClass.ACID_MILLING), ("Pine", DyeClass.ACID_UNKNOWN))
SUBJECTS = [Subject(*dye, yarn) for dye in DYES for yarn in (FibreGroup.WOOL, FibreGroup.SUPERWASH)]


@st.composite
def lessons(draw):
    """One to five lessons of one to three dyes each, as precise or vague as they come, some about few directions."""
    told = []
    for _ in range(draw(st.integers(1, 5))):
        subjects = draw(st.lists(st.sampled_from(SUBJECTS), min_size=1, max_size=3, unique=True))
        size = 3 * len(subjects) + 1
        looks = draw(st.integers(1, 4))
        numbers = draw(st.lists(st.floats(-2, 2), min_size=looks * (size + 1), max_size=looks * (size + 1)))
        jacobian = np.reshape(numbers, (looks, size + 1))
        precision, pull = jacobian[:, :-1].T @ jacobian[:, :-1], jacobian[:, :-1].T @ jacobian[:, -1]
        told.append(Lesson(tuple(subjects), tuple(map(tuple, precision.tolist())), tuple(pull.tolist()), looks))
    return told


@given(lessons(), st.randoms(use_true_random=False))
@settings(max_examples=40, deadline=None)
def test_the_order_of_the_pots_is_of_no_account(told, random):
    shuffled = list(told)
    random.shuffle(shuffled)
    one, other = learnt(SUBJECTS[:3], told), learnt(SUBJECTS[:3], shuffled)

    np.testing.assert_allclose(one.mean, other.mean, rtol=1e-6, atol=1e-9)
    np.testing.assert_allclose(one.covariance, other.covariance, rtol=1e-6, atol=1e-9)
    assert one.pots == other.pots


@given(lessons())
@settings(max_examples=40, deadline=None)
def test_what_is_learnt_can_be_drawn_from_and_is_no_vaguer_than_before(told):
    said = learnt(SUBJECTS, told)
    covariance = np.array(said.covariance)
    before = np.concatenate([prior_variance(subject) for subject in SUBJECTS])

    assert np.all(np.linalg.eigvalsh(covariance) > 0)
    assert np.all(np.diag(covariance)[:-1] <= before + 1e-9)


@given(lessons(), lessons())
@settings(max_examples=30, deadline=None)
def test_another_pot_never_makes_a_taught_dye_vaguer(told, more):
    subjects = list(dict.fromkeys(subject for one in told for subject in one.subjects))
    before, after = learnt(subjects, told), learnt(subjects, [*told, *more])

    assert np.all(np.diag(after.covariance) <= np.diag(before.covariance) + 1e-9)
