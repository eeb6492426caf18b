"""What a command asks of a verdict besides: orders to fill, the dyes of the bath, swatches for a top-up."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from dyewright.core.model import DyeClass, JudgeResult
from dyewright.core.skeins.lacking import UNDYED_LAB, Dyeing
from dyewright.errors import InputError
from dyewright.services.judging.orders import orders_from_text, shared_out
from dyewright.services.judging.topping_up import ToppingUp, topping_up_from_table
from dyewright.services.judging.ways import with_ways
from dyewright.services.matching import swatches_from_file
from dyewright.services.shown import swatch_lab

__all__ = ["Asked", "asked_from_text", "completed"]


@dataclass(frozen=True)
class Asked:
    """What is asked besides the verdict itself; `wanted` counts the skeins of each order."""

    wanted: tuple[int, ...]
    dyeing: Dyeing
    bench: ToppingUp | None


def asked_from_text(
    orders: str | None, dyed_with: Sequence[str], shelf: Path | None, base: str | None, dry: str | None
) -> Asked:
    """Return what is asked, from a command's options.

    Args:
        orders: how many skeins each order needs, such as "3, 2".
        dyed_with: dyes of the bath, "NAME" or "NAME=class".
        shelf: the swatch table, for the recipe of a top-up.
        base: the yarn; the one with most swatches where None.
        dry: the dry weight of one skein, such as "100 g".

    Raises:
        InputError: an option that cannot be read.
    """
    classes = dict(_dye(text) for text in dyed_with)
    known = {name: own for name, own in classes.items() if own is not None}
    wanted = () if orders is None else orders_from_text(orders)
    if shelf is None:
        return Asked(wanted, Dyeing(known), None)
    swatches = swatches_from_file(shelf)
    bench = replace(topping_up_from_table(swatches, base, dry), own_dyes=tuple(classes))
    undyed = [swatch_lab(one) for one in swatches if one.base == bench.shelf.base and not one.depths_owf]
    return Asked(wanted, Dyeing(known, next((lab for lab in undyed if lab), UNDYED_LAB)), bench)


def _dye(text: str) -> tuple[str, DyeClass | None]:
    name, has_class, kind = (part.strip() for part in text.partition("="))
    if not has_class:
        return name, None
    try:
        return name, DyeClass(kind)
    except ValueError:
        known = ", ".join(one.value for one in DyeClass)
        raise InputError(
            f"the class {kind!r} of {name} is not known; write one of {known}", field="dyed_with", value=kind
        ) from None


def completed(result: JudgeResult, asked: Asked) -> JudgeResult:
    """Return the verdict with what was asked besides."""
    told = with_ways(result, asked.dyeing, asked.bench)
    return replace(told, assignment=shared_out(told, asked.wanted)) if asked.wanted else told
