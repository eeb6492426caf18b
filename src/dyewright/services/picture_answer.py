"""The palette of a picture as the command line gives it: no studio, a photo and a swatch table."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from dyewright.core.mixing import ShelfModel, fit_shelf
from dyewright.core.model import Basis, ChartReading, Lab, MixDye, Swatch
from dyewright.data.colour import load_observer_tables
from dyewright.services.picture import colour_count, proposed_places
from dyewright.services.picture_frame import Frame, area_shares, frame_of_file, read_pick
from dyewright.services.picture_reach import Fit, Reached, reached_colours
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
    photo: Path, swatches: Sequence[Swatch], *, base: str | None = None, colours: str = "", fit: Fit = Fit.NEAREST
) -> PaletteAnswer:
    """Return the palette of a photo on disk, with the nearest that the swatches' dyes reach; none where there are none.

    Args:
        photo: the picture.
        swatches: of the undyed bases and the dyes; may be empty.
        base: the yarn; the one with most swatches where None.
        colours: how many, as text; five where empty.
        fit: each colour as near as can be, or all in harmony.

    Raises:
        InputError: the photo or the number cannot be worked with, or a base without its undyed colour.
    """
    count = colour_count(colours)
    frame = frame_of_file(photo)
    shelf = fit_shelf(swatches, load_observer_tables(), base=base) if swatches else None
    places = proposed_places(frame, count)
    return PaletteAnswer(
        colours=_colours(frame, places, shelf, fit),
        base=shelf.base if shelf else None,
        chart=frame.reading,
        basis=Basis.MEASURED if frame.is_measured else Basis.RELATIVE,
        notes=(_MEASURED if frame.is_measured else _INTENTION, *frame.photo.notes, *frame.reading.warnings),
    )


def _colours(
    frame: Frame, places: Sequence[tuple[float, float]], shelf: ShelfModel | None, fit: Fit
) -> tuple[PaletteColour, ...]:
    readings = [read_pick(frame, x, y) for x, y in places]
    labs = [reading.lab for reading in readings]
    shares = area_shares(frame, labs)
    reach = reached_colours(shelf, labs, shares, fit).colours if shelf else (None,) * len(labs)
    return tuple(
        PaletteColour(
            lab=reading.lab,
            hex=shown_hex(reading.lab),
            words=shown_words(reading.lab),
            area_frac=share,
            x_frac=x,
            y_frac=y,
            de00_95=reading.de00_95,
            nearest=None if reached is None else _nearest(reading.lab, reached),
        )
        for (x, y), reading, share, reached in zip(places, readings, shares, reach, strict=True)
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
