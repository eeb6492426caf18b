"""Amounts of a dye bath: dye, stock solution, liquor, pots.

Sources: [1] definitions of depth of shade and liquor ratio: lecture slides "Fundamentals: basic terminologies in
dyeing", V.F.S.T.R. University (4 kg dye on 100 kg goods is a 4 % shade; 100 kg in 1000 L is 1:10).
[2] Water retention and fibre density: the table `fibre_water` and its provenance.
Limits of a reading, of a pot's filling and of a usual liquor are common practice, no source, unless said.
"""

import math
from collections.abc import Mapping, Sequence

from dyewright.core.model import Drain, Fibre, FibreWater, StockHint, Weigh, Yarn
from dyewright.errors import InputError

__all__ = [
    "LEAST_DOSE_L",
    "STOCK_STRENGTHS_G_L",
    "bone_dry_g",
    "check_kept",
    "dye_mass_g",
    "fibre_volume_l",
    "liquor_notes",
    "liquor_volume_l",
    "lot_stock",
    "pot_fill_frac",
    "pot_notes",
    "retention_l_kg",
    "share_of_lot",
    "skeins_of_shares",
    "stock_hint",
    "stock_mass_g",
    "stock_volume_l",
    "water_to_add_l",
    "weigh_as",
    "weighing_error_frac",
]

WEIGHING_LIMIT_FRAC = 0.05  # estimate: a dye off by 5 % of its depth is about the smallest step the eye catches
STOCK_DENSITY_KG_L = 1.0  # estimate: stock to 2 % differs from water by less than 1 %
FULL_FRAC = 0.85  # common practice, no source: above this yarn cannot be lifted and turned without spilling
BRIM_FRAC = 0.95  # common practice, no source: above this it boils over
USUAL_LIQUOR_L_KG = (15.0, 50.0)  # hand kettle 20 to 40, pale to 50: common practice, no source; hank machine from 15
STOCK_STRENGTHS_G_L = (10.0, 1.0, 0.1)  # 1 %, 0.1 % and 0.01 %: common practice, no source
STOCK_VOLUMES_L = (0.1, 0.25, 0.5, 1.0, 2.0)  # the jars a kitchen has; common practice, no source
LOT_STRENGTHS_G_L = (10.0, 20.0, 50.0)  # 1, 2 and 5 %: common practice, no source; many dyes dissolve no further
LOT_STOCK_L = 2.0  # common practice, no source: what one jug holds
LEAST_KEPT_L_KG, MOST_KEPT_L_KG = 0.2, 8.0  # estimates: a good spinner; a dripping hank and half as much again
LEAST_DOSE_L = 0.005  # estimate: below 5 mL a syringe's own error passes 2 %


def dye_mass_g(dry_g: float, depth_owf: float) -> float:
    """Return the grams of dye for a depth on weight of fibre, W p / 100 with p in percent [1].

    Args:
        dry_g: yarn as weighed dry, g, > 0.
        depth_owf: fraction, 0 to 1; 0.02 is 2 %.

    Raises:
        InputError: no yarn, or a depth outside 0 to 100 %.
    """
    if not (math.isfinite(dry_g) and dry_g > 0):
        raise InputError(
            f"the yarn's dry weight must be above 0 g, got {dry_g:g} g: weigh it before it is wetted",
            field="yarn.dry",
            value=dry_g,
            limit=0.0,
        )
    if not 0 <= depth_owf <= 1:
        raise InputError(
            f"a depth lies between 0 and 100 % of the fibre's weight, got {100 * depth_owf:g} %: 1 % is 1 g on 100 g",
            field="dye.depth",
            value=depth_owf,
            limit=(0.0, 1.0),
        )
    return dry_g * depth_owf


def stock_volume_l(dye_g: float, stock_g_l: float) -> float:
    """Return the litres of stock solution that hold a dye's grams; V = W p / c.

    Raises:
        InputError: a stock without strength.
    """
    if not (math.isfinite(stock_g_l) and stock_g_l > 0):
        raise InputError(
            f"a stock solution must be stronger than 0 %, got {stock_g_l / 10:g} %: 1 % is 1 g in 100 mL",
            field="dye.stock",
            value=stock_g_l,
            limit=0.0,
        )
    return dye_g / stock_g_l


