"""What a target can be taken from: typed, picked on a screen, a measured sample, a lot, a swatch on record."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from sqlalchemy.orm import Session

from dyewright.core.matching import Target
from dyewright.core.model import WAVELENGTHS_NM, Lab, Swatch, TargetKind
from dyewright.errors import InputError
from dyewright.files.swatches import read_sample
from dyewright.records import lots as lots_of
from dyewright.records import shelf as shelf_of
from dyewright.records import swatches as swatches_of
from dyewright.services.limits_form import is_limit
from dyewright.services.matching import colour_from_text, target_from_swatch
from dyewright.services.recipes import recipe_text
from dyewright.services.shown import shown_hex, shown_words, swatch_lab

__all__ = [
    "KIND_WORDS",
    "LARGEST_SAMPLE_BYTES",
    "WAYS",
    "Chip",
    "Wanted",
    "choose_view",
    "colour_chips",
    "curve_text",
    "lab_text",
    "sample_query",
    "swatch_named",
    "wanted_colour",
]

LATEST_LOTS = 12
LARGEST_SAMPLE_BYTES = 2_000_000  # one curve is less than a kilobyte; a whole session of an instrument stays below
KIND_WORDS = {
    TargetKind.MEASURED: "a measured colour",
    TargetKind.LOT: "the colour of a lot",
    TargetKind.TYPED: "typed as Lab",
    TargetKind.SCREEN: "picked on a screen: an intention, not a measurement",
    TargetKind.PICTURE: "out of a picture: an intention, not a measurement",
}
WAYS = (
    ("/colours/picture", "Out of a picture", "a palette of its colours, each with the nearest your shelf reaches"),
    ("/reach", "Where the shelf reaches", "a map of what your dyes give, with the colours of the book on it"),
    ("/colours/series", "A series of skeins", "from one colour to another, or between three dyes, even to the eye"),
    ("/colours/overdye", "Dye over what you have", "from a measured lot to the target, by additions only"),
    ("/colours/blend", "Ply or card dyed fibre", "the colour of yarns twisted or carded together"),
)
"""Other ways to a colour: address, title, words."""


@dataclass(frozen=True)
class Wanted:
    """A target with what it is known by."""

    target: Target
    kind: TargetKind

    @property
    def words(self) -> str:
        """What the target is known by, in words."""
        return KIND_WORDS[self.kind]


@dataclass(frozen=True)
class Chip:
    """A colour on record that can be taken: its name, the target's text and kind, and how it looks."""

    name: str
    target: str
    kind: str
    hex: str
    words: str


def wanted_colour(session: Session, text: str, kind: str = "", *, field: str = "target") -> Wanted:
    """Return the colour a page asks for: Lab, hex, a curve or a swatch on record; never a file's name.

    Args:
        session: of the studio.
        text: "45 -20 -5", "#387472", "swatch 12", or "curve" and 31 values in per cent.
        kind: what it is known by, where the page knows better than the text shows.
        field: of the page, for errors.

    Raises:
        InputError: the text is none of these, or a number is out of range.
    """
    word, _, rest = text.strip().partition(" ")
    try:
        if word.lower() == "swatch":
            target, own = target_from_swatch(swatch_named(session, rest)), TargetKind.MEASURED
        elif word.lower() == "curve":
            target, own = target_from_swatch(Swatch({}, "", reflectance=_curve(rest))), TargetKind.MEASURED
        else:
            target = colour_from_text(text)
            own = TargetKind.SCREEN if "#" in text else TargetKind.TYPED
    except InputError as error:
        raise InputError(error.message, field=field, value=error.value, limit=error.limit) from error
    return Wanted(target, TargetKind(kind) if kind in set(TargetKind) else own)


def swatch_named(session: Session, text: str) -> Swatch:
    """Return the swatch on record with this number."""
    wanted = next((one for one in swatches_of.swatches(session) if str(one.id) == text.strip()), None)
    if wanted is None:
        raise InputError(f"there is no swatch {text.strip()} on record", field="target", value=text)
    return wanted


def _curve(text: str) -> tuple[float, ...]:
    try:
        values = tuple(float(part) / 100 for part in text.split())
    except ValueError:
        values = ()
    if len(values) != WAVELENGTHS_NM.size or not all(0 <= value <= 1 for value in values):
        raise InputError(
            f"a curve has {WAVELENGTHS_NM.size} values from 0 to 100 %, for 400 to 700 nm by 10 nm: bring it as a file",
            field="target",
            value=text[:60],
            limit=WAVELENGTHS_NM.size,
        )
    return values


def lab_text(lab: Lab | None) -> str:
    """Return a Lab as a target's text; empty where it is not known."""
    return "" if lab is None else "lab " + " ".join(f"{value:.2f}" for value in lab)


def curve_text(curve: tuple[float, ...] | NDArray[np.float64]) -> str:
    """Return a reflectance curve as a target's text, in per cent."""
    return "curve " + " ".join(f"{100 * value:.3f}".rstrip("0").rstrip(".") for value in curve)


def sample_query(data: bytes, name: str) -> dict[str, str]:
    """Return the page's address part for the one sample of a measured file: its curve where it has one, else its Lab.

    Raises:
        InputError: the file is too large, is no table of measurements, or holds more samples than one.
    """
    if not data:
        raise InputError("choose the file with the measured sample first", field="sample")
    if len(data) > LARGEST_SAMPLE_BYTES:
        raise InputError(
            f"{name} is {len(data) / 1e6:.1f} MB; a file of measurements is at most "
            f"{LARGEST_SAMPLE_BYTES / 1e6:.0f} MB: keep the one row of the target",
            field="sample",
            value=len(data),
            limit=LARGEST_SAMPLE_BYTES,
        )
    try:
        sample = read_sample(data, name)
        target = target_from_swatch(sample)
    except InputError as error:
        raise InputError(error.message, field="sample", value=error.value, limit=error.limit) from error
    text = lab_text(target.lab) if target.reflectance is None else curve_text(target.reflectance)
    return {"target": text, "from": f"the sample in {name}", "kind": TargetKind.MEASURED}


def choose_view(session: Session) -> dict[str, object]:
    """Return what a target can be taken from: the bases, the lots kept last, measured swatches."""
    lot_colours, swatch_colours = colour_chips(session)
    return {
        "bases": [base.name for base in shelf_of.bases(session)],
        "lot_colours": lot_colours,
        "swatch_colours": swatch_colours,
        "ways": WAYS,
        "is_limit": is_limit,
    }


def colour_chips(session: Session) -> tuple[list[Chip], list[Chip]]:
    """Return the colours of the lots kept last, and of the dyed swatches on record."""
    lots = [
        Chip(
            f"{line.run_title}, lot {line.lot.name}",
            lab_text(skein.lab),
            TargetKind.LOT,
            shown_hex(skein.lab),
            shown_words(skein.lab),
        )
        for line in lots_of.search_lots(session, limit=LATEST_LOTS)
        for skein in line.lot.skeins[:1]
        if skein.lab
    ]
    return lots, [_chip(swatch) for swatch in swatches_of.swatches(session) if _is_known(swatch)]


def _is_known(swatch: Swatch) -> bool:
    return bool(swatch.depths_owf) and swatch_lab(swatch) is not None


def _chip(swatch: Swatch) -> Chip:
    lab = swatch_lab(swatch)
    return Chip(
        f"{recipe_text(swatch.depths_owf)} on {swatch.base}",
        f"swatch {swatch.id}",
        TargetKind.MEASURED,
        shown_hex(lab),
        shown_words(lab),
    )
