"""A palette out of a picture: its colours, the nearest that the shelf reaches on a base, and yarn for each."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from urllib.parse import urlencode
from uuid import UUID

import numpy as np
from numpy.typing import NDArray
from sqlalchemy.orm import Session

from dyewright import units
from dyewright.core.colour import delta_e00
from dyewright.core.colour.palette import picture_palette
from dyewright.core.model import Base, Lab, Photo, TargetKind
from dyewright.errors import InputError
from dyewright.records import photos
from dyewright.records import shelf as shelf_of
from dyewright.services.colour_targets import lab_text
from dyewright.services.picture.frame import DISC_FRAC, Frame, PickReading, area_shares, kept_frame, read_pick
from dyewright.services.picture.reach import Fit, Reached, YarnPart, reached_colours, strip_columns, yarn_shares
from dyewright.services.shelf_model import StudioShelf, studio_shelf
from dyewright.services.shown import shown_hex, shown_words

__all__ = [
    "PICK_WIDTH_PX",
    "Pick",
    "PictureView",
    "asked_of",
    "colour_count",
    "dry_g_of",
    "picture_view",
    "proposed_places",
]

Asked = Mapping[str, str]
"""What the page's form holds, as text: k, fit, base, weight, pick.1 and on, name, name.1 and on."""

LEAST_COLOURS, MOST_COLOURS, DEFAULT_COLOURS = 3, 8, 5
SKEINS_A_COLOUR = 2  # where no weight is said; ours
MOST_G = 1_000_000.0  # a tonne: beyond it something was mistyped; ours
SEED = 20261126  # of the starts of the grouping: the same picture gives the same palette
APART_DE00 = 3.0  # a colour this close to a pick is not proposed beside it (estimate)
RIM_FRAC = 0.03  # at each side of a picture no pick is proposed; ours
PLACE_DIGITS = 3  # of a place from 0 to 1: its field says per cent to one place
PICK_WIDTH_PX = 300  # how wide the picture is that places are clicked on where no script runs
NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight")


@dataclass(frozen=True)
class Pick:
    """One colour of the palette, as the page shows it; places are in per cent of the picture.

    `reached` is None while the shelf cannot tell; its goal is the picture's own colour or, in harmony, one near it.
    """

    number: int
    x_percent: float
    y_percent: float
    lab: Lab
    hex: str
    words: str
    own_band: float | None
    is_washed_out: bool
    share_frac: float
    reached: Reached | None
    yarn: str
    name: str
    typed_name: str
    target_query: str
    query: str

    @property
    def off_de00(self) -> float:
        """How far the shelf's colour is from the picture's."""
        return self.reached.de00_from(self.lab) if self.reached else 0.0

    @property
    def off(self) -> str:
        """How the shelf's colour differs from the picture's, in words."""
        return self.reached.off_from(self.lab) if self.reached else ""

    @property
    def place(self) -> str:
        """The place as its field holds it."""
        return f"{self.x_percent:.1f}, {self.y_percent:.1f}"


@dataclass(frozen=True)
class PictureView:
    """Everything that a page says of a picture and its palette."""

    photo: Photo
    picks: tuple[Pick, ...]
    kind: TargetKind
    chart_warnings: tuple[str, ...]
    chart_miss_de00: float | None
    fit: Fit
    verdict: str
    harmony: str | None
    trouble: str | None
    base: Base | None
    bases: tuple[str, ...]
    base_name: str
    weight: str
    dry_g: float
    notes: tuple[str, ...]
    disc_percent: float = 100 * DISC_FRAC

    @property
    def advice_query(self) -> str | None:
        """The address part that asks which dye would help; None where all is within reach, or nothing is known."""
        if all(pick.reached is None or pick.reached.is_within for pick in self.picks):
            return None
        return urlencode({"targets": "\n".join(lab_text(pick.lab) for pick in self.picks), "base": self.base_name})

    @property
    def columns(self) -> str:
        """The widths of the colours side by side, by their shares."""
        return strip_columns([pick.share_frac for pick in self.picks])


def asked_of(query: Asked) -> dict[str, str]:
    """Return what a page's address asks, with a place clicked on the small picture put where it belongs."""
    asked = {key: text for key, text in query.items() if key not in {"at.x", "at.y", "at.height", "move"}}
    if "anew" in asked:
        return {key: text for key, text in asked.items() if key != "anew" and not key.startswith("pick.")}
    try:
        across, down = (float(query[key]) for key in ("at.x", "at.y"))
        height = float(query["at.height"])
    except (KeyError, ValueError):
        return asked
    if query.get("move", "").isdigit() and height > 0:
        asked[f"pick.{query['move']}"] = f"{100 * across / PICK_WIDTH_PX:.1f}, {100 * down / height:.1f}"
    return asked


