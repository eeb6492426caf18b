"""One table of a card: its keys, its place for messages and fields, and the values asked of it."""

import difflib
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import TypeVar

from dyewright.errors import InputError

__all__ = ["KEYS", "LISTS", "Table", "checked", "did_you_mean", "shown", "table_of", "tables_of"]

E = TypeVar("E", bound=StrEnum)
T = TypeVar("T")

KEYS = {
    "": {
        "title",
        "yarn",
        "dye",
        "bath",
        "water",
        "assistant",
        "pot",
        "stage",
        "rinse",
        "scale",
        "tonal",
        "after_treatment",
    },
    "yarn": {"fibre", "superwash", "dry", "skeins", "residue", "scoured"},
    "dye": {"name", "class", "depth", "stock", "mixed_days_ago", "when", "parts"},
    "bath": {"liquor", "water"},
    "water": {"alkalinity", "ph", "temperature"},
    "assistant": {"kind", "target_ph", "amount", "when"},
    "pot": {"name", "volume", "diameter", "lid", "power", "heat", "turns_per_min", "useful", "loss_factor"},
    "stage": {"enter", "to", "rate", "hold", "cool_to"},
    "rinse": {"litres", "drain", "temperature", "soap", "handling", "kept"},
    "scale": {"resolution"},
}
LISTS = {"dye", "assistant", "pot", "stage"}


@dataclass(frozen=True)
class Table:
    """One table of the card with its place in it: `head` for messages, `path` for fields."""

    values: Mapping[str, object]
    head: str
    path: str
    is_form: bool

    def thing(self, key: str) -> str:
        """Return what a message calls a value: "[yarn] dry"."""
        return f"{self.head} {key}".strip()

    def field(self, key: str) -> str:
        """Return the field that an error is about: "yarn.dry"."""
        return f"{self.path}.{key}" if self.path else key

    def wrong(self, key: str, why: str, limit: object = None) -> InputError:
        """Return the error that names a value and says why it cannot be."""
        value = self.values.get(key)
        equals = "" if value is None else f" = {shown(value)}"
        return InputError(f"{self.thing(key)}{equals}: {why}", field=self.field(key), value=value, limit=limit)

    def text(self, key: str) -> str | None:
        """Return a text; None where the key is absent (or its field left empty)."""
        value = self.values.get(key)
        if value is None or (self.is_form and value == ""):
            return None
        if not isinstance(value, str):
            raise self.wrong(key, "write the amount as text with its unit, in quotation marks")
        return value

    def measured(self, key: str, read: Callable[..., T], default_unit: str | None = None) -> T | None:
        """Return a measured amount; a form may leave out the usual unit, a card may not."""
        text = self.text(key)
        if text is None:
            return None
        extra = {"default_unit": default_unit} if self.is_form and default_unit else {}
        return read(text, field=self.field(key), thing=self.thing(key), **extra)

    def number(self, key: str) -> float | None:
        """Return a plain number."""
        value = self.values.get(key)
        if value is None or (self.is_form and value == ""):
            return None
        if isinstance(value, str) and self.is_form:
            try:
                value = float(value.replace(",", "."))
            except ValueError as error:
                raise self.wrong(key, "write a number") from error
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self.wrong(key, "write a number, without quotation marks")
        if not math.isfinite(value):
            raise self.wrong(key, "write a number that can be counted to")
        return float(value)

    def flag(self, key: str, *, default: bool) -> bool:
        """Return a yes or no."""
        value = self.values.get(key, default)
        if self.is_form and isinstance(value, str):
            return value in {"true", "on", "yes"} if value else default
        if not isinstance(value, bool):
            raise self.wrong(key, "write true or false")
        return value

    def choice(self, key: str, kind: type[E], default: E) -> E:
        """Return a member of an enumeration by its value, in any case."""
        text = self.text(key)
        if text is None:
            return default
        known = {member.value.casefold(): member for member in kind}
        found = known.get(" ".join(text.split()).casefold())
        if found is None:
            names = [member.value for member in kind]
            raise self.wrong(key, did_you_mean(text, names), limit=names)
        return found


def shown(value: object) -> str:
    """Return a value as a message shows it."""
    return f"'{value}'" if isinstance(value, str) else str(value)


def did_you_mean(word: str, known: Sequence[str]) -> str:
    """Return the way out of a word that is not known: the one like it, and all that are."""
    near = difflib.get_close_matches(word.casefold(), [name.casefold() for name in known], n=1)
    hint = next((f"did you mean '{name}'? " for name in known if near and name.casefold() == near[0]), "")
    return f"not known; {hint}Known are: {', '.join(known)}"


def table_of(data: Mapping[str, object], name: str, *, is_form: bool) -> Table:
    """Return a table of the card (empty where absent), with its keys checked."""
    values = data.get(name, {}) if name else data
    if not isinstance(values, Mapping):
        raise InputError(f"[{name}] must be a table of its own, got {shown(values)}", field=name, value=values)
    return checked(Table(values, f"[{name}]" if name else "", name, is_form), name)


def tables_of(data: Mapping[str, object], name: str, *, is_form: bool) -> list[Table]:
    """Return the tables that repeat, numbered from 1 where there are several."""
    listed = data.get(name, [])
    if not isinstance(listed, Sequence) or isinstance(listed, str) or not all(isinstance(t, Mapping) for t in listed):
        raise InputError(f"[[{name}]] must be tables in double brackets", field=name, value=str(listed))
    several = len(listed) > 1
    return [
        checked(Table(values, f"[[{name}]] {i}" if several else f"[[{name}]]", f"{name}.{i}", is_form), name)
        for i, values in enumerate(listed, start=1)
    ]


def checked(table: Table, name: str) -> Table:
    """Return a table whose keys are all known; one that is not is an error that names the likely one."""
    for key in table.values:
        if key not in KEYS[name]:
            known = sorted(KEYS[name])
            raise InputError(f"{table.thing(key)}: {did_you_mean(key, known)}", field=table.field(key), limit=known)
    return table
