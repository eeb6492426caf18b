"""What a plain form sent: every field as text, ticked boxes present, files apart."""

from typing import Annotated

from fastapi import Depends, Request

__all__ = ["Typed"]


async def _typed(request: Request) -> dict[str, str]:
    form = await request.form()
    return {key: value for key, value in form.items() if isinstance(value, str)}


Typed = Annotated[dict[str, str], Depends(_typed)]
"""The text fields of a posted form; a route that redisplays them loses nothing that was typed."""
