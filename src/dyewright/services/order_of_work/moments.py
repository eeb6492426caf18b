"""What goes in with the yarn in the bath, by the minute: late assistants, and later parts of the dye."""

from collections.abc import Iterator
from dataclasses import dataclass

from dyewright.core.model import SheetStep, StepKind, When, WhenKind
from dyewright.errors import InputError
from dyewright.services.order_of_work.bench import Bench, caution_for, dose_words, each_pot, listed
from dyewright.units import show_duration, show_mass, show_temperature, show_volume

__all__ = ["Addition", "addition_steps", "additions", "parts_at_start", "parts_words"]

EARLY = {WhenKind.SOAK, WhenKind.START}
ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth")
SHARES = {2: "half", 3: "third", 4: "quarter", 5: "fifth", 6: "sixth"}


@dataclass(frozen=True)
class Addition:
    """What goes in at one minute: parts of dyes, each as its place in the card and its number, and assistants."""

    at_min: float
    parts: tuple[tuple[int, int], ...]
    doses: tuple[int, ...]


def additions(bench: Bench) -> list[Addition]:
    """Return what goes in after heat on, in the order of time.

    Raises:
        InputError: something is set for a temperature or a minute that the programme never comes to.
    """
    doses: dict[float, list[int]] = {}
    for i, dose in enumerate(bench.card.assistants):
        if bench.assistants[i].amount > 0 and dose.when.kind not in EARLY:
            at_min = _minute(bench, dose.when, dose.label, f"assistant.{i + 1}.when")
            doses.setdefault(at_min, []).append(i)
    parts = _late_parts(bench)
    return [
        Addition(at_min, tuple(parts.get(at_min, ())), tuple(doses.get(at_min, ())))
        for at_min in sorted({*doses, *parts})
    ]


def _late_parts(bench: Bench) -> dict[float, list[tuple[int, int]]]:
    """Return the parts of dye that go in after heat on, by minute; those of the start come first in each count."""
    found: dict[float, list[tuple[int, int]]] = {}
    for i, dye in enumerate(bench.card.dyes):
        late = [when for when in dye.parts if when.kind not in EARLY]
        minutes = sorted(_minute(bench, when, dye.name, f"dye.{i + 1}.when") for when in late)
        for number, at_min in enumerate(minutes, start=len(dye.parts) - len(late) + 1):
            found.setdefault(at_min, []).append((i, number))
    return found


def _minute(bench: Bench, when: When, thing: str, field: str) -> float:
    value = when.value or 0.0
    curve = zip(bench.curve.t_min, bench.curve.bath_c, strict=True)
    if when.kind is WhenKind.MINUTE:
        at_min = value if value <= bench.curve.t_min[-1] else None
    else:
        at_min = next((t for t, c in curve if c >= value - 0.05), None)
    if at_min is None:
        asked = f"{value:g} min" if when.kind is WhenKind.MINUTE else show_temperature(value)
        raise InputError(
            f"{thing} is to go in at {asked}, but the programme never comes there (it reaches "
            f"{show_temperature(max(bench.curve.bath_c))} and lasts {show_duration(bench.curve.t_min[-1])})",
            field=field,
            value=value,
        )
    return at_min


def parts_at_start(bench: Bench) -> list[tuple[int, int]]:
    """Return the parts of dye that go into the bath before the yarn: the first of each dye that has one then."""
    return [(i, 1) for i, dye in enumerate(bench.card.dyes) if any(when.kind in EARLY for when in dye.parts)]


def parts_words(bench: Bench, i: int, number: int) -> str:
    """Return one part of a dye with its amount: "the second third of Lagoon (12 mL)"."""
    dye, count = bench.dyes[i], len(bench.card.dyes[i].parts)
    which = "all" if count == 1 else f"the {ORDINALS[number - 1]} {SHARES[count]}"
    resolution = bench.card.scale_resolution_g
    if dye.stock_ml is None:
        amount = f"{show_mass(dye.dye_g / count, resolution)} of it, dissolved"
        pots = each_pot(bench, [pot.dye_g[i] / count for pot in bench.pots], lambda g: show_mass(g, resolution))
    else:
        amount = show_volume(dye.stock_ml / count / 1000)
        pots = each_pot(
            bench, [(pot.stock_ml[i] or 0.0) / count for pot in bench.pots], lambda ml: show_volume(ml / 1000)
        )
    shares = f"; {pots.strip().rstrip('.')}" if pots else ""
    return f"{which} of {dye.name} ({amount}{shares})"


def addition_steps(bench: Bench, addition: Addition, number: int, at_c: float) -> Iterator[SheetStep]:
    """Yield what is done at one minute: the dye first, then the acid, so that it meets dye already spread."""
    if addition.parts:
        yield SheetStep(
            key=f"dye-{number}",
            kind=StepKind.ADD,
            title=_dye_title(bench, addition),
            text=f"Lift the yarn out on a rod and let it drip over the pot. Stir in "
            f"{listed([parts_words(bench, i, part) for i, part in addition.parts])}, never onto the yarn; when the "
            "bath is even, lower the yarn again and turn it slowly for two minutes.",
            caution=bench.caution("lift-dye"),
            at_min=addition.at_min,
            duration_min=0.0,
            at_c=at_c,
        )
    if addition.doses:
        yield SheetStep(
            key=f"add-{number}",
            kind=StepKind.ADD,
            title=f"Add the {listed([bench.assistants[i].name for i in addition.doses])}",
            text=f"Lift the yarn out on a rod and let it drip over the pot. Stir "
            f"{listed([dose_words(bench, i) for i in addition.doses])} into about ten times as much water, pour that "
            "in slowly while stirring, then lower the yarn again.",
            caution=caution_for(bench, [bench.card.assistants[i] for i in addition.doses], is_yarn_in=True),
            at_min=addition.at_min,
            duration_min=0.0,
            at_c=at_c,
        )


def _dye_title(bench: Bench, addition: Addition) -> str:
    whole = [bench.dyes[i].name for i, _ in addition.parts if len(bench.card.dyes[i].parts) == 1]
    if len(whole) == len(addition.parts):
        return f"Add the {listed(whole)}"
    is_last = all(number == len(bench.card.dyes[i].parts) for i, number in addition.parts)
    return "Add the rest of the dye" if is_last else "Add the next part of the dye"
