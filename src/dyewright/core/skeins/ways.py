"""What can be done with skeins as they came out, and what of it is known beforehand.

What each way can and cannot do is the usual teaching of dyers and knitters (common practice, no source): two skeins
taken in turns every two rows show no edge; dye only adds; winding anew mixes what lies side by side in one skein;
levelling dyes migrate at the boil, milling and 1:2 metal complex dyes hardly, bonded reactive dyes not at all.

Source: [1] Colours that the eye does not see apart add up as light: core.cloth.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dyewright.core.cloth import rewound, seen_spread, yarn_of_parts
from dyewright.core.colour import delta_e00, lab_from_xyz, xyz_from_lab
from dyewright.core.model import (
    DyeClass,
    EvenPart,
    Lab,
    PairDifference,
    SkeinColour,
    UnevenKind,
    Way,
    WayKind,
)
from dyewright.core.skeins.lacking import WHITE, Dyeing, lacks_dye, missing_frac
from dyewright.core.skeins.verdict import ALTERNATE_BELOW_CMC, Pairs, Sets, how_uneven, is_uneven, listed, of_skeins

__all__ = ["ALTERNATE_FOR_BUYER", "reheat_words", "ways"]

Floats = NDArray[np.float64]

LEVEL = frozenset({DyeClass.ACID_LEVELLING, DyeClass.FOOD})
STAYING = frozenset({DyeClass.ACID_MILLING, DyeClass.METAL_COMPLEX})
BLENDED_BAND = (0.6, 1.7)  # of what winding anew leaves: the eye takes two to twelve strands together (estimate)
LEAST_PARTS = 6  # of a skein's map, to tell what winding anew does
LEAST_LACK_FRAC = 0.01  # of the first dose: less is not said

SNIP_FIRST = "Dry a snip and compare before more."
ALTERNATE_FOR_BUYER = "Skeins of this lot differ slightly: alternate two skeins every two rows."
APART_FOR_BUYER = "A lot of its own: this skein does not match other skeins of this colour."


@dataclass(frozen=True)
class _Off:
    """A skein outside the largest set, and the pair that it makes with the nearest of that set."""

    skein: SkeinColour
    mate: int
    pair: PairDifference

    @property
    def size(self) -> str:
        return f"{self.pair.de00:.1f} ({self.pair.low:.1f} to {self.pair.high:.1f})"


def ways(
    skeins: Sequence[SkeinColour],
    pairs: Pairs,
    sets: Sets,
    dyeing: Dyeing | None = None,
    target_lab: Lab | None = None,
) -> tuple[Way, ...]:
    """Return what can be done now, the most useful first.

    Args:
        skeins: as judged.
        pairs: how each two differ, with `is_within`.
        sets: those that match, the largest first.
        dyeing: what is known of the bath they are from.
        target_lab: the colour that was meant.
    """
    if not skeins:
        return ()
    dyeing = dyeing or Dyeing()
    off = _off(skeins, pairs, sets)
    parted = [one for one in off if one.pair.is_within is False]
    found = [
        *_accepted(skeins, pairs, sets),
        *_alternated([one for one in off if one.pair.decmc21 <= ALTERNATE_BELOW_CMC], skeins, sets),
        *_topped_up(parted, skeins, sets, dyeing),
        *_topped_up_to_target(skeins, sets, target_lab, dyeing),
        *_wound_anew(skeins),
        *_heated_again(parted, skeins, sets, dyeing),
        *_sold_apart(parted, skeins, sets, dyeing),
    ]
    return tuple(found)


def _off(skeins: Sequence[SkeinColour], pairs: Pairs, sets: Sets) -> list[_Off]:
    """Return every skein outside the largest set with its nearest inside."""
    main = sets[0]
    outside = [skein for skein in skeins if skein.id not in main]
    nearest = [min(_with(skein.id, main, pairs), key=lambda pair: pair.de00) for skein in outside]
    return [
        _Off(skein, pair.a if pair.b == skein.id else pair.b, pair)
        for skein, pair in zip(outside, nearest, strict=True)
    ]


def _with(skein: int, group: Sequence[int], pairs: Pairs) -> list[PairDifference]:
    return [pair for pair in pairs if {pair.a, pair.b} <= {skein, *group} and skein in {pair.a, pair.b}]


def _accepted(skeins: Sequence[SkeinColour], pairs: Pairs, sets: Sets) -> list[Way]:
    if len(skeins) == 1:
        if is_uneven(skeins[0]):
            return []
        only = (skeins[0].id,)
        return [Way(WayKind.ACCEPT, only, (), "Accept it", "It is even inside: accept it as it is.")]
    return [_kept(group, pairs) for group in sets if len(group) > 1]


def _kept(group: tuple[int, ...], pairs: Pairs) -> Way:
    inside = [pair for pair in pairs if pair.a in group and pair.b in group]
    largest = max(inside, key=lambda pair: pair.de00)
    as_far = ", as far as this photo can tell" if any(pair.is_within is None for pair in inside) else ""
    return Way(
        WayKind.ACCEPT,
        group,
        (),
        f"Keep {listed(group)} together",
        f"Keep {listed(group)} together as one lot{as_far}: the largest difference is {largest.de00:.1f} "
        f"({largest.low:.1f} to {largest.high:.1f}).",
    )


def _alternated(off: Sequence[_Off], skeins: Sequence[SkeinColour], sets: Sets) -> list[Way]:
    """Return the way of taking two skeins in turns; cloth of both meets cloth of one at half the step [1]."""
    if not off:
        return []
    worst = max(off, key=lambda one: one.pair.de00)
    lab = {skein.id: skein.lab for skein in skeins}
    left = float(delta_e00(_blended([worst.skein.lab, lab[worst.mate]]), lab[worst.mate]))
    per_de00 = left / worst.pair.de00 if worst.pair.de00 > 0 else 0.5
    band = (per_de00 * worst.pair.low, left, per_de00 * worst.pair.high)
    numbers = tuple(one.skein.id for one in off)
    others = "each other" if len(sets[0]) == 1 else "the others"
    return [
        Way(
            WayKind.ALTERNATE,
            numbers,
            sets[0],
            f"Alternate {listed(numbers)} with {others}",
            f"{_differ(off)}: alternate with {others} every two rows, and say so. Stripes two rows high stay as "
            f"different as the skeins are; the step to cloth of one skein alone halves to about {left:.1f}.",
            band,
            for_buyer=ALTERNATE_FOR_BUYER,
        )
    ]


def _differ(off: Sequence[_Off]) -> str:
    verb = "differ" if any(one.pair.is_within is False for one in off) else "may differ"
    if len(off) == 1:
        return f"Skein {off[0].skein.id} {'differs' if verb == 'differ' else verb} from {off[0].mate} by {off[0].size}"
    told = ", ".join(f"{one.skein.id} by {one.size}" for one in off)
    return f"Skeins {listed([one.skein.id for one in off])} {verb} from their nearest ({told})"


def _topped_up(off: Sequence[_Off], skeins: Sequence[SkeinColour], sets: Sets, dyeing: Dyeing) -> list[Way]:
    """Return a way a skein that has too little dye; of two skeins the paler one, whichever it is."""
    found = []
    own = {skein.id: skein for skein in skeins}
    for one in off:
        if lacks_dye(one.skein.lab, _mean(sets[0], own), dyeing):
            found.append(_top_up(one.skein, sets[0], one, own, dyeing))
        elif len(sets[0]) == 1 and lacks_dye(own[one.mate].lab, one.skein.lab, dyeing):
            found.append(_top_up(own[one.mate], (one.skein.id,), one, own, dyeing))
    return found


def _mean(group: Sequence[int], own: Mapping[int, SkeinColour]) -> Floats:
    return np.asarray(np.mean([own[number].lab for number in group], axis=0), float)


def _top_up(
    skein: SkeinColour, beside: tuple[int, ...], one: _Off, own: Mapping[int, SkeinColour], dyeing: Dyeing
) -> Way:
    return Way(
        WayKind.TOP_UP,
        (skein.id,),
        beside,
        f"Top up skein {skein.id}",
        f"Skein {skein.id} looks to have less dye, {one.size} from {listed(beside) if len(beside) < 3 else one.mate}: "
        f"wet it out and top it up in a fresh bath.{_lack_words(skein.lab, _mean(beside, own), dyeing)} {SNIP_FIRST}",
    )


def _topped_up_to_target(
    skeins: Sequence[SkeinColour], sets: Sets, target_lab: Lab | None, dyeing: Dyeing
) -> list[Way]:
    """Return the way of topping up the largest set, where all of it surely misses the target for want of dye."""
    own = {skein.id: skein for skein in skeins}
    told = [own[number].to_target for number in sets[0]]
    if target_lab is None or not all(one is not None and one.is_within is False for one in told):
        return []
    mean = _mean(sets[0], own)
    if not lacks_dye(mean, target_lab, dyeing):
        return []
    have = f"{of_skeins(sets[0]).capitalize()} look{'s' * (len(sets[0]) == 1)} to have"
    return [
        Way(
            WayKind.TOP_UP,
            sets[0],
            (),
            f"Top up {of_skeins(sets[0])} to the target",
            f"{have} less dye than the target, {float(delta_e00(target_lab, mean)):.1f} from it: wet out and top up "
            f"in a fresh bath.{_lack_words(mean, target_lab, dyeing)} {SNIP_FIRST}",
        )
    ]


def _lack_words(lab: ArrayLike, goal: ArrayLike, dyeing: Dyeing) -> str:
    lack = missing_frac(lab, goal, dyeing.undyed_lab)
    if lack < LEAST_LACK_FRAC:
        return ""
    return (
        f" About {100 * lack:.0f} % of the first dose is lacking, told roughly from the two colours: begin with half "
        "of that, for dye does not come out again."
    )


def _blended(labs: ArrayLike) -> Floats:
    """Return the Lab of colours that the eye does not see apart [1]."""
    return lab_from_xyz(xyz_from_lab(labs, WHITE).mean(axis=0), WHITE)


def _wound_anew(skeins: Sequence[SkeinColour]) -> list[Way]:
    uneven = tuple(skein for skein in skeins if is_uneven(skein))
    if not uneven:
        return []
    numbers = tuple(skein.id for skein in uneven)
    worst = max(uneven, key=lambda skein: skein.evenness.de00_p95)
    left = _left_wound(worst)
    told = f", from {worst.evenness.de00_p95:.1f} to about {left[1]:.1f}" if left else ""
    wanted = " If it is meant so, nothing is to be done." if _may_be_meant(uneven) else ""
    return [
        Way(
            WayKind.RESKEIN,
            numbers,
            (),
            f"Wind {of_skeins(numbers)} anew",
            f"{_uneven_words(uneven)}: wound onto another reel, strands from all round the skein lie side by side and "
            f"it looks more even{told}. The order along the yarn stays, and nothing changes between skeins.{wanted}",
            left,
        )
    ]


def _may_be_meant(uneven: Sequence[SkeinColour]) -> bool:
    return any(skein.evenness.kind in {UnevenKind.VARIEGATED, UnevenKind.EVEN} for skein in uneven)


def _uneven_words(uneven: Sequence[SkeinColour]) -> str:
    told = [f"skein {skein.id} {how_uneven(skein)} ({skein.evenness.de00_p95:.1f})" for skein in uneven]
    said = listed(told)
    return f"{said[0].upper()}{said[1:]}"


def _left_wound(skein: SkeinColour) -> tuple[float, float, float] | None:
    """Return what winding anew leaves of a skein's unevenness; None where it has no map of its parts."""
    parts: tuple[EvenPart, ...] = skein.evenness.parts
    if len(parts) < LEAST_PARTS:
        return None
    xyz = xyz_from_lab([part.lab for part in parts], WHITE)
    yarn = yarn_of_parts([part.x_px for part in parts], [part.y_px for part in parts], xyz, 1.0)
    before = seen_spread(yarn, WHITE)
    if before <= 0:
        return None
    mid = skein.evenness.de00_p95 * min(seen_spread(rewound(yarn), WHITE) / before, 1.0)
    return BLENDED_BAND[0] * mid, mid, min(BLENDED_BAND[1] * mid, skein.evenness.de00_p95)


