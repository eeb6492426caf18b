"""How fast a forecast is, and how that compares with an ODE solver on the same model at equal accuracy.

Goals: three dyes, 90 minutes, 200 samples in at most 100 ms; an update after a reading in at most 150 ms; at least 50
times as fast as scipy's solve_ivp with the same equation and the same error in y = E² (1e-6). The solver runs sample by
sample (LSODA) and with all samples as one system (DOP853). Run it on an idle machine.
"""

import statistics
import time
from dataclasses import replace

import numpy as np
from scipy.integrate import solve_ivp

from dyewright.core.model import ClarityReading, DyeClass, Fibre
from dyewright.core.uptake import (
    DyeBath,
    Ensemble,
    arrhenius,
    draw,
    equilibrium_shares,
    first_reached_min,
    half_saturation_ph,
    look_ahead,
    on_fibre,
    partition_l_kg,
    quantile_band,
    rate_at_ph,
    reweigh,
)
from dyewright.data.uptake import load_uptake

SAMPLES, MINUTES = 200, 90
CLASSES = (DyeClass.ACID_LEVELLING, DyeClass.ACID_MILLING, DyeClass.METAL_COMPLEX)


def pot() -> DyeBath:
    t_min = np.arange(MINUTES + 1.0)
    ph = np.full_like(t_min, 4.5)
    bath_c = np.minimum(40 + t_min, 95)
    return DyeBath(t_min, bath_c, ph, ph, 30.0, np.ones(1), np.array([0.008, 0.005, 0.003]))


def samples() -> Ensemble:
    tables = load_uptake()
    kinds = [[(tables.rows[Fibre.WOOL, one],)] for one in CLASSES]
    held = [tables.saturation_owf[Fibre.WOOL]]
    return draw(kinds, held, is_superwash=False, samples=SAMPLES, rng=np.random.default_rng(1))


def median_s(task, times: int = 15) -> float:
    spent = []
    for _ in range(times):
        start = time.perf_counter()
        task()
        spent.append(time.perf_counter() - start)
    return statistics.median(spent)


def slope_of(bath: DyeBath, ensemble: Ensemble):
    """Return dy/dt of every sample's dyes as one vector, built from the package's own rate and equilibrium."""
    half_ph, ph = float(half_saturation_ph(0.0)), float(bath.ph_low[0])
    one = {name: getattr(ensemble, name) for name in ("ea_kj_mol", "k95_per_min", "k0_l_kg", "z", "theta0", "ph_ref")}
    scale = rate_at_ph(ph, one["ph_ref"], half_ph=half_ph, z=one["z"], theta0=one["theta0"])

    def slope(t_min: float, y: np.ndarray) -> np.ndarray:
        bath_c = np.interp(t_min, bath.t_min, bath.bath_c)
        partition = partition_l_kg(
            bath_c, ph, half_ph=half_ph, k0_l_kg=one["k0_l_kg"], z=one["z"], theta0=one["theta0"]
        )
        shares = equilibrium_shares(
            partition[..., None],
            liquor_l_kg=bath.liquor_l_kg,
            fibre_frac=bath.fibre_frac,
            depth_owf=bath.depth_owf,
            saturation_owf=ensemble.saturation_owf,
        )
        k = one["k95_per_min"] * arrhenius(bath_c, one["ea_kj_mol"]) * scale * 30.0 / bath.liquor_l_kg
        return (k * (shares[..., 0] ** 2 - y.reshape(k.shape))).ravel()

    return slope


def solved(bath: DyeBath, ensemble: Ensemble, rtol: float, method: str) -> np.ndarray:
    """Return y of all samples and dyes over the bath's minutes, started afresh at the ramp's end."""
    slope, kink = slope_of(bath, ensemble), 55.0
    y = np.zeros(ensemble.k95_per_min.size)
    parts = [y[:, None]]
    for start, end in ((0.0, kink), (kink, float(MINUTES))):
        times = bath.t_min[(bath.t_min > start) & (bath.t_min <= end)]
        run = solve_ivp(slope, (start, end), y, method=method, t_eval=times, rtol=rtol, atol=rtol / 10)
        parts.append(run.y)
        y = run.y[:, -1]
    return np.concatenate(parts, axis=1)


def sample(ensemble: Ensemble, n: int) -> Ensemble:
    """Return one sample of an ensemble."""
    return replace(ensemble, **{name: v[n : n + 1] for name, v in vars(ensemble).items() if name != "saturation_owf"})


def tolerance_for(bath: DyeBath, ensemble: Ensemble, exact: np.ndarray, method: str) -> float:
    """Return the loosest relative tolerance with which the solver keeps y within 1e-6."""
    for exponent in range(3, 12):
        rtol = 10.0**-exponent
        if np.max(np.abs(solved(bath, ensemble, rtol, method) - exact)) <= 1e-6:
            return rtol
    raise RuntimeError("no tolerance reaches the goal")


def main() -> None:
    bath, ensemble = pot(), samples()
    ours = median_s(lambda: on_fibre(bath, ensemble))
    exact = solved(bath, ensemble, 1e-11, "DOP853")
    error = np.max(np.abs(on_fibre(bath, ensemble).reshape(-1, MINUTES + 1) ** 2 - exact))

    def banded() -> None:
        curves = on_fibre(bath, samples()).sum(axis=2)
        quantile_band(curves, np.full(SAMPLES, 1 / SAMPLES))

    outlook = look_ahead(bath, ensemble, float(MINUTES))

    def updated() -> None:
        weights = reweigh((ClarityReading(40.0, 0.5),), outlook.held_min, outlook.held, outlook.clear_goal).weights
        quantile_band(outlook.exhaustion, weights)
        quantile_band(first_reached_min(outlook.held_min, outlook.held, outlook.clear_goal), weights)

    print(f"three dyes, {MINUTES} min, {SAMPLES} samples: curves {1000 * ours:.1f} ms, error in y {error:.1e}")
    print(f"  with drawing and bands {1000 * median_s(banded):.1f} ms (goal 100)")
    print(f"  update after a reading {1000 * median_s(updated):.1f} ms (goal 150)")
    first = sample(ensemble, 0)
    rtol = tolerance_for(bath, first, exact[: len(CLASSES)], "LSODA")
    one = median_s(lambda: solved(bath, first, rtol, "LSODA"), 5) * SAMPLES
    print(f"  solve_ivp, sample by sample (LSODA, rtol {rtol:.0e}): {one:.2f} s, ratio {one / ours:.0f} (goal 50)")
    rtol = tolerance_for(bath, ensemble, exact, "DOP853")
    together = median_s(lambda: solved(bath, ensemble, rtol, "DOP853"), 5)
    print(f"  solve_ivp, all as one system (DOP853, rtol {rtol:.0e}): {together:.2f} s, ratio {together / ours:.0f}")


if __name__ == "__main__":
    main()
