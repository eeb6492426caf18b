"""The solver against PHREEQC, over a grid of waters and doses.

PHREEQC is the U.S. Geological Survey's program, here through phreeqpython with its own `phreeqc.dat` for carbonate,
ammonium, sulphate and the ion pairs. Acetate, formate and citrate are defined here with the constants of the shipped
table (NIST database 46; ORNL for citric acid), so that the solver and its activities are tested, not those pKs.
"""

import itertools
import warnings

import pytest

from dyewright.core.acidity import AIR_CO2_ATM, solve_bath
from dyewright.data.acidity import load_acidity_tables

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import phreeqpython

# Extra acids as PHREEQC input. Activity coefficients: PHREEQC's default for a species without -gamma is Davies.
ACIDS = """
SOLUTION_MASTER_SPECIES
  Acet  Acet-  0  59.045 59.045
  Form  Form-  0  45.018 45.018
  Citr  Citr-3 0 189.10 189.10
SOLUTION_SPECIES
  Acet- = Acet-
    log_k 0
  Acet- + H+ = HAcet
    log_k 4.757
  Form- = Form-
    log_k 0
  Form- + H+ = HForm
    log_k 3.745
  Citr-3 = Citr-3
    log_k 0
  Citr-3 + H+ = HCitr-2
    log_k 6.397
  Citr-3 + 2H+ = H2Citr-
    log_k 11.156
  Citr-3 + 3H+ = H3Citr
    log_k 14.283
END
"""
NAMES = {
    "acetate": "Acet",
    "formate": "Form",
    "citrate": "Citr",
    "carbonate": "C(4)",
    "ammonium": "N(-3)",
    "sulphate": "S(6)",
    "sodium": "Na",
    "chloride": "Cl",
}
ALKALINITIES_EQ_L = (0.0, 0.001, 0.002, 0.004, 0.006)  # 0 to 300 mg/L as CaCO3


@pytest.fixture(scope="module")
def phreeqc():
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        program = phreeqpython.PhreeqPython(database="phreeqc.dat")
    program.ip.run_string(ACIDS)
    return program


def phreeqc_ph(program, totals, co2_log_atm=None):
    amounts = "\n".join(f"  {NAMES[name]} {total:.12g}" for name, total in totals.items() if total > 0)
    gas = f"EQUILIBRIUM_PHASES 1\n  CO2(g) {co2_log_atm} 10" if co2_log_atm is not None else ""
    # Amounts are mol a kilogram of water; at these strengths that is mol/L to 0.3 %, or 0.001 in pH.
    program.ip.run_string(
        f"SOLUTION 1\n  units mol/kgw\n  temp 25\n  pH 7 charge\n{amounts}\n{gas}\n"
        "SELECTED_OUTPUT\n  -reset false\n  -pH true\nEND"
    )
    return program.ip.get_selected_output_array()[-1][0]


def tap(alkalinity_eq_l):
    return {"sodium": alkalinity_eq_l, "carbonate": 1.03 * alkalinity_eq_l}


def together(*baths):
    names = {name for bath in baths for name in bath}
    return {name: sum(bath.get(name, 0.0) for bath in baths) for name in names}


@pytest.mark.parametrize("acid", ["acetate", "formate", "citrate"])
def test_acids_in_tap_waters_agree_to_two_hundredths(phreeqc, acid):
    tables = load_acidity_tables()
    doses_mol_l = (0.0005, 0.002, 0.004, 0.008, 0.016, 0.033)

    for alkalinity, dose in itertools.product(ALKALINITIES_EQ_L, doses_mol_l):
        bath = together(tap(alkalinity), {acid: dose})

        ph = solve_bath(tables, bath).ph

        # 0.02: PHREEQC gives H+, Na+ and HCO3- an extended Debye-Hückel law and we give all ions Davies.
        # A wrong charge, a missing proton or no activities at all is off by 0.05 and more.
        assert ph == pytest.approx(phreeqc_ph(phreeqc, bath), abs=0.02), (alkalinity, dose)


@pytest.mark.parametrize("soda_ash_g_l", [0.2, 1, 2, 5, 10, 15, 20])
@pytest.mark.parametrize("alkalinity", [0.0, 0.002, 0.006])
def test_soda_ash_agrees_to_five_hundredths(phreeqc, soda_ash_g_l, alkalinity):
    moles = soda_ash_g_l / 105.99
    bath = together(tap(alkalinity), {"sodium": 2 * moles, "carbonate": moles})

    ph = solve_bath(load_acidity_tables(), bath).ph

    # 0.05: at 20 g/L the ionic strength is 0.35 mol/L. Without the pair NaCO3- the gap is 0.2.
    assert ph == pytest.approx(phreeqc_ph(phreeqc, bath), abs=0.05)


@pytest.mark.parametrize(
    "bath",
    [
        pytest.param({"sodium": 0.0595, "carbonate": 0.0595}, id="bicarbonate 5 g/L"),
        pytest.param({"acetate": 0.02, "sodium": 0.01}, id="acetic acid half neutralised"),
        pytest.param({"acetate": 0.01, "sodium": 0.0704, "sulphate": 0.0352}, id="vinegar with Glauber's salt 5 g/L"),
        pytest.param({"acetate": 0.01, "sodium": 0.171, "chloride": 0.171}, id="vinegar with salt 10 g/L"),
        pytest.param({"ammonium": 0.015, "sulphate": 0.0075, "acetate": 0.002}, id="vinegar with ammonium sulphate"),
        pytest.param({"ammonium": 0.01}, id="ammonia"),
    ],
)
def test_salts_and_buffers_agree(phreeqc, bath):
    ph = solve_bath(load_acidity_tables(), bath).ph

    # 0.03: PHREEQC's ions of their own size at ionic strengths to 0.2 mol/L; and its ammonia pK is 9.252, ours 9.244.
    assert ph == pytest.approx(phreeqc_ph(phreeqc, bath), abs=0.03)


@pytest.mark.parametrize("alkalinity", ALKALINITIES_EQ_L)
@pytest.mark.parametrize("acetate", [0.0, 0.00166, 0.00416])
def test_open_baths_agree(phreeqc, alkalinity, acetate):
    tables, bath = load_acidity_tables(), {"sodium": alkalinity, "acetate": acetate}

    ph = solve_bath(tables, bath, co2_atm=AIR_CO2_ATM).ph

    # log10(4.2e-4) = -3.3768
    assert ph == pytest.approx(phreeqc_ph(phreeqc, bath, co2_log_atm=-3.3768), abs=0.02)
