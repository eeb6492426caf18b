"""A card changed in a few fields: each field is a place in the card's own table, "dye.1.depth" or "stage.2.rate"."""

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from dyewright.core.model import Card, Drain, Dye, DyeClass, Settings, Spoons
from dyewright.files import cards
from dyewright.services.assistants import parse_substance
from dyewright.services.planning import complete

__all__ = ["EditField", "edit_fields", "edited"]

STAGE_WORDS = {"enter": "Enter at", "to": "Raise to", "rate": "at", "hold": "Hold", "cool_to": "Cool to"}
Tree = dict[str, Any]


@dataclass(frozen=True)
class EditField:
    """One field: its place in the card, what it is called, what stands there, and what may be chosen."""

    path: str
    label: str
    text: str
    choices: tuple[str, ...] = ()


def edit_fields(card: Card, settings: Settings | None) -> tuple[EditField, ...]:
    """Return the few fields that make two ways differ, with the defaults that planning takes filled in."""
    return tuple(_fields(_whole(card, settings)))


def edited(card: Card, typed: Mapping[str, str], settings: Settings | None, shelf: Mapping[str, Dye]) -> Card:
    """Return the card with what was typed otherwise than it stood; what the card left unsaid stays unsaid elsewhere.

    Args:
        card: as it stood.
        typed: texts by field; others than `edit_fields` gives are passed over.
        settings: the studio's.
        shelf: its dyes by name in lower case: a dye changed to one of them gets its class.

    Raises:
        InputError: a text cannot be read; its field is the place in the card.
    """
    whole = _whole(card, settings)
    stood = {field.path: field.text for field in _fields(whole)}
    new = {path: text.strip() for path, text in typed.items() if path in stood and text.strip() != stood[path]}
    if not new:
        return card
    own: Tree = tomllib.loads(cards.write_card(card))
    for section in {path.partition(".")[0] for path in new} & whole.keys():
        own[section] = whole[section]
    for path, text in new.items():
        _put(own, path, text)
    for path in (path for path in new if path.startswith("dye.") and path.endswith(".name")):
        dye = shelf.get(" ".join(new[path].split()).casefold())
        if dye is not None:
            _put(own, path.replace("name", "class"), dye.dye_class.value)
    spoons = settings.spoons if settings else Spoons.METRIC
    return cards.card_from(own, spoons=spoons, named_assistant=parse_substance, is_form=True)


def _whole(card: Card, settings: Settings | None) -> Tree:
    """Return the card's tables with every default filled in."""
    return tomllib.loads(cards.write_card(complete(card, settings)[0]))


def _fields(tree: Tree) -> Iterator[EditField]:
    yield EditField("title", "Called", tree.get("title", ""))
    for place, dye in enumerate(tree.get("dye", []), start=1):
        yield EditField(f"dye.{place}.name", "Dye" if place == 1 else f"Dye {place}", dye["name"])
        yield EditField(f"dye.{place}.class", "Class", dye["class"], tuple(DyeClass))
        yield EditField(f"dye.{place}.depth", "Depth", dye["depth"])
    liquor = "water" if "water" in tree.get("bath", {}) else "liquor"
    yield EditField(f"bath.{liquor}", "Total water" if liquor == "water" else "Liquor ratio", tree["bath"][liquor])
    for place, dose in enumerate(tree.get("assistant", []), start=1):
        amount = f"pH {dose['target_ph']:g}" if "target_ph" in dose else dose.get("amount", "")
        yield EditField(f"assistant.{place}.kind", "Acid or other assistant", dose["kind"])
        yield EditField(f"assistant.{place}.amount", "How much", amount)
        yield EditField(f"assistant.{place}.when", "When", dose["when"])
    for place, stage in enumerate(tree.get("stage", []), start=1):
        for key, text in stage.items():
            yield EditField(f"stage.{place}.{key}", STAGE_WORDS[key], text)
    turns = tree["pot"][0].get("turns_per_min", 0)
    yield EditField("pot.1.turns_per_min", "Yarn is turned", f"{turns:g} /min")
    yield EditField("rinse.drain", "Between rinses", tree["rinse"]["drain"], tuple(Drain))


def _put(tree: Tree, path: str, text: str) -> None:
    """Put a text at a place of the tables; what it stands instead of goes."""
    head, _, rest = path.partition(".")
    number, _, key = rest.partition(".")
    if not rest:
        tree[head] = text
    elif not number.isdigit():
        tree[head][rest] = text
    else:
        table = tree[head][int(number) - 1]
        table[key] = text
        if (head, key) == ("assistant", "amount"):
            table.pop("target_ph", None)