def picture_view(session: Session, photo_id: UUID, asked: Asked) -> tuple[PictureView, InputError | None]:
    """Return a picture with its palette, and the first field that could not be worked with: it counts as not filled in.

    Raises:
        NotFoundError: there is no such photo.
        InputError: no part of the picture can be used.
    """
    usable, first = dict(asked), None
    while True:
        try:
            return _view(session, photo_id, usable), first
        except InputError as wrong:
            if not usable.get(wrong.field or "", "").strip():
                raise
            first = first or wrong
            del usable[wrong.field or ""]


def _view(session: Session, photo_id: UUID, asked: Asked) -> PictureView:
    frame = kept_frame(session, photo_id)
    count = colour_count(asked.get("k", ""), usual=len(_pick_keys(asked)) or DEFAULT_COLOURS)
    places = _places(frame, asked, count)
    readings = [read_pick(frame, x, y) for x, y in places]
    labs = [reading.lab for reading in readings]
    shares = area_shares(frame, labs)
    shelf, trouble = _shelf(session, asked.get("base", "").strip())
    base = None if shelf is None else shelf_of.base_named(session, shelf.model.base)
    dry_g = dry_g_of(asked.get("weight", ""), base, len(places))
    fit = Fit.HARMONY if asked.get("fit") == Fit.HARMONY and shelf else Fit.NEAREST
    reach = None if shelf is None else reached_colours(shelf.model, labs, shares, fit)
    parts = yarn_shares(shares, dry_g, base.skein_g if base else None)
    kind = TargetKind.MEASURED if frame.is_measured else TargetKind.PICTURE
    stays = {"base": shelf.model.base if shelf else "", "kind": kind.value}
    names = _names(asked, labs)
    picks = tuple(
        _pick(
            number,
            places[number - 1],
            readings[number - 1],
            shares[number - 1],
            None if reach is None else reach.colours[number - 1],
            parts[number - 1],
            (names[number - 1], asked.get(f"name.{number}", "").strip()),
            stays,
        )
        for number in range(1, len(places) + 1)
    )
    return PictureView(
        photo=photos.photo(session, photo_id),
        picks=picks,
        kind=kind,
        chart_warnings=frame.reading.warnings,
        chart_miss_de00=frame.reading.left_out_de00_median,
        fit=fit,
        verdict=_verdict(picks, shelf, fit),
        harmony=None if reach is None else reach.words,
        trouble=trouble,
        base=base,
        bases=tuple(one.name for one in shelf_of.bases(session)),
        base_name=shelf.model.base if shelf else "",
        weight=asked.get("weight", "").strip() or units.show_mass(dry_g),
        dry_g=dry_g,
        notes=(*_too_few(count, len(picks)), *frame.photo.notes, *(shelf.left_out if shelf else ())),
    )


def colour_count(text: str, usual: int = DEFAULT_COLOURS) -> int:
    """Return how many colours are asked for; the usual number where nothing is said.

    Raises:
        InputError: no number, or one outside the limits.
    """
    if not text.strip():
        return usual
    if not text.strip().isdecimal() or not LEAST_COLOURS <= int(text) <= MOST_COLOURS:
        raise InputError(
            f"{text.strip()!r} colours were asked for; a palette here has {LEAST_COLOURS} to {MOST_COLOURS}",
            field="k",
            value=text,
            limit=MOST_COLOURS,
        )
    return int(text)


def _places(frame: Frame, asked: Asked, count: int) -> list[tuple[float, float]]:
    """Return the places of the picks: as the form has them, filled up or cut down to the number asked for."""
    typed = [_place(asked[key], key) for key in _pick_keys(asked) if asked[key].strip()]
    if len(typed) == count:
        return typed
    if len(typed) > count:
        shares = area_shares(frame, [read_pick(frame, x, y).lab for x, y in typed])
        kept = sorted(np.argsort(shares)[::-1][:count].tolist())
        return [typed[number] for number in kept]
    places = proposed_places(frame, count)
    return _filled(frame, typed, places, count) if typed else places


def proposed_places(frame: Frame, count: int) -> list[tuple[float, float]]:
    """Return where a picture's colours are proposed to be read, across and down from 0 to 1; fewer where it has fewer.

    Raises:
        InputError: no part of the picture can be used.
    """
    proposed = picture_palette(frame.lab, count, np.random.default_rng(SEED), is_usable=_inner(frame.is_usable))
    # As exact as the page's fields hold them: a palette that is sent back is read where it was shown.
    return [(round(colour.x_frac, PLACE_DIGITS), round(colour.y_frac, PLACE_DIGITS)) for colour in proposed]


