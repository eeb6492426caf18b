"""Where the shelf reaches: its colours on a base as two maps, with the colourways of the book on them."""

from dataclasses import dataclass
from urllib.parse import urlencode

import numpy as np
from sqlalchemy.orm import Session

from dyewright.core.colour import lch_from_lab
from dyewright.core.matching import Gamut, chroma_range, most_vivid, outlines_at, outside_de00
from dyewright.core.model import Colourway, Lab
from dyewright.errors import InputError
from dyewright.records import colourways as colourways_of
from dyewright.records import shelf as shelf_of
from dyewright.services.colour_pages.bench import Asked
from dyewright.services.reach_map import hue_map, lightness_map, most_chroma, shelf_gamut
from dyewright.services.shelf_model import studio_shelf
from dyewright.services.shown import shown_hex, shown_words
from dyewright.sheets.gamut import Mark, MarkShape

__all__ = ["HUES", "LIGHTNESSES", "Place", "ReachPage", "reach_page", "reach_view"]

LIGHTNESSES = (
    (20, "very dark"),
    (30, "dark"),
    (40, "deep"),
    (50, "middle"),
    (60, "middle, lighter"),
    (70, "light"),
    (80, "pale"),
    (88, "very pale"),
)
HUES = (
    (5, "rose"),
    (30, "red"),
    (55, "orange"),
    (75, "amber"),
    (92, "yellow"),
    (115, "lime"),
    (145, "green"),
    (175, "sea green"),
    (205, "teal"),
    (250, "blue"),
    (285, "ultramarine"),
    (308, "violet"),
    (330, "purple"),
)
"""Hue angles in degrees by the words that colours have here."""

NEAR_L, NEAR_DEG = 8.0, 18.0  # a colour this near to a map's lightness or hue is drawn on it
GREY_CHROMA = 8.0  # below it a colour belongs to every hue
REACHED_DE00 = 1.0  # one lot (common practice, no source)


@dataclass(frozen=True)
class Place:
    """A colourway on the maps: its number there, whether it is reached, and the addresses that lead on."""

    number: int
    name: str
    hex: str
    words: str
    outside_de00: float
    says: str
    match_query: str
    map_query: str
    is_drawn: bool


@dataclass(frozen=True)
class ReachPage:
    """The maps of what a shelf reaches, at one lightness and in one hue, and the colourways of the book.

    `no_lightness` and `no_hue` say in words that a map shows nothing, or greys only, and what there is instead;
    `vivid_query` is the address part of the hue that is reached most vividly, where there is one.
    """

    base: str
    dye_count: int
    lightness: int
    hue: int
    lightness_svg: str
    hue_svg: str
    no_lightness: str
    no_hue: str
    vivid_query: str
    places: tuple[Place, ...]
    verdict: str
    notes: tuple[str, ...]


def reach_view(session: Session) -> dict[str, object]:
    """Return what the maps can be asked for: bases, palettes, lightnesses and hues."""
    return {
        "bases": [base.name for base in shelf_of.bases(session)],
        "palettes": [(str(one.id), one.name) for one in colourways_of.palettes(session)],
        "lightnesses": [(str(value), f"{value}, {words}") for value, words in LIGHTNESSES],
        "hues": [(str(value), words) for value, words in HUES],
    }


def reach_page(session: Session, asked: Asked) -> ReachPage:
    """Return the maps that an address asks for.

    Raises:
        InputError: no usable swatch, a base without its undyed colour, or a number that cannot be.
    """
    shelf = studio_shelf(session, asked.get("base", "").strip() or None)
    gamut = shelf_gamut(shelf.model)
    targets = _targets(session, asked.get("palette", "").strip())
    off = [float(outside_de00(gamut, lab)) for _, lab in targets]
    lightness, hue = _slice(asked, gamut, [lab for (_, lab), far in zip(targets, off, strict=True) if _is_reached(far)])
    no_hue = _no_hue(gamut, hue)
    places = tuple(
        _place(number, colourway, lab, far, gamut, asked, lightness, hue)
        for number, ((colourway, lab), far) in enumerate(zip(targets, off, strict=True), start=1)
    )
    near_l = [pair for pair in zip(places, targets, strict=True) if abs(pair[1][1][0] - lightness) <= NEAR_L]
    near_hue = [pair for pair in zip(places, targets, strict=True) if _is_of_hue(pair[1][1], hue)]
    return ReachPage(
        base=gamut.base,
        dye_count=len(gamut.dyes),
        lightness=lightness,
        hue=hue,
        lightness_svg=lightness_map(gamut, lightness, [_mark(place, lab[1], lab[2]) for place, (_, lab) in near_l]),
        hue_svg=hue_map(
            gamut,
            float(np.radians(hue)),
            [_mark(place, float(np.hypot(lab[1], lab[2])), lab[0]) for place, (_, lab) in near_hue],
        ),
        no_lightness=_no_lightness(gamut, lightness),
        no_hue=no_hue,
        vivid_query=_asked_query(asked, lightness, _vivid_hue(gamut)) if no_hue and len(gamut.dyes) > 1 else "",
        places=places,
        verdict=_verdict(places),
        notes=(*shelf.left_out, *shelf.model.notes),
    )


def _targets(session: Session, palette: str) -> list[tuple[Colourway, Lab]]:
    """Return the colourways of the book that are colours to be reached; those of one palette where it is named."""
    kept = colourways_of.colourways(session)
    if palette:
        kept = [one for one in kept if str(one.palette_id) == palette]
    pairs = ((one, one.target_lab or one.predicted_lab) for one in kept)
    return [(one, lab) for one, lab in pairs if lab is not None]


