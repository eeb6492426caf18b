"""The colour pages: a target, the recipes that reach it, one mix in hand, and the colourways that are kept."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import partial
from urllib.parse import urlencode

from sqlalchemy.orm import Session

from dyewright import units
from dyewright.core.matching import Limits, Weighing
from dyewright.core.mixing import depth_vector, lab_of_mix
from dyewright.core.model import Colourway, Match
from dyewright.data.colour import load_observer_tables
from dyewright.errors import InputError, NoMatchError
from dyewright.records import colourways as colourways_of
from dyewright.records import shelf as shelf_of
from dyewright.services.colour_pages.bench import (
    Asked,
    Bench,
    bench_of,
    mix_of,
    mix_query,
    mixture_on,
    stays_of,
    with_kept,
)
from dyewright.services.colour_pages.mixture import Mixture
from dyewright.services.colour_pages.slips import Slip, slips_of
from dyewright.services.colour_pages.snip import Snip, keep_snip, read_snip, seen_skeins, snip_of
from dyewright.services.colour_targets import KIND_WORDS, WAYS, lab_text
from dyewright.services.company import kept_apart
from dyewright.services.limits_form import LIMIT_FIELDS, LimitsForm, is_limit, limits_form, limits_of, scale_g
from dyewright.services.matching import Search, match_on
from dyewright.services.picture.palettes import palettes_view

__all__ = [
    "ColourPage",
    "asked_of",
    "chosen_colourway",
    "colour_page",
    "colourways_view",
    "kept_query",
    "mixture_view",
    "take_snip",
]


@dataclass(frozen=True)
class ColourPage:
    """A target with its recipes and the mix in hand.

    `too_little` names the dyes that are not tried because what is left of them cannot be measured for this yarn.
    `stays` and `kept_limits` are what of the page's address its forms carry on, `better_query` the address part with
    the same dyes at their best, `advice_query` the one that asks which dye would help. `limit_error` and `snip_error`
    say what is wrong with limits and snip, if anything is.
    """

    target_text: str
    target_from: str
    kind_words: str
    base_name: str
    weight: str
    match: Match | None
    trouble: str | None
    slips: tuple[Slip, ...]
    mixture: Mixture
    more_dyes: tuple[str, ...]
    limits: LimitsForm
    limit_error: InputError | None
    snip: Snip | None
    snip_error: InputError | None
    skeins: Sequence[tuple[str, str]]
    too_little: tuple[str, ...]
    better_query: str | None
    advice_query: str
    stays: Mapping[str, str]
    kept_limits: Mapping[str, str]


def colourways_view(session: Session) -> dict[str, object]:
    """Return the colourways that are kept, with their bases and what their targets are known by, and the palettes."""
    names = {base.id: base.name for base in shelf_of.bases(session)}
    return {
        "colourways": [
            (colourway, names.get(colourway.base_id), KIND_WORDS[colourway.target_kind])
            for colourway in colourways_of.colourways(session)
        ],
        "ways": WAYS,
        **palettes_view(session),
    }


def asked_of(query: Asked) -> dict[str, str]:
    """Return what a page's address asks, with the picked colour as target where its button was used.

    Where another colour is typed over the one that `of` names, its origin and kind are no longer those of the target.
    """
    asked = dict(query)
    if asked.pop("use", "") == "picked" and asked.get("picked"):
        asked["target"] = asked["picked"]
    if asked.pop("of", asked.get("target")) != asked.get("target"):
        asked = {key: value for key, value in asked.items() if key not in {"from", "kind"}}
    return asked


def colour_page(session: Session, asked: Asked, *, colourway_id: int | None = None) -> ColourPage:
    """Return the whole page of a target, from what its form holds and, where one is named, a colourway's record.

    Raises:
        InputError: a field cannot be worked with; it is named. Wrong limits stand on the page instead.
        NotFoundError: no such colourway or swatch.
    """
    asked = _filled(session, asked, colourway_id)
    bench = bench_of(session, asked)
    names = bench.shelf.model.dyes
    apart = kept_apart([tub for tub in bench.tubs if tub.name in names])
    limits, found, trouble, limit_error = _found(bench, asked, apart)
    mix = mix_of(asked, found)
    mixture = mixture_on(bench, asked, mix)
    stays = stays_of(asked)
    snip, snip_error = _snip(session, bench, asked, mix, limits, stays)
    return ColourPage(
        target_text=asked["target"].strip(),
        target_from=_from(asked),
        kind_words=bench.wanted.words,
        base_name=bench.shelf.model.base,
        weight=asked.get("weight", "").strip() or units.show_mass(bench.dry_g),
        match=found,
        trouble=trouble,
        slips=slips_of(found, mix, bench.dry_g, partial(mix_query, stays)),
        mixture=mixture,
        more_dyes=tuple(sorted(set(names) - set(mix))),
        limits=limits_form(asked, names, bench.settings, apart),
        limit_error=limit_error,
        snip=snip,
        snip_error=snip_error,
        skeins=seen_skeins(session),
        too_little=_too_little(limits),
        better_query=_better_query(mixture, stays),
        advice_query=urlencode({"targets": lab_text(bench.wanted.target.lab), "base": bench.shelf.model.base}),
        stays={key: value for key, value in stays.items() if not is_limit(key)},
        kept_limits={key: value for key, value in stays.items() if is_limit(key)},
    )


def _found(
    bench: Bench, asked: Asked, apart: Mapping[frozenset[str], str]
) -> tuple[Limits, Match | None, str | None, InputError | None]:
    """Return the limits and the recipes within them, or why there are none, or what is wrong with the limits."""
    model, limits = bench.shelf.model, Limits()
    try:
        limits = _limits(bench, asked, apart)
        how = Search(
            limits, weighing=Weighing(fibre_mass_g=bench.dry_g, scale_resolution_g=scale_g(asked, bench.settings))
        )
        return limits, match_on(model, bench.wanted.target, how=how), None, None
    except NoMatchError as error:
        return limits, None, error.message, None
    except InputError as error:
        if error.field not in LIMIT_FIELDS:
            raise
        return limits, None, None, error


def _limits(bench: Bench, asked: Asked, apart: Mapping[frozenset[str], str]) -> Limits:
    names = bench.shelf.model.dyes
    return limits_of(asked, names, bench.settings, apart, tubs=bench.tubs, dry_g=bench.dry_g, base=bench.base)


def _too_little(limits: Limits) -> tuple[str, ...]:
    return tuple(sorted(name for name, most in limits.most_owf.items() if most < limits.least_owf.get(name, 0.0)))


def _snip(
    session: Session, bench: Bench, asked: Asked, mix: Mapping[str, float], limits: Limits, stays: Mapping[str, str]
) -> tuple[Snip | None, InputError | None]:
    """Return what a snip says of the mix in hand, where one is told, or what is wrong with it."""
    try:
        reading = read_snip(session, asked)
        return (snip_of(bench, mix, reading, limits, stays) if reading else None), None
    except InputError as error:
        return None, error


def take_snip(session: Session, asked: Asked, *, today: date, colourway_id: int | None = None) -> str:
    """Return the page's address part with the recipe as a snip moves it; keep the snip as a swatch where ticked.

    Raises:
        InputError: no snip, or a field that cannot be worked with; nothing is kept then.
    """
    asked = _filled(session, asked, colourway_id)
    bench, mix = bench_of(session, asked), mix_of(asked, None)
    reading = read_snip(session, asked)
    if reading is None:
        raise InputError("what did the snip come out as? Type its colour, or choose a judged skein", field="snip")
    limits = _limits(bench, asked, {})
    query = snip_of(bench, mix, reading, limits, stays_of(asked)).query
    if "keep_swatch" in asked:
        keep_snip(session, bench, mix, reading, of=asked.get("check_name", "").strip(), today=today)
    return query


def kept_query(asked: Asked) -> str:
    """Return what the page of a colour goes on with once it is kept: yarn and limits, not on record."""
    return urlencode({key: text for key, text in asked.items() if text.strip() and (key == "weight" or is_limit(key))})


def mixture_view(session: Session, asked: Asked) -> dict[str, object]:
    """Return only the mix in hand, and the address part with its dyes at their best: what a moved slider asks for."""
    mixture = mixture_on(bench_of(session, asked), asked, mix_of(asked, None))
    return {"mixture": mixture, "better_query": _better_query(mixture, stays_of(asked))}


def _better_query(mixture: Mixture, stays: Mapping[str, str]) -> str | None:
    better = mixture.reach.better_owf if mixture.reach else {}
    return mix_query(stays, better) if better else None


def _filled(session: Session, asked: Asked, colourway_id: int | None) -> Asked:
    if colourway_id is None:
        return asked
    kept = colourways_of.colourway(session, colourway_id)
    base = None if kept.base_id is None else shelf_of.base(session, kept.base_id)
    return with_kept(asked, kept, base.name if base else None)


def _from(asked: Asked) -> str:
    """Return where the target is from, in words; the target's own text where nothing says it."""
    target = asked["target"].strip()
    return asked.get("from", "").strip() or ("a measured curve" if target.lower().startswith("curve") else target)


