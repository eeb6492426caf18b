"""How fast a forecast is, and how that compares with an ODE solver on the same model at equal accuracy.

Goals: three dyes, 90 minutes, 200 samples in at most 100 ms; an update after a reading in at most 150 ms, also where
samples are drawn anew; at least 50 times as fast as scipy's solve_ivp with the same equation and the same error in
y = E² (1e-6). The solver runs sample by sample (LSODA) and with all samples as one system (DOP853): both ratios are
told. Times are of the processor, so that a shared machine disturbs them less.
"""

import statistics
import time
from dataclasses import replace

import numpy as np
from scipy.integrate import solve_ivp

from dyewright.core.model import ClarityReading, DyeClass, Fibre, Learnt
from dyewright.core.uptake import (
    Drawn,
    DyeBath,
    Ensemble,
    arrhenius,
    clarity_look,
    draw,
    equilibrium_shares,
    first_reached_min,
    followed,
    half_saturation_ph,
    look_ahead,
    on_fibre,
    partition_l_kg,
    prior_of,
    quantile_band,
    rate_at_ph,
)
from dyewright.data.uptake import load_uptake

SAMPLES, MINUTES = 200, 90
CLASSES = (DyeClass.ACID_LEVELLING, DyeClass.ACID_MILLING, DyeClass.METAL_COMPLEX)


def pot(step_min: float = 1.0) -> DyeBath:
    t_min = np.unique(np.append(np.arange(0.0, MINUTES + 1.0, step_min), 55.0))
    ph = np.full_like(t_min, 4.5)
    bath_c = np.minimum(40 + t_min, 95)
    return DyeBath(t_min, bath_c, ph, ph, 30.0, np.ones(1), np.array([0.008, 0.005, 0.003]))


def samples(known: Learnt | None = None) -> Ensemble:
    tables = load_uptake()
    kinds = [[(tables.rows[Fibre.WOOL, one],)] for one in CLASSES]
    held = [tables.saturation_owf[Fibre.WOOL]]
    return draw(kinds, held, is_superwash=False, samples=SAMPLES, rng=np.random.default_rng(1), learnt=known)


def median_s(task, times: int = 15) -> float:
    spent = []
    for _ in range(times):
        start = time.process_time()
        task()
        spent.append(time.process_time() - start)
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

    coarse = pot(2.0)
    near = exact[:, coarse.t_min.astype(int)]
    coarse_error = np.max(np.abs(on_fibre(coarse, ensemble).reshape(-1, coarse.t_min.size) ** 2 - near))
    quick = median_s(lambda: on_fibre(coarse, ensemble))

    def banded() -> None:
        curves = on_fibre(bath, samples()).sum(axis=2)
        quantile_band(curves, np.full(SAMPLES, 1 / SAMPLES))

    first = Drawn(ensemble, look_ahead(bath, ensemble, float(MINUTES)))

    def updated(*readings: ClarityReading) -> int:
        found = followed(
            first,
            prior_of(None, len(CLASSES)),
            lambda drawn: [clarity_look("", reading, drawn.outlook) for reading in readings],
            lambda known, _: Drawn(one := samples(known), look_ahead(bath, one, float(MINUTES))),
        )
        outlook = found.drawn.outlook
        quantile_band(outlook.exhaustion, found.weights)
        quantile_band(first_reached_min(outlook.held_min, outlook.held, outlook.clear_goal), found.weights)
        return found.weights.size

    usual, unusual = (ClarityReading(40.0, 0.75),), (ClarityReading(30.0, 0.9), ClarityReading(40.0, 0.95))
    print(f"three dyes, {MINUTES} min, {SAMPLES} samples: curves {1000 * ours:.1f} ms, error in y {error:.1e}")
    print(f"  in steps of two minutes {1000 * quick:.1f} ms, error in y {coarse_error:.1e}: what 1e-6 asks for")
    print(f"  with drawing and bands {1000 * median_s(banded):.1f} ms (goal 100)")
    for name, readings in (("a reading", usual), ("two unusual readings", unusual)):
        spent = 1000 * median_s(lambda readings=readings: updated(*readings))
        print(f"  update after {name} {spent:.1f} ms with {updated(*readings)} samples (goal 150)")
    alone = sample(ensemble, 0)
    rtol = tolerance_for(bath, alone, exact[: len(CLASSES)], "LSODA")
    one = median_s(lambda: solved(bath, alone, rtol, "LSODA"), 5) * SAMPLES
    print(f"  solve_ivp, sample by sample (LSODA, rtol {rtol:.0e}): {one:.2f} s, ratio {one / ours:.0f} (goal 50)")
    print(f"    against steps of two minutes {one / quick:.0f}")
    rtol = tolerance_for(bath, ensemble, exact, "DOP853")
    together = median_s(lambda: solved(bath, ensemble, rtol, "DOP853"), 5)
    print(f"  solve_ivp, all as one system (DOP853, rtol {rtol:.0e}): {together:.2f} s, ratio {together / ours:.0f}")
    print(f"    against steps of two minutes {together / quick:.0f}")


if __name__ == "__main__":
    main()
