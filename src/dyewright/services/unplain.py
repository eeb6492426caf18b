"""Plain values back into the frozen types they came from: how a stored sheet is read again."""

import types
from collections.abc import Mapping, Sequence
from dataclasses import MISSING, fields, is_dataclass
from enum import Enum
from functools import cache
from typing import Any, TypeVar, Union, cast, get_args, get_origin, get_type_hints

from dyewright.errors import DataFileError

__all__ = ["from_plain"]

T = TypeVar("T")


def from_plain(kind: type[T], value: object) -> T:
    """Return the dataclass that `plain` turned into these values.

    Fields that the values lack take their defaults; keys that the type does not know are passed over, as a later
    version may have written them.

    Raises:
        DataFileError: a field without default is missing, or a value does not fit its type.
    """
    return cast("T", _read(kind, value))


@cache
def _hints(kind: type) -> dict[str, Any]:
    return get_type_hints(kind)


def _read(kind: Any, value: object) -> object:  # noqa: ANN401 - a type of any form: class, union, tuple of, mapping of
    origin = get_origin(kind)
    if origin in {Union, types.UnionType}:
        return _read_union(get_args(kind), value)
    if origin is tuple:
        return _read_tuple(get_args(kind), value)
    if origin is not None and isinstance(origin, type) and issubclass(origin, Mapping):
        key_kind, item_kind = get_args(kind)
        return {_read(key_kind, key): _read(item_kind, item) for key, item in _mapping(kind, value).items()}
    if is_dataclass(kind) and isinstance(kind, type):
        return _read_dataclass(kind, value)
    if isinstance(kind, type) and issubclass(kind, Enum):
        return _read_enum(kind, value)
    if kind is float and isinstance(value, int) and not isinstance(value, bool):
        return float(value)
    if kind is object or isinstance(value, kind):
        return value
    raise DataFileError(f"a stored value {value!r} is no {getattr(kind, '__name__', kind)}")


def _read_enum(kind: type[Enum], value: object) -> Enum:
    try:
        return kind(value)
    except ValueError as error:
        raise DataFileError(f"a stored value {value!r} is no {kind.__name__}") from error


def _read_union(kinds: Sequence[Any], value: object) -> object:
    """Return the value as the member that fits: None as None, a mapping as the dataclass with just these fields."""
    if value is None and type(None) in kinds:
        return None
    for kind in kinds:
        if kind is type(None):
            continue
        if is_dataclass(kind) and isinstance(value, Mapping) and {f.name for f in fields(kind)} != set(value):
            continue
        try:
            return _read(kind, value)
        except DataFileError:
            continue
    raise DataFileError(f"a stored value {value!r} fits none of its kinds")


def _read_tuple(kinds: Sequence[Any], value: object) -> tuple[object, ...]:
    if not isinstance(value, Sequence) or isinstance(value, str):
        raise DataFileError(f"a stored value {value!r} is no list")
    if len(kinds) == 2 and kinds[1] is Ellipsis:
        return tuple(_read(kinds[0], item) for item in value)
    if len(kinds) != len(value):
        raise DataFileError(f"a stored list holds {len(value)} values, not {len(kinds)}")
    return tuple(_read(kind, item) for kind, item in zip(kinds, value, strict=True))


def _mapping(kind: object, value: object) -> Mapping[object, object]:
    if not isinstance(value, Mapping):
        raise DataFileError(f"a stored value {value!r} is no {kind}")
    return value


def _read_dataclass(kind: type, value: object) -> object:
    stored, hints = _mapping(kind, value), _hints(kind)
    known: dict[str, object] = {}
    for field in fields(kind):
        if field.name in stored:
            known[field.name] = _read(hints[field.name], stored[field.name])
        elif field.default is MISSING and field.default_factory is MISSING:
            raise DataFileError(f"a stored {kind.__name__} lacks {field.name}")
    return kind(**known)
