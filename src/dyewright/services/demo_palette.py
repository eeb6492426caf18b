"""The demo's palette: colours taken from its invented picture, as anybody would take them on the page."""

from collections.abc import Mapping
from datetime import UTC, datetime, time
from importlib.resources import files
from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

from dyewright.core.model import Palette
from dyewright.services.photos import keep_photo
from dyewright.services.picture.frame import look_at_picture
from dyewright.services.picture.palettes import chosen_palette, keep_palette

__all__ = ["add_palette"]

TAKEN_AT = time(11, 20)


def add_palette(session: Session, spec: Mapping[str, Any], *, photo_id: UUID) -> Palette:
    """Keep the palette that the demo's data describes: its picture, its places with their names, its base."""
    content = files("dyewright.services").joinpath("demo_data", spec["picture"]).read_bytes()
    taken_at = datetime.combine(spec["created_on"], TAKEN_AT, UTC)
    keep_photo(session, look_at_picture(content), photo_id=photo_id, run_id=None, taken_at=taken_at)
    typed = {"name": spec["name"], "base": spec["base"]}
    for number, colour in enumerate(spec["colour"], start=1):
        across, down = colour["at_percent"]
        typed |= {f"pick.{number}": f"{across}, {down}", f"name.{number}": colour["name"]}
    palette, ways = chosen_palette(session, photo_id, typed, today=spec["created_on"])
    return keep_palette(session, palette, ways)
