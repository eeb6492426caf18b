"""Matching: which dyes of a shelf reach a colour, at which depths."""

from dyewright.core.matching.advice import MOST_CANDIDATES, Addition, additions, chance_within, likely_count
from dyewright.core.matching.correct import SNIP_DE00, Correction, corrected
from dyewright.core.matching.darker import lightest_reached
from dyewright.core.matching.gamut import (
    Gamut,
    chroma_range,
    gamut_of,
    hue_lines,
    is_inside,
    most_vivid,
    outlines_at,
    outside_de00,
)
from dyewright.core.matching.harmony import CommonChange, Harmony, PaletteMatch, changed, contrast_kept, harmonise
from dyewright.core.matching.limits import DEEPEST_OWF, LEAST_OWF, MOST_DYES, TOTAL_OWF, Limits
from dyewright.core.matching.rank import REACHED_DE00, choose_recipes
from dyewright.core.matching.search import Solutions, Target, nearest, search
from dyewright.core.matching.series import (
    MOST_GRID_STEPS,
    MOST_SKEINS,
    Ends,
    Grid,
    Series,
    common_ends,
    series_between,
    triangle_grid,
)
from dyewright.core.matching.slips import failing_parts
from dyewright.core.matching.weighing import WEIGHING_SD, Weighing, weighing_p95

__all__ = [
    "DEEPEST_OWF",
    "LEAST_OWF",
    "MOST_CANDIDATES",
    "MOST_DYES",
    "MOST_GRID_STEPS",
    "MOST_SKEINS",
    "REACHED_DE00",
    "SNIP_DE00",
    "TOTAL_OWF",
    "WEIGHING_SD",
    "Addition",
    "CommonChange",
    "Correction",
    "Ends",
    "Gamut",
    "Grid",
    "Harmony",
    "Limits",
    "PaletteMatch",
    "Series",
    "Solutions",
    "Target",
    "Weighing",
    "additions",
    "chance_within",
    "changed",
    "choose_recipes",
    "chroma_range",
    "common_ends",
    "contrast_kept",
    "corrected",
    "failing_parts",
    "gamut_of",
    "harmonise",
    "hue_lines",
    "is_inside",
    "lightest_reached",
    "likely_count",
    "most_vivid",
    "nearest",
    "outlines_at",
    "outside_de00",
    "search",
    "series_between",
    "triangle_grid",
    "weighing_p95",
]
