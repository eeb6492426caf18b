import numpy as np
import pytest

from dyewright.core.skeins import calibrate, misfits
from dyewright.services.judging._chart import reference_of

CAMERA = np.array([[0.0091, 0.0021, -0.0004], [0.0012, 0.0085, 0.0011], [0.0002, 0.0015, 0.0081]])  # invented


@pytest.fixture(scope="module")
def reference():
    return reference_of(None, is_older_chart=False)


def seen_chart(reference, seed=1):
    """The chart through an invented camera; light falls by 1 % from patch to patch, channels scatter by 0.4 %."""
    random = np.random.default_rng(seed)
    return reference.xyz @ CAMERA.T * random.normal(1, 0.01, (24, 1)) * random.normal(1, 0.004, (24, 3))


def test_no_patch_of_a_sound_chart_is_left_out(reference):
    for seed in range(5):
        assert not misfits(seen_chart(reference, seed), reference.xyz, reference.white).any()


@pytest.mark.parametrize("covered", [[0, 1, 2, 6, 7, 8], [4, 5, 10, 11, 16, 17, 22, 23], [18, 19, 20, 21, 22, 23]])
@pytest.mark.parametrize("tag", [(0.75, 0.70, 0.55), (0.05, 0.06, 0.08)])
def test_every_patch_under_one_tag_is_named(reference, covered, tag):
    seen = seen_chart(reference)
    seen[covered] = np.array(tag) * np.linspace(0.97, 1.03, len(covered))[:, None]

    found = misfits(seen, reference.xyz, reference.white)

    # By construction nothing else is wrong. A covered patch may by chance be of the tag's colour: it reads right.
    assert set(np.flatnonzero(found)) <= set(covered)
    kept = [patch for patch in covered if not found[patch]]
    errors = calibrate(seen, reference.xyz, reference.white, is_usable=~found).fit_de00
    assert len(kept) <= 1
    assert np.all(errors[kept] < 12)


@pytest.mark.parametrize("patches", [[3], [9, 20], [2, 7, 15]])
def test_stained_patches_are_named_one_by_one(reference, patches):
    seen = seen_chart(reference)
    seen[patches] *= np.array([[0.3, 1.5, 1.0], [2.0, 0.8, 0.4], [0.5, 0.5, 2.0]])[: len(patches)]

    assert list(np.flatnonzero(misfits(seen, reference.xyz, reference.white))) == patches


def test_where_nothing_is_usable_nothing_is_found_and_nothing_breaks(reference):
    assert not misfits(seen_chart(reference), reference.xyz, reference.white, is_usable=np.zeros(24, bool)).any()


def test_a_patch_too_vivid_for_the_file_is_not_called_stained(reference):
    seen = seen_chart(reference) * 0.8
    seen[17] *= np.array([0, 1.4, 1.4])  # cyan, cut off at no red and far from the rest

    assert not misfits(seen, reference.xyz, reference.white)[17]
    seen[17, 0] = 0.01  # the same with some red is a stain
    assert misfits(seen, reference.xyz, reference.white)[17]
