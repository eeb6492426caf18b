"""What a cloth shows, in a dyer's words."""

from collections.abc import Sequence
from dataclasses import replace

from dyewright.core.cloth import (
    Feeding,
    Pattern,
    Yarn,
    block_steps,
    knitted,
    pattern,
    rewound,
    seen_spread,
    stitch_yarn_m,
    turn_fit,
)
from dyewright.services.judging.cloth_choice import Choice, ClothWay
from dyewright.services.shown import daylight_white

__all__ = ["QUIET_DE00", "cloth_notes", "cloth_words"]

QUIET_DE00 = 0.7  # stitches that differ by less read as one colour (estimate)
MUCH_FRAC = 0.45  # of the differences: above, they show as a pool or a stripe (estimate)
NEAR_FRAC = 0.12  # of a row by which a turn may miss it and still stack (estimate)


_REWOUND = (
    "At arm’s length its places differ by {before:.1f} ΔE00 now, by {after:.1f} wound anew: strands from all round the "
    "skein lie beside each other and mix in the eye. The order of colours along the yarn stays: knitted, it pools or "
    "stripes as before. Nor does it bring two skeins nearer to each other."
)


def cloth_words(choice: Choice, yarns: Sequence[Yarn]) -> list[str]:
    """Return the sentences about a cloth, the answer first."""
    if choice.way is ClothWay.RESKEIN:
        return _of_rewinding(yarns[0])
    white = daylight_white()
    after = knitted(yarns, choice.knitting)
    said = _of_pattern(pattern(after, white), choice)
    if choice.way is ClothWay.ALTERNATE and len(yarns) > 1:
        before = knitted(yarns, replace(choice.knitting, feeding=Feeding.ONE_AFTER_OTHER))
        is_plain = all(yarn.front_xyz.size == 3 for yarn in yarns)
        gained = _of_alternating(block_steps(before, white), block_steps(after, white))
        return gained if is_plain else [*gained, *said[1:]]
    return said


def _of_rewinding(yarn: Yarn) -> list[str]:
    before, after = seen_spread(yarn, daylight_white()), seen_spread(rewound(yarn), daylight_white())
    if before < QUIET_DE00:
        return ["The skein is even as it is: winding it anew changes nothing to see."]
    return [
        "Wound anew it looks more even; the yarn stays as it is.",
        _REWOUND.format(before=before, after=after),
    ]


def _of_alternating(before_de00: float, after_de00: float) -> list[str]:
    blocks = f"Blocks of eight rows differ by {after_de00:.1f} ΔE00, by {before_de00:.1f} where one follows the other."
    if before_de00 < QUIET_DE00:
        return ["No edge to see, alternated or not.", blocks]
    if after_de00 < 0.7 * before_de00:
        return ["The edge is gone; fine stripes stay.", blocks]
    return ["Alternating gains little here.", blocks]


def _of_pattern(found: Pattern, choice: Choice) -> list[str]:
    if found.spread_de00 < QUIET_DE00:
        return ["Reads as one colour.", f"Stitches differ by {found.spread_de00:.1f} ΔE00."]
    turn, rows, turns, missed = turn_fit(choice.turn_m, choice.knitting)
    size = f"Stitches differ by {found.spread_de00:.1f} ΔE00"
    once = f"One turn of the skein makes {turn:.0f} stitches"
    if found.pooled_frac > max(MUCH_FRAC, found.striped_frac):
        if missed < NEAR_FRAC:
            once += f": {_count(turns, 'turn')} nearly fill {_count(rows, 'row')} of {choice.knitting.stitches}"
        return ["It pools.", f"{size}; {100 * found.pooled_frac:.0f} % of that stacks up in columns. {once}."]
    if found.striped_frac > MUCH_FRAC:
        return ["It stripes.", f"{size}; {100 * found.striped_frac:.0f} % of that runs along the rows. {once}."]
    most = 100 * max(found.pooled_frac, found.striped_frac)
    return ["The colours scatter.", f"{size}; no more than {most:.0f} % of that lies in columns or rows. {once}."]


def _count(number: int, thing: str) -> str:
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"


def cloth_notes(choice: Choice, one_colour: Sequence[int]) -> list[str]:
    """Return what a cloth leans on; `one_colour` are the skeins that are drawn in one colour."""
    gauge = choice.knitting.gauge
    rule = (
        f"{100 * stitch_yarn_m(gauge):.1f} m of yarn in 100 stitches at {gauge:g} stitches to 10 cm: a rule of relaxed "
        "plain knitting; yours may differ by a tenth."
    )
    which = ", ".join(str(one) for one in one_colour)
    flat = f"Drawn in one colour, being even or without a map: {'skein' if len(one_colour) == 1 else 'skeins'} {which}."
    return [
        rule,
        *([flat] if one_colour else []),
        "The photo shows half of each turn; the half below is taken as its mirror image.",
        "Where a skein begins on the needle is chance: pools may lie elsewhere, their kind stays.",
        "Colours are means of linear light, as the eye mixes them. Screen colours are approximate.",
    ]