def _is_reached(off_de00: float) -> bool:
    return off_de00 <= REACHED_DE00


def _slice(asked: Asked, gamut: Gamut, reached: list[Lab]) -> tuple[int, int]:
    """Return the lightness and the hue of the maps: as asked, else those where something is to be seen.

    These are the named ones next to the first colour within reach that has a hue, or its own where the shelf does not
    reach the named one; without such a colour, the named hue of which the shelf gives the most chroma.
    """
    hued = [lch for lch in map(lch_from_lab, reached) if lch[1] >= GREY_CHROMA]
    light, _, own_hue = (float(part) for part in (hued[0] if hued else lch_from_lab(most_vivid(gamut))))
    near_light = min((value for value, _ in LIGHTNESSES), key=lambda at: abs(at - light))
    lightness = _number(asked, "lightness", 0, 100, near_light if outlines_at(gamut, near_light) else round(light))
    return lightness, _number(asked, "hue", 0, 360, _near_hue(gamut, own_hue) if hued else _vivid_hue(gamut))


def _near_hue(gamut: Gamut, own: float) -> int:
    near = min((hue for hue, _ in HUES), key=lambda at: _turn(at, own))
    return near if _has_hue(gamut, near) else round(own)


def _vivid_hue(gamut: Gamut) -> int:
    return max((hue for hue, _ in HUES), key=lambda at: most_chroma(gamut, float(np.radians(at))))


def _has_hue(gamut: Gamut, hue: int) -> bool:
    """Return whether more than greys are reached of a hue."""
    return most_chroma(gamut, float(np.radians(hue))) >= GREY_CHROMA


def _no_lightness(gamut: Gamut, lightness: int) -> str:
    """Return that nothing of a lightness is reached, and what is; empty where something is."""
    if outlines_at(gamut, lightness):
        return ""
    least, most = gamut.lightness_range
    if lightness > most:
        return f"Nothing so light is reached: the lightest, the undyed yarn, is at {most:.1f}."
    return f"Nothing so dark is reached: the darkest is at {least:.1f}."


def _no_hue(gamut: Gamut, hue: int) -> str:
    """Return that a hue is not reached, and what is; empty where it is reached."""
    if len(gamut.dyes) == 1:
        return "One dye alone gives a single colour at each lightness: a map of one hue takes two dyes."
    if _has_hue(gamut, hue):
        return ""
    vivid = dict(HUES)[_vivid_hue(gamut)]
    return f"Greys aside, no mix of these dyes has this hue. They are most vivid in {vivid}."


def _turn(one: float, other: float) -> float:
    """Return how far two hue angles lie apart, degrees."""
    return abs((one - other + 180) % 360 - 180)


def _number(asked: Asked, field: str, low: int, high: int, usual: int) -> int:
    text = asked.get(field, "").strip()
    if not text:
        return usual
    try:
        value = int(text)
    except ValueError:
        value = -1
    if not low <= value <= high:
        raise InputError(
            f"the {field} of a map is {text!r}; it is a whole number from {low} to {high}",
            field=field,
            value=text,
            limit=(low, high),
        )
    return value


def _is_of_hue(lab: Lab, hue: int) -> bool:
    _, chroma, own = lch_from_lab(lab)
    return bool(chroma < GREY_CHROMA or _turn(float(own), hue) <= NEAR_DEG)


def _asked_query(asked: Asked, lightness: float, hue: float) -> str:
    """Return the address part of other maps of the same yarn and colours."""
    kept = {key: asked[key] for key in ("base", "palette") if asked.get(key, "").strip()}
    return urlencode({**kept, "lightness": f"{lightness:.0f}", "hue": f"{hue:.0f}"})


def _place(
    number: int, colourway: Colourway, lab: Lab, off: float, gamut: Gamut, asked: Asked, lightness: int, hue: int
) -> Place:
    return Place(
        number=number,
        name=colourway.name,
        hex=shown_hex(lab),
        words=shown_words(lab),
        outside_de00=off,
        says=_says(gamut, lab, off),
        match_query=f"/colours/{colourway.id}",
        map_query=_asked_query(asked, lab[0], lch_from_lab(lab)[2]),
        is_drawn=abs(lab[0] - lightness) <= NEAR_L or _is_of_hue(lab, hue),
    )


def _says(gamut: Gamut, lab: Lab, off: float) -> str:
    """Return in words whether a colour is reached, and what stands in the way."""
    if _is_reached(off):
        return "within reach"
    lightness, chroma, hue = (float(part) for part in lch_from_lab(lab))
    if lightness > gamut.base_lab[0]:
        return f"out of reach by ΔE00 {off:.0f}: lighter than the undyed yarn"
    span = chroma_range(gamut, lightness, float(np.radians(hue)))
    if span is None:
        return f"out of reach by ΔE00 {off:.0f}: no mix has this hue so {'dark' if lightness < 50 else 'light'}"
    side = "more vivid than the shelf gives" if chroma > span[1] else "greyer than the shelf gives"
    return f"out of reach by ΔE00 {off:.0f}: {side} at this lightness"


def _mark(place: Place, x: float, y: float) -> Mark:
    shape = MarkShape.DOT if _is_reached(place.outside_de00) else MarkShape.RING
    return Mark(x, y, place.hex, str(place.number), shape)


def _verdict(places: tuple[Place, ...]) -> str:
    if not places:
        return "No colour is kept yet to be looked for on the map."
    reached = sum(_is_reached(place.outside_de00) for place in places)
    if reached == len(places):
        return "Every colour of the book lies within reach." if len(places) > 1 else "It lies within reach."
    return f"{reached} of {len(places)} colours lie within reach."
