"""Which dyes of a shelf go into one bath, by their classes."""

from collections.abc import Collection, Sequence
from itertools import combinations

from dyewright.core.model import Company, Dye, DyeCompany
from dyewright.data.practice import load_dye_company
from dyewright.services.card_defaults import class_group

__all__ = ["care_notes", "kept_apart"]


def kept_apart(dyes: Sequence[Dye]) -> dict[frozenset[str], str]:
    """Return the pairs of dyes that do not go into one bath, each with its sentence."""
    return {pair: _sentence(pair, row) for pair, row in _pairs(dyes) if row.company is Company.APART}


def care_notes(dyes: Sequence[Dye], used: Collection[str]) -> tuple[str, ...]:
    """Return what to mind about the dyes of one recipe that go together only with care."""
    pairs = _pairs([dye for dye in dyes if dye.name in used])
    return tuple(_sentence(pair, row) for pair, row in pairs if row.company is Company.WITH_CARE)


def _pairs(dyes: Sequence[Dye]) -> list[tuple[frozenset[str], DyeCompany]]:
    table = load_dye_company()
    found = []
    for one, two in combinations(dyes, 2):
        row = table.get(frozenset({class_group(one.dye_class), class_group(two.dye_class)}))
        if row is not None:
            found.append((frozenset({one.name, two.name}), row))
    return found


def _sentence(pair: frozenset[str], row: DyeCompany) -> str:
    one, two = sorted(pair)
    go = "do not go into one bath" if row.company is Company.APART else "go together with care"
    return f"{one} and {two} {go}: {row.reason} ({row.trust.value})"
