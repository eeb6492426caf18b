"""Matching: which dyes of a shelf reach a colour, at which depths."""

from dyewright.core.matching.rank import REACHED_DE00, WEIGHING_SD, Weighing, choose_recipes, weighing_p95
from dyewright.core.matching.search import DEEPEST_OWF, Solutions, Target, search

__all__ = [
    "DEEPEST_OWF",
    "REACHED_DE00",
    "WEIGHING_SD",
    "Solutions",
    "Target",
    "Weighing",
    "choose_recipes",
    "search",
    "weighing_p95",
]
