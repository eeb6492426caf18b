"""Matching: which dyes of a shelf reach a colour, at which depths."""

from dyewright.core.matching.limits import DEEPEST_OWF, LEAST_OWF, MOST_DYES, TOTAL_OWF, Limits
from dyewright.core.matching.rank import REACHED_DE00, choose_recipes
from dyewright.core.matching.search import Solutions, Target, search
from dyewright.core.matching.slips import failing_parts
from dyewright.core.matching.weighing import WEIGHING_SD, Weighing, weighing_p95

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
    "failing_parts",
    "search",
    "weighing_p95",
]