def _heated_again(off: Sequence[_Off], skeins: Sequence[SkeinColour], sets: Sets, dyeing: Dyeing) -> list[Way]:
    uneven = [skein.id for skein in skeins if is_uneven(skein) and skein.evenness.kind is not UnevenKind.VARIEGATED]
    numbers = tuple(sorted({*uneven, *(one.skein.id for one in off)}))
    if not numbers or not _can_move(dyeing):
        return []
    beside = tuple(number for number in sets[0] if number not in numbers) if off else ()
    company = f" together with {listed(beside)}" if beside else ""
    return [
        Way(
            WayKind.REHEAT,
            numbers,
            beside,
            f"Heat {of_skeins(numbers)} again",
            f"Heat {of_skeins(numbers)}{company} again with the same acid and no dye, as hot and as long as when "
            f"dyed, and turn the yarn often: {reheat_words(dyeing)}. How far it evens is not known beforehand: compare "
            "a dried snip.",
        )
    ]


def _can_move(dyeing: Dyeing) -> bool:
    """Return whether heat may even any of the dyes; not known counts as may be."""
    classes = set(dyeing.classes.values())
    return not classes or any(not (one.is_reactive or one in STAYING) for one in classes)


def reheat_words(dyeing: Dyeing) -> str:
    """Return what heat does to the dyes of a bath, by their classes."""
    named = {
        "levelling dyes even at the boil": [name for name, one in dyeing.classes.items() if one in LEVEL],
        "milling and 1:2 metal complex dyes hardly move": [
            name for name, one in dyeing.classes.items() if one in STAYING
        ],
        "bonded reactive dyes never move": [name for name, one in dyeing.classes.items() if one.is_reactive],
        "direct dyes move in part": [name for name, one in dyeing.classes.items() if one is DyeClass.DIRECT],
        "of an acid dye of unknown kind nobody knows": [
            name for name, one in dyeing.classes.items() if one is DyeClass.ACID_UNKNOWN
        ],
    }
    said = [f"{rule} ({listed(names)})" for rule, names in named.items() if names]
    unknown = "it depends on the dyes, and theirs are not known: levelling dyes even at the boil, milling dyes hardly, "
    return "; ".join(said) or f"{unknown}bonded reactive dyes never"


def _sold_apart(off: Sequence[_Off], skeins: Sequence[SkeinColour], sets: Sets, dyeing: Dyeing) -> list[Way]:
    if not off:
        return []
    numbers = tuple(one.skein.id for one in off)
    goal, plain = _mean(sets[0], {skein.id: skein for skein in skeins}), replace(dyeing, has_swatches=False)
    deeper = [one.skein.id for one in off if lacks_dye(goal, one.skein.lab, plain)]
    why = f" Dye does not come out of {listed(deeper)} again." if deeper and len(sets[0]) > 1 else ""
    return [
        Way(
            WayKind.SELL_APART,
            numbers,
            (),
            f"Sell {of_skeins(numbers)} apart",
            f"{_differ(off)}: sell {'it' if len(off) == 1 else 'them'} apart, as another lot, and say so.{why}",
            for_buyer=APART_FOR_BUYER,
        )
    ]
