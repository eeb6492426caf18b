"""The papers of a lot: the card that its snips are stapled to, and the labels that go with its skeins."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass

from dyewright.sheets.pdf import set_in_type

__all__ = ["SkeinLabel", "SnipCard", "SnipPlace", "skein_labels_pdf", "snip_card_pdf"]


@dataclass(frozen=True)
class SnipPlace:
    """Where the snip of one skein is stapled: its number, its colour as printed and in figures, and what to know."""

    number: str
    swatch_hex: str | None
    lab: str
    words: str
    detail: str


@dataclass(frozen=True)
class SnipCard:
    """The card of one lot: what it is, how it was dyed, who measured its colours how well."""

    title: str
    subtitle: str
    facts: Sequence[tuple[str, str]]
    recipe: Sequence[tuple[str, str, str]]
    judged: str
    places: Sequence[SnipPlace]
    footer: str
    qr: str


@dataclass(frozen=True)
class SkeinLabel:
    """The label of one skein: what the buyer has in hand, and what to beware of. The yarn itself shows its colour."""

    studio: str
    name: str
    base: str
    fibres: str
    mass: str
    lot: str
    together: str
    caution: str


def snip_card_pdf(card: SnipCard) -> bytes:
    """Return the card as PDF bytes on A4; the same card gives the same bytes."""
    return set_in_type("snip-card.typ", asdict(card))


def skein_labels_pdf(title: str, labels: Sequence[SkeinLabel]) -> bytes:
    """Return the labels as PDF bytes, ten on a sheet of A4 with lines to cut along."""
    return set_in_type("skein-labels.typ", {"title": title, "labels": [asdict(one) for one in labels]})
