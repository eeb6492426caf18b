"""The exactly measured shelf that commands are tried on: four invented dyes with the names of their colours."""

import numpy as np
from synthetic_shelf import base_swatch, invented_curves, ladder_swatches

from dyewright.files.swatches import write_swatches

NAMES = ("Blue", "Yellow", "Red", "Black")
CURVES = invented_curves(np.random.default_rng(2), len(NAMES))


def named_table():
    """Return the swatch table of the shelf: the undyed base and a ladder of each dye, as curves."""
    rng = np.random.default_rng(2)
    text = write_swatches([base_swatch(with_curve=True), *ladder_swatches(rng, CURVES, 0.0, with_curve=True)])
    for number, name in enumerate(NAMES):
        text = text.replace(f"dye {number}", name)
    return text
