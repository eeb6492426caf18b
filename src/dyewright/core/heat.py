"""Temperature of a pot through a programme: what the heat can do, what is lost, what evaporates.

Sources: [1] energy balance of a stirred vessel, dT/dt = (eta P - Q_loss) / C, any text on heat transfer.
[2] specific heats, kJ/(kg K): water 4.186, wool 1.36, steel 0.50, from memory.
[3] evaporation: the pool form of the ASHRAE Handbook, HVAC Applications, W = A (0.089 + 0.0782 v) (p_w - p_a) / h_fg
with W in kg/s, A in m2, pressures in kPa, h_fg in kJ/kg, still air (v = 0), from memory.
[4] vapour pressure: O. A. Alduchov and R. E. Eskridge, J. Appl. Meteorol. 35 (1996) 601, the Magnus form
6.1094 exp(17.625 T / (T + 243.04)) hPa, fitted for -40 to 50 degC; it reads 2 to 3 % high at 100 degC, far inside the
uncertainty of [3].
Loss coefficients are estimates. The bath is taken as well stirred.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

from dyewright.core.model import (
    CoolTo,
    Enter,
    HeatCurve,
    HeatSource,
    Hold,
    Pot,
    Stage,
    StageHeat,
    StageKind,
    ThermalPot,
    To,
)
from dyewright.errors import InputError

__all__ = [
    "ROOM_C",
    "evaporation_kg_s",
    "full_power_c",
    "full_power_min",
    "heat_capacity_kj_k",
    "heat_curve",
    "heat_loss_w",
    "pot_diameter_m",
    "stagnation_c",
    "thermal_pot",
    "vapour_pressure_kpa",
]

WATER_KJ_KG_K, WOOL_KJ_KG_K, STEEL_KJ_KG_K = 4.186, 1.36, 0.50  # [2]
SIDE_W_M2_K = 10.0  # estimate: free convection and radiation of a bright steel pot
TOP_W_M2_K = 10.0  # estimate, lid or open surface (the evaporation of an open one comes apart)
LID_EVAPORATION_FRAC = 0.05  # estimate: vapour that escapes under a loose lid
AIR_HUMIDITY_FRAC = 0.5  # estimate: a kitchen
POT_G_PER_L = 120.0  # estimate: a stainless stockpot with lid weighs about 1.2 kg for 10 L
ROOM_C = 20.0  # estimate: a studio in work
BOIL_C = 100.0  # at sea level
MOST_W = 50_000.0  # estimate: no studio's pot takes more
STEP_MIN = 0.5  # nothing bends faster than the pot's own time constant, hours: steps of 0.02 min differ by 0.001 °C
SAMPLE_MIN = 0.5
LATE_MIN = 0.1  # beyond the twentieth that a rise may take longer
CREEP_C_PER_MIN = 0.02  # a rise slower than this is no heating any more
LONGEST_MIN = 24 * 60.0


def vapour_pressure_kpa(water_c: float) -> float:
    """Return the saturation pressure of water vapour in kPa, 0 to 100 °C [4]."""
    return 0.61094 * math.exp(17.625 * water_c / (water_c + 243.04))


def evaporation_kg_s(bath_c: float, surface_m2: float, room_c: float = ROOM_C) -> float:
    """Return the water that leaves a free, still surface, kg/s [3]; never negative (dew is left out)."""
    h_fg_kj_kg = 2501 - 2.36 * bath_c  # from memory: linear latent heat, 2265 kJ/kg at 100 °C
    p_w, p_a = vapour_pressure_kpa(bath_c), AIR_HUMIDITY_FRAC * vapour_pressure_kpa(room_c)
    return max(0.0, surface_m2 * 0.089 * (p_w - p_a) / h_fg_kj_kg)


def _escaping_frac(pot: ThermalPot) -> float:
    return pot.loss_factor * pot.evaporation_frac * (LID_EVAPORATION_FRAC if pot.has_lid else 1.0)


def _evaporation_w(pot: ThermalPot, bath_c: float, room_c: float) -> float:
    h_fg_kj_kg = 2501 - 2.36 * bath_c
    return _escaping_frac(pot) * evaporation_kg_s(bath_c, pot.top_m2, room_c) * h_fg_kj_kg * 1000


def heat_loss_w(pot: ThermalPot, bath_c: float, room_c: float = ROOM_C) -> float:
    """Return the heat that a pot loses at a bath temperature, W: side, top and vapour, times its loss factor."""
    dry_w = (SIDE_W_M2_K * pot.side_m2 + TOP_W_M2_K * pot.top_m2) * (bath_c - room_c)
    return pot.loss_factor * dry_w + _evaporation_w(pot, bath_c, room_c)


def heat_capacity_kj_k(pot: ThermalPot) -> float:
    """Return the heat capacity of water, yarn and pot, kJ/K [2]."""
    return WATER_KJ_KG_K * pot.water_l + (WOOL_KJ_KG_K * pot.fibre_g + STEEL_KJ_KG_K * pot.pot_g) / 1000


def pot_diameter_m(pot: Pot, source: HeatSource) -> float:
    """Return the pot's diameter in m: as measured, else that of a cylinder of the source's usual proportions."""
    if pot.diameter_m is not None:
        return pot.diameter_m
    return math.cbrt(4 * pot.volume_l / 1000 / (math.pi * source.height_to_diameter))


def thermal_pot(pot: Pot, source: HeatSource, *, water_l: float, fibre_g: float) -> ThermalPot:
    """Return a pot with its load, reduced to what its temperature depends on.

    Args:
        pot: `power_w` None takes the source's usual power; a measured `useful_w` wins over the source's efficiency.
        source: the row of what heats it.
        water_l: liquor in this pot, L, > 0.
        fibre_g: dry yarn in this pot, g, >= 0.

    Raises:
        InputError: no heat, or a diameter that no pot of this volume has.
    """
    power = source.default_power_w if pot.power_w is None else pot.power_w
    useful = power * source.efficiency_frac if pot.useful_w is None else pot.useful_w
    for name, heat_w in (("power", power), ("useful", useful)):
        if not (math.isfinite(heat_w) and 0 < heat_w <= MOST_W):
            raise InputError(
                f"a pot's heat lies between 0 and 50 kW, got {heat_w:g} W",
                field=f"pot.{name}",
                value=heat_w,
                limit=MOST_W,
            )
    diameter = pot_diameter_m(pot, source)
    top = math.pi * diameter**2 / 4
    height = pot.volume_l / 1000 / top
    if not 0.02 <= height / diameter <= 10:
        raise InputError(
            f"a pot of {pot.volume_l:g} L cannot be {100 * diameter:g} cm across: it would be {100 * height:.0f} cm "
            "high; measure the diameter again, or leave it out",
            field="pot.diameter",
            value=diameter,
        )
    return ThermalPot(
        water_l=water_l,
        fibre_g=fibre_g,
        pot_g=POT_G_PER_L * pot.volume_l,
        useful_w=useful,
        efficiency_frac=_efficiency_frac(pot, source),
        side_m2=math.pi * diameter * height,
        top_m2=top,
        has_lid=pot.has_lid,
        evaporation_frac=source.evaporation_frac,
        loss_factor=pot.loss_factor,
    )


def _efficiency_frac(pot: Pot, source: HeatSource) -> float:
    """Return the share of the drawn power that enters the pot: as measured where its plate says what it draws."""
    if pot.useful_w is None or pot.power_w is None:
        return source.efficiency_frac
    return min(1.0, pot.useful_w / pot.power_w)


def stagnation_c(pot: ThermalPot, room_c: float = ROOM_C) -> float:
    """Return the temperature at which losses eat the whole power; 100 °C where the pot can boil."""
    low, high = room_c, BOIL_C
    if heat_loss_w(pot, high, room_c) <= pot.useful_w:
        return BOIL_C
    for _ in range(50):  # bisection: the loss rises with temperature
        middle = (low + high) / 2
        low, high = (middle, high) if heat_loss_w(pot, middle, room_c) < pot.useful_w else (low, middle)
    return low


def full_power_min(pot: ThermalPot, from_c: float, to_c: float, room_c: float = ROOM_C) -> float | None:
    """Return the minutes from one temperature to another with the heat fully on; None where the pot never gets there.

    The integral of C dT / (P - Q(T)) [1], by Simpson's rule over 200 steps.
    """
    if to_c <= from_c:
        return 0.0
    if to_c > BOIL_C or heat_loss_w(pot, to_c, room_c) >= pot.useful_w:
        return None
    n = 200
    h = (to_c - from_c) / n
    slowness = [1 / (pot.useful_w - heat_loss_w(pot, from_c + i * h, room_c)) for i in range(n + 1)]
    simpson = h / 3 * (slowness[0] + slowness[-1] + 4 * sum(slowness[1:-1:2]) + 2 * sum(slowness[2:-1:2]))
    return heat_capacity_kj_k(pot) * 1000 * simpson / 60


def full_power_c(pot: ThermalPot, from_c: float, t_min: Sequence[float], room_c: float = ROOM_C) -> list[float]:
    """Return the bath's temperature, °C, at some times with the heat fully on; water stays at 100 °C once it boils.

    Args:
        pot: the pot with its load.
        from_c: temperature at the first of the times, 0 to 100 °C.
        t_min: minutes, rising.
        room_c: air around the pot, °C.
    """
    bath = _Bath(pot, room_c, from_c, t_min=t_min[0])
    reached = [from_c]
    for at_min in t_min[1:]:
        steps = max(1, math.ceil((at_min - bath.t_min) / STEP_MIN))
        step_min = (at_min - bath.t_min) / steps
        for _ in range(steps):
            bath.step(lambda _: pot.useful_w, step_min)
            bath.bath_c = min(BOIL_C, bath.bath_c)
        reached.append(bath.bath_c)
    return reached


@dataclass
class _Bath:
    """The state that is stepped through the programme."""

    pot: ThermalPot
    room_c: float
    bath_c: float
    t_min: float = 0.0
    given_j: float = 0.0
    lost_j: float = 0.0
    evaporated_kg: float = 0.0
    times: list[float] = field(default_factory=list)
    temperatures: list[float] = field(default_factory=list)

    def step(self, useful_w: Callable[[float], float], step_min: float) -> None:
        """Advance by the midpoint rule; useful_w gives the heat put in at a bath temperature."""
        capacity, dt = heat_capacity_kj_k(self.pot) * 1000, 60 * step_min
        start_w = useful_w(self.bath_c) - heat_loss_w(self.pot, self.bath_c, self.room_c)
        middle_c = min(BOIL_C, self.bath_c + start_w * dt / 2 / capacity)
        given, lost = useful_w(middle_c), heat_loss_w(self.pot, middle_c, self.room_c)
        self.given_j += given * dt
        self.lost_j += lost * dt
        self.evaporated_kg += _escaping_frac(self.pot) * evaporation_kg_s(middle_c, self.pot.top_m2, self.room_c) * dt
        self.bath_c += (given - lost) * dt / capacity
        self.t_min += step_min

    def record(self) -> None:
        """Keep the present point of the curve."""
        self.times.append(self.t_min)
        self.temperatures.append(self.bath_c)


def _power_for(bath: _Bath, c_per_min: float | None) -> Callable[[float], float]:
    """Return the heat that a careful hand on the knob gives to follow a rate; fully on where there is none."""
    if c_per_min is None:
        return lambda _: bath.pot.useful_w
    rise_w = heat_capacity_kj_k(bath.pot) * 1000 * c_per_min / 60
    return lambda at_c: min(bath.pot.useful_w, max(0.0, rise_w + heat_loss_w(bath.pot, at_c, bath.room_c)))


def _run(bath: _Bath, useful_w: Callable[[float], float], *, until_c: float | None, for_min: float) -> None:
    """Step until a temperature is reached (from either side), the time is over, or nothing moves any more."""
    started, from_c = bath.t_min, bath.bath_c
    while bath.t_min - started < for_min - 1e-9:
        left = for_min - (bath.t_min - started)
        to_sample = SAMPLE_MIN - math.fmod(bath.t_min, SAMPLE_MIN)
        step = min(STEP_MIN, left, to_sample if to_sample > 1e-9 else SAMPLE_MIN)
        before_c = bath.bath_c
        if until_c is not None:
            step = _step_not_past(bath, useful_w, until_c, step)
        bath.step(useful_w, step)
        if math.fmod(bath.t_min + 1e-9, SAMPLE_MIN) < 2e-9:
            bath.record()
        if until_c is None:
            continue
        has_arrived = abs(bath.bath_c - until_c) < 1e-6 or (bath.bath_c - until_c) * (from_c - until_c) < 0
        if has_arrived or abs(bath.bath_c - before_c) < CREEP_C_PER_MIN * step:
            return


def _step_not_past(bath: _Bath, useful_w: Callable[[float], float], until_c: float, step_min: float) -> float:
    """Return the step that ends at until_c where a full one would pass it."""
    net_w = useful_w(bath.bath_c) - heat_loss_w(bath.pot, bath.bath_c, bath.room_c)
    c_per_min = net_w * 60 / (heat_capacity_kj_k(bath.pot) * 1000)
    if c_per_min == 0:
        return step_min
    needed = (until_c - bath.bath_c) / c_per_min
    return needed if 0 < needed < step_min else step_min


def _heat(bath: _Bath, stage: To) -> StageHeat:
    start, start_c = bath.t_min, bath.bath_c
    rate = stage.rate_c_per_min
    if stage.to_c > start_c:
        _run(bath, _power_for(bath, rate), until_c=stage.to_c, for_min=LONGEST_MIN)
    else:
        return _cool(bath, CoolTo(stage.to_c))
    asked = None if rate is None else (stage.to_c - start_c) / rate
    is_late = asked is not None and bath.t_min - start > asked * 1.05 + LATE_MIN
    is_cold = bath.bath_c < stage.to_c - 0.5
    return StageHeat(
        StageKind.TO, start, bath.t_min, start_c, bath.bath_c, stage.to_c, rate, is_short=is_late or is_cold
    )


def _hold(bath: _Bath, stage: Hold) -> StageHeat:
    start, start_c = bath.t_min, bath.bath_c
    _run(bath, _power_for(bath, 0.0), until_c=None, for_min=stage.hold_min)
    is_short = bath.bath_c < start_c - 0.5
    return StageHeat(StageKind.HOLD, start, bath.t_min, start_c, bath.bath_c, start_c, None, is_short=is_short)


def _cool(bath: _Bath, stage: CoolTo) -> StageHeat:
    """Let the bath cool with the heat off; under a lid where there is one."""
    start, start_c = bath.t_min, bath.bath_c
    if stage.to_c < start_c:
        _run(bath, lambda _: 0.0, until_c=stage.to_c, for_min=LONGEST_MIN)
    is_short = bath.bath_c > stage.to_c + 0.5
    return StageHeat(StageKind.COOL, start, bath.t_min, start_c, bath.bath_c, stage.to_c, None, is_short=is_short)


def _checked(stages: Sequence[Stage]) -> float:
    """Return the temperature of entering, after checking the programme's limits."""
    if not stages or not isinstance(stages[0], Enter) or any(isinstance(s, Enter) for s in stages[1:]):
        raise InputError(
            "a programme begins with the temperature of entering (enter), has no other, and then heats, holds or cools",
            field="stage",
        )
    for stage in stages:
        at_c = stage.at_c if isinstance(stage, Enter) else stage.to_c if isinstance(stage, To | CoolTo) else 0.0
        if not 0 <= at_c <= BOIL_C:
            raise InputError(
                f"a bath stays between 0 and {BOIL_C:g} °C, the programme asks for {at_c:g} °C",
                field="stage",
                value=at_c,
                limit=BOIL_C,
            )
        rate = stage.rate_c_per_min if isinstance(stage, To) else None
        if rate is not None and rate <= 0:
            raise InputError(f"a heating rate is above 0 °C/min, got {rate:g}", field="stage.rate", value=rate)
        if isinstance(stage, Hold) and not 0 <= stage.hold_min <= LONGEST_MIN:
            raise InputError(
                f"a hold lasts from 0 min to a day, got {stage.hold_min:g} min",
                field="stage.hold",
                value=stage.hold_min,
            )
    return stages[0].at_c


