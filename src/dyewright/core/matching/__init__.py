"""Matching: which dyes of a shelf reach a colour, at which depths."""

from dyewright.core.matching.limits import DEEPEST_OWF, LEAST_OWF, MOST_DYES, TOTAL_OWF, Limits
from dyewright.core.matching.rank import REACHED_DE00, WEIGHING_SD, Weighing, choose_recipes, weighing_p95
from dyewright.core.matching.search import Solutions, Target, search

__all__ = [
    "DEEPEST_OWF",
    "LEAST_OWF",
    "MOST_DYES",
    "REACHED_DE00",
    "TOTAL_OWF",
    "WEIGHING_SD",
    "Limits",
    "Solutions",
    "Target",
    "Weighing",
    "choose_recipes",
    "search",
    "weighing_p95",
]
