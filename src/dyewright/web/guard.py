"""What stands at the door of every request: whose host it asks for, where a form comes from, what a page may load."""

from collections.abc import Collection
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

__all__ = ["CONTENT_POLICY", "Guard"]

CONTENT_POLICY = (
    "default-src 'self'; img-src 'self' data: blob:; object-src 'none'; base-uri 'none'; form-action 'self'; "
    "frame-ancestors 'none'; style-src 'self'; "
    "style-src-attr 'unsafe-inline'"  # a swatch carries its computed colour in a style attribute
)
_HEADERS = {
    "content-security-policy": CONTENT_POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
}
_READS = {"GET", "HEAD", "OPTIONS"}
MAX_BODY_BYTES = 150_000_000  # a raw photo of a 100-megapixel camera is about 120 MB


class Guard:
    """Refuse foreign hosts and forms posted from other sites; send the security headers with every answer.

    The studio has no log-in: whoever reaches the port is in the studio. So a page of another site must not be able to
    post here (origin check), and a foreign name must not lead here (host check). `hosts` None accepts every host name,
    which is what serving phones on the local network needs.
    """

    def __init__(self, app: ASGIApp, hosts: Collection[str] | None) -> None:
        self.app = app
        self.hosts = hosts

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, or answer it with a refusal."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        refusal = self._refusal(scope["method"], Headers(scope=scope))

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in _HEADERS.items():
                    headers.setdefault(name, value)
            await send(message)

        answer = PlainTextResponse(refusal[1], status_code=refusal[0]) if refusal else self.app
        await answer(scope, receive, send_with_headers)

    def _refusal(self, method: str, headers: Headers) -> tuple[int, str] | None:
        host = headers.get("host", "")
        if self.hosts is not None and (urlsplit(f"//{host}").hostname or "") not in self.hosts:
            return 403, f"This studio does not answer to the name {host!r}; open it at http://127.0.0.1."
        origin = headers.get("origin")
        is_foreign = origin is not None and (origin == "null" or urlsplit(origin).netloc != host)
        if method not in _READS and (is_foreign or headers.get("sec-fetch-site") == "cross-site"):
            return 403, "This form came from another site: nothing was changed. Open the page here and send it again."
        size = headers.get("content-length", "0")
        if size.isdigit() and int(size) > MAX_BODY_BYTES:
            limit = MAX_BODY_BYTES // 1_000_000
            return 413, f"This is {int(size) // 1_000_000} MB; the limit is {limit} MB: send a smaller photo or file."
        return None