def heat_curve(pot: ThermalPot, stages: Sequence[Stage], room_c: float = ROOM_C) -> HeatCurve:
    """Return the temperature that a programme really gives in this pot, from heat on (t = 0).

    A rise follows its rate where the heat suffices and is slower where not; a hold stays while the heat covers the
    losses; cooling is by itself. The liquor that evaporates is counted but not taken off the heat capacity.

    Args:
        pot: the pot with its load.
        stages: begins with Enter; temperatures 0 to 100 °C.
        room_c: air around the pot, °C.

    Raises:
        InputError: the programme does not begin with one Enter, leaves 0 to 100 °C, or takes no time.
    """
    enter_c = _checked(stages)
    bath = _Bath(pot, room_c, enter_c)
    bath.record()
    done: list[StageHeat] = []
    for stage in stages[1:]:
        match stage:
            case To():
                done.append(_heat(bath, stage))
            case Hold():
                done.append(_hold(bath, stage))
            case CoolTo():
                done.append(_cool(bath, stage))
        if bath.t_min > bath.times[-1] + 1e-6:
            bath.record()
    if bath.t_min <= 0:
        raise InputError(
            f"the programme ends as it begins, at {enter_c:g} °C after 0 min: add a stage that heats, or one "
            "that holds for some minutes",
            field="stage",
            value=0,
            limit=0,
        )
    return HeatCurve(
        t_min=tuple(round(t, 6) for t in bath.times),
        bath_c=tuple(bath.temperatures),
        stages=tuple(replace(s, start_min=round(s.start_min, 6), end_min=round(s.end_min, 6)) for s in done),
        evaporated_l=bath.evaporated_kg,
        energy_kwh=bath.given_j / pot.efficiency_frac / 3.6e6,
        given_kj=bath.given_j / 1000,
        kept_kj=heat_capacity_kj_k(pot) * (bath.bath_c - enter_c),
        lost_kj=bath.lost_j / 1000,
    )
