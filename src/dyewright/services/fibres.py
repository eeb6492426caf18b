"""Fibres as a dyer writes them: "wool 80, silk 20", read into shares."""

import re

from dyewright.core.model import Fibre
from dyewright.errors import InputError

__all__ = ["fibres_from_text"]

_NUMBER = r"(?P<number>\d+(?:[.,]\d+)?)\s*%?"
_NUMBER_FIRST = re.compile(rf"{_NUMBER}\s*(?P<name>[a-z]+)", re.IGNORECASE)  # "80 % wool"
_NAME_FIRST = re.compile(rf"(?P<name>[a-z]+)\s*(?:{_NUMBER})?", re.IGNORECASE)  # "wool 80"


def fibres_from_text(text: str, *, field: str | None = None) -> dict[Fibre, float]:
    """Return the share of each fibre, adding up to 1, from "wool 80, silk 20", "80 % wool 20 % silk" or "wool".

    Raises:
        InputError: no fibre, one that is not known, or shares that do not add up to 100 %.
    """
    text = text.strip()
    if not text:
        raise InputError("no fibre is said; write for example 'wool 80, silk 20'", field=field, value=text)
    pattern = _NUMBER_FIRST if text[0].isdigit() else _NAME_FIRST
    parts = list(pattern.finditer(text))
    if pattern.sub("", text).strip(" ,;/+&") or any(part["number"] is None for part in parts[:1] if len(parts) > 1):
        raise InputError(
            f"fibres '{text}' cannot be read; write for example 'wool 80, silk 20'", field=field, value=text
        )
    shares: dict[Fibre, float] = {}
    for part in parts:
        fibre = _fibre(part["name"], text, field)
        share = float(part["number"].replace(",", ".")) / 100 if part["number"] else 1.0
        shares[fibre] = shares.get(fibre, 0.0) + share
    total = sum(shares.values())
    if abs(total - 1) > 0.005:
        raise InputError(
            f"fibres '{text}': the shares add up to {total * 100:g} %, not 100 %", field=field, value=total, limit=1.0
        )
    return {fibre: share / total for fibre, share in shares.items()}


def _fibre(name: str, text: str, field: str | None) -> Fibre:
    try:
        return Fibre(name.strip().casefold())
    except ValueError:
        known = ", ".join(Fibre)
        raise InputError(
            f"fibres '{text}': '{name.strip()}' is not a fibre of the tables; use {known}", field=field, limit=known
        ) from None
