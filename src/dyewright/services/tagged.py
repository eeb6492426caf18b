"""Numbered skeins on a judged photo: whose colour is whose, by the order of their tags and by what was foretold."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from dyewright.core.colour import delta_e00
from dyewright.core.evening import matched_in_order, reading_order
from dyewright.core.model import Basis, Judgement, Lab, Swatch
from dyewright.errors import InputError
from dyewright.services.matching import colour_from_text
from dyewright.services.swatches.from_photo import WITHOUT_CHART, Z95, skein_noise

__all__ = ["LATEST", "READ_WITH", "Matched", "Region", "matched", "read_colours", "regions_of"]

LATEST = 6  # verdicts that are offered
UNKNOWN_DE00 = 25.0  # taken as the difference from a tag of which nothing is foretold (estimate)
ODD_DE00 = 15.0  # a skein this far from what its tag should be is likelier another (estimate)
READ_WITH = ("colorimeter", "spectrophotometer")

Form = Mapping[str, str]


@dataclass(frozen=True)
class Region:
    """A judged skein on the photo: its box in pixels, its colour, how sure it is."""

    id: int
    left_px: float
    top_px: float
    width_px: float
    height_px: float
    hex: str
    words: str
    band: float
    lab: Lab


@dataclass(frozen=True)
class Matched:
    """Each region with the number that it seems to be, and what is odd about that, in sentences."""

    numbers: tuple[tuple[Region, int | None], ...]
    doubts: tuple[str, ...]


def regions_of(judgement: Judgement | None) -> list[Region]:
    """Return the skeins of a verdict in the order in which tags are laid: row by row from the top left."""
    if judgement is None:
        return []
    seen = _seen(judgement)
    order = reading_order([[(float(x), float(y)) for x, y in skein["outline"]] for skein in seen])
    return [_region(seen[place]) for place in order]


def matched(regions: Sequence[Region], foretold: Mapping[int, Lab | None], thing: str) -> Matched:
    """Return which number each region seems to be: in the order of the tags, by the colours where one is missing.

    Args:
        regions: in reading order.
        foretold: by number, in the order of the tags, the colour that each should have.
        thing: what carries the number: "jar", "sample".
    """
    tags = list(foretold)
    costs = np.full((len(regions), len(tags)), UNKNOWN_DE00)
    for place, lab in enumerate(foretold.values()):
        if lab is not None:
            costs[:, place] = [float(delta_e00(lab, region.lab)) for region in regions]
    found = matched_in_order(costs)
    numbers = [None if place is None else tags[place] for place in found]
    doubts = [] if not regions else _count_doubts(tags, numbers, len(regions), thing)
    for row, chosen in enumerate(found):
        if chosen is not None and foretold[tags[chosen]] is not None and costs[row, chosen] > ODD_DE00:
            doubts.append(
                f"Skein {regions[row].id} is {costs[row, chosen]:.0f} ΔE00 from what {thing} {tags[chosen]} should be: "
                f"is it another {thing}?"
            )
    return Matched(tuple(zip(regions, numbers, strict=True)), tuple(doubts))


def _count_doubts(tags: Sequence[int], given: Sequence[int | None], skeins: int, thing: str) -> list[str]:
    """Return which numbers have no skein, and how many skeins no number."""
    lacking = [str(tag) for tag in tags if tag not in given]
    if lacking:
        which = f"{thing} {lacking[0]} has" if len(lacking) == 1 else f"{thing}s {', '.join(lacking)} have"
        return [f"{skeins} skeins were found for {len(tags)} {thing}s: {which} none, by order and colour."]
    if skeins > len(tags):
        return [f"{skeins} skeins were found for {len(tags)} {thing}s: some are of no {thing}, by order and colour."]
    return []


def _seen(judgement: Judgement) -> list[Mapping[str, Any]]:
    result: Mapping[str, Any] = judgement.result
    return list(result["skeins"])


def _region(skein: Mapping[str, Any]) -> Region:
    xs, ys = zip(*skein["outline"], strict=True)
    return Region(
        id=skein["id"],
        left_px=min(xs),
        top_px=min(ys),
        width_px=max(xs) - min(xs),
        height_px=max(ys) - min(ys),
        hex=skein["hex"],
        words=skein["colour_words"],
        band=Z95 * skein_noise(skein),
        lab=_lab(skein["lab"]),
    )


def read_colours(judgement: Judgement | None, numbers: Sequence[int], form: Form, thing: str) -> dict[int, Swatch]:
    """Return the colour of each number that a form gives, as a swatch without recipe; what was typed goes first.

    Raises:
        InputError: two regions for one number, an unknown one, a colour that cannot be read, or none at all.
    """
    read = {} if judgement is None else _from_photo(judgement, numbers, form, thing)
    read |= _from_typed(numbers, form)
    if not read:
        raise InputError(
            f"no {thing} has a colour yet: say which skein of the photo is which {thing}, or type a {thing}'s colour",
            field=f"{thing}s",
        )
    return read


def _from_photo(judgement: Judgement, numbers: Sequence[int], form: Form, thing: str) -> dict[int, Swatch]:
    known = {str(number): number for number in numbers}
    is_relative = judgement.result["basis"] == Basis.RELATIVE
    read: dict[int, Swatch] = {}
    for skein in _seen(judgement):
        field = f"region.{skein['id']}"
        chosen = form.get(field, "")
        if not chosen:
            continue
        if chosen not in known:
            raise InputError(f"there is no {thing} {chosen} here", field=field, value=chosen)
        if known[chosen] in read:
            raise InputError(
                f"{thing} {chosen} is given twice; each skein of the photo is one {thing}, or none",
                field=field,
                value=chosen,
            )
        read[known[chosen]] = Swatch(
            {},
            "",
            lab=_lab(skein["lab"]),
            source="photo",
            note=WITHOUT_CHART if is_relative else "",
            origin={"judgement": str(judgement.id), "skein": str(skein["id"])},
            noise_de00=skein_noise(skein),
        )
    return read


def _from_typed(numbers: Sequence[int], form: Form) -> dict[int, Swatch]:
    source = form.get("source", READ_WITH[0])
    if source not in READ_WITH:
        raise InputError(f"read with {source!r}: use one of {', '.join(READ_WITH)}", field="source", value=source)
    read = {}
    for number in numbers:
        text = form.get(f"lab.{number}", "").strip()
        if text:
            try:
                lab = colour_from_text(text).lab
            except InputError as error:
                raise InputError(error.message, field=f"lab.{number}", value=text) from error
            read[number] = Swatch({}, "", lab=lab, source=source)
    return read


def _lab(values: Sequence[float]) -> Lab:
    lightness, a, b = (float(value) for value in values)
    return lightness, a, b
