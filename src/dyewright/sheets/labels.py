"""Tags to tie on: a number to read from beside the pot, what it stands for, and the way back to its page."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass

from dyewright.sheets.pdf import set_in_type

__all__ = ["TieOn", "labels_pdf"]


@dataclass(frozen=True)
class TieOn:
    """One tag: its number, what was varied, the series it belongs to, and its day."""

    number: str
    value: str
    name: str
    day: str


def labels_pdf(title: str, labels: Sequence[TieOn], qr_svg: str) -> bytes:
    """Return the tags as PDF bytes, sixteen on a sheet of A4 with lines to cut along."""
    return set_in_type("labels.typ", {"title": title, "labels": [asdict(one) for one in labels], "qr": qr_svg})
