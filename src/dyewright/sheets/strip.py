"""A strip of colours over time as SVG: the yarn's, and below it the bath's. It stretches to the width it is given."""

from collections.abc import Sequence

__all__ = ["colour_strip"]

YARN_PX, BATH_PX = 64, 20
OVERLAP = 0.02  # of a step: neighbours meet without a seam when the strip is stretched


def colour_strip(yarn: Sequence[str], bath: Sequence[str]) -> str:
    """Return the strip, its colours edge to edge; the words that say what it shows stand beside it on the page.

    Args:
        yarn: colour codes from the start to the end, at equal steps of time.
        bath: of the same length.
    """
    rows = [*_row(yarn, 0, YARN_PX), *_row(bath, YARN_PX, BATH_PX)]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {len(yarn)} {YARN_PX + BATH_PX}" width="100%" '
        f'height="{YARN_PX + BATH_PX}" preserveAspectRatio="none" aria-hidden="true" focusable="false">{"".join(rows)}'
        "</svg>"
    )


def _row(colours: Sequence[str], top_px: int, height_px: int) -> list[str]:
    return [
        f'<rect x="{place}" y="{top_px}" width="{1 + OVERLAP}" height="{height_px}" fill="{colour}"/>'
        for place, colour in enumerate(colours)
    ]
