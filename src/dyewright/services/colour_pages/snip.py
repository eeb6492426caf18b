"""A dried snip, or a mini-skein before the full pot, checks the recipe in hand and moves it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
from sqlalchemy.orm import Session

from dyewright import units
from dyewright.core.colour import delta_e00, difference_words
from dyewright.core.matching import SNIP_DE00, Correction, Limits, Target, corrected
from dyewright.core.mixing import band_95, depth_vector, lab_of_mix
from dyewright.core.model import Basis, Swatch, TargetKind
from dyewright.data.colour import load_observer_tables
from dyewright.errors import InputError
from dyewright.records import photos
from dyewright.records import swatches as swatches_of
from dyewright.services.colour_pages.bench import Asked, Bench, mix_query
from dyewright.services.colour_targets import lab_text, wanted_colour
from dyewright.services.shown import shown_hex, shown_words
from dyewright.services.swatches.from_photo import skein_noise

__all__ = ["Snip", "SnipReading", "keep_snip", "read_snip", "seen_skeins", "snip_of"]

LATEST_PHOTOS = 3
BY_EYE_DE00 = 3.0
"""Standard deviation of a colour set on a screen by eye beside a skein, in ΔE00 a component (estimate)."""
STAYS_AS_IT_IS = (
    "The recipe stays as it is: its dyes are known from more swatches than one snip can outweigh. A snip that is "
    "off all the same speaks of this pot: weighing, water, heat or time."
)
SMALL_CHANGE = 0.01  # a dose that moves by less than this share of it stays as it is (estimate)


@dataclass(frozen=True)
class SnipReading:
    """What a snip came out as: its colour, how sure that is (ΔE00 a component), and what it was read with."""

    target: Target
    noise_de00: float
    source: str


@dataclass(frozen=True)
class Snip:
    """What a snip says of the recipe in hand, and the recipe moved by it."""

    text: str
    hex: str
    words: str
    told: str
    changes: tuple[str, ...]
    outcome: str
    query: str


def seen_skeins(session: Session) -> list[tuple[str, str]]:
    """Return the skeins of the photos judged last, as a choice: value and words; only those read through a chart."""
    found = []
    for judgement in reversed(photos.all_judgements(session)[-LATEST_PHOTOS:]):
        result: Mapping[str, Any] = judgement.result
        if result.get("basis") == Basis.RELATIVE:
            continue
        found += [
            (
                f"photo {judgement.id} {skein['id']}",
                f"skein {skein['id']} of the photo judged on {judgement.judged_at:%d.%m.}: {shown_words(skein['lab'])}",
            )
            for skein in result.get("skeins", ())
        ]
    return found


def read_snip(session: Session, asked: Asked) -> SnipReading | None:
    """Return what the form says that the snip came out as; None where it says nothing.

    Raises:
        InputError: neither a colour nor a skein of a judged photo.
    """
    text = asked.get("snip", "").strip() or asked.get("snip_skein", "").strip()
    if not text:
        return None
    if text.lower().startswith("photo "):
        return _from_photo(session, text)
    wanted = wanted_colour(session, text, field="snip")
    if wanted.target.reflectance is not None:
        return SnipReading(wanted.target, SNIP_DE00, "spectrophotometer")
    if wanted.kind is TargetKind.SCREEN:
        return SnipReading(wanted.target, BY_EYE_DE00, "photo")
    return SnipReading(wanted.target, SNIP_DE00, "colorimeter")


def _from_photo(session: Session, text: str) -> SnipReading:
    for judgement in photos.all_judgements(session):
        result: Mapping[str, Any] = judgement.result
        for skein in result.get("skeins", ()):
            if text == f"photo {judgement.id} {skein['id']}":
                lightness, a, b = skein["lab"]
                return SnipReading(Target((lightness, a, b)), skein_noise(skein), "photo")
    raise InputError("that skein is on no judged photo: choose one of the list, or type its colour", field="snip")


def snip_of(
    bench: Bench, mix: Mapping[str, float], reading: SnipReading, limits: Limits, stays: Mapping[str, str]
) -> Snip:
    """Return what a snip of the mix in hand says, and the mix moved by it.

    Args:
        bench: target, yarn and dyes.
        mix: the recipe that was dyed.
        reading: what the snip came out as.
        limits: what the moved recipe keeps to.
        stays: what of the page's address a link keeps.

    Raises:
        InputError: there is no dye in the mix.
    """
    tables, model, target = load_observer_tables(), bench.shelf.model, bench.wanted.target
    moved = _corrected(bench, mix, reading, limits)
    depths = depth_vector(model, mix)
    foretold, read = lab_of_mix(model, depths, tables), reading.target.lab
    off, band = float(delta_e00(foretold, read)), band_95(model, depths, tables)
    expected = "within the band" if off <= band else "outside the band"
    after = dict(zip(model.dyes, moved.depths_owf.tolist(), strict=True))
    is_moved = any(_is_moved(mix[name], after[name]) for name in mix)
    return Snip(
        text=lab_text(read),
        hex=shown_hex(read),
        words=shown_words(read),
        told=(
            f"The snip came out {off:.1f} from what was foretold ({difference_words(foretold, read)}), {expected} "
            f"of ± {band:.1f}, and {moved.measured_de00:.1f} from the target "
            f"({difference_words(target.lab, read)})."
        ),
        changes=tuple(_change(name, mix[name], after[name]) for name in mix) if is_moved else (),
        outcome=_outcome(moved) if is_moved else STAYS_AS_IT_IS,
        query=mix_query(stays, {name: after[name] if is_moved else mix[name] for name in mix}),
    )


def _corrected(bench: Bench, mix: Mapping[str, float], reading: SnipReading, limits: Limits) -> Correction:
    model, curve = bench.shelf.model, reading.target.reflectance
    measured = np.array(reading.target.lab) if curve is None else curve
    return corrected(
        model,
        depth_vector(model, mix),
        measured,
        bench.wanted.target,
        load_observer_tables(),
        limits,
        noise_de00=reading.noise_de00,
    )


def _outcome(moved: Correction) -> str:
    return (
        f"Foretold with these: {moved.moved_de00:.1f} from the target, sure to ± {moved.band_de00:.1f}; with the old "
        f"ones it would be {moved.unmoved_de00:.1f}."
    )


def _is_moved(before: float, after: float) -> bool:
    return abs(after - before) > SMALL_CHANGE * before


def _change(name: str, before: float, after: float) -> str:
    """Return a moved dose in words: "more Lagoon: 0.62 % → 0.66 %"."""
    if not _is_moved(before, after):
        return f"{name} stays at {units.show_percent(before)}"
    more = "more" if after > before else "less"
    return f"{more} {name}: {units.show_percent(before)} → {units.show_percent(after)}"


def keep_snip(
    session: Session, bench: Bench, mix: Mapping[str, float], reading: SnipReading, *, of: str, today: date
) -> Sequence[Swatch]:
    """Put a snip on record as a swatch of the mix that was dyed; `of` is the colour that it checked."""
    curve = reading.target.reflectance
    swatch = Swatch(
        depths_owf={name: depth for name, depth in mix.items() if depth > 0},
        base=bench.shelf.model.base,
        reflectance=None if curve is None else tuple(curve.tolist()),
        lab=reading.target.lab if curve is None else None,
        source=reading.source,
        dyed_on=today,
        note=f"A snip that checked {of}.",
        origin={"check": of},
        dye_lots={tub.name: tub.dye_lot for tub in bench.tubs if tub.dye_lot and mix.get(tub.name)},
        noise_de00=reading.noise_de00,
    )
    return swatches_of.add_swatches(session, [swatch])