def _inner(is_usable: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return the usable pixels without the picture's rim, where a pick could hardly be taken hold of."""
    rows, columns = (int(RIM_FRAC * size) for size in is_usable.shape)
    inner = np.zeros_like(is_usable)
    inner[rows : len(inner) - rows, columns : inner.shape[1] - columns] = True
    return inner & is_usable


def _filled(
    frame: Frame, typed: list[tuple[float, float]], proposed: Sequence[tuple[float, float]], count: int
) -> list[tuple[float, float]]:
    """Return the places that are there, and of those proposed the ones whose colours lie farthest from them."""
    places, left = list(typed), list(proposed)
    while len(places) < count and left:
        have = np.array([read_pick(frame, x, y).lab for x, y in places])
        away = [float(delta_e00(np.array(read_pick(frame, x, y).lab), have).min()) for x, y in left]
        if max(away) < APART_DE00:
            break
        places.append(left.pop(int(np.argmax(away))))
    return places


def _pick_keys(asked: Asked) -> list[str]:
    keys = [key for key in asked if key.startswith("pick.") and key.removeprefix("pick.").isdecimal()]
    return sorted(keys, key=lambda key: int(key.removeprefix("pick.")))[:MOST_COLOURS]


def _place(text: str, field: str) -> tuple[float, float]:
    """Return a place from "41.2, 63.5": per cent across and down."""
    try:
        across, down = (float(part) for part in text.replace(";", ",").split(","))
    except ValueError:
        across, down = np.nan, np.nan
    if not (0 <= across <= 100 and 0 <= down <= 100):
        raise InputError(
            f"the place {text.strip()!r} is not two numbers from 0 to 100, per cent across and down (41.2, 63.5)",
            field=field,
            value=text,
            limit=100,
        )
    return across / 100, down / 100


def _shelf(session: Session, base: str) -> tuple[StudioShelf | None, str | None]:
    """Return the fitted dyes; without usable swatches none, and the sentence that says so."""
    try:
        return studio_shelf(session, base or None), None
    except InputError as error:
        if base:
            raise
        return None, error.message


def dry_g_of(text: str, base: Base | None, colours: int) -> float:
    """Return the yarn of a palette in all: as typed, else some skeins of the base for each colour.

    Raises:
        InputError: the text is no weight above 0, or one beyond reason.
    """
    if not text.strip():
        return colours * SKEINS_A_COLOUR * (base.skein_g if base and base.skein_g else 100.0)
    dry_g = units.mass_g(text, field="weight", thing="yarn in all", default_unit="g")
    if not 0 < dry_g <= MOST_G:
        raise InputError(
            f"the yarn in all weighs {dry_g:g} g; it must be above 0 g, and {units.show_mass(MOST_G)} at most",
            field="weight",
            value=dry_g,
            limit=MOST_G,
        )
    return dry_g


def _names(asked: Asked, labs: Sequence[Lab]) -> list[str]:
    """Return a name for each colour: as typed, else its words, with a number where two would be the same."""
    names: list[str] = []
    for number, lab in enumerate(labs, start=1):
        plain = asked.get(f"name.{number}", "").strip() or shown_words(lab)
        name, again = plain, 2
        while name in names:
            name, again = f"{plain} {again}", again + 1
        names.append(name)
    return names


def _pick(
    number: int,
    place: tuple[float, float],
    reading: PickReading,
    share_frac: float,
    reached: Reached | None,
    yarn: YarnPart,
    named: tuple[str, str],
    stays: Asked,
) -> Pick:
    goal = reading.lab if reached is None else reached.goal
    mix = {} if reached is None else reached.depths_owf
    target = {"target": lab_text(goal), "from": f"a picture, {named[0]}", **stays, "weight": f"{yarn.mass_g:.4g} g"}
    depths = {f"depth.{name}": f"{100 * depth:.3g}" for name, depth in mix.items()}
    return Pick(
        number=number,
        x_percent=100 * place[0],
        y_percent=100 * place[1],
        lab=reading.lab,
        hex=shown_hex(reading.lab),
        words=shown_words(reading.lab),
        own_band=reading.de00_95,
        is_washed_out=reading.is_washed_out,
        share_frac=share_frac,
        reached=reached,
        yarn=yarn.words,
        name=named[0],
        typed_name=named[1],
        target_query=urlencode(target),
        query=urlencode({**target, **depths}),
    )


def _too_few(asked: int, found: int) -> tuple[str, ...]:
    if found >= asked:
        return ()
    colours = "one colour" if found == 1 else f"{NUMBERS[found]} colours"
    return (f"The picture has no more than {colours} that an eye tells apart.",)


def _verdict(picks: Sequence[Pick], shelf: StudioShelf | None, fit: Fit) -> str:
    """Return how much of the palette the shelf reaches, in one sentence."""
    count, where = len(picks), "" if shelf is None else f"on {shelf.model.base}"
    where += ", in harmony" if fit is Fit.HARMONY else ""
    if shelf is None:
        colours = "One colour" if count == 1 else f"{NUMBERS[count].capitalize()} colours"
        return f"{colours}; what your dyes reach of the picture, swatches will tell."
    within = sum(pick.reached is not None and pick.reached.is_within for pick in picks)
    if not within:
        return f"Your shelf reaches none of it {where}: here is how near it comes."
    if within == count:
        return f"Your shelf reaches all of it {where}."
    return f"Your shelf reaches {NUMBERS[within]} of the {NUMBERS[count]} {where}."
