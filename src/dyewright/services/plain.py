"""Results as plain values: what JSON, a stored record and a template can hold."""

from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import fields, is_dataclass
from datetime import date, datetime
from decimal import Decimal
from enum import Enum
from uuid import UUID

import numpy as np

__all__ = ["plain"]


def plain(value: object) -> object:
    """Return a value with dataclasses as dicts, enums as values, arrays as lists and times as ISO text.

    Raises:
        TypeError: a value of a kind that has no plain form.
    """
    match value:
        case Enum():
            return value.value
        case None | str() | bool() | int() | float():
            return value
        case np.generic():
            return value.item()
        case np.ndarray():
            return value.tolist()
        case Decimal() | UUID():
            return str(value)
        case datetime() | date():
            return value.isoformat()
        case Mapping():
            return {str(plain(key)): plain(item) for key, item in value.items()}
        case Sequence() | AbstractSet():
            return [plain(item) for item in value]
        case _ if is_dataclass(value):
            return {field.name: plain(getattr(value, field.name)) for field in fields(value)}
    raise TypeError(f"no plain form for {type(value).__name__}")
