"""The verdict on skeins in sentences, and what to do now.

What can be done is in ways.py; here it is put beside what is still open.
"""

from collections.abc import Sequence
from math import ceil, comb

from dyewright.core.model import PairDifference, SkeinColour, TopUp, UnevenKind, Way
from dyewright.core.skeins.sets import is_undecided

__all__ = [
    "ALTERNATE_BELOW_CMC",
    "Pairs",
    "Sets",
    "advice",
    "how_uneven",
    "is_uneven",
    "listed",
    "of_skeins",
    "recipe_words",
    "verdict",
]

Sets = Sequence[tuple[int, ...]]
Pairs = Sequence[PairDifference]

ALTERNATE_BELOW_CMC = 2.0  # the practical ladder of visibility (common practice, no source)
UNEVEN_DE00 = 2.0  # inside a skein, for 95 % of its parts: "uneven" (common practice, no source)
SMALL_DOUBT = 2.0  # times the tolerance: up to it the most that can hide is said as a number; ours
_NUMBERS = ["no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"]


def verdict(skeins: Sequence[SkeinColour], pairs: Pairs, sets: Sets, tolerance_de00: float) -> str:
    """Return the answer: which skeins match, or how one skein stands, and which are uneven inside."""
    if not skeins:
        return "No skein is marked in the photo."
    if len(skeins) == 1:
        return _one_skein(skeins[0], tolerance_de00)
    uneven = [f"skein {skein.id} {how_uneven(skein)}" for skein in skeins if is_uneven(skein)]
    inside = f" Inside, {listed(uneven)}." if uneven else ""
    return f"{_between(skeins, pairs, sets, tolerance_de00)}{inside}"


def _between(skeins: Sequence[SkeinColour], pairs: Pairs, sets: Sets, tolerance_de00: float) -> str:
    """Return in one sentence which skeins match."""
    doubtful = [pair for pair in pairs if is_undecided(pair, tolerance_de00)]
    if len(sets) == 1:
        return _all_of_them(len(skeins), doubtful, tolerance_de00)
    together = [group for group in sets if len(group) > 1]
    alone = [group[0] for group in sets if len(group) == 1]
    unsure = [skein for skein in alone if _is_unsure(skein, pairs, tolerance_de00)]
    said = [*(_matching(group, len(together), doubtful, tolerance_de00) for group in together), *_apart(alone, unsure)]
    said += [f"whether {listed(group)} belong with them this photo cannot tell" for group in _open_groups(pairs, sets)]
    sentence = "; ".join(said)
    return f"{sentence[0].upper()}{sentence[1:]}."


def _open_groups(pairs: Pairs, sets: Sets) -> list[tuple[int, ...]]:
    """Return the smaller sets of two or more of which it is open whether they belong to the largest."""
    return [group for group in sets[1:] if len(group) > 1 and _nearest(group, sets[0], pairs).is_within is None]


def _nearest(group: tuple[int, ...], main: tuple[int, ...], pairs: Pairs) -> PairDifference:
    across = [pair for pair in pairs if {pair.a, pair.b} & set(group) and {pair.a, pair.b} & set(main)]
    return min(across, key=lambda pair: pair.de00)


def _all_of_them(count: int, doubtful: Pairs, tolerance_de00: float) -> str:
    """Return the sentence about skeins of one set: they match, or how much of a difference may hide."""
    whole = "Both" if count == 2 else f"All {_count(count)}"
    if not doubtful:
        return f"{whole} match."
    hidden = max(pair.high for pair in doubtful)
    if _is_measured_apart(doubtful, tolerance_de00):
        rough = f"a difference of up to {_rounded_up(hidden):.1f} ΔE00 may be there"
        return f"This photo is too rough to tell whether {whole[0].lower()}{whole[1:]} match: {rough}."
    if hidden <= SMALL_DOUBT * tolerance_de00:
        return f"{whole} look alike: no difference above {_rounded_up(hidden):.1f} ΔE00 can hide in this photo."
    hides = f"a difference of up to {_rounded_up(hidden):.1f} ΔE00 may hide in it"
    if len(doubtful) == comb(count, 2):
        return f"{whole} look alike, but this photo is too rough to be sure: {hides}."
    return f"{whole} look alike, but this photo cannot tell for {_named_pairs(doubtful)}: {hides}."


def _is_measured_apart(doubtful: Pairs, tolerance_de00: float) -> bool:
    """Return whether two were measured further apart than the tolerance, if by chance: they do not look alike."""
    return any(pair.de00 > tolerance_de00 for pair in doubtful)


def _rounded_up(number: float) -> float:
    return ceil(10 * number) / 10


def _one_skein(skein: SkeinColour, tolerance_de00: float) -> str:
    inside = f"skein {skein.id} {how_uneven(skein)}"
    if skein.to_target is None:
        return f"{inside[0].upper()}{inside[1:]}."
    target = skein.to_target
    if target.is_within is None:
        return f"Whether it lies within {tolerance_de00:g} of the target this photo cannot tell; {inside}."
    meets = "meets" if target.is_within else "misses"
    return f"Skein {skein.id} {meets} the target by {target.de00:.1f} and {how_uneven(skein)}."


