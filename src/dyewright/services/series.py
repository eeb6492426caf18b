"""Series of skeins: from one colour to another in steps even to the eye, or over a triangle of three dyes."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dyewright.core.colour import colour_words, display_hex, display_rgb
from dyewright.core.matching import Target, common_ends, series_between, triangle_grid
from dyewright.core.mixing import ShelfModel, bands_95, depth_vector, fit_shelf
from dyewright.core.model import Basis, Lab, MixDye, Swatch
from dyewright.data.colour import load_observer_tables
from dyewright.errors import InputError
from dyewright.services.matching import mix_from_text, target_from_text

__all__ = [
    "End",
    "SeriesSkein",
    "SkeinSeries",
    "corners_from_text",
    "end_from_text",
    "grid",
    "grid_on",
    "is_mix",
    "mix_end",
    "series",
    "series_on",
]

Array = NDArray[np.float64]
End = Target | Mapping[str, float]
"""An end of a series: a colour to be matched, or a mix (depths by dye, fractions); an empty mix is the undyed yarn."""

CORNER_PERCENT = 1.0  # depth of a grid's dye where none is given: a middling shade (common practice, no source)
TRACE_OWF = 1e-7  # a depth below this is none: rounding
SEEN_DE00 = 1.0  # an end farther than this from its colour is told (common practice, no source)


@dataclass(frozen=True)
class SeriesSkein:
    """One skein: its recipe and the colour foretold (D65, 10°), ΔE00 to the next, and the radius of 19 of 20 pots.

    `place` counts, in a triangle, the steps towards each corner; None in a line. In a triangle there is no next.
    """

    number: int
    dyes: tuple[MixDye, ...]
    lab: Lab
    de00_to_next: float | None
    de00_95: float
    words: str
    hex: str
    is_beyond_screen: bool
    place: tuple[int, int, int] | None = None


@dataclass(frozen=True)
class SkeinSeries:
    """A series: its skeins, the least and the most ΔE00 between neighbours, and how far the ends miss their colours."""

    base: str
    skeins: tuple[SeriesSkein, ...]
    least_step_de00: float
    most_step_de00: float
    from_de00: float
    to_de00: float
    basis: Basis
    notes: tuple[str, ...] = ()

    @property
    def rows(self) -> tuple[tuple[SeriesSkein, ...], ...]:
        """The skeins of a triangle row by row from its first corner; those of a line in one row."""
        if not self.skeins or self.skeins[0].place is None:
            return (self.skeins,)
        by_row: dict[int, list[SeriesSkein]] = {}
        for skein in self.skeins:
            by_row.setdefault(-(skein.place or (0, 0, 0))[0], []).append(skein)
        return tuple(tuple(row) for _, row in sorted(by_row.items()))


def end_from_text(text: str, field: str) -> End:
    """Return an end written "Lagoon=0.5+Soot=0.1", "undyed", or as a target ("lab …", "hex …", "swatch FILE").

    Raises:
        InputError: none of these.
    """
    try:
        return mix_end(text) if is_mix(text) else target_from_text(text)
    except InputError as error:
        raise InputError(error.message, field=field, value=error.value, limit=error.limit) from error


def is_mix(text: str) -> bool:
    """Return whether an end is written as a recipe rather than a colour."""
    return "=" in text or text.strip().lower() == "undyed"


def mix_end(text: str) -> dict[str, float]:
    """Return the depths of a recipe written "Lagoon=0.5+Soot=0.1", none for "undyed"."""
    return {} if text.strip().lower() == "undyed" else mix_from_text(text)


def corners_from_text(text: str) -> tuple[dict[str, float], ...]:
    """Return the three corners of a grid written "Lagoon,Rowan,Gorse" or "Lagoon=1,Rowan=0.5,Gorse=2".

    Raises:
        InputError: not three dyes, or a depth that cannot be.
    """
    parts = [part.strip() for part in text.split(",") if part.strip()]
    if len(parts) != 3:
        raise InputError(
            f"a grid lies between three dyes, {len(parts)} are named in {text!r}: write Lagoon,Rowan,Gorse or, with "
            "their depths in per cent, Lagoon=1,Rowan=0.5,Gorse=2",
            field="grid",
            value=text,
            limit=3,
        )
    corners = tuple(mix_from_text(part if "=" in part else f"{part}={CORNER_PERCENT:g}") for part in parts)
    if len({tuple(corner) for corner in corners}) < 3:
        raise InputError(f"a dye stands twice in the grid {text!r}: name three that differ", field="grid", value=text)
    return corners


def series(swatches: Sequence[Swatch], start: End, end: End, skeins: int, *, base: str | None = None) -> SkeinSeries:
    """Return a series of skeins from the swatches of a shelf.

    Raises:
        InputError: a dye without swatch, a base without its undyed colour, or a number that cannot be.
        NoMatchError: no mix helps towards an end.
    """
    return series_on(fit_shelf(swatches, load_observer_tables(), base=base), start, end, skeins)


def series_on(shelf: ShelfModel, start: End, end: End, skeins: int) -> SkeinSeries:
    """Return a series of skeins from dyes already fitted."""
    tables = load_observer_tables()
    ends = common_ends(shelf, _as_end(shelf, start), _as_end(shelf, end), tables)
    found = series_between(shelf, ends.start_owf, ends.end_owf, skeins, tables)
    steps = [float(step) for step in found.steps_de00]
    notes = []
    for name, off in (("first", ends.start_de00), ("last", ends.end_de00)):
        if off > SEEN_DE00:
            notes.append(
                f"the {name} end is out of reach by {off:.1f} ΔE00: the nearest that the shelf comes stands there"
            )
    return SkeinSeries(
        base=shelf.base,
        skeins=_skeins(shelf, found.depths_owf, found.labs, [*steps, None], None),
        least_step_de00=min(steps),
        most_step_de00=max(steps),
        from_de00=ends.start_de00,
        to_de00=ends.end_de00,
        basis=Basis.FITTED,
        notes=(*notes, *_notes(shelf, found.depths_owf)),
    )


def grid(
    swatches: Sequence[Swatch], corners: Sequence[Mapping[str, float]], skeins_a_side: int, *, base: str | None = None
) -> SkeinSeries:
    """Return skeins over a triangle between three mixes, from the swatches of a shelf.

    Raises:
        InputError: a dye without swatch, a base without its undyed colour, or a number that cannot be.
    """
    return grid_on(fit_shelf(swatches, load_observer_tables(), base=base), corners, skeins_a_side)


def grid_on(shelf: ShelfModel, corners: Sequence[Mapping[str, float]], skeins_a_side: int) -> SkeinSeries:
    """Return skeins over a triangle between three mixes, from dyes already fitted."""
    tables = load_observer_tables()
    found = triangle_grid(shelf, np.stack([depth_vector(shelf, one) for one in corners]), skeins_a_side - 1, tables)
    least, most = float(found.steps_de00.min()), float(found.steps_de00.max())
    uneven = (
        f"neighbours lie {least:.1f} to {most:.1f} ΔE00 apart: each edge is even in itself, but its ends are as far "
        "apart as the dyes make them"
    )
    return SkeinSeries(
        base=shelf.base,
        skeins=_skeins(shelf, found.depths_owf, found.labs, [None] * len(found.labs), found.places.tolist()),
        least_step_de00=least,
        most_step_de00=most,
        from_de00=0.0,
        to_de00=0.0,
        basis=Basis.FITTED,
        notes=(uneven, *_notes(shelf, found.depths_owf)),
    )


def _as_end(shelf: ShelfModel, end: End) -> Target | Array:
    return end if isinstance(end, Target) else depth_vector(shelf, end)


def _skeins(
    shelf: ShelfModel,
    depths: Array,
    labs: Array,
    to_next: Sequence[float | None],
    places: Sequence[Sequence[int]] | None,
) -> tuple[SeriesSkein, ...]:
    tables = load_observer_tables()
    white = tables.whites["D65", 10]
    bands = bands_95(shelf, depths, tables)
    beyond = display_rgb(labs, white)[1]
    skeins = []
    for number, row in enumerate(depths):
        lightness, a, b = (float(part) for part in labs[number])
        dyes = [
            MixDye(name, 100 * float(depth)) for name, depth in zip(shelf.dyes, row, strict=True) if depth > TRACE_OWF
        ]
        one, two, three = places[number] if places else (0, 0, 0)
        skeins.append(
            SeriesSkein(
                number=number + 1,
                dyes=tuple(dyes),
                lab=(lightness, a, b),
                de00_to_next=to_next[number],
                de00_95=float(bands[number]),
                words=colour_words((lightness, a, b)),
                hex=display_hex((lightness, a, b), white),
                is_beyond_screen=bool(beyond[number]),
                place=(one, two, three) if places else None,
            )
        )
    return tuple(skeins)


def _notes(shelf: ShelfModel, depths: Array) -> tuple[str, ...]:
    """Return what the series leans on: the swatches of its dyes, and depths beyond them."""
    deepest = depths.max(axis=0)
    used = [place for place in range(len(shelf.dyes)) if deepest[place] > TRACE_OWF]
    notes = list(shelf.notes)
    if used:
        counts = (f"{shelf.swatch_counts[place]} of {shelf.dyes[place]}" for place in used)
        notes.append("foretold from the swatches: " + ", ".join(counts))
    notes += [
        f"{shelf.dyes[place]} goes to {100 * deepest[place]:.2g} %, deeper than its deepest swatch "
        f"({100 * shelf.deepest_owf[place]:.2g} %): dark skeins come out less sure"
        for place in used
        if deepest[place] > 1.05 * shelf.deepest_owf[place]
    ]
    return tuple(notes)
