"""The shelf from what is typed: dyes, bases, pots and the studio's settings.

A form arrives as a mapping of field names to text; each error names its field, so that the page can show the sentence
where the value was typed.
"""

from collections.abc import Mapping, Sequence
from decimal import Decimal, InvalidOperation
from enum import StrEnum
from typing import TypeVar

from sqlalchemy.orm import Session

from dyewright import units
from dyewright.core import bath
from dyewright.core.model import Base, Dye, DyeClass, Heating, Settings, Spoons, Swatch, Vessel, Water
from dyewright.errors import InputError, NotFoundError
from dyewright.records import shelf as records_of
from dyewright.records import swatches as swatches_of
from dyewright.services.fibres import fibres_from_text
from dyewright.services.learning.page import shelf_taught
from dyewright.services.shown import shown_hex, swatch_lab
from dyewright.services.swatches.tubs import unbridged

__all__ = [
    "base_from_form",
    "change_settings",
    "dye_from_form",
    "form_of",
    "settings_from_form",
    "shelf_view",
    "vessel_from_form",
]

Form = Mapping[str, str]
_Choice = TypeVar("_Choice", bound=StrEnum)


def dye_from_form(form: Form, dye_id: int | None = None) -> Dye:
    """Return a tub of dye as typed."""
    return Dye(
        name=_name(form, "the dye"),
        dye_class=_choice(form, "dye_class", DyeClass, DyeClass.ACID_UNKNOWN),
        is_blend="is_blend" in form,
        is_fluorescent="is_fluorescent" in form,
        price_per_g=_decimal(form, "price_per_g", "price a gram"),
        on_shelf_g=_grams(form, "on_shelf_g", "dye on the shelf"),
        note=form.get("note", "").strip(),
        id=dye_id,
        dye_lot=form.get("dye_lot", "").strip(),
    )


def base_from_form(form: Form, base_id: int | None = None) -> Base:
    """Return a yarn base as typed; its undyed colour comes with a swatch of depth 0, not from here."""
    skein, kept = form.get("skein_g", "").strip(), form.get("kept", "").strip()
    return Base(
        name=_name(form, "the base"),
        fibre_frac=fibres_from_text(form.get("fibres", ""), field="fibres"),
        is_superwash="is_superwash" in form,
        skein_g=units.mass_g(skein, field="skein_g", thing="mass of a skein", default_unit="g") if skein else None,
        note=form.get("note", "").strip(),
        id=base_id,
        kept_l_kg=_kept_l_kg(kept) if kept else None,
    )


def _kept_l_kg(text: str) -> float:
    """Return what a drained wet skein keeps, litres a kilogram dry."""
    kept = units.liquor_l_kg(text, field="kept", thing="what a wet skein keeps", default_unit="L/kg")
    return bath.check_kept(kept, field="kept")


def vessel_from_form(form: Form, vessel_id: int | None = None) -> Vessel:
    """Return a pot as typed."""
    diameter, power, turns = (form.get(key, "").strip() for key in ("diameter", "power", "turns"))
    return Vessel(
        name=_name(form, "the pot"),
        volume_l=_above_zero(
            units.volume_l(form.get("volume", ""), field="volume", thing="pot volume", default_unit="L"), "volume", "L"
        ),
        heating=_choice(form, "heating", Heating, Heating.ELECTRIC),
        diameter_m=units.length_m(diameter, field="diameter", default_unit="cm") if diameter else None,
        has_lid="has_lid" in form,
        power_w=units.power_w(power, field="power", default_unit="W") if power else None,
        turns_per_min=units.turns_per_min(turns, field="turns") if turns else None,
        id=vessel_id,
    )


def settings_from_form(form: Form, before: Settings) -> Settings:
    """Return the studio's settings as typed; what cannot be changed here stays as before."""
    temperature, ph = form.get("water_temperature", "").strip(), form.get("water_ph", "").strip()
    alkalinity = form.get("alkalinity", "").strip() or "unknown"
    tolerance = _decimal(form, "tolerance", "tolerance")
    return Settings(
        name=_name(form, "the studio"),
        is_demo=before.is_demo,
        spoons=_choice(form, "spoons", Spoons, before.spoons),
        water=Water(
            alkalinity_mg_l=units.alkalinity_mg_l(alkalinity, field="alkalinity", default_unit="mg/L"),
            ph=units.ph(ph, field="water_ph") if ph else None,
            temperature_c=units.temperature_c(temperature, field="water_temperature", default_unit="C")
            if temperature
            else None,
        ),
        scale_resolution_g=_above_zero(
            units.mass_g(form.get("scale", ""), field="scale", thing="smallest step of the scale", default_unit="g"),
            "scale",
            "g",
        ),
        tolerance_de00=_above_zero(
            before.tolerance_de00 if tolerance is None else float(tolerance), "tolerance", "ΔE00"
        ),
        is_tonal_wanted="is_tonal_wanted" in form,
    )


def change_settings(session: Session, form: Form) -> Settings:
    """Keep the studio's settings as typed.

    Raises:
        InputError: a field is wrong; nothing is changed then.
        NotFoundError: no studio has begun.
    """
    before = records_of.studio_settings(session)
    if before is None:
        raise NotFoundError("no studio has begun here yet")
    return records_of.save_settings(session, settings_from_form(form, before))


