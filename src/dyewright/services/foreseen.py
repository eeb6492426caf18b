"""A card's sheet with as many rinses in it as its forecast expects."""

from dyewright.core.model import Card, Learnt, Settings, Sheet
from dyewright.services.forecasting.foretell import rinses_foretold
from dyewright.services.planning import plan

__all__ = ["foreseen_plan"]


def foreseen_plan(card: Card, settings: Settings | None = None, *, learnt: Learnt | None = None) -> Sheet:
    """Return the sheet of a card, its number of rinses from the forecast where there is one for all of its dyes.

    Args:
        card: what the dyer says.
        settings: the studio's, for spoons, water and scale.
        learnt: what the studio's pots taught of the card's dyes; class defaults where None.

    Raises:
        InputError: the card cannot be planned.
    """
    return plan(card, settings, waters=lambda sheet: rinses_foretold(sheet, learnt=learnt))
