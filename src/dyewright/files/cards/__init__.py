"""Cards: the plan of one dyeing as a TOML file, read into core units and written back."""

from dyewright.files.cards.reading import NamedAssistant, card_from, read_card
from dyewright.files.cards.writing import write_card

__all__ = ["NamedAssistant", "card_from", "read_card", "write_card"]
