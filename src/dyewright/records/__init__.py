"""The studio's database: tables, mapping to the domain dataclasses, migrations, functions on a Session."""

from dyewright.records.engine import Records, open_records
from dyewright.records.schema import differences_from_models, migration_state, upgrade_to_head

__all__ = ["Records", "differences_from_models", "migration_state", "open_records", "upgrade_to_head"]
