"""What a fit is made of: the swatches, the dyes in them, and what their strengths depend on."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dyewright.core.mixing.joint import FIRST_FACTOR
from dyewright.core.mixing.samples import require_usable, undyed
from dyewright.core.model import ObserverTables, Swatch
from dyewright.errors import InputError

__all__ = ["Setting", "setting_of"]

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Setting:
    """What is fitted: the dyed swatches, the dyes, and what their strengths depend on.

    `bases` begins with the one that strengths count from, the most used; `tubs` names each dye's tubs where there are
    several. `base`, `in_use` and `blends` say for which base and tubs the shelf is asked, and which jars are mixtures.
    """

    dyed: tuple[Swatch, ...]
    dyes: tuple[str, ...]
    bases: tuple[str, ...]
    tubs: Mapping[str, tuple[str, ...]]
    undyed: Mapping[str, Array]
    base: str
    in_use: Mapping[str, str]
    blends: frozenset[str]

    def columns(self, dye: str, base: str, tub: str) -> tuple[int, int]:
        """Return the places of a dye's strength on a base and from a tub among its numbers, -1 where it is 1."""
        on_base, tubs = self.bases.index(base) if base in self.bases else 0, self.tubs[dye]
        return (
            FIRST_FACTOR + on_base - 1 if on_base else -1,
            FIRST_FACTOR + len(self.bases) - 1 + tubs.index(tub) if tub in tubs else -1,
        )

    def own(self, name: str) -> list[Swatch]:
        """Return the swatches that hold a dye."""
        return [swatch for swatch in self.dyed if name in swatch.depths_owf]


def setting_of(
    swatches: Sequence[Swatch],
    tables: ObserverTables,
    *,
    base: str | None = None,
    lots: Mapping[str, str] | None = None,
    blends: Collection[str] = (),
) -> Setting:
    """Return what is to be fitted; arguments and errors as those of `fit_shelf`."""
    bare = undyed(swatches, tables)
    dyed = tuple(swatch for swatch in swatches if swatch.depths_owf)
    if not dyed:
        raise InputError("there is no dyed swatch: one of each dye at a known depth is enough to start", field="shelf")
    for swatch in dyed:
        _require_base(swatch.base, bare)
        require_usable(swatch)
    used = [swatch.base for swatch in dyed]
    bases = sorted(dict.fromkeys(used), key=lambda name: -used.count(name))
    chosen = bases[0] if base is None else base
    _require_base(chosen, bare)
    dyes = tuple(dict.fromkeys(name for swatch in dyed for name in swatch.depths_owf))
    tubs, in_use = {}, {}
    for name in dyes:
        tubs[name], in_use[name] = _tubs(name, dyed, (lots or {}).get(name, ""))
    return Setting(
        dyed=dyed,
        dyes=dyes,
        bases=tuple(dict.fromkeys([*bases, chosen])),
        tubs=tubs,
        undyed=bare,
        base=chosen,
        in_use=in_use,
        blends=frozenset(blends) & set(dyes),
    )


def _require_base(name: str, bases: Mapping[str, Array]) -> None:
    if name not in bases:
        raise InputError(
            f"base {name!r} has no undyed swatch, and a dye's colour is what it adds to the undyed yarn: "
            "measure the undyed base and add it as a row with depth 0",
            field="base",
            value=name,
        )


def _tubs(name: str, dyed: Sequence[Swatch], in_use: str) -> tuple[tuple[str, ...], str]:
    """Return the tubs that a dye's strength differs between, none where it is one, and the one in use.

    Swatches without a note of their tub count as from the one in use where no swatch of the dye has such a note, else
    as from a tub of their own, "".
    """
    noted = [swatch.dye_lots.get(name, "") for swatch in dyed if name in swatch.depths_owf]
    if not any(noted):
        return (), in_use
    own = in_use or max(dict.fromkeys(noted), key=noted.count)
    tubs = tuple(dict.fromkeys([*noted, own]))
    return (tubs if len(tubs) > 1 else ()), own
