"""Column types and naming that every table shares: portable between SQLite and PostgreSQL."""

# ruff: noqa: D102, ARG002, ANN401 - the methods of a type are TypeDecorator's own, with its signatures

from datetime import UTC, datetime
from decimal import Decimal
from enum import StrEnum
from typing import Any

from sqlalchemy import JSON, BigInteger, DateTime, Dialect, MetaData, Numeric, String
from sqlalchemy.orm import DeclarativeBase
from sqlalchemy.types import TypeDecorator

__all__ = ["Choice", "Exact", "TableBase", "UtcTime"]


class UtcTime(TypeDecorator[datetime]):
    """An aware instant, kept in UTC. SQLite has no time zones: there the clock time of UTC is stored."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"a time without a zone cannot be recorded: {value.isoformat()}")
        in_utc = value.astimezone(UTC)
        return in_utc.replace(tzinfo=None) if dialect.name == "sqlite" else in_utc

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


class Exact(TypeDecorator[Decimal]):
    """A Decimal kept to `places` digits. SQLite has no exact fractions: there it counts units of the last digit."""

    impl = Numeric
    cache_ok = True

    def __init__(self, places: int) -> None:
        super().__init__(precision=18, scale=places)
        self.places = places

    def load_dialect_impl(self, dialect: Dialect) -> Any:
        exact = BigInteger() if dialect.name == "sqlite" else Numeric(18, self.places)
        return dialect.type_descriptor(exact)

    def process_bind_param(self, value: Decimal | None, dialect: Dialect) -> Any:
        if value is None:
            return None
        rounded = round(value, self.places)
        return int(rounded.scaleb(self.places)) if dialect.name == "sqlite" else rounded

    def process_result_value(self, value: Any, dialect: Dialect) -> Decimal | None:
        if value is None:
            return None
        return Decimal(value).scaleb(-self.places) if dialect.name == "sqlite" else Decimal(value)


class Choice(TypeDecorator[StrEnum]):
    """A member of a StrEnum, kept as its value."""

    impl = String(40)
    cache_ok = True

    def __init__(self, members: type[StrEnum]) -> None:
        super().__init__()
        self.members = members

    def process_bind_param(self, value: StrEnum | None, dialect: Dialect) -> str | None:
        return None if value is None else self.members(value).value

    def process_result_value(self, value: str | None, dialect: Dialect) -> StrEnum | None:
        return None if value is None else self.members(value)


class TableBase(DeclarativeBase):
    """The root of the row classes; every constraint gets a name, so that a migration can speak of it."""

    metadata = MetaData(
        naming_convention={
            "ix": "ix_%(table_name)s_%(column_0_N_name)s",
            "uq": "uq_%(table_name)s_%(column_0_N_name)s",
            "ck": "ck_%(table_name)s_%(constraint_name)s",
            "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
            "pk": "pk_%(table_name)s",
        }
    )
    type_annotation_map = {  # noqa: RUF012 - read by SQLAlchemy as it stands
        datetime: UtcTime(),
        dict[str, Any]: JSON(none_as_null=True),
        list[float]: JSON(none_as_null=True),
        list[str]: JSON(none_as_null=True),
        list[list[float]]: JSON(none_as_null=True),
    }
