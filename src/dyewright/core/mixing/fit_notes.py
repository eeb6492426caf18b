"""What a dyer should know of a fit, in sentences."""

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from dyewright.core.mixing.setting import Setting
from dyewright.core.mixing.shelf import POOR_FIT_DE00
from dyewright.core.model import Swatch

__all__ = ["fit_notes", "misfit_notes", "theory_notes"]

Array = NDArray[np.float64]

NOTED_DE00 = 0.5  # a component, that a theory may be wrong by before a note says so (ours)


def fit_notes(setting: Setting, numbers: Array, *, asked: str | None) -> tuple[str, ...]:
    """Return the notes on bases, tubs and mixes of a fit with these numbers (n, p)."""
    own = {name: setting.own(name) for name in setting.dyes}
    notes = []
    if asked is None and len({swatch.base for swatches in own.values() for swatch in swatches}) > 1:
        notes.append(f"on {setting.base}, the base with most swatches; name another to dye on that")
    notes += _base_notes(setting, numbers, own)
    notes += _tub_notes(setting, numbers, own)
    mixed = [name for name, swatches in own.items() if all(len(swatch.depths_owf) > 1 for swatch in swatches)]
    if mixed:
        notes.append(f"known from mixes only: {', '.join(mixed)}; a swatch of the dye alone would tell more")
    if setting.blends:
        jars = ", ".join(name for name in setting.dyes if name in setting.blends)
        notes.append(f"blended in the jar: {jars}; its parts may take up apart, so the band is wider")
    return tuple(notes)


def _base_notes(setting: Setting, numbers: Array, own: Mapping[str, Sequence[Swatch]]) -> list[str]:
    """Return how deep dyes take on the base asked for, and which of them are only carried over to it."""
    chosen, first = setting.base, setting.bases[0]
    elsewhere = [name for name, swatches in own.items() if all(swatch.base != chosen for swatch in swatches)]
    there = {id(swatch) for swatches in own.values() for swatch in swatches if swatch.base == chosen}
    notes = []
    if chosen != first and there:
        place = setting.columns(setting.dyes[0], chosen, "")[0]
        factor = np.exp(np.mean([numbers[dye, place] for dye, name in enumerate(own) if name not in elsewhere]))
        count = "1 swatch" if len(there) == 1 else f"{len(there)} swatches"
        notes.append(f"on {chosen}: takes {factor:.2g} times as deep as on {first}, from {count}")
    if elsewhere:
        how = "the undyed colours of both bases" + (" and what other dyes do there" if there else "")
        notes.append(f"not yet dyed on {chosen}: {', '.join(elsewhere)}; carried over by {how}")
    return notes


def _tub_notes(setting: Setting, numbers: Array, own: Mapping[str, Sequence[Swatch]]) -> list[str]:
    """Return the strength of each tub in use against the tub with most swatches, or that no swatch tells it."""
    notes = []
    for dye, (name, swatches) in enumerate(own.items()):
        tubs, tub = setting.tubs[name], setting.in_use[name]
        if not tubs:
            continue
        noted = [swatch.dye_lots.get(name, "") for swatch in swatches]
        most = max(dict.fromkeys(noted), key=noted.count)
        if tub not in noted:
            notes.append(f"{name}: no swatch yet from tub {tub}; one bridging swatch gives its strength")
        elif tub != most:
            places = [setting.columns(name, setting.base, one)[1] for one in (tub, most)]
            factor = np.exp(numbers[dye, places[0]] - numbers[dye, places[1]])
            against = f"tub {most}" if most else "swatches without a tub's note"
            notes.append(f"{name}: tub {tub} is {factor:.2f} times as strong as {against}")
    return notes


def theory_notes(theory_de00: float) -> tuple[str, ...]:
    """Return what measured mixes say of the theory, where they lie off by more than it lets expect."""
    if theory_de00 < NOTED_DE00:
        return ()
    off = np.sqrt(3) * theory_de00
    return (
        f"the measured mixes lie about {off:.1f} ΔE00 off what their dyes alone foretell; the band of mixes holds it",
    )


def misfit_notes(dyes: Sequence[str], missed_de00: Sequence[float]) -> tuple[str, ...]:
    """Return a question for each dye whose own swatches the fit misses widely."""
    return tuple(
        f"{name}: no dye over this undyed yarn gives its swatches, the nearest misses them by {missed:.1f} ΔE00; "
        "are swatch, depth and base the right ones? A dye can only darken"
        for name, missed in zip(dyes, missed_de00, strict=True)
        if missed > POOR_FIT_DE00
    )
