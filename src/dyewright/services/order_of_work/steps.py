"""Every step of one dyeing, from the dry skein to the dry skein, with each caution at its step."""

from dyewright.core.model import Card, ClassGroup, SheetStep
from dyewright.services.card_defaults import class_group
from dyewright.services.order_of_work.at_the_pot import at_the_pot
from dyewright.services.order_of_work.bench import Bench
from dyewright.services.order_of_work.finishing import finishing
from dyewright.services.order_of_work.preparing import bath_making, preparation

__all__ = ["usual_rinses", "work_steps"]


def usual_rinses(card: Card) -> int:
    """Return how many rinses are usual before the forecast says better: acid dyes 2, reactive 5, direct 3.

    Common practice, no source.
    """
    if any(dye.dye_class.is_reactive for dye in card.dyes):
        return 5
    return 3 if any(class_group(dye.dye_class) is ClassGroup.DIRECT for dye in card.dyes) else 2


def work_steps(bench: Bench) -> tuple[SheetStep, ...]:
    """Return every step in its order.

    Raises:
        InputError: an addition is set for a temperature or a minute that the programme never comes to.
    """
    return (*preparation(bench), *bath_making(bench), *at_the_pot(bench), *finishing(bench))
