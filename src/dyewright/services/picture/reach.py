"""What a shelf reaches of a palette: each colour as near as can be, or all of them kept in harmony."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from functools import lru_cache

import numpy as np

from dyewright import units
from dyewright.core.colour import delta_e00, difference_words
from dyewright.core.matching import REACHED_DE00, Target, search
from dyewright.core.matching.harmony import CommonChange, Harmony, contrast_kept, harmonise
from dyewright.core.mixing import ShelfModel, band_95, depth_vector, lab_of_mix
from dyewright.core.model import Lab
from dyewright.data.colour import load_observer_tables
from dyewright.errors import NoMatchError
from dyewright.services.reach_map import shelf_gamut
from dyewright.services.shown import shown_hex, shown_words

__all__ = [
    "Fit",
    "Reach",
    "Reached",
    "YarnPart",
    "nearest",
    "reached_colours",
    "recipe_words",
    "strip_columns",
    "yarn_shares",
]

SAME_DE00 = 0.3  # recipes this much apart look the same: the one with fewer dyes is shown (estimate)
LITTLE = 2.5  # a change below 25 % of chroma, or 5 of Lab, is a little one (estimate)
REMEMBERED = 512  # nearest recipes, so that a moved pick asks for one only


class Fit(StrEnum):
    """How a palette is brought within reach."""

    NEAREST = "nearest"
    HARMONY = "harmony"


@dataclass(frozen=True)
class Reached:
    """The nearest that a shelf comes to a goal: its recipe, its colour, how far off, and how sure that is."""

    goal: Lab
    depths_owf: Mapping[str, float]
    lab: Lab
    de00: float
    band: float

    @property
    def is_within(self) -> bool:
        """Whether it passes as the goal."""
        return self.de00 <= REACHED_DE00

    @property
    def hex(self) -> str:
        """How it looks on a screen."""
        return shown_hex(self.lab)

    @property
    def words(self) -> str:
        """The colour in words."""
        return shown_words(self.lab)

    def de00_from(self, lab: Lab) -> float:
        """Return how far it is from a colour."""
        return float(delta_e00(lab, self.lab))

    def off_from(self, lab: Lab) -> str:
        """Return how it differs from a colour, in words."""
        return difference_words(lab, self.lab)

    @property
    def sure(self) -> str:
        """How sure the colour is."""
        return f"± {self.band:.1f} in 19 of 20 pots" if self.depths_owf else "as it was measured undyed"

    @property
    def recipe(self) -> str:
        """The recipe in one line."""
        return recipe_words(self.depths_owf)


@dataclass(frozen=True)
class Reach:
    """A palette brought within reach; `words` says what became of its relations, where they were looked at."""

    colours: tuple[Reached, ...]
    words: str | None = None


def reached_colours(shelf: ShelfModel, labs: Sequence[Lab], shares: Sequence[float], fit: Fit) -> Reach:
    """Return what the shelf reaches of a palette, each colour as near as can be or all of them in harmony.

    Args:
        shelf: the dyes over their base.
        labs: the picture's colours.
        shares: of the picture, how much each counts for the whole.
        fit: which of the two.
    """
    if fit is Fit.HARMONY:
        return _in_harmony(shelf, labs, shares)
    found = tuple(nearest(shelf, lab) for lab in labs)
    kept, _ = contrast_kept(np.array(labs), np.array([one.lab for one in found]), np.array(shares))
    if all(one.is_within for one in found):
        return Reach(found)
    return Reach(found, f"Taken one by one, {_share(kept)} of the picture's contrasts are kept.")


def _in_harmony(shelf: ShelfModel, labs: Sequence[Lab], shares: Sequence[float]) -> Reach:
    tables = load_observer_tables()
    both = harmonise(shelf, shelf_gamut(shelf), np.array(labs), tables, weights=np.array(shares))
    together = both.together
    found = tuple(
        Reached(
            goal=(float(aim[0]), float(aim[1]), float(aim[2])),
            depths_owf={name: float(depth) for name, depth in zip(shelf.dyes, depths, strict=True) if depth > 0},
            lab=(float(lab[0]), float(lab[1]), float(lab[2])),
            de00=float(delta_e00(aim, lab)),
            band=band_95(shelf, depths, tables),
        )
        for aim, depths, lab in zip(both.aims, together.depths_owf, together.labs, strict=True)
    )
    return Reach(found, _harmony_words(both, labs, shares))


def _harmony_words(both: Harmony, labs: Sequence[Lab], shares: Sequence[float]) -> str:
    """Return what became of the palette's relations: the change of all, the contrast of its two largest, the whole."""
    if both.change.is_none:
        return "All of it lies within reach, or no gentle change of all brings more of it there: nothing is moved."
    together, alone = both.together, both.nearest
    one, two = np.argsort(shares)[::-1][:2].tolist() if len(labs) > 1 else (0, 0)
    ratio = delta_e00(together.labs[one], together.labs[two]) / max(float(delta_e00(labs[one], labs[two])), 1e-6)
    pair = f"the contrast between {shown_words(labs[one])} and {shown_words(labs[two])} is {_kept_word(float(ratio))}"
    order = "dark to light stays in order" if together.is_order_kept else "dark to light does not stay in order"
    return (
        f"{pair[0].upper()}{pair[1:]}; all {_change_words(both.change)}. {_share(together.contrast_kept_frac)} of the "
        f"picture's contrasts are kept (one by one: {_share(alone.contrast_kept_frac)}), {order}."
    )


