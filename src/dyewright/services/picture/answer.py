"""The palette of a picture as the command line gives it: no studio, a photo and a swatch table."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from dyewright.core.mixing import fit_shelf
from dyewright.core.model import Basis, ChartReading, Lab, MixDye, Swatch
from dyewright.data.colour import load_observer_tables
from dyewright.services.picture.frame import PickReading, area_shares, frame_of_file, read_pick
from dyewright.services.picture.page import colour_count, proposed_places
from dyewright.services.picture.reach import Fit, Reached, reached_colours
from dyewright.services.shown import shown_hex, shown_words

__all__ = ["NearestMix", "PaletteAnswer", "PaletteColour", "palette_answer"]

_INTENTION = "There is no colour chart in the photo: its colours are an intention, not a measurement."
_MEASURED = "The colours are measured through the chart in the photo, which is left out of the palette."


@dataclass(frozen=True)
class NearestMix:
    """The nearest that the shelf comes to a colour; `de00` is from the picture's colour."""

    dyes: tuple[MixDye, ...]
    lab: Lab
    hex: str
    de00: float
    de00_95: float
    words: str


@dataclass(frozen=True)
class PaletteColour:
    """One colour of the palette; its own `de00_95` is None where no chart tells it, `nearest` without a shelf."""

    lab: Lab
    hex: str
    words: str
    area_frac: float
    x_frac: float
    y_frac: float
    de00_95: float | None
    nearest: NearestMix | None


@dataclass(frozen=True)
class PaletteAnswer:
    """A picture's palette; the keys are those of `dyewright palette --json`."""

    colours: tuple[PaletteColour, ...]
    base: str | None
    chart: ChartReading
    basis: Basis
    notes: tuple[str, ...]


def palette_answer(
    photo: Path,
    swatches: Sequence[Swatch],
    *,
    base: str | None = None,
    colours: str = "",
    is_in_harmony: bool = False,
) -> PaletteAnswer:
    """Return the palette of a photo on disk, with the nearest that the swatches' dyes reach; none where there are none.

    Args:
        photo: the picture.
        swatches: of the undyed bases and the dyes; may be empty.
        base: the yarn; the one with most swatches where None.
        colours: how many, as text; five where empty.
        is_in_harmony: all moved alike where some are out of reach, rather than each as near as can be.

    Raises:
        InputError: the photo or the number cannot be worked with, or a base without its undyed colour.
    """
    count = colour_count(colours)
    frame = frame_of_file(photo)
    shelf = fit_shelf(swatches, load_observer_tables(), base=base) if swatches else None
    places = proposed_places(frame, count)
    readings = [read_pick(frame, x, y) for x, y in places]
    labs = [reading.lab for reading in readings]
    shares = area_shares(frame, labs)
    fit = Fit.HARMONY if is_in_harmony else Fit.NEAREST
    reach = None if shelf is None else reached_colours(shelf, labs, shares, fit)
    said = [reach.words] if reach and reach.words else []
    reached = reach.colours if reach else (None,) * len(labs)
    return PaletteAnswer(
        colours=tuple(map(_colour, places, readings, shares, reached)),
        base=shelf.base if shelf else None,
        chart=frame.reading,
        basis=Basis.MEASURED if frame.is_measured else Basis.RELATIVE,
        notes=(*said, _MEASURED if frame.is_measured else _INTENTION, *frame.photo.notes, *frame.reading.warnings),
    )


def _colour(
    place: tuple[float, float], reading: PickReading, area_frac: float, reached: Reached | None
) -> PaletteColour:
    return PaletteColour(
        lab=reading.lab,
        hex=shown_hex(reading.lab),
        words=shown_words(reading.lab),
        area_frac=area_frac,
        x_frac=place[0],
        y_frac=place[1],
        de00_95=reading.de00_95,
        nearest=None if reached is None else _nearest(reading.lab, reached),
    )


def _nearest(lab: Lab, reached: Reached) -> NearestMix:
    return NearestMix(
        dyes=tuple(MixDye(name, 100 * depth) for name, depth in reached.depths_owf.items()),
        lab=reached.lab,
        hex=reached.hex,
        de00=reached.de00_from(lab),
        de00_95=reached.band,
        words=reached.off_from(lab),
    )