def how_uneven(skein: SkeinColour) -> str:
    """Return how a skein is inside: "is even inside", "has a tide line"."""
    match skein.evenness.kind:
        case UnevenKind.GRADIENT:
            return "grows deeper towards one end"
        case UnevenKind.TIDE_LINE:
            return "has a tide line"
        case UnevenKind.BLOTCHES:
            return "has blotches"
        case UnevenKind.TIE_MARKS:
            return "has tie marks"
        case UnevenKind.VARIEGATED:
            return "is many-coloured"
        case UnevenKind.EVEN:
            return f"is {skein.evenness.rating} inside"


def _matching(group: tuple[int, ...], groups: int, doubtful: Pairs, tolerance_de00: float) -> str:
    inside = [pair for pair in doubtful if pair.a in group and pair.b in group]
    who = _count(len(group)) if groups == 1 and len(group) > 2 else listed(group)
    if _is_measured_apart(inside, tolerance_de00):
        return f"whether {who} match this photo cannot tell"
    return f"{who} look alike" if inside else f"{who} match"


def _apart(alone: Sequence[int], unsure: Sequence[int]) -> list[str]:
    sure = [skein for skein in alone if skein not in unsure]
    said = []
    if len(sure) == 1:
        said.append(f"skein {sure[0]} is a lot of its own")
    elif sure:
        said.append(f"skeins {listed(sure)} are each a lot of their own")
    if unsure:
        said.append(f"for {'skein' if len(unsure) == 1 else 'skeins'} {listed(unsure)} this photo cannot tell")
    return said


def _is_unsure(skein: int, pairs: Pairs, tolerance_de00: float) -> bool:
    """Return whether a skein that stands alone may yet belong to its nearest neighbour."""
    nearest = min((pair for pair in pairs if skein in {pair.a, pair.b}), key=lambda pair: pair.de00)
    return is_undecided(nearest, tolerance_de00)


def advice(
    skeins: Sequence[SkeinColour], pairs: Pairs, sets: Sets, tolerance_de00: float, ways: Sequence[Way]
) -> tuple[str, ...]:
    """Return what to do now, a sentence each: what each way out says, then what is still open."""
    if not skeins:
        return ("Draw an outline round each skein, or lay them apart on plain white paper.",)
    said = [recipe_words(way.top_up) + way.sentence if way.top_up else way.sentence for way in ways]
    said += _undecided(pairs, sets)
    said += _for_target(skeins, tolerance_de00)
    return tuple(said) or ("Nothing is to be done.",)


def recipe_words(top_up: TopUp) -> str:
    """Return what is weighed for a top-up, as a sentence with a space behind it."""
    weighed = ", ".join(f"{dye.name} {dye.amount}" for dye in top_up.dyes)
    return f"{weighed} in {top_up.liquor_l:.1f} L, for {top_up.dry_g:.0f} g dry. "


def _undecided(pairs: Pairs, sets: Sets) -> list[str]:
    """Return what to do about skeins of which the photo cannot tell whether they belong to the largest set."""
    nearest = [(group, _nearest(group, sets[0], pairs)) for group in sets[1:]]
    return [
        f"Whether {of_skeins(group)} belong{'s' * (len(group) == 1)} to {listed(sets[0])} this photo cannot decide "
        f"({pair.a} and {pair.b}: {pair.de00:.1f}, {pair.low:.1f} to {pair.high:.1f}): photograph them again side by "
        "side, by a window without sun, or look at them there."
        for group, pair in nearest
        if pair.is_within is None
    ]


def is_uneven(skein: SkeinColour) -> bool:
    """Return whether a skein is so uneven inside that something may be done about it."""
    return skein.evenness.de00_p95 >= UNEVEN_DE00


def _for_target(skeins: Sequence[SkeinColour], tolerance_de00: float) -> list[str]:
    aimed = [(skein.id, skein.to_target) for skein in skeins if skein.to_target is not None]
    unsure = [number for number, target in aimed if target.is_within is None]
    meets = [number for number, target in aimed if target.is_within]
    said = [
        f"Skein {number} is {target.de00:.1f} ({target.low:.1f} to {target.high:.1f}) off the target: {target.words}."
        for number, target in aimed
        if target.is_within is False
    ]
    if meets:
        said.append(f"Skein{'s' * (len(meets) > 1)} {listed(meets)}: on target, accept.")
    if unsure:
        said.append(
            f"Whether skein{'s' * (len(unsure) > 1)} {listed(unsure)} lie{'s' * (len(unsure) == 1)} within "
            f"{tolerance_de00:g} of the target, this photo cannot tell: hold a dry snip beside the target."
        )
    return said


def _named_pairs(pairs: Pairs) -> str:
    if len(pairs) > 3:
        return "some of them"
    return listed([f"{pair.a} with {pair.b}" for pair in pairs])


def listed(names: Sequence[object]) -> str:
    """Return names as a person lists them: "1, 2 and 4"."""
    words = [str(name) for name in names]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def of_skeins(numbers: Sequence[int]) -> str:
    """Return skeins by their numbers: "skein 3", "skeins 1 and 2"."""
    return f"skein{'s' * (len(numbers) > 1)} {listed(numbers)}"


def _count(number: int) -> str:
    return _NUMBERS[number] if number < len(_NUMBERS) else str(number)
