"""Any two cards beside each other."""

from dataclasses import dataclass
from decimal import Decimal

from dyewright.core.model import Card, Learnt, Settings, Sheet
from dyewright.services.comparing.measures import LearntOf, Prices, Way, measured_way
from dyewright.services.comparing.rows import ComparedRow, compared_rows
from dyewright.services.comparing.verdict import names_of_ways, verdict_of
from dyewright.services.planning import plan

__all__ = ["PER_KWH", "TwoWays", "beside", "ways_beside"]

PER_KWH = Decimal("0.30")  # estimate: a household's price in a currency near the euro or dollar
NO_PRICES = Prices(PER_KWH, {})
PAIRED = "Both ways use the same dyes: they are compared pot by pot, what is not known of a dye being the same in both."
APART = "The dyes differ: what is not known of one says nothing of the other, so bands that overlap tell nothing."


def nothing_learnt(_: Sheet) -> Learnt | None:
    """Return that no pot has taught anything of these dyes: class defaults."""
    return None


@dataclass(frozen=True)
class TwoWays:
    """Two ways in figures and words: a row's key ends in its unit, its `better` says which is, `chance` how sure."""

    left_title: str
    right_title: str
    verdict: str
    rows: tuple[ComparedRow, ...]
    price_per_kwh: Decimal
    notes: tuple[str, ...]


def beside(
    left: Card,
    right: Card,
    *,
    settings: Settings | None = None,
    prices: Prices = NO_PRICES,
    learnt_of: LearntOf = nothing_learnt,
) -> TwoWays:
    """Return two cards compared.

    Args:
        left: the way one starts from.
        right: the other.
        settings: the studio's.
        prices: of power and dyes; dyes without one have no cost.
        learnt_of: what the studio's pots taught of a sheet's dyes.

    Raises:
        InputError: a card cannot be planned.
    """
    return ways_beside(left, right, settings=settings, prices=prices, learnt_of=learnt_of)[2]


def ways_beside(
    left: Card, right: Card, *, settings: Settings | None, prices: Prices, learnt_of: LearntOf = nothing_learnt
) -> tuple[Way, Way, TwoWays]:
    """Return two cards compared, with both ways for whoever draws them; see `beside`."""
    first, second = (measured_way(plan(card, settings), prices, learnt_of) for card in (left, right))
    return first, second, _compared(first, second, prices)


def _compared(left: Way, right: Way, prices: Prices) -> TwoWays:
    names = names_of_ways(left.sheet.card, right.sheet.card)
    rows = compared_rows(left, right, names)
    return TwoWays(
        left_title=left.sheet.title,
        right_title=right.sheet.title,
        verdict=verdict_of(rows, names),
        rows=rows,
        price_per_kwh=prices.per_kwh,
        notes=_notes(left, right),
    )


def _notes(left: Way, right: Way) -> tuple[str, ...]:
    """Return how the two were compared, and what the forecasts of either rest on, each sentence once."""
    notes = []
    if left.samples is not None and right.samples is not None:
        notes.append(PAIRED if left.samples.dyes == right.samples.dyes else APART)
    return tuple(dict.fromkeys([*notes, *left.told.notes, *right.told.notes]))
