"""Colour tasks of a studio: foretell a mix, find recipes for a target, say how two colours differ."""

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from dyewright.core.colour import (
    REPORTED_LIGHTS,
    colour_words,
    delta_cmc,
    delta_e00,
    delta_e76,
    delta_e94_textile,
    delta_grey_scale,
    delta_parts,
    difference_words,
    display_hex,
    display_rgb,
    grey_scale_text,
    lab_from_display_hex,
    lab_from_xyz,
    light_of,
    reflectance_from_lab,
    visibility_words,
    xyz_from_reflectance,
)
from dyewright.core.matching import (
    REACHED_DE00,
    Limits,
    Target,
    Weighing,
    choose_recipes,
    failing_parts,
    search,
)
from dyewright.core.mixing import ShelfModel, band_95, depth_vector, fit_shelf, lab_of_mix, predict
from dyewright.core.model import (
    WAVELENGTHS_NM,
    Basis,
    ColourDifference,
    Lab,
    Match,
    MixDye,
    Recipe,
    Shade,
    Swatch,
    Why,
)
from dyewright.data.colour import load_observer_tables
from dyewright.errors import InputError
from dyewright.files.swatches import read_mix, read_sample, read_swatches

__all__ = [
    "Search",
    "colour_from_text",
    "difference",
    "match",
    "match_on",
    "mix_from_text",
    "shade",
    "shade_on",
    "swatches_from_file",
    "target_from_swatch",
    "target_from_text",
]

SEED = 20261125  # of the drawn weighings: the same question gets the same answer


@dataclass(frozen=True)
class Search:
    """How a match is looked for, beside its target: what recipes keep to, how many to show, how doses are weighed."""

    limits: Limits = field(default_factory=Limits)
    best: int = 10
    weighing: Weighing = field(default_factory=Weighing)

    def __post_init__(self) -> None:
        """Refuse a number of recipes that cannot be."""
        if self.best < 1:
            raise InputError(
                f"{self.best} recipes were asked for; ask for 1 or more", field="best", value=self.best, limit=1
            )


def swatches_from_file(path: Path) -> list[Swatch]:
    """Return the swatches of a table on disk.

    Raises:
        InputError: the file cannot be read, or is not a swatch table.
    """
    return read_swatches(_bytes_of(path, "shelf"), path.name, tables=load_observer_tables())


def _bytes_of(path: Path, field: str) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise InputError(
            f"the file {path} cannot be read ({error.strerror}); check its name", field=field, value=str(path)
        ) from error


def mix_from_text(text: str) -> dict[str, float]:
    """Return the depths (fractions) of a mix written "Blue=0.5,Yellow=0.2", in per cent on the weight of fibre."""
    return read_mix(text)


def target_from_text(text: str) -> Target:
    """Return the target written "lab 45 -20 -5", "hex #rrggbb" or "swatch FILE" (one measured sample).

    Raises:
        InputError: another form, a number out of range, or a file that cannot be read.
    """
    kind, _, rest = text.strip().partition(" ")
    match kind.lower():
        case "lab":
            return Target(_lab_from_text(rest))
        case "hex":
            white = load_observer_tables().whites["D65", 10]
            return Target(_as_lab(lab_from_display_hex(rest, white)))
        case "swatch":
            path = Path(rest.strip())
            return target_from_swatch(read_sample(_bytes_of(path, "target"), path.name))
    raise InputError(
        f"the colour {text!r} is not understood: write lab 45 -20 -5, hex #387472 or swatch FILE",
        field="target",
        value=text,
    )


def colour_from_text(text: str) -> Target:
    """Return the colour typed on a page: "45 -20 -5" or "#387472", with or without "lab" or "hex" before it.

    Unlike `target_from_text` it never opens a file: what reaches it may come from another machine.

    Raises:
        InputError: another form, or a number out of range.
    """
    text = text.strip()
    kind, _, rest = text.partition(" ")
    if kind.lower() in {"lab", "hex"}:
        return target_from_text(f"{kind} {rest}")
    if text.startswith("#"):
        return target_from_text(f"hex {text}")
    if text[:1].isdigit():
        return target_from_text(f"lab {text}")
    raise InputError(
        f"the colour {text!r} is not understood: write its Lab as 45 -20 -5, or a screen colour as #387472",
        field="target",
        value=text,
    )


def _three_numbers(text: str) -> tuple[float, ...]:
    """Return numbers as a dyer or a page writes them: a true minus sign, commas between them or before decimals."""
    plain = text.replace("−", "-").replace("–", "-").replace(";", " ")
    parts = [part.strip(",") for part in plain.split()]
    if len(parts) != len(("L", "a", "b")):
        parts = plain.replace(",", " ").split()
    return tuple(float(part.replace(",", ".")) for part in parts)


