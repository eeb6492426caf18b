"""Rinsing: how many waters a dyeing wants, and how far the handling of wet wool risks felting it."""

from dyewright.core.rinse.felting import (
    DRAIN_STRENGTH,
    HANDLING_STRENGTH,
    LIFTS_A_WATER,
    SOAP_FACTOR,
    STILL_STRENGTH,
    USUAL_FELTING,
    Movement,
    felting_index,
    felting_of_movement,
    felting_rating,
    felting_shares,
)
from dyewright.core.rinse.washing import (
    SPOTLESS_SHARE,
    Drained,
    WashDraws,
    draw_wash,
    dye_in_waters_mg_l,
    held_back_l_kg,
    waters_needed,
    whole_waters,
)

__all__ = [
    "DRAIN_STRENGTH",
    "HANDLING_STRENGTH",
    "LIFTS_A_WATER",
    "SOAP_FACTOR",
    "SPOTLESS_SHARE",
    "STILL_STRENGTH",
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