def _share(part_frac: float) -> str:
    return units.show_percent(round(part_frac, 2))


def _kept_word(ratio: float) -> str:
    """Return what became of a contrast (bounds by eye, estimate)."""
    bounds = ((0.6, "much softer"), (0.85, "softer"), (1.15, "kept"))
    return next((word for bound, word in bounds if ratio < bound), "stronger")


def _change_words(change: CommonChange) -> str:
    """Return the common change in words, the larger parts first (bounds by eye, estimate)."""
    lightness, a, b = change.shift_lab
    parts = [
        (10 * (1 - change.chroma_ratio), "duller"),
        (10 * (1 - change.lightness_ratio), "closer to one another in lightness"),
        (abs(lightness) / 2, "paler" if lightness > 0 else "darker"),
        (abs(a) / 2, "redder" if a > 0 else "greener"),
        (abs(b) / 2, "yellower" if b > 0 else "bluer"),
    ]
    said = [
        f"{'a little' if size < LITTLE else 'clearly'} {word}"
        for size, word in sorted(parts, reverse=True)
        if size > 0.25
    ]
    return ", ".join(said[:3]) or "hardly moved"


def nearest(shelf: ShelfModel, goal: Lab) -> Reached:
    """Return the recipe that comes nearest to a colour; of those that look the same, the one with fewest dyes."""
    rounded = (round(goal[0], 2), round(goal[1], 2), round(goal[2], 2))
    return _nearest(_Asked(rounded, id(shelf), shelf))


@dataclass(frozen=True)
class _Asked:
    """A goal and the shelf it is asked of; a shelf stays alive, and its number its own, while it is remembered here."""

    goal: Lab
    number: int
    shelf: ShelfModel = field(compare=False)


@lru_cache(maxsize=REMEMBERED)
def _nearest(asked: _Asked) -> Reached:
    shelf, tables = asked.shelf, load_observer_tables()
    mix = _best_mix(shelf, asked.goal)
    depths = depth_vector(shelf, mix)
    lab = lab_of_mix(shelf, depths, tables)
    return Reached(
        goal=asked.goal,
        depths_owf=mix,
        lab=(float(lab[0]), float(lab[1]), float(lab[2])),
        de00=float(delta_e00(asked.goal, lab)),
        band=band_95(shelf, depths, tables),
    )


def _best_mix(shelf: ShelfModel, goal: Lab) -> dict[str, float]:
    try:
        found = search(shelf, Target(goal), load_observer_tables())
    except NoMatchError:
        return {}
    if found.bare_de00 <= float(found.de00.min()) + SAME_DE00:
        return {}
    close = np.flatnonzero(found.de00 <= found.de00.min() + SAME_DE00)
    best = close[np.lexsort((found.de00[close], np.count_nonzero(found.depths_owf[close], axis=1)))[0]]
    depths = found.depths_owf[best]
    return {name: float(depth) for name, depth in zip(shelf.dyes, depths, strict=True) if depth > 0}


def recipe_words(depths_owf: Mapping[str, float]) -> str:
    """Return a recipe in one line."""
    dyes = [f"{name} {100 * depth:.2g}\u00a0%" for name, depth in depths_owf.items()]
    return ", ".join(dyes) or "the undyed yarn"


def strip_columns(shares: Sequence[float], least_px: int = 40) -> str:
    """Return the widths of colours side by side by their shares, as a style sheet's grid has it."""
    return " ".join(f"minmax({least_px}px, {max(100 * share, 1):.0f}fr)" for share in shares)


@dataclass(frozen=True)
class YarnPart:
    """The yarn of one colour: grams and, where skeins have a weight, how many whole ones."""

    mass_g: float
    skeins: int | None
    share_frac: float

    @property
    def words(self) -> str:
        """How much yarn, and for which share of the whole."""
        share = units.show_percent(round(self.share_frac, 2))
        if self.skeins is None:
            return f"{share}: {units.show_mass(self.mass_g)}"
        return f"{share}: {'1 skein' if self.skeins == 1 else f'{self.skeins} skeins'}, {units.show_mass(self.mass_g)}"


def yarn_shares(shares: Sequence[float], dry_g: float, skein_g: float | None) -> list[YarnPart]:
    """Return the yarn of each colour by its share: in whole skeins where these have a weight, one each at least."""
    if not skein_g:
        return [YarnPart(share * dry_g, None, share) for share in shares]
    wanted = np.array(shares) * max(round(dry_g / skein_g), len(shares))
    counts = np.maximum(np.floor(wanted), 1).astype(int)
    while counts.sum() < round(wanted.sum()):
        counts[np.argmax(wanted - counts)] += 1
    while counts.sum() > round(wanted.sum()):
        counts[np.argmin(np.where(counts > 1, wanted - counts, np.inf))] -= 1
    return [YarnPart(count * skein_g, count, share) for count, share in zip(counts.tolist(), shares, strict=True)]