def chosen_colourway(session: Session, asked: Asked, *, today: date, colourway_id: int | None = None) -> Colourway:
    """Return the mix in hand as a colourway to be kept, or in place of the one with this id; nothing is written.

    Raises:
        InputError: no name, an empty mix, or a field that cannot be worked with.
    """
    asked = _filled(session, asked, colourway_id)
    name = asked.get("name", "").strip()
    if not name:
        raise InputError("give the colourway a name to find it again", field="name")
    mix = {dye: depth for dye, depth in mix_of(asked, None).items() if depth > 0}
    if not mix:
        raise InputError("there is no dye in this mix: choose a recipe first", field="depth")
    bench = bench_of(session, asked)
    model, target = bench.shelf.model, bench.wanted.target
    lightness, a, b = lab_of_mix(model, depth_vector(model, mix), load_observer_tables())
    chosen = Colourway(
        name=name,
        target_lab=target.lab,
        target_from=_from(asked),
        recipe_owf=mix,
        predicted_lab=(float(lightness), float(a), float(b)),
        base_id=bench.base.id if bench.base else None,
        created_on=today,
        note=asked.get("note", "").strip(),
        target_kind=bench.wanted.kind,
        target_reflectance=None if target.reflectance is None else tuple(target.reflectance.tolist()),
    )
    if colourway_id is None:
        return chosen
    before = colourways_of.colourway(session, colourway_id)
    return replace(
        chosen,
        id=colourway_id,
        created_on=before.created_on,
        note=chosen.note or before.note,
        palette_id=before.palette_id,
        share_frac=before.share_frac,
    )