def stock_mass_g(volume_l: float, stock_density_kg_l: float = STOCK_DENSITY_KG_L) -> float:
    """Return the grams of a volume of stock, for those who weigh it; dilute stock counts as water."""
    return volume_l * stock_density_kg_l * 1000


def weighing_error_frac(mass_g: float, scale_resolution_g: float) -> float:
    """Return what one step of the scale's last digit is worth in a mass, as a fraction of it.

    Tare and load are each right to half a step, so their difference is right to one. Infinite for no mass at all.
    """
    return scale_resolution_g / mass_g if mass_g > 0 else math.inf


def weigh_as(mass_g: float, scale_resolution_g: float) -> Weigh:
    """Return whether a dye can go on the scale as powder, or is better taken from a stock solution."""
    is_fine = weighing_error_frac(mass_g, scale_resolution_g) <= WEIGHING_LIMIT_FRAC
    return Weigh.POWDER if is_fine or mass_g == 0 else Weigh.STOCK


def stock_hint(dye_g: float, scale_resolution_g: float) -> StockHint:
    """Return a stock worth making: its dose can be measured, and its powder weighed on this scale.

    The strongest usual strength whose dose is at least 5 mL, then the smallest usual jar that holds the dose and whose
    powder is heavy enough for the scale; the largest jar where none is.
    """
    strength = next((s for s in STOCK_STRENGTHS_G_L if dye_g / s >= LEAST_DOSE_L), STOCK_STRENGTHS_G_L[-1])
    least_g = scale_resolution_g / WEIGHING_LIMIT_FRAC
    fitting = (v for v in STOCK_VOLUMES_L if v >= dye_g / strength and v * strength >= least_g * (1 - 1e-9))
    volume = next(fitting, max(STOCK_VOLUMES_L[-1], math.ceil(dye_g / strength), least_g / strength))
    return StockHint(stock_g_l=strength, volume_l=volume, powder_g=strength * volume)


def lot_stock(dye_g: float) -> StockHint:
    """Return the one stock that a lot over several pots is shared out from: all its powder, in 2 L or less.

    The weakest usual strength that needs no more; shares by volume are then even, whatever the scale.
    """
    strength = next((s for s in LOT_STRENGTHS_G_L if dye_g / s <= LOT_STOCK_L), LOT_STRENGTHS_G_L[-1])
    return StockHint(stock_g_l=strength, volume_l=dye_g / strength, powder_g=dye_g)


def liquor_volume_l(dry_g: float, liquor_l_kg: float) -> float:
    """Return the total liquor in litres for a liquor ratio in litres a kilogram of yarn [1].

    Raises:
        InputError: a ratio at or below 1:1, or above 1000:1 (a ratio written the wrong way round).
    """
    if not 1 < liquor_l_kg <= 1000:
        raise InputError(
            f"a liquor ratio lies above 1:1 and up to 1000:1 (litres a kilogram of yarn), got {liquor_l_kg:g}:1; "
            "30:1 is usual in a pot",
            field="bath.liquor",
            value=liquor_l_kg,
            limit=(1.0, 1000.0),
        )
    return dry_g / 1000 * liquor_l_kg


def retention_l_kg(yarn: Yarn, drain: Drain, waters: Mapping[Fibre, FibreWater]) -> float:
    """Return the litres of liquor that a kilogram of this yarn keeps after draining [2], weighted by mass."""
    total = 0.0
    for fibre, share in yarn.fibre_frac.items():
        row = waters[fibre]
        total += share * row.retention_l_kg[drain] * (row.superwash_factor if yarn.is_superwash else 1)
    return total


def check_kept(kept_l_kg: float, *, field: str) -> float:
    """Return the litres that a kilogram keeps after draining, weighed on a wet skein, if yarn can keep as much.

    Raises:
        InputError: below 0.2 or above 8 L/kg.
    """
    if not LEAST_KEPT_L_KG <= kept_l_kg <= MOST_KEPT_L_KG:
        raise InputError(
            f"a drained skein keeps {LEAST_KEPT_L_KG:g} to {MOST_KEPT_L_KG:g} L a kilogram, got {kept_l_kg:g}: weigh "
            "one dry and wet, (wet - dry) / dry",
            field=field,
            value=kept_l_kg,
            limit=(LEAST_KEPT_L_KG, MOST_KEPT_L_KG),
        )
    return kept_l_kg


