"""Wet yarn: what it is guessed to look like dry, and the pairs of samples judged wet and dry that teach it."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from sqlalchemy.orm import Session

from dyewright.core.colour import difference_words
from dyewright.core.model import Lab, ObserverTables, WetPair
from dyewright.core.wetting import DryGuess, WetShift, dry_guess, learnt_shift
from dyewright.data.colour import load_observer_tables
from dyewright.errors import InputError, NotFoundError, OutOfRangeError
from dyewright.records import photos, shelf, wet_pairs
from dyewright.services.colour_pages.snip import read_snip, seen_skeins
from dyewright.services.shown import shown_hex, shown_words

__all__ = ["GuessedDry", "add_pair", "guessed_dry", "remove_pair", "wet_page"]

DARKER_DRY_L = 1.0  # of L* by which a dry sample may come out darker than the wet one through the photos' errors (ours)


@dataclass(frozen=True)
class GuessedDry:
    """A wet sample's colour as guessed dry, to show: the middle, the ends of its band, and words for both."""

    lab: Lab
    hex: str
    darkest_hex: str
    lightest_hex: str
    de00_95: float
    words: str
    basis: str


@dataclass(frozen=True)
class _PairLine:
    """A pair as the page of its base lists it."""

    id: int | None
    wet_hex: str
    dry_hex: str
    words: str
    measured_on: date
    note: str


def guessed_dry(session: Session, base_id: int | None, lab: Lab) -> GuessedDry | None:
    """Return what a wet sample is guessed to look like dry; None where no yarn can have its colour.

    Without a base, the pairs of all bases speak for it.
    """
    tables, pairs = load_observer_tables(), wet_pairs.wet_pairs(session)
    shift = learnt_shift(base_id or 0, pairs, tables)
    try:
        guess = dry_guess(lab, shift, tables)
    except OutOfRangeError:
        return None
    return GuessedDry(
        lab=guess.lab,
        hex=shown_hex(guess.lab),
        darkest_hex=shown_hex(guess.darkest),
        lightest_hex=shown_hex(guess.lightest),
        de00_95=guess.de00_95,
        words=_guess_words(guess),
        basis=_basis_words(shift),
    )


def wet_page(session: Session, base_id: int) -> dict[str, object]:
    """Return what the page of a base's wet and dry samples shows.

    Raises:
        NotFoundError: the base is not on the shelf.
    """
    base, tables, pairs = shelf.base(session, base_id), load_observer_tables(), wet_pairs.wet_pairs(session)
    shift = learnt_shift(base_id, pairs, tables)
    return {
        "base_yarn": base,
        "pairs": [_line(pair) for pair in pairs if pair.base_id == base_id],
        "wet_skeins": _seen(session, is_damp=True),
        "dry_skeins": _seen(session, is_damp=False),
        "basis": _basis_words(shift),
        "example": _example(shift, tables),
    }


def add_pair(session: Session, base_id: int, typed: Mapping[str, str], *, today: date) -> WetPair:
    """Keep a sample judged wet and dry, each a skein of a judged photo or a colour as typed.

    Raises:
        InputError: a colour is missing or cannot be read, or the dry one is the darker.
        NotFoundError: the base is not on the shelf.
    """
    wet, dry = (_colour(session, typed, field) for field in ("wet", "dry"))
    if dry[0] < wet[0] - DARKER_DRY_L:
        raise InputError(
            f"the dry sample is darker (L* {dry[0]:.0f}) than the wet one (L* {wet[0]:.0f}), which yarn never is: were "
            "they taken for each other?",
            field="dry",
            value=dry[0],
            limit=wet[0],
        )
    return wet_pairs.add_wet_pair(session, WetPair(base_id, wet, dry, today, typed.get("note", "").strip()))


def remove_pair(session: Session, base_id: int, pair_id: int) -> None:
    """Take a pair off its base.

    Raises:
        NotFoundError: the base has no such pair.
    """
    if all(pair.id != pair_id for pair in wet_pairs.wet_pairs(session, base_id)):
        raise NotFoundError(f"this base has no wet and dry sample {pair_id}", value=pair_id)
    wet_pairs.remove_wet_pair(session, pair_id)


def _seen(session: Session, *, is_damp: bool) -> list[tuple[str, str]]:
    """Return the skeins judged last as a choice, those judged damp or dry first: the pair is then two taps away."""
    damp = {str(one.id) for one in photos.all_judgements(session) if one.marks.get("yarn") == "damp"}
    return sorted(seen_skeins(session), key=lambda choice: (choice[0].split()[1] in damp) is not is_damp)


def _colour(session: Session, typed: Mapping[str, str], field: str) -> Lab:
    text = typed.get(f"{field}_typed", "").strip() or typed.get(field, "").strip()
    try:
        reading = read_snip(session, {"snip": text})
    except InputError as error:
        raise InputError(error.message, field=field, value=error.value, limit=error.limit) from error
    if reading is None:
        raise InputError(f"choose the sample as judged {field}, or type its Lab", field=field)
    lightness, red_green, yellow_blue = (float(value) for value in reading.target.lab)
    return lightness, red_green, yellow_blue


def _line(pair: WetPair) -> _PairLine:
    words = difference_words(pair.dry_lab, pair.wet_lab)
    return _PairLine(pair.id, shown_hex(pair.wet_lab), shown_hex(pair.dry_lab), words, pair.measured_on, pair.note)


def _guess_words(guess: DryGuess) -> str:
    low, high = guess.darkest[0], guess.lightest[0]
    return (
        f"Dry it will be about L* {guess.lab[0]:.0f} ({low:.0f} to {high:.0f}), {shown_words(guess.lab)}: a rough "
        f"guide, to ± {guess.de00_95:.0f} ΔE00. Dry it before more dye."
    )


def _basis_words(shift: WetShift) -> str:
    own = f"{shift.own_pairs} {'sample' if shift.own_pairs == 1 else 'samples'}"
    if shift.own_pairs:
        return f"Learnt from {own} of this base judged wet and dry."
    if shift.other_pairs:
        return f"No sample of this base was judged wet and dry: from {shift.other_pairs} of other bases."
    return "No sample was judged wet and dry yet: from what a film of water does, a guess for yarn."


EXAMPLE: Lab = (40.0, -18.0, -10.0)
"""A wet teal, to show on the page of a base what its shift does."""


def _example(shift: WetShift, tables: ObserverTables) -> dict[str, object]:
    guess = dry_guess(EXAMPLE, shift, tables)
    return {
        "wet": shown_hex(EXAMPLE),
        "dry": shown_hex(guess.lab),
        "words": f"A wet teal of L* {EXAMPLE[0]:.0f} would dry to about L* {guess.lab[0]:.0f}, "
        f"{guess.darkest[0]:.0f} to {guess.lightest[0]:.0f} in 19 of 20 cases.",
    }
