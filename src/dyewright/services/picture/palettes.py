"""Palettes that are kept: a picture's colours as colourways that belong together, with yarn for each."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from urllib.parse import urlencode
from uuid import UUID

from sqlalchemy.orm import Session

from dyewright import units
from dyewright.core.colour import delta_e00, difference_words
from dyewright.core.model import Base, Colourway, Palette
from dyewright.errors import InputError
from dyewright.records import colourways as records_of
from dyewright.records import shelf as shelf_of
from dyewright.services.colour_targets import KIND_WORDS
from dyewright.services.picture.page import Pick, dry_g_of, picture_view
from dyewright.services.picture.reach import YarnPart, recipe_words, strip_columns, yarn_shares
from dyewright.services.shown import shown_hex, shown_words

__all__ = ["KeptColour", "PaletteSlip", "chosen_palette", "keep_palette", "palette_page", "palettes_view"]


@dataclass(frozen=True)
class PaletteSlip:
    """A palette as a list shows it."""

    id: int
    name: str
    hexes: tuple[str, ...]
    columns: str
    words: str


@dataclass(frozen=True)
class KeptColour:
    """A colourway of a palette as its page shows it, its name without the palette's.

    `off` says how the foretold colour differs from the target.
    """

    id: int
    name: str
    words: str
    hex: str
    target_hex: str
    off: str
    recipe: str
    yarn: str
    plan_query: str


def palettes_view(session: Session) -> dict[str, object]:
    """Return the palettes that are kept, for a list of them."""
    members = _members(session)
    return {"palettes": [_slip(palette, members.get(palette.id, [])) for palette in records_of.palettes(session)]}


def _members(session: Session) -> dict[int | None, list[Colourway]]:
    """Return the colourways of each palette by its id, the largest share first."""
    members: dict[int | None, list[Colourway]] = {}
    for way in records_of.colourways(session):
        members.setdefault(way.palette_id, []).append(way)
    return {key: sorted(ways, key=lambda way: -(way.share_frac or 0.0)) for key, ways in members.items()}


def _slip(palette: Palette, ways: Sequence[Colourway]) -> PaletteSlip:
    return PaletteSlip(
        id=palette.id or 0,
        name=palette.name,
        hexes=tuple(_hex(way) for way in ways),
        columns=strip_columns(_shares(ways), least_px=8),
        words=f"{len(ways)} colours" if ways else "no colour left",
    )


def _shares(ways: Sequence[Colourway]) -> list[float]:
    return [way.share_frac if way.share_frac is not None else 1 / len(ways) for way in ways]


def _hex(way: Colourway) -> str:
    return shown_hex(way.predicted_lab or way.target_lab)


def chosen_palette(
    session: Session, photo_id: UUID, typed: Mapping[str, str], *, today: date
) -> tuple[Palette, list[Colourway]]:
    """Return the palette on the page and its colourways, to be kept; nothing is written.

    Raises:
        InputError: no name, or a field that cannot be worked with.
        NotFoundError: there is no such photo.
    """
    view, wrong = picture_view(session, photo_id, typed)
    if wrong is not None:
        raise wrong
    name = typed.get("name", "").strip()
    if not name:
        raise InputError("give the palette a name to find it again", field="name", value="")
    base_id = view.base.id if view.base else None
    ways = [
        Colourway(
            name=f"{name} · {pick.name}",
            target_lab=pick.reached.goal if pick.reached else pick.lab,
            target_from=f"the picture of {name}, colour {pick.number}",
            recipe_owf=dict(pick.reached.depths_owf) if pick.reached else {},
            predicted_lab=pick.reached.lab if pick.reached else None,
            base_id=base_id,
            created_on=today,
            note=_note(pick),
            target_kind=view.kind,
            share_frac=pick.share_frac,
        )
        for pick in view.picks
    ]
    return Palette(name, photo_id, today), ways


def _note(pick: Pick) -> str:
    """Return the picture's own colour where another one near it is aimed at."""
    if pick.reached is None or float(delta_e00(pick.lab, pick.reached.goal)) < 0.05:
        return ""
    lab = " ".join(f"{value:.1f}" for value in pick.lab)
    return f"Kept in harmony with its palette; the picture's own colour is lab {lab}."


def keep_palette(session: Session, palette: Palette, ways: Sequence[Colourway]) -> Palette:
    """Keep a palette and its colourways: all or none.

    Raises:
        InputError: a name is taken; `field` says whose.
    """
    kept = records_of.save_palette(session, palette)
    for number, way in enumerate(ways, start=1):
        try:
            records_of.save_colourway(session, replace(way, palette_id=kept.id))
        except InputError as error:
            raise InputError(error.message, field=f"name.{number}", value=error.value) from error
    return kept


def palette_page(session: Session, palette_id: int, asked: Mapping[str, str]) -> dict[str, object]:
    """Return what the page of a palette shows; a weight that cannot be worked with counts as not filled in.

    Raises:
        NotFoundError: there is no such palette.
    """
    palette = records_of.palette(session, palette_id)
    ways = _members(session).get(palette.id, [])
    base = _base(session, ways)
    error = None
    try:
        dry_g = dry_g_of(asked.get("weight", ""), base, len(ways))
    except InputError as wrong:
        error, dry_g = wrong, dry_g_of("", base, len(ways))
    parts = yarn_shares(_shares(ways), dry_g, base.skein_g if base else None)
    return {
        "palette": palette,
        "colours": [_kept_colour(palette, way, part) for way, part in zip(ways, parts, strict=True)],
        "kind_words": KIND_WORDS[ways[0].target_kind] if ways else "",
        "columns": strip_columns(_shares(ways)),
        "base_name": base.name if base else "",
        "weight": units.show_mass(dry_g),
        "typed": asked,
        "error": error,
    }


def _base(session: Session, ways: Sequence[Colourway]) -> Base | None:
    ids = [way.base_id for way in ways if way.base_id is not None]
    return shelf_of.base(session, ids[0]) if ids else None


def _kept_colour(palette: Palette, way: Colourway, yarn: YarnPart) -> KeptColour:
    plan = {"colourway": str(way.id), "base": str(way.base_id or ""), "weight": f"{yarn.mass_g:.4g} g"}
    return KeptColour(
        id=way.id or 0,
        name=way.name.removeprefix(f"{palette.name} · "),
        words=shown_words(way.predicted_lab or way.target_lab),
        hex=_hex(way),
        target_hex=shown_hex(way.target_lab or way.predicted_lab),
        off=_off(way),
        recipe=recipe_words(way.recipe_owf) if way.predicted_lab else "no recipe yet",
        yarn=yarn.words,
        plan_query=urlencode({key: text for key, text in plan.items() if text}) if way.recipe_owf else "",
    )


def _off(way: Colourway) -> str:
    if way.predicted_lab is None or way.target_lab is None:
        return ""
    de00 = float(delta_e00(way.target_lab, way.predicted_lab))
    return f"foretold ΔE00 {de00:.1f} from its target: {difference_words(way.target_lab, way.predicted_lab)}"
