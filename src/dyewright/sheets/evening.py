"""A swatch evening on paper: one sheet to dose and dye from, and the cards that its swatches are kept on."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass

from dyewright.sheets.pdf import Figure, PaperStep, set_in_type

__all__ = ["PaperDose", "PaperEvening", "PaperJar", "PaperStock", "SwatchCard", "cards_pdf", "evening_pdf"]


@dataclass(frozen=True)
class PaperDose:
    """One thing that goes into a jar: what it is drawn from or weighed of, and how much."""

    name: str
    amount: str


@dataclass(frozen=True)
class PaperJar:
    """One jar's row: its tag, its recipe, what goes in, and what is odd about it."""

    number: int
    recipe: str
    mass: str
    seat: str
    water: str
    doses: Sequence[PaperDose]
    assistants: Sequence[PaperDose]
    note: str = ""


@dataclass(frozen=True)
class PaperStock:
    """One stock: how it is mixed, how much the jars take of it, and which jar how much."""

    name: str
    how: str
    taken: str
    jars: str


@dataclass(frozen=True)
class PaperEvening:
    """Everything on the paper, as text ready to set. `cautions` are those that hold throughout."""

    title: str
    subtitle: str
    figures: Sequence[Figure]
    jars: Sequence[PaperJar]
    stocks: Sequence[PaperStock]
    steps: Sequence[PaperStep]
    cautions: Sequence[str]
    notes: Sequence[str]
    footer: str


@dataclass(frozen=True)
class SwatchCard:
    """One card: the yarn is tied to it beside what is known of it."""

    number: int
    recipe: str
    base: str
    dyed_on: str
    lots: str
    measured: str
    words: str
    hex: str
    seat: str = ""


def evening_pdf(paper: PaperEvening) -> bytes:
    """Return the sheet of an evening as PDF bytes, A4 that also prints on US Letter."""
    return set_in_type("evening.typ", asdict(paper))


def cards_pdf(title: str, cards: Sequence[SwatchCard]) -> bytes:
    """Return the cards as PDF bytes, ten on a sheet of A4 with lines to cut along."""
    return set_in_type("cards.typ", {"title": title, "cards": [asdict(card) for card in cards]})