def _lab_from_text(text: str) -> Lab:
    try:
        lightness, a, b = _three_numbers(text)
    except ValueError:
        raise InputError(
            f"the colour 'lab {text}' needs three numbers, L, a and b, such as lab 45 -20 -5",
            field="target",
            value=text,
        ) from None
    if not 0 <= lightness <= 100:
        raise InputError(
            f"the lightness L of the colour is {lightness:g}; it lies between 0 (black) and 100 (white)",
            field="target",
            value=lightness,
            limit=100,
        )
    for axis, value in (("a", a), ("b", b)):
        if not -150 <= value <= 150:
            raise InputError(
                f"the {axis} of the colour is {value:g}; it lies between -150 and 150",
                field="target",
                value=value,
                limit=150,
            )
    return lightness, a, b


def target_from_swatch(swatch: Swatch) -> Target:
    """Return a measured sample as a target; a Lab under another light is carried to D65, 10° by a smooth curve."""
    tables = load_observer_tables()
    weights, white = light_of(tables, "D65", 10)
    if swatch.reflectance is not None:
        curve = np.array(swatch.reflectance)
        return Target(_as_lab(lab_from_xyz(xyz_from_reflectance(curve, weights), white)), curve)
    if swatch.lab is None:
        raise InputError("the target has neither a Lab nor a curve", field="target")
    if (swatch.illuminant, swatch.observer) == ("D65", 10):
        return Target(swatch.lab)
    curve = reflectance_from_lab(swatch.lab, tables, illuminant=swatch.illuminant, observer=swatch.observer)
    return Target(_as_lab(lab_from_xyz(xyz_from_reflectance(curve, weights), white)))


def _as_lab(values: np.ndarray) -> Lab:
    return float(values[0]), float(values[1]), float(values[2])


def shade(swatches: Sequence[Swatch], mix: Mapping[str, float], *, base: str | None = None) -> Shade:
    """Return the colour that a mix is foretold to give.

    Args:
        swatches: of the undyed bases and the dyes.
        mix: depth of each dye, fraction on the weight of fibre.
        base: the yarn; the one with most swatches where None.

    Raises:
        InputError: a dye without swatch, a base without its undyed colour, a depth that cannot be.
    """
    return shade_on(fit_shelf(swatches, load_observer_tables(), base=base), mix)


def shade_on(shelf: ShelfModel, mix: Mapping[str, float]) -> Shade:
    """Return the colour that a mix is foretold to give, from dyes already fitted."""
    tables = load_observer_tables()
    depths = depth_vector(shelf, mix)
    lab = _as_lab(lab_of_mix(shelf, depths, tables))
    white = tables.whites["D65", 10]
    return Shade(
        base=shelf.base,
        dyes=tuple(MixDye(name, 100 * depth) for name, depth in mix.items()),
        lab=lab,
        other_light={light: _as_lab(lab_of_mix(shelf, depths, tables, illuminant=light)) for light in REPORTED_LIGHTS},
        reflectance=tuple(predict(shelf, depths).tolist()),
        wavelength_nm=tuple(WAVELENGTHS_NM.tolist()),
        de00_95=band_95(shelf, depths, tables),
        words=colour_words(lab),
        hex=display_hex(lab, white),
        is_beyond_screen=bool(display_rgb(lab, white)[1]),
        basis=Basis.FITTED if any(mix.values()) else Basis.MEASURED,
        notes=_shelf_notes(shelf, [dict(mix)]),
    )


def _shelf_notes(shelf: ShelfModel, mixes: Sequence[Mapping[str, float]]) -> tuple[str, ...]:
    """Return what the answer leans on: how many swatches, whether curves or Labs, and depths beyond the swatches."""
    used = [name for name in shelf.dyes if any(mix.get(name) for mix in mixes)]
    notes = list(shelf.notes)
    if used:
        counts = dict(zip(shelf.dyes, shelf.swatch_counts, strict=True))
        notes.append("fitted from " + ", ".join(f"{_counted(counts[name])} of {name}" for name in used))
    if not shelf.is_spectral:
        notes.append(
            "some swatches are known by their Lab only, under D65 for the 10° observer where the table names no other: "
            "their curves are inferred, colours under other light less sure"
        )
    for name, deepest in zip(shelf.dyes, shelf.deepest_owf, strict=True):
        asked = max((mix.get(name, 0.0) for mix in mixes), default=0.0)
        if asked > 1.05 * deepest:
            notes.append(
                f"{name} at {100 * asked:.2g} % is deeper than its deepest swatch ({100 * deepest:.2g} %): "
                "dark shades come out lighter than foretold"
            )
    return tuple(notes)


def _counted(count: int) -> str:
    return "1 swatch" if count == 1 else f"{count} swatches"


