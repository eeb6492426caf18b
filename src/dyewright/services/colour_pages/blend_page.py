"""The page of plying and carding: the colour of yarn made from fibre that was dyed before.

Sources: [1] 87 blended yarns, Textile Research Journal, doi 10.1177/00405175251397599 (abstract read): mean and largest
ΔE00 of the rules.
"""

from dataclasses import dataclass
from urllib.parse import urlencode

import numpy as np
from numpy.typing import NDArray
from sqlalchemy.orm import Session

from dyewright.core.colour import delta_e00, difference_words, lab_from_xyz, light_of, reflectance_from_lab
from dyewright.core.mixing import BlendRule, blended_reflectance, k_over_s, reflectance_from_k_over_s
from dyewright.core.model import Lab
from dyewright.data.colour import load_observer_tables
from dyewright.errors import InputError
from dyewright.services.colour_pages.bench import Asked
from dyewright.services.colour_targets import Chip, Wanted, colour_chips, lab_text, wanted_colour
from dyewright.services.shown import shown_hex, shown_words

__all__ = ["Blend", "BlendPart", "blend_of", "blend_view"]

Array = NDArray[np.float64]

MOST_PARTS, FEWEST_PARTS = 4, 2
STEARNS_MEAN_DE00, STEARNS_WORST_DE00 = 1.1, 3.5  # [1]: 1.14 and 3.51
DYES_MEAN_DE00, DYES_WORST_DE00 = 6.2, 12.3  # [1]: single-constant Kubelka-Munk, 6.18 and 12.26


@dataclass(frozen=True)
class BlendPart:
    """One colour of a blend: its share of the mass, 0 to 1, and how it looks."""

    share_frac: float
    hex: str
    words: str
    is_curve: bool


@dataclass(frozen=True)
class Blend:
    """What fibres of several colours give together, and how sure that is."""

    parts: tuple[BlendPart, ...]
    lab: Lab
    lab_text: str
    hex: str
    words: str
    sure: str
    inferred: str
    other_rule: str
    as_dyes_hex: str
    as_dyes: str


def blend_view(session: Session, asked: Asked) -> dict[str, object]:
    """Return what the form shows: its rows as typed, and lots and swatches, each with the address that adds it."""
    lots, swatches = colour_chips(session)
    rows = [(number, asked.get(f"part.{number}", ""), asked.get(f"share.{number}", "")) for number in _numbers()]
    free = next((number for number, part, _ in rows if not part.strip()), None)
    return {
        "rows": rows,
        "is_full": free is None,
        "lot_colours": [(chip, _with(asked, free, chip)) for chip in lots],
        "swatch_colours": [(chip, _with(asked, free, chip)) for chip in swatches],
    }


def _numbers() -> range:
    return range(1, MOST_PARTS + 1)


def _with(asked: Asked, number: int | None, chip: Chip) -> str:
    """Return the page's address part with a colour put into its first empty row."""
    stays = {key: value for key, value in asked.items() if key.startswith(("part.", "share.")) and value.strip()}
    return urlencode(stays if number is None else {**stays, f"part.{number}": chip.target})


def blend_of(session: Session, asked: Asked) -> Blend | None:
    """Return what a blend gives; None while the form holds fewer than two colours and asks for nothing.

    Raises:
        InputError: a colour or a share cannot be worked with; its field is named.
    """
    typed = [number for number in _numbers() if asked.get(f"part.{number}", "").strip()]
    if len(typed) < FEWEST_PARTS:
        if "blend" in asked:
            raise InputError("a blend needs two colours at least: name another", field=f"part.{len(typed) + 1}")
        return None
    colours = [wanted_colour(session, asked[f"part.{number}"], field=f"part.{number}") for number in typed]
    return _blend(colours, _shares(asked, typed))


def _shares(asked: Asked, typed: list[int]) -> Array:
    """Return the shares as parts of the whole: plies, per cent and grams are all the same; equal where none is said."""
    texts = [asked.get(f"share.{number}", "").strip() for number in typed]
    if not any(texts):
        return np.full(len(typed), 1 / len(typed))
    values = np.array([_share(text, number) for text, number in zip(texts, typed, strict=True)])
    shares: Array = values / values.sum()
    return shares


def _share(text: str, number: int) -> float:
    field = f"share.{number}"
    if not text:
        raise InputError(
            "how much of this colour? Give every colour its share, or leave all empty for equal parts", field=field
        )
    try:
        value = float(text.removesuffix("%").removesuffix("g").replace(",", ".").strip())
    except ValueError:
        raise InputError(
            f"the share {text!r} is no number; write parts, per cent or grams, such as 2", field=field, value=text
        ) from None
    if not 0 < value < 1e6:
        raise InputError(f"the share {text} cannot be; it lies above 0", field=field, value=value, limit=0)
    return value


def _blend(colours: list[Wanted], shares: Array) -> Blend:
    curves = np.array([_curve(one) for one in colours])
    lab = _lab(blended_reflectance(curves, shares))
    friele = _lab(blended_reflectance(curves, shares, rule=BlendRule.FRIELE))
    as_dyes = _lab(reflectance_from_k_over_s(shares @ k_over_s(curves)))
    guessed = sum(one.target.reflectance is None for one in colours)
    return Blend(
        parts=tuple(
            BlendPart(
                float(share),
                shown_hex(one.target.lab),
                shown_words(one.target.lab),
                is_curve=one.target.reflectance is not None,
            )
            for one, share in zip(colours, shares, strict=True)
        ),
        lab=lab,
        lab_text=lab_text(lab),
        hex=shown_hex(lab),
        words=shown_words(lab),
        sure=(
            "By the rule of Stearns and Noechel, with its usual constant for wool. On 87 blended yarns of a published "
            f"test it missed by {STEARNS_MEAN_DE00} ΔE00 on average and by {STEARNS_WORST_DE00} at worst."
        ),
        inferred=_inferred(guessed, len(colours)),
        other_rule=f"Friele’s rule, for the same question, comes out {float(delta_e00(lab, friele)):.1f} from it.",
        as_dyes_hex=shown_hex(as_dyes),
        as_dyes=(
            "Dyes in one fibre add up what they take out of the light. Fibres side by side each give their own light "
            "back, and some of it is caught by their neighbours: the blend stays lighter and brighter. The rule for "
            f"dyes would say {shown_words(as_dyes)}, {float(delta_e00(lab, as_dyes)):.1f} away "
            f"({difference_words(lab, as_dyes)}); in the same test it missed by {DYES_MEAN_DE00} on average and by "
            f"{DYES_WORST_DE00} at worst."
        ),
    )


def _curve(colour: Wanted) -> Array:
    target = colour.target
    if target.reflectance is not None:
        return target.reflectance
    return reflectance_from_lab(target.lab, load_observer_tables())


def _lab(reflectance: Array) -> Lab:
    weights, white = light_of(load_observer_tables(), "D65", 10)
    lightness, a, b = lab_from_xyz(reflectance @ weights, white).tolist()
    return lightness, a, b


def _inferred(guessed: int, count: int) -> str:
    if not guessed:
        return "All its colours are measured curves."
    which = "All its colours are" if guessed == count else "One of its colours is" if guessed == 1 else "Some are"
    return (
        f"{which} known by Lab only: the smoothest curve with that Lab stands in for the real one, which makes the "
        "answer somewhat less sure."
    )
