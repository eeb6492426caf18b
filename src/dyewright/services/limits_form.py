"""What the recipes of a page must keep to: its folded form read into limits, and said again in a line."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from dyewright import units
from dyewright.core.bath import WEIGHING_LIMIT_FRAC
from dyewright.core.matching import DEEPEST_OWF, MOST_DYES, Limits
from dyewright.core.model import Base, Dye, Settings
from dyewright.errors import InputError
from dyewright.services.mix_doses import LEAST_STOCK_G

__all__ = ["LIMIT_FIELDS", "LimitsForm", "is_limit", "limits_form", "limits_of", "scale_g"]

Asked = Mapping[str, str]

USUAL_DYES = "3"
LIMIT_FIELDS = frozenset({"max_dyes", "deepest", "must", "never", "scale", "cost", "total"})
"""The fields that an error about limits may name."""
PLAIN_KEYS = LIMIT_FIELDS | {"limits", "apart", "in_stock", "powder_only", "cost_of"}


@dataclass(frozen=True)
class LimitsForm:
    """The form as it stands, with what was typed, and the limits in a line of words."""

    dyes: tuple[str, ...]
    must: frozenset[str]
    never: frozenset[str]
    max_dyes: str
    deepest: str
    scale: str
    cost: str
    cost_of: str
    keeps_apart: bool
    is_in_stock: bool
    is_powder_only: bool
    apart: tuple[str, ...]
    is_set: bool
    in_words: str


def is_limit(key: str) -> bool:
    """Return whether a field of the page's address belongs to this form."""
    return key in PLAIN_KEYS or key.startswith(("must.", "never."))


def limits_form(
    asked: Asked, names: tuple[str, ...], settings: Settings, apart: Mapping[frozenset[str], str]
) -> LimitsForm:
    """Return the form as it stands; what the page's address says nothing of stands at its default.

    Args:
        asked: the page's fields.
        names: the dyes that have swatches.
        settings: the studio's, for its scale.
        apart: pairs of these dyes that do not go into one bath, with the reason in a sentence.
    """
    form = LimitsForm(
        dyes=names,
        must=_ticked(asked, "must."),
        never=_ticked(asked, "never."),
        max_dyes=asked.get("max_dyes", "").strip() or USUAL_DYES,
        deepest=asked.get("deepest", "").strip() or f"{100 * DEEPEST_OWF:g}",
        scale=asked.get("scale", "").strip() or f"{settings.scale_resolution_g:g} g",
        cost=asked.get("cost", "").strip(),
        cost_of=asked.get("cost_of", "kilogram"),
        keeps_apart=_is_on(asked, "apart"),
        is_in_stock=_is_on(asked, "in_stock"),
        is_powder_only="powder_only" in asked,
        apart=tuple(apart.values()),
        is_set="limits" in asked,
        in_words="",
    )
    return replace(form, in_words=_in_words(form))


def _is_on(asked: Asked, key: str) -> bool:
    """Return whether a box that is ticked at first is still ticked: an unticked box is not sent at all."""
    return "limits" not in asked or key in asked


def limits_of(
    asked: Asked,
    names: tuple[str, ...],
    settings: Settings,
    apart: Mapping[frozenset[str], str],
    *,
    tubs: Sequence[Dye],
    dry_g: float,
    base: Base | None,
) -> Limits:
    """Return the limits that a page asks for.

    Args:
        asked: the page's fields.
        names: the dyes that have swatches.
        settings: the studio's, for its scale.
        apart: pairs of these dyes that do not go into one bath.
        tubs: the dyes on the shelf, for grams and prices.
        dry_g: the yarn, which tells what is enough and what can be weighed.
        base: of the yarn, for the weight of a skein.

    Raises:
        InputError: a field cannot be worked with; it is named.
    """
    least_g = _least_g(scale_g(asked, settings), is_powder_only="powder_only" in asked)
    return Limits(
        max_dyes=_max_dyes(asked),
        deepest_owf=_deepest(asked),
        most_owf=_in_stock(tubs, dry_g) if _is_on(asked, "in_stock") else {},
        least_owf=dict.fromkeys(names, least_g / dry_g),
        must_use=_ticked(asked, "must."),
        never_use=_ticked(asked, "never."),
        apart=frozenset(apart) if _is_on(asked, "apart") else frozenset(),
        price_per_g={dye.name: float(dye.price_per_g) for dye in tubs if dye.price_per_g is not None},
        most_cost_per_kg=_cost_per_kg(asked, base),
    )