def match(swatches: Sequence[Swatch], target: Target, *, base: str | None = None, how: Search | None = None) -> Match:
    """Return recipes for a target from every combination of the dyes that have swatches.

    Args:
        swatches: of the undyed bases and the dyes.
        target: the colour to reach.
        base: the yarn; the one with most swatches where None.
        how: how many dyes and recipes, prices, and how doses are weighed.

    Raises:
        InputError: a base without its undyed colour, or a number of dyes or recipes that cannot be.
        NoMatchError: no mix helps.
    """
    start = time.perf_counter()
    shelf = fit_shelf(swatches, load_observer_tables(), base=base)
    return match_on(shelf, target, how=how, fit_seconds=time.perf_counter() - start)


def match_on(shelf: ShelfModel, target: Target, *, how: Search | None = None, fit_seconds: float = 0.0) -> Match:
    """Return recipes for a target, from dyes already fitted."""
    how = how or Search()
    tables = load_observer_tables()
    start = time.perf_counter()
    found = search(shelf, target, tables, how.limits)
    seconds = time.perf_counter() - start
    chosen = choose_recipes(
        shelf,
        target,
        found,
        tables,
        np.random.default_rng(SEED),
        best=max(how.best, len(Why)),  # the closest has to be among them, to say whether the target is reached
        weighing=how.weighing,
        limits=how.limits,
    )
    recipes, closest = chosen[: how.best], min(chosen, key=lambda recipe: recipe.de00)
    return Match(
        target_lab=target.lab,
        target_words=colour_words(target.lab),
        target_hex=display_hex(target.lab, tables.whites["D65", 10]),
        base=shelf.base,
        recipes=recipes,
        reachable=closest.de00 <= REACHED_DE00,
        verdict=_verdict(target, closest),
        combinations=found.combinations,
        seconds=seconds,
        fit_seconds=fit_seconds,
        basis=Basis.FITTED,
        notes=_match_notes(shelf, target, recipes, how.limits),
    )


def _verdict(target: Target, closest: Recipe) -> str:
    if closest.de00 <= REACHED_DE00:
        seen = visibility_words(closest.decmc21)
        return f"Within reach: the closest recipe is foretold {closest.de00:.1f} ΔE00 from it, {seen}."
    return (
        f"Out of reach by ΔE00 {closest.de00:.1f}: {', '.join(failing_parts(target.lab, closest.lab))}. "
        f"The nearest this shelf comes is {difference_words(target.lab, closest.lab)}."
    )


def _match_notes(shelf: ShelfModel, target: Target, recipes: Sequence[Recipe], limits: Limits) -> tuple[str, ...]:
    mixes = [{dye.name: dye.depth_percent / 100 for dye in recipe.dyes} for recipe in recipes[:1]]
    notes = list(_shelf_notes(shelf, mixes))
    if target.reflectance is None:
        notes.append("the target is known by its Lab only: how a match holds under other light is not known")
    if limits.most_cost_per_kg is not None:
        unpriced = [name for name in shelf.dyes if name not in limits.price_per_g]
        notes += [f"left out, as no price is known: {', '.join(unpriced)}"] if unpriced else []
    for mix in mixes:
        notes += _at_a_limit(mix, limits)
    return tuple(notes)


def _at_a_limit(mix: Mapping[str, float], limits: Limits) -> list[str]:
    """Return which limits a recipe stands at, in sentences."""
    notes = []
    for name, depth in mix.items():
        most = min(limits.most_owf.get(name, np.inf), limits.deepest_owf)
        if depth > 0.999 * most:
            why = "the deepest that one dye may go" if most == limits.deepest_owf else "all there is of it"
            notes.append(f"{name} stands at {100 * most:.3g} %, {why}")
    total = sum(mix.values())
    if limits.total_owf is not None and total > 0.999 * limits.total_owf:
        notes.append(f"the dyes together stand at {100 * limits.total_owf:g} %, the most that one bath may hold")
    return notes


def difference(standard: Lab, sample: Lab) -> ColourDifference:
    """Return how a sample differs from its standard, both Lab under D65 for the 10° observer."""
    dl, dc, dh = (float(part) for part in delta_parts(standard, sample))
    decmc21 = float(delta_cmc(standard, sample))
    return ColourDifference(
        de76=float(delta_e76(standard, sample)),
        de94=float(delta_e94_textile(standard, sample)),
        de00=float(delta_e00(standard, sample)),
        decmc11=float(delta_cmc(standard, sample, lightness=1.0)),
        decmc21=decmc21,
        grey_scale_change=grey_scale_text(float(delta_grey_scale(standard, sample))),
        dl=dl,
        dc=dc,
        dh=dh,
        words=difference_words(standard, sample),
        visible=visibility_words(decmc21),
        basis=Basis.MEASURED,
        notes=("the first colour is the standard: CMC, CIE94 and the words depend on which is which",),
    )