def _name(form: Form, thing: str) -> str:
    name = form.get("name", "").strip()
    if not name:
        raise InputError(f"{thing} has no name; give it one", field="name")
    return name


def _choice(form: Form, key: str, kind: type[_Choice], default: _Choice) -> _Choice:
    text = form.get(key, "").strip()
    try:
        return kind(text) if text else default
    except ValueError:
        known = ", ".join(kind)
        raise InputError(
            f"{key} '{text}' is not known; use one of {known}", field=key, value=text, limit=known
        ) from None


def _decimal(form: Form, key: str, thing: str) -> Decimal | None:
    text = form.get(key, "").strip().replace(",", ".")
    if not text:
        return None
    try:
        value = Decimal(text)
    except InvalidOperation:
        raise InputError(f"{thing} '{text}' is not a number", field=key, value=text) from None
    if not value.is_finite() or value < 0:
        raise InputError(f"{thing} is {text}: it must be 0 or more", field=key, value=text, limit=0)
    return value


def _grams(form: Form, key: str, thing: str) -> Decimal | None:
    text = form.get(key, "").strip()
    if not text:
        return None
    return Decimal(str(round(units.mass_g(text, field=key, thing=thing, default_unit="g"), 3)))


def _above_zero(value: float, key: str, unit: str) -> float:
    if value <= 0:
        raise InputError(f"{key} is {value:g} {unit}: it must be above 0 {unit}", field=key, value=value, limit=0)
    return value


def _plainly(amount: Decimal | None) -> str | None:
    """Return an amount without the zeros that a column of fixed scale appends."""
    return None if amount is None else f"{amount.normalize():f}"


def form_of(item: Dye | Base | Vessel | Settings) -> dict[str, str]:
    """Return what a form shows for something that is on record: the inverse of the readers above."""
    match item:
        case Dye():
            fields: dict[str, object] = {
                "name": item.name,
                "dye_class": item.dye_class,
                "price_per_g": _plainly(item.price_per_g),
                "on_shelf_g": _plainly(item.on_shelf_g),
                "note": item.note,
                "dye_lot": item.dye_lot,
                "is_blend": item.is_blend,
                "is_fluorescent": item.is_fluorescent,
            }
        case Base():
            fields = {
                "name": item.name,
                "fibres": ", ".join(f"{fibre} {share * 100:g}" for fibre, share in item.fibre_frac.items()),
                "skein_g": _with_unit(item.skein_g, "g"),
                "note": item.note,
                "is_superwash": item.is_superwash,
                "kept": _with_unit(item.kept_l_kg, "L/kg"),
            }
        case Vessel():
            fields = {
                "name": item.name,
                "volume": _with_unit(item.volume_l, "L"),
                "diameter": _with_unit(item.diameter_m and item.diameter_m * 100, "cm"),
                "power": _with_unit(item.power_w, "W"),
                "turns": _with_unit(item.turns_per_min, "/min"),
                "heating": item.heating,
                "has_lid": item.has_lid,
            }
        case Settings():
            fields = {
                "name": item.name,
                "spoons": item.spoons,
                "alkalinity": _with_unit(item.water.alkalinity_mg_l, "mg/L") or "unknown",
                "water_ph": item.water.ph,
                "water_temperature": _with_unit(item.water.temperature_c, "C"),
                "scale": _with_unit(item.scale_resolution_g, "g"),
                "tolerance": item.tolerance_de00,
                "is_tonal_wanted": item.is_tonal_wanted,
            }
    return {key: "on" if value is True else str(value) for key, value in fields.items() if value not in {None, False}}


def shelf_view(session: Session) -> dict[str, object]:
    """Return everything at hand: dyes, bases, pots, and the colours of each dye's depth ladder, palest first."""
    swatches, dyes = swatches_of.swatches(session), records_of.dyes(session)
    return {
        "dyes": dyes,
        "bases": records_of.bases(session),
        "vessels": records_of.vessels(session),
        "swatch_count": len(swatches),
        "ladders": _ladders(swatches),
        "new_tubs": {dye.name for dye in dyes if unbridged(dye, swatches)},
        **shelf_taught(session),
    }


def _ladders(swatches: Sequence[Swatch]) -> dict[str, list[str]]:
    """Return the display colours of each dye's own swatches on the base that has most of them, palest first."""
    found: dict[str, dict[str, list[tuple[float, str]]]] = {}
    for swatch in swatches:
        if len(swatch.depths_owf) == 1:
            [(dye, depth_owf)] = swatch.depths_owf.items()
            found.setdefault(dye, {}).setdefault(swatch.base, []).append((depth_owf, shown_hex(swatch_lab(swatch))))
    longest = {dye: max(by_base.values(), key=len) for dye, by_base in found.items()}
    return {dye: [code for _, code in sorted(ladder)] for dye, ladder in longest.items()}


def _with_unit(value: float | None, unit: str) -> str | None:
    return None if value is None else f"{value:g} {unit}"
