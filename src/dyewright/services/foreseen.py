"""A card's sheet with as many rinses in it as its forecast expects."""

from collections.abc import Callable

from dyewright.core.model import Card, Learnt, Settings, Sheet
from dyewright.services.forecasting.foretell import rinses_foretold
from dyewright.services.planning import plan

__all__ = ["foreseen_plan"]


def foreseen_plan(
    card: Card, settings: Settings | None = None, *, learnt: Callable[[Sheet], Learnt | None] | None = None
) -> Sheet:
    """Return the sheet of a card, its number of rinses from the forecast where there is one for all of its dyes.

    Args:
        card: what the dyer says.
        settings: the studio's, for spoons, water and scale.
        learnt: tells what the studio's pots taught of a sheet's dyes; class defaults where None.

    Raises:
        InputError: the card cannot be planned.
    """

    def waters(sheet: Sheet) -> int | None:
        return rinses_foretold(sheet, learnt=None if learnt is None else learnt(sheet))

    return plan(card, settings, waters=waters)
