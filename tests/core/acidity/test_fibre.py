import math

import numpy as np
import pytest

from dyewright.core.acidity import acid_bound, donnan_log_ratio, fixed_charge, half_saturation_ph
from dyewright.core.model import Fibre
from dyewright.data.acidity import load_acidity_tables
from dyewright.errors import InputError

WOOL = load_acidity_tables().fibres[Fibre.WOOL]


def test_half_the_acid_sites_are_filled_at_the_inner_pk():
    # By hand at pH 4.30: 0.50 + 0.07/(1 + 10^-2.2) + 0.25 - 0.82/2 = 0.4096.
    assert fixed_charge(WOOL, 4.30) == pytest.approx(0.4096, abs=1e-4)


def test_fixed_charge_takes_arrays():
    charges = fixed_charge(WOOL, np.array([0.0, 7.0, 13.0]))

    assert charges.shape == (3,)
    assert np.all(np.diff(charges) < 0)


def test_the_donnan_ratio_makes_the_inside_neutral():
    ions = {1: 0.0101, -1: 0.0101, -2: 0.0}
    u = donnan_log_ratio(WOOL, 4.0, ions)

    inside = 0.30 * (0.0101 * math.exp(-u) - 0.0101 * math.exp(u))  # V = 0.30 L/kg
    assert inside + fixed_charge(WOOL, 4.0 + u / math.log(10)) == pytest.approx(0, abs=1e-9)


def test_the_zero_point_is_near_ph_6():
    # Reference notes B3: 6.0 in this model; Steinhardt and Harris found it near 6.4.
    assert acid_bound(WOOL, 5.9, {1: 0.1, -1: 0.1}) > 0 > acid_bound(WOOL, 6.5, {1: 0.1, -1: 0.1})


def test_negative_salt_is_refused():
    with pytest.raises(InputError, match="0 mol/L or more"):
        half_saturation_ph(WOOL, -0.1)
