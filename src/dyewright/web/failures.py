"""Each error class, once, as what a page answers."""

import logging

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, RedirectResponse, Response
from starlette.exceptions import HTTPException

from dyewright.errors import (
    DataFileError,
    InputError,
    NoMatchError,
    NotFoundError,
    OutOfRangeError,
    StockShortError,
    StudioError,
)
from dyewright.web.door import NotBegunError
from dyewright.web.render import render

__all__ = ["STATUS", "handle_failures"]

STATUS: dict[type[StudioError], int] = {
    InputError: 422,
    OutOfRangeError: 422,
    NoMatchError: 409,
    StockShortError: 409,
    NotFoundError: 404,
    DataFileError: 500,
    StudioError: 500,
}
_TITLES = {
    404: "Not in this studio",
    409: "That cannot be done with what is on the shelf",
    422: "That cannot be worked with as it stands",
    500: "Something is wrong in the studio's files",
}
_log = logging.getLogger("dyewright.web")


def _wants_json(request: Request) -> bool:
    return "application/json" in request.headers.get("accept", "")


def _sorry(request: Request, status: int, message: str) -> Response:
    if _wants_json(request):
        return JSONResponse({"message": message}, status_code=status)
    title = _TITLES.get(status, _TITLES[422])
    if status >= 500:  # whatever failed may fail again: this page asks the studio for nothing
        return render(request, "sorry.html", status_code=status, title=title, message=message, studio=None)
    return render(request, "sorry.html", status_code=status, title=title, message=message)


def _studio_error(request: Request, error: Exception) -> Response:
    if isinstance(error, NotBegunError):
        return RedirectResponse("/welcome", status_code=303)
    if not isinstance(error, StudioError):
        raise error
    status = next(STATUS[kind] for kind in type(error).__mro__ if kind in STATUS)
    return _sorry(request, status, error.message)


def _http_error(request: Request, error: Exception) -> Response:
    status = error.status_code if isinstance(error, HTTPException) else 500
    message = "There is no such page here." if status == 404 else str(getattr(error, "detail", error))
    return _sorry(request, status, message)


def _form_error(request: Request, error: Exception) -> Response:
    if not isinstance(error, RequestValidationError):
        raise error
    first = error.errors()[0]
    where = ".".join(str(part) for part in first["loc"][1:]) or str(first["loc"][0])
    return _sorry(request, 422, f"{where}: {first['msg'].lower()}, got {first.get('input')!r}")


def _unforeseen(request: Request, error: Exception) -> Response:
    _log.error("unforeseen error at %s", request.url.path, exc_info=error)
    return _sorry(
        request,
        500,
        "The tool made a mistake here. Nothing recorded was lost; go back, and what you typed is still in the form.",
    )


def handle_failures(app: FastAPI) -> None:
    """Let an app answer every error with a sentence."""
    app.add_exception_handler(StudioError, _studio_error)
    app.add_exception_handler(HTTPException, _http_error)
    app.add_exception_handler(RequestValidationError, _form_error)
    app.add_exception_handler(Exception, _unforeseen)