def water_to_add_l(liquor_l: float, carried_l: float) -> float:
    """Return the litres to add to the water that the wetted-out yarn already carries.

    Raises:
        InputError: the yarn carries more than the whole liquor.
    """
    if liquor_l <= carried_l:
        raise InputError(
            f"a liquor of {liquor_l:.2g} L is less than the {carried_l:.2g} L of water that the wetted-out yarn "
            "brings: take more water, or spin the yarn before it goes in",
            field="bath.water",
            value=liquor_l,
            limit=carried_l,
        )
    return liquor_l - carried_l


def fibre_volume_l(yarn: Yarn, waters: Mapping[Fibre, FibreWater]) -> float:
    """Return the litres that the fibre itself displaces [2]."""
    return yarn.dry_g / 1000 * sum(share / waters[fibre].density_kg_l for fibre, share in yarn.fibre_frac.items())


def bone_dry_g(yarn: Yarn, waters: Mapping[Fibre, FibreWater]) -> float:
    """Return the yarn's mass without the water it holds at room climate; regain is water a gram of dry fibre [2]."""
    return sum(yarn.dry_g * share / (1 + waters[fibre].regain_frac) for fibre, share in yarn.fibre_frac.items())


def pot_fill_frac(liquor_l: float, displaced_l: float, volume_l: float) -> float:
    """Return how full a pot stands with liquor and yarn, as a fraction of its brim volume.

    Raises:
        InputError: the pot is too small.
    """
    if not (math.isfinite(volume_l) and volume_l > 0):
        raise InputError(
            f"a pot holds more than 0 L, got {volume_l:g} L: measure it to the brim",
            field="pot.volume",
            value=volume_l,
            limit=0.0,
        )
    fill = (liquor_l + displaced_l) / volume_l
    if fill > BRIM_FRAC:
        needed = (liquor_l + displaced_l) / FULL_FRAC
        raise InputError(
            f"a pot of {volume_l:g} L is too small for {liquor_l:.3g} L of liquor with the yarn in it: it needs a pot "
            f"of {needed:.1f} L or more; split the lot over several pots, or lower the liquor ratio",
            field="pot.volume",
            value=volume_l,
            limit=needed,
        )
    return fill


def pot_notes(fill_frac: float, name: str) -> tuple[str, ...]:
    """Return what a dyer should know of how full a pot stands."""
    if fill_frac > FULL_FRAC:
        return (f"{name} stands {100 * fill_frac:.0f} % full: lift and turn with care, and keep it off the boil.",)
    return ()


def liquor_notes(liquor_l_kg: float) -> tuple[str, ...]:
    """Return what is unusual in a liquor ratio for a hand kettle."""
    low, high = USUAL_LIQUOR_L_KG
    if liquor_l_kg < low:
        short = f"A liquor of {liquor_l_kg:.3g}:1 is short for a pot ({low:g}:1 to {high:g}:1 is usual): "
        return (short + "the yarn cannot move freely, so expect tonal skeins.",)
    if liquor_l_kg > high:
        long = f"A liquor of {liquor_l_kg:.3g}:1 is long ({low:g}:1 to {high:g}:1 is usual): "
        return (long + "it takes more acid and heat, and more dye stays in the bath.",)
    return ()


def share_of_lot(volumes_l: Sequence[float]) -> tuple[float, ...]:
    """Return the fraction of a lot for each pot, in proportion to its volume.

    Raises:
        InputError: no pot, or a pot without volume.
    """
    if not volumes_l or min(volumes_l) <= 0:
        raise InputError("a lot needs at least one pot that holds more than 0 L", field="pot.volume", limit=0.0)
    total = math.fsum(volumes_l)
    return tuple(volume / total for volume in volumes_l)


def skeins_of_shares(skeins: int, shares: Sequence[float]) -> tuple[int, ...]:
    """Return whole skeins for each share, by largest remainder; each pot gets at least one where there are enough.

    Raises:
        InputError: fewer skeins than pots.
    """
    if skeins < len(shares):
        raise InputError(
            f"{skeins} skein{'' if skeins == 1 else 's'} cannot fill {len(shares)} pots: leave a pot out",
            field="yarn.skeins",
            value=skeins,
            limit=len(shares),
        )
    exact = [1 + (skeins - len(shares)) * share for share in shares]
    whole = [math.floor(part) for part in exact]
    order = sorted(range(len(shares)), key=lambda i: (whole[i] - exact[i], i))
    for i in order[: skeins - sum(whole)]:
        whole[i] += 1
    return tuple(whole)
