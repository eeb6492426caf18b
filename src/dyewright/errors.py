"""The errors of the project: few, and each one a different thing to do for the caller.

A message names the thing, the value with its unit, the limit and the way out, in the dyer's words.
`field` names the input it is about (a form field, a card key, a parameter), so that an edge can show the
sentence where the value was typed; `value` and `limit` keep the numbers.
"""

__all__ = [
    "DataFileError",
    "InputError",
    "NoMatchError",
    "NotFoundError",
    "OutOfRangeError",
    "StockShortError",
    "StudioError",
]


class StudioError(Exception):
    """The root: whatever the studio cannot do, said in one sentence."""

    def __init__(self, message: str, *, field: str | None = None, value: object = None, limit: object = None) -> None:
        super().__init__(message)
        self.message = message
        self.field = field
        self.value = value
        self.limit = limit


class InputError(StudioError, ValueError):
    """Something typed, photographed or handed in is wrong: it can be put right and sent again."""


class OutOfRangeError(InputError):
    """A model is asked beyond its limits, and no useful answer is left."""


class NoMatchError(StudioError):
    """No recipe of the shelf answers the question."""


class StockShortError(StudioError):
    """The shelf holds less than was asked for."""


class NotFoundError(StudioError):
    """The thing named is not in the studio."""


class DataFileError(StudioError):
    """A file is not what it should be: a shipped table, an import, a studio's database."""
