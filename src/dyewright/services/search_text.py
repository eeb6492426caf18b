"""A search as it is asked for in words: depths, yarn and scale as text with their units."""

from collections.abc import Sequence

from dyewright import units
from dyewright.core.matching import DEEPEST_OWF, Limits, Weighing
from dyewright.core.model import Swatch
from dyewright.errors import InputError
from dyewright.services.matching import Search
from dyewright.services.mix_doses import LEAST_STOCK_G

__all__ = ["search_from_text"]


def search_from_text(
    swatches: Sequence[Swatch],
    max_dyes: int,
    best: int,
    must: Sequence[str],
    never: Sequence[str],
    deepest: str | None,
    dry: str | None,
    scale: str | None,
    *,
    is_every_combination: bool = False,
) -> Search:
    """Return how a match is looked for.

    Args:
        swatches: of the dyes that are searched.
        max_dyes: dyes in a recipe.
        best: how many recipes to show at most.
        must: names of dyes that have to be in it.
        never: names of dyes that must not be.
        deepest: of one dye, such as "3 %".
        dry: the yarn, such as "100 g".
        scale: its smallest step, such as "0.1 g".
        is_every_combination: whether all combinations of four are tried too.

    Raises:
        InputError: a text that is no such amount, a scale without a yarn, or a number that cannot be.
    """
    dry_g, scale_g = _mass(dry, "dry", "dry yarn"), _mass(scale, "scale", "step of the scale")
    if scale_g is not None and dry_g is None:
        raise InputError(
            f"a scale of {scale} says nothing without the yarn: give its dry weight too, such as 100 g", field="dry"
        )
    most = DEEPEST_OWF if deepest is None else units.frac(deepest, field="deepest", thing="depth", bare_percent=True)
    names = {name for swatch in swatches for name in swatch.depths_owf}
    limits = Limits(
        max_dyes=max_dyes,
        deepest_owf=most,
        least_owf={} if dry_g is None else dict.fromkeys(names, LEAST_STOCK_G / dry_g),
        must_use=frozenset(must),
        never_use=frozenset(never),
        is_every_combination=is_every_combination,
    )
    return Search(limits, best, Weighing(fibre_mass_g=dry_g, scale_resolution_g=scale_g))


def _mass(text: str | None, field: str, thing: str) -> float | None:
    if text is None:
        return None
    mass_g = units.mass_g(text, field=field, thing=thing, default_unit="g")
    if mass_g <= 0:
        raise InputError(
            f"the {thing} was given as {mass_g:g} g; it lies above 0 g", field=field, value=mass_g, limit=0
        )
    return mass_g
