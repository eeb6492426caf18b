"""Rinsing: how many waters a dyeing wants, and how far the handling of wet wool risks felting it."""

from dyewright.core.rinse.felting import (
    LIFTS_A_WATER,
    USUAL_FELTING,
    Movement,
    felting_index,
    felting_of_movement,
    felting_rating,
    felting_shares,
)
from dyewright.core.rinse.washing import (
    Drained,
    WashDraws,
    draw_wash,
    dye_in_waters_mg_l,
    held_back_l_kg,
    waters_needed,
    whole_waters,
)

__all__ = [
    "LIFTS_A_WATER",
    "USUAL_FELTING",
    "Drained",
    "Movement",
    "WashDraws",
    "draw_wash",
    "dye_in_waters_mg_l",
    "felting_index",
    "felting_of_movement",
    "felting_rating",
    "felting_shares",
    "held_back_l_kg",
    "waters_needed",
    "whole_waters",
]
