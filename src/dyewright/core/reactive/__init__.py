"""Reactive dyes: bonding with the fibre against being used up by water, on protein in acid, on cellulose in alkali."""

from dyewright.core.reactive.cellulose import (
    USUAL_SALT_MOL_L,
    CelluloseBath,
    CelluloseCourse,
    CelluloseDraws,
    on_cellulose,
)
from dyewright.core.reactive.hydrolysis import hydrolysis_per_min, neutral_per_day
from dyewright.core.reactive.protein import BONDING_HALF_LIFE_MIN, bonded_on_protein, bonding_share
from dyewright.core.reactive.spread import spread
from dyewright.core.reactive.stock import stock_active_frac

__all__ = [
    "BONDING_HALF_LIFE_MIN",
    "USUAL_SALT_MOL_L",
    "CelluloseBath",
    "CelluloseCourse",
    "CelluloseDraws",
    "bonded_on_protein",
    "bonding_share",
    "hydrolysis_per_min",
    "neutral_per_day",
    "on_cellulose",
    "spread",
    "stock_active_frac",
]