def _ticked(asked: Asked, prefix: str) -> frozenset[str]:
    return frozenset(key.removeprefix(prefix) for key in asked if key.startswith(prefix))


def _max_dyes(asked: Asked) -> int:
    text = asked.get("max_dyes", "").strip() or USUAL_DYES
    if text not in {str(count) for count in range(1, MOST_DYES + 1)}:
        raise InputError(
            f"a recipe of {text!r} dyes was asked for; it can have 1 to {MOST_DYES}",
            field="max_dyes",
            value=text,
            limit=MOST_DYES,
        )
    return int(text)


def _deepest(asked: Asked) -> float:
    text = asked.get("deepest", "").strip().removesuffix("%").replace(",", ".").strip()
    if not text:
        return DEEPEST_OWF
    percent = _number(text, "deepest", "the deepest that one dye may go", "4 %")
    if not 0 < percent <= 100:
        raise InputError(
            f"the deepest that one dye may go was given as {percent:g} %; it lies above 0 % and up to 100 %",
            field="deepest",
            value=percent,
            limit=100,
        )
    return percent / 100


def _number(text: str, field: str, thing: str, example: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise InputError(
            f"{thing} was given as {text!r}; write a number such as {example}", field=field, value=text
        ) from None


def _in_stock(tubs: Sequence[Dye], dry_g: float) -> dict[str, float]:
    """Return the depth that what is left of each dye reaches on this yarn; a tub without grams bounds nothing."""
    return {dye.name: float(dye.on_shelf_g) / dry_g for dye in tubs if dye.on_shelf_g is not None}


def scale_g(asked: Asked, settings: Settings) -> float:
    """Return the scale's smallest step, in g: as typed, otherwise the studio's."""
    text = asked.get("scale", "").strip()
    if not text:
        return settings.scale_resolution_g
    step_g = units.mass_g(text, field="scale", thing="step of the scale", default_unit="g")
    if not 0 < step_g <= 100:
        raise InputError(
            f"the scale's step was given as {step_g:g} g; it lies above 0 g and up to 100 g",
            field="scale",
            value=step_g,
            limit=100,
        )
    return step_g


def _least_g(step_g: float, *, is_powder_only: bool) -> float:
    """Return the least dye that can be measured: by a stock solution, or as powder with the scale's step in it."""
    return step_g / WEIGHING_LIMIT_FRAC if is_powder_only else LEAST_STOCK_G


def _cost_per_kg(asked: Asked, base: Base | None) -> float | None:
    text = asked.get("cost", "").strip().replace(",", ".")
    if not text:
        return None
    cost = _number(text, "cost", "the most that the dye may cost", "2.50")
    if not 0 < cost < 1e9:
        raise InputError(
            f"the most that the dye may cost was given as {text}; it lies above 0", field="cost", value=cost, limit=0
        )
    if asked.get("cost_of") != "skein":
        return cost
    if base is None or not base.skein_g:
        raise InputError(
            "the weight of a skein of this yarn is not on the shelf: give the cost of a kilogram instead",
            field="cost",
            value=cost,
        )
    return cost * 1000 / base.skein_g


def _in_words(form: LimitsForm) -> str:
    """Return the limits in a line: "up to 3 dyes, none beyond 4 %, only what is on the shelf"."""
    parts = ["one dye" if form.max_dyes == "1" else f"up to {form.max_dyes} dyes"]
    parts.append(f"none beyond {form.deepest.removesuffix('%').strip()}\u00a0%")
    parts += [f"with {', '.join(sorted(form.must))}"] if form.must else []
    parts += [f"without {', '.join(sorted(form.never))}"] if form.never else []
    parts += ["only what is on the shelf"] if form.is_in_stock else []
    parts += ["as powder only"] if form.is_powder_only else []
    parts += [f"dye up to {form.cost} a {form.cost_of}"] if form.cost else []
    return ", ".join(parts)
