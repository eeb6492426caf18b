"""Which shipped numbers a result was computed from."""

from functools import cache
from hashlib import sha256
from importlib.resources import files

__all__ = ["shipped_data_version"]

SHOWN_DIGITS = 12


@cache
def shipped_data_version() -> str:
    """Return a short hash of every shipped table with its provenance: it changes when any number does."""
    digest = sha256()
    for table in sorted(files("dyewright.data").iterdir(), key=lambda entry: entry.name):
        if table.name.endswith((".csv", ".toml")):
            content = table.read_bytes()
            digest.update(f"{table.name} {len(content)}\n".encode())
            digest.update(content)
    return digest.hexdigest()[:SHOWN_DIGITS]
