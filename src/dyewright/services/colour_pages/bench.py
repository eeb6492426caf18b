"""What a colour page works on, read from its fields: the target, the yarn, the fitted dyes, the mix in hand."""

from collections.abc import Mapping
from dataclasses import dataclass
from urllib.parse import urlencode

from sqlalchemy.orm import Session

from dyewright import units
from dyewright.core.model import Base, Colourway, Dye, Match, Settings
from dyewright.errors import InputError
from dyewright.records import shelf as shelf_of
from dyewright.services.colour_pages.mixture import Mixture, mixture_of
from dyewright.services.colour_pages.slips import depths_of
from dyewright.services.colour_targets import Wanted, curve_text, lab_text, wanted_colour
from dyewright.services.company import care_notes, kept_apart
from dyewright.services.limits_form import is_limit
from dyewright.services.shelf_model import StudioShelf, studio_shelf

__all__ = ["Asked", "Bench", "bench_of", "dry_yarn_g", "mix_of", "mix_query", "mixture_on", "stays_of", "with_kept"]

Asked = Mapping[str, str]
"""What a page's form holds, as text: target, from, kind, base, weight, add, and depth.NAME, top.NAME for each dye."""

STAYS = ("target", "from", "kind", "base", "weight")
DEFAULT_G = 100.0
FIRST_DEPTH_PERCENT = "0.1"
DEEPEST_TOP_PERCENT = 4.0


@dataclass(frozen=True)
class Bench:
    """What a page's fields stand for."""

    wanted: Wanted
    dry_g: float
    shelf: StudioShelf
    base: Base | None
    settings: Settings
    tubs: tuple[Dye, ...]


def bench_of(session: Session, asked: Asked) -> Bench:
    """Return what the fields of a colour page stand for.

    Raises:
        InputError: a field cannot be worked with; it is named.
    """
    wanted = wanted_colour(session, asked.get("target", ""), asked.get("kind", ""))
    shelf = studio_shelf(session, asked.get("base", "").strip() or None)
    base = shelf_of.base_named(session, shelf.model.base)
    settings = shelf_of.studio_settings(session) or Settings(name="")
    dry_g = dry_yarn_g(asked.get("weight", ""), base)
    return Bench(wanted, dry_g, shelf, base, settings, tuple(shelf_of.dyes(session)))


def dry_yarn_g(text: str, base: Base | None) -> float:
    """Return the yarn's dry weight as typed; a skein of the base, or 100 g, where nothing is."""
    if not text.strip():
        return base.skein_g if base and base.skein_g else DEFAULT_G
    dry_g = units.mass_g(text, field="weight", thing="dry yarn", default_unit="g")
    if dry_g <= 0:
        raise InputError(f"the dry yarn weighs {dry_g:g} g; it must be above 0 g", field="weight", value=dry_g, limit=0)
    return dry_g


def with_kept(asked: Asked, kept: Colourway | None, base_name: str | None) -> Asked:
    """Return what was asked, filled from a colourway's record where the form says nothing."""
    if kept is None:
        return asked
    curve = kept.target_reflectance
    target = lab_text(kept.target_lab or kept.predicted_lab) if curve is None else curve_text(curve)
    from_record = {"target": target, "from": kept.target_from, "kind": str(kept.target_kind)}
    if base_name is not None:
        from_record["base"] = base_name
    if not any(key.startswith("depth.") for key in asked):
        from_record |= {f"depth.{name}": f"{100 * depth:.4g}" for name, depth in kept.recipe_owf.items()}
    return {**from_record, **{key: value for key, value in asked.items() if value.strip()}}


def mix_of(asked: Asked, found: Match | None) -> dict[str, float]:
    """Return the mix in hand: as the form has it, otherwise the recommended recipe.

    Raises:
        InputError: a depth is no number, or cannot be.
    """
    typed = {key.removeprefix("depth."): text for key, text in asked.items() if key.startswith("depth.")}
    if asked.get("add", "").strip():
        typed.setdefault(asked["add"].strip(), FIRST_DEPTH_PERCENT)
    if not typed and found is not None and found.recipes:
        return depths_of(found.recipes[0])
    return {name: _depth(name, text) for name, text in typed.items() if text.strip()}


def _depth(name: str, text: str) -> float:
    try:
        percent = float(text.strip().removesuffix("%").replace(",", "."))
    except ValueError:
        raise InputError(
            f"the depth of {name} is {text.strip()!r}; write a number of per cent such as 0.6",
            field=f"depth.{name}",
            value=text,
        ) from None
    if not 0 <= percent <= 100:
        raise InputError(
            f"the depth of {name} is {percent:g} %; it lies between 0 % and 100 %",
            field=f"depth.{name}",
            value=percent,
            limit=0,
        )
    return percent / 100


def mixture_on(bench: Bench, asked: Asked, mix: Mapping[str, float]) -> Mixture:
    """Return the mix in hand as a page shows it."""
    return mixture_of(
        bench.shelf.model,
        mix,
        bench.wanted.target,
        dyes=bench.tubs,
        dry_g=bench.dry_g,
        scale_resolution_g=bench.settings.scale_resolution_g,
        tops_percent={key.removeprefix("top."): _top(text) for key, text in asked.items() if key.startswith("top.")},
        base_id=bench.base.id if bench.base else None,
        notes=(*bench.shelf.left_out, *_company(bench, mix)),
    )


def _company(bench: Bench, mix: Mapping[str, float]) -> tuple[str, ...]:
    """Return what to mind about the dyes of a mix in one bath."""
    used = [name for name, depth in mix.items() if depth > 0]
    apart = kept_apart([tub for tub in bench.tubs if tub.name in used])
    return (*apart.values(), *care_notes(bench.tubs, used))


def _top(text: str) -> float:
    try:
        return min(max(float(text), 0.0), DEEPEST_TOP_PERCENT)
    except ValueError:
        return 0.0


def stays_of(asked: Asked) -> dict[str, str]:
    """Return what of a page's address its links and forms carry on: all but the mix in hand."""
    return {key: value for key, value in asked.items() if value.strip() and (key in STAYS or is_limit(key))}


def mix_query(stays: Mapping[str, str], mix: Mapping[str, float]) -> str:
    """Return the address part of a colour page with a mix in hand; `stays` is what it keeps of the page's own."""
    return urlencode({**stays, **{f"depth.{name}": f"{100 * depth:.3g}" for name, depth in mix.items()}})
