"""A forecast with what to change, where the dyer's wish, level or tonal, and the forecast disagree."""

from dataclasses import replace

from dyewright.core.model import Forecast, Learnt, Sheet
from dyewright.services.forecasting.inputs import ModelledDyes
from dyewright.services.forecasting.trial import Trial
from dyewright.services.forecasting.ways import ways_to_level, ways_to_tonal
from dyewright.services.forecasting.ways_apart import ways_apart, ways_together

__all__ = ["with_advice"]


def with_advice(told: Forecast, sheet: Sheet, modelled: ModelledDyes, learnt: Learnt | None) -> Forecast:
    """Return the forecast with its ways to level skeins, or to tonal ones where they are wanted."""
    trial = Trial.of(sheet, modelled, learnt)
    level, broken = told.level, told.breaking
    is_tonal = bool(sheet.card.is_tonal_wanted)
    if level is not None:
        level = replace(level, advice=(ways_to_tonal if is_tonal else ways_to_level)(trial, level))
    if broken is not None:
        broken = replace(broken, advice=(ways_apart if is_tonal else ways_together)(trial, broken))
    return replace(told, level=level, breaking=broken)
