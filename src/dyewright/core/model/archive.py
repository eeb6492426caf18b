"""A whole studio as values, for the way out of one database and into another."""

from dataclasses import dataclass

from dyewright.core.model.colour import Swatch
from dyewright.core.model.experiment import Experiment
from dyewright.core.model.heat import MeasuredHeatUp
from dyewright.core.model.run import Judgement, Lot, Photo, Run
from dyewright.core.model.studio import Base, Colourway, Dye, Evening, Palette, Settings, Vessel, WetPair

__all__ = ["Archive"]


@dataclass(frozen=True)
class Archive:
    """Everything that a studio keeps, but for the bytes of its photos. Ids are those of the studio it came from."""

    settings: Settings
    dyes: tuple[Dye, ...] = ()
    bases: tuple[Base, ...] = ()
    vessels: tuple[Vessel, ...] = ()
    swatches: tuple[Swatch, ...] = ()
    colourways: tuple[Colourway, ...] = ()
    runs: tuple[Run, ...] = ()
    lots: tuple[Lot, ...] = ()
    photos: tuple[Photo, ...] = ()
    judgements: tuple[Judgement, ...] = ()
    palettes: tuple[Palette, ...] = ()
    evenings: tuple[Evening, ...] = ()
    heat_ups: tuple[MeasuredHeatUp, ...] = ()
    experiments: tuple[Experiment, ...] = ()
    wet_pairs: tuple[WetPair, ...] = ()
