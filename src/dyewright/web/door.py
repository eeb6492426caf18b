"""The door to one studio: its records, opened when first asked for."""

from collections.abc import Callable
from datetime import UTC, datetime
from threading import Lock
from typing import Annotated

from fastapi import Depends, Request

from dyewright.core.model import Settings
from dyewright.errors import NotFoundError, StudioError
from dyewright.records import Records
from dyewright.services import demo, studios
from dyewright.services.judging.queue import Worker

__all__ = ["Door", "Entered", "NotBegunError", "Opened"]


class NotBegunError(StudioError):
    """No studio has begun at this place yet: the welcome page offers to."""


class Door:
    """One studio's place, and its records once somebody comes in.

    `make` builds the studio on the first visit (the demo does that); without it the visitor is sent to the welcome
    page until the dyer begins.
    """

    def __init__(self, place: str, make: Callable[[str], Records] | None = None) -> None:
        self.place = place
        self._make = make
        self._records: Records | None = None
        self._settings: Settings | None = None
        self._worker: Worker | None = None
        self._lock = Lock()

    def records(self) -> Records:
        """Return the open records.

        Raises:
            NotBegunError: there is no studio at this place.
        """
        with self._lock:
            if self._records is None:
                self._enter(self._open())
            assert self._records is not None  # noqa: S101 - entered just now
            return self._records

    def judge_what_waits(self) -> None:
        """Let the photos that wait for a verdict be judged, in a thread of the studio's own.

        Raises:
            NotBegunError: there is no studio at this place.
        """
        self.records()
        if self._worker is not None:
            self._worker.wake()

    def _enter(self, records: Records) -> None:
        self._records = records
        self._worker = Worker(records, clock=lambda: datetime.now(UTC))
        self._worker.resume()

    def _open(self) -> Records:
        if studios.is_begun(self.place):
            return studios.enter_studio(self.place)
        if self._make is None:
            raise NotBegunError(f"No studio has begun at {self.place}.")
        return self._make(self.place)

    def begin(self, name: str) -> None:
        """Begin the dyer's own studio here."""
        with self._lock:
            self._enter(studios.begin_studio(self.place, name=name))

    def settings(self) -> Settings | None:
        """Return the studio's settings, None where no studio has begun."""
        try:
            records = self.records()
        except NotBegunError:
            return None
        if self._settings is None:
            with records.read() as session:
                self._settings = studios.settings(session)
        return self._settings

    def forget_settings(self) -> None:
        """Read the settings again at the next request: they have changed."""
        self._settings = None

    def renew(self) -> None:
        """Let the next visit find the studio as the first one did: for the demo only.

        Raises:
            NotFoundError: this is the dyer's own studio, which nothing makes anew.
        """
        if self._make is None:
            raise NotFoundError("only the demo can be made anew")
        self.close()
        demo.discard_demo(self.place)
        self.forget_settings()

    def close(self) -> None:
        """Close the records, if they are open, once the photo in hand is judged."""
        with self._lock:
            if self._worker is not None:
                self._worker.stop()
                self._worker = None
            if self._records is not None:
                self._records.close()
                self._records = None


def _door(request: Request) -> Door:
    door = request.app.state.door
    assert isinstance(door, Door)  # noqa: S101 - create_studio_app sets it
    return door


def _records(request: Request) -> Records:
    return _door(request).records()


Opened = Annotated[Records, Depends(_records)]
"""The records of the studio that a request belongs to."""

Entered = Annotated[Door, Depends(_door)]
"""The door of the studio that a request belongs to."""
