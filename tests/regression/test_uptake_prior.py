"""The project's own earlier computation of the class defaults: it proves that nothing moved, not that it is right.

The figures are those of the science notes (marked there as computed from estimates).
"""

from dataclasses import replace

import numpy as np
import pytest
from pots import defaults, ramp

from dyewright.core.uptake import k95_of_t50, k95_superwash, on_fibre


@pytest.mark.parametrize(
    ("dye_class", "k95"), [("acid levelling", 0.149), ("acid milling", 0.106), ("metal complex 1:2", 0.157)]
)
def test_rate_constants_of_wool(dye_class, k95):
    assert defaults(dye_class).k95_per_min == pytest.approx(k95, rel=0.005)


@pytest.mark.parametrize(("t50_c", "ea_kj_mol", "k95"), [(72, 80, 0.211), (80, 95, 0.160), (76, 95, 0.237)])
def test_rate_constants_of_superwash(t50_c, ea_kj_mol, k95):
    assert k95_superwash(k95_of_t50(t50_c, ea_kj_mol), ea_kj_mol) == pytest.approx(k95, rel=0.005)


# At pH_ref, 1 °C/min from 40 to 96 °C, then held: E on reaching 96 °C and 20 minutes later. The notes held E∞ at the
# table's value; here it follows K0 and the dye already on the fibre, 0.01 lower.
@pytest.mark.parametrize(
    ("dye_class", "ph", "at_96", "later"),
    [
        ("acid levelling", 3.5, 0.89, 0.948),
        ("acid milling", 5.5, 0.835, 0.966),
        ("metal complex 1:2", 6.0, 0.906, 0.978),
        ("reactive dichlorotriazine", 5.0, 0.954, None),
    ],
)
def test_uptake_on_the_standard_ramp(dye_class, ph, at_96, later):
    uptake = on_fibre(ramp(to_c=96, ph=ph), defaults(dye_class))[0, 0, 0]

    assert uptake[56] == pytest.approx(at_96, abs=0.015)
    if later is not None:
        assert uptake[76] == pytest.approx(later, abs=0.013)


@pytest.mark.parametrize(
    ("pair", "finals", "gap", "at_c"),
    [
        (("acid levelling", "acid milling"), (0.95, 0.98), 0.141, 78),
        (("metal complex 1:2", "acid milling"), (0.98, 0.98), 0.094, 86),
    ],
)
def test_two_classes_are_widest_apart_where_the_notes_found_it(pair, finals, gap, at_c):
    # The notes held both dyes at their own pH_ref and their E∞ at the table's value.
    dyes = defaults(*pair)
    k0 = np.array([30 * final / (1 - final) for final in finals]).reshape(1, 2, 1)
    pot = ramp(2, depth_owf=1e-9)
    uptake = on_fibre(pot, replace(dyes, z=np.zeros((1, 2, 1)), k0_l_kg=k0))[0, :, 0]
    apart = uptake[0] - uptake[1]

    assert apart.max() == pytest.approx(gap, abs=0.01)  # E∞ rises a little as the bath is cooler
    assert pot.bath_c[np.argmax(apart)] == pytest.approx(at_c, abs=2)
