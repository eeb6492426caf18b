"""The chart of two ways."""

from sqlalchemy.orm import Session

from dyewright.core.model import Card
from dyewright.services.comparing.measures import Way
from dyewright.services.forecast_pages.charts import in_page
from dyewright.services.forecast_pages.view import dye_labs
from dyewright.services.shown import shown_hex
from dyewright.sheets.beside import WayCurve, beside_chart

__all__ = ["dye_colour", "two_ways_svg"]


def dye_colour(session: Session, card: Card) -> str | None:
    """Return the colour of the dye that a card holds most of, from its deepest swatch; None without one."""
    deepest = max(card.dyes, key=lambda dye: dye.depth_owf, default=None)
    if deepest is None:
        return None
    lab = dye_labs(session, [deepest.name]).get(deepest.name)
    return None if lab is None else shown_hex(lab)


def two_ways_svg(ways: tuple[Way, Way], colours: tuple[str | None, str | None], *, width_px: int) -> str | None:
    """Return both baths' curves with their bands overlaid, for a page; None where neither has a model.

    Two ways of one colour are drawn in the page's own grey and in that colour.
    """
    shown = (None, colours[1]) if colours[0] == colours[1] else colours
    curves = [_curve(way, colour, place) for place, (way, colour) in enumerate(zip(ways, shown, strict=True), start=1)]
    known = [curve for curve in curves if curve is not None]
    if not known:
        return None
    until_min = max(way.told.hold_end_min for way in ways)
    return in_page(beside_chart(known, width_px=width_px, until_min=until_min))


def _curve(way: Way, colour: str | None, place: int) -> WayCurve | None:
    told, bath = way.told, way.told.bath
    if bath.exhaustion is None or bath.low is None or bath.high is None:
        return None
    name = f"{place} {told.title}".strip()
    return WayCurve(name, told.t_min, bath.exhaustion, bath.low, bath.high, colour)
