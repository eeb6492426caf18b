"""A card's forecast, with what was seen in words and another card beside it, leaning on a studio's pots or on none."""

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy.orm import Session

from dyewright.core.model import Forecast, Learnt, Sheet
from dyewright.records import shelf
from dyewright.services.comparing.compare import NO_PRICES, TwoWays, ways_beside
from dyewright.services.forecasting.foretell import forecast_from
from dyewright.services.forecasting.seen import observed_in_words
from dyewright.services.learning.lessons import learnt_for, taught_words
from dyewright.services.planning import plan, read_card
from dyewright.services.questions import sure_limits

__all__ = ["CardsForecast", "forecast_of_cards"]


@dataclass(frozen=True)
class CardsForecast:
    """The forecast of a card and what its pot teaches; with a second card that one's forecast, and the two compared."""

    told: Forecast
    taught: tuple[str, ...] = ()
    beside: Forecast | None = None
    two_ways: TwoWays | None = None


def forecast_of_cards(
    card_toml: str, seen: Sequence[str] = (), *, beside_toml: str | None = None, session: Session | None = None
) -> CardsForecast:
    """Return what a card's dyeing is expected to do.

    Args:
        card_toml: the card.
        seen: what was seen at its pot, such as "21 min: 7/8".
        beside_toml: a second card to set beside it.
        session: of the studio whose settings and pots it leans on; class defaults where None.

    Raises:
        InputError: a card cannot be read or planned, or what was seen cannot be or can hardly be.
    """
    settings = None if session is None else shelf.studio_settings(session)

    def learnt_of(sheet: Sheet) -> Learnt | None:
        return None if session is None else learnt_for(session, sheet)

    card = read_card(card_toml, settings)
    sheet = plan(card, settings)
    observed = observed_in_words(seen, limits=sure_limits(sheet.ph_closed))
    told = forecast_from(sheet, observed, learnt=learnt_of(sheet))
    taught = () if observed.is_empty else taught_words(sheet, observed)
    if beside_toml is None:
        return CardsForecast(told, taught)
    other = read_card(beside_toml, settings)
    _, right, compared = ways_beside(card, other, settings=settings, prices=NO_PRICES, learnt_of=learnt_of)
    return CardsForecast(told, taught, right.told, compared)
