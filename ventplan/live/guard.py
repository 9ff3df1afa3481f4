"""Who may talk to the page's server: this machine only, this page only.

Three locks, each enough against most strangers: the server listens on the loopback address alone; a request must name
that address as its host (a page of another site cannot, even if its name is made to lead here); and everything that
reads or changes the house needs the key that was made when the program started, in a header that no page of another
origin can set.
"""

from __future__ import annotations

import hmac
import secrets

from starlette.datastructures import Headers
from starlette.responses import JSONResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

KEY_HEADER = "x-ventplan-key"
HEADERS = {
    "content-security-policy": (
        "default-src 'self'; img-src 'self' data:; object-src 'none'; base-uri 'none'; form-action 'none'; "
        "frame-ancestors 'none'"
    ),
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-resource-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cache-control": "no-store",
}


def new_key() -> str:
    """A key that cannot be guessed."""
    return secrets.token_urlsafe(24)


class Guard:
    """Turns away what does not come from the page itself, and adds the headers that keep the page to itself.

    Parameters
    ----------
    app
        What answers.
    key
        The key of this run.
    port
        Port that the server listens on.
    """

    def __init__(self, app: ASGIApp, *, key: str, port: int) -> None:
        self.app, self.key = app, key
        self.hosts = {f"127.0.0.1:{port}", f"localhost:{port}"}
        self.origins = {f"http://{host}" for host in self.hosts}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                own = list(message.get("headers", []))
                named = {name.lower() for name, _ in own}
                extra = [(k.encode(), v.encode()) for k, v in HEADERS.items() if k.encode() not in named]
                message["headers"] = [*own, *extra]
            await send(message)

        refusal = self.refusal(Headers(scope=scope), scope["path"], scope["method"])
        answer: ASGIApp = self.app if not refusal else JSONResponse({"error": refusal}, status_code=403)
        await answer(scope, receive, send_with_headers)

    def refusal(self, headers: Headers, path: str, method: str) -> str:
        """Why a request is turned away; empty where it may pass."""
        if headers.get("host", "") not in self.hosts or any(len(headers.getlist(n)) > 1 for n in ("host", "origin")):
            return "this server answers to its own address on this machine only"
        origin = headers.get("origin")
        if (origin is not None and origin not in self.origins) or (method != "GET" and origin is None):
            return "only the page that this program opened may ask"
        if not path.startswith("/api/"):
            return ""
        if headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
            return "only the page that this program opened may ask"
        sent = headers.get(KEY_HEADER, "").encode()
        if not hmac.compare_digest(sent, self.key.encode()):
            return "the key is missing or old: open the address that the program printed when it started"
        return ""
