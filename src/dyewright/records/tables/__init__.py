"""The tables of a studio. Rows never leave this package: its functions take and return dataclasses of core.model."""

from dyewright.records.columns import TableBase
from dyewright.records.tables.colours import (
    ColourwayDyeRow,
    ColourwayRow,
    EveningRow,
    JarDyeRow,
    JarRow,
    PaletteColourRow,
    PaletteRow,
    SwatchDyeRow,
    SwatchRow,
)
from dyewright.records.tables.pictures import JudgementRow, PhotoContentRow, PhotoRow, PhotoWorkRow
from dyewright.records.tables.shelf import BaseRow, DyeRow, HeatUpRow, StudioRow, VesselRow, WetPairRow
from dyewright.records.tables.work import (
    EventRow,
    ExperimentRow,
    LessonRow,
    LotRow,
    RunDyeRow,
    RunRow,
    SampleRow,
    SkeinRow,
)

__all__ = [
    "BaseRow",
    "ColourwayDyeRow",
    "ColourwayRow",
    "DyeRow",
    "EveningRow",
    "EventRow",
    "ExperimentRow",
    "HeatUpRow",
    "JarDyeRow",
    "JarRow",
    "JudgementRow",
    "LessonRow",
    "LotRow",
    "PaletteColourRow",
    "PaletteRow",
    "PhotoContentRow",
    "PhotoRow",
    "PhotoWorkRow",
    "RunDyeRow",
    "RunRow",
    "SampleRow",
    "SkeinRow",
    "StudioRow",
    "SwatchDyeRow",
    "SwatchRow",
    "VesselRow",
    "WetPairRow",
    "metadata",
]

metadata = TableBase.metadata
