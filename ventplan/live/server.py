"""The page's server: it listens on this machine only and answers only the page that it opened.

Three locks, each enough against most strangers: the server listens on the loopback address alone; a request must name
that address as its host (a page of another site cannot, even if its name is made to lead here); and everything that
reads or changes the house needs the key that was made when the program started, in a header that no page of another
origin can set.
"""

from __future__ import annotations

import hashlib
import hmac
import json
import secrets
import socket
import webbrowser
from collections.abc import Callable
from dataclasses import asdict
from importlib.resources import files
from pathlib import Path
from typing import Any
from urllib.parse import quote

import uvicorn
from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers
from starlette.requests import Request
from starlette.responses import JSONResponse, Response, StreamingResponse
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from ventplan.errors import InputError, NoAnswerError, unknown_name
from ventplan.live.house_file import HouseFile, NewerOnDisk
from ventplan.live.routes import LONG_QUESTIONS, QUESTIONS, STEPS, Body, Routes, Work
from ventplan.live.session import BreaksScenarios, OtherPageChanged, open_session
from ventplan.live.worker import Stopped, streamed
from ventplan.show.paper import COLOURS, variable

LOOPBACK = "127.0.0.1"
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
REPORT_POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; frame-ancestors 'none'"
"""A report has its style inside; it runs nothing and loads nothing."""
MAX_REQUEST_BYTES = 4_000_000
CONFLICT_CHOICES = (
    "Load the file: your version here stays one step back (undo). "
    "Or overwrite it: what the other program wrote is lost."
)


def new_key() -> str:
    """A key that cannot be guessed."""
    return secrets.token_urlsafe(24)


class Guard:
    """Refuses requests that do not come from the page itself, and adds the headers that isolate the page.

    Parameters
    ----------
    app
        The application that answers.
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
        """Why a request is refused; empty if it may pass."""
        if headers.get("host", "") not in self.hosts or any(len(headers.getlist(n)) > 1 for n in ("host", "origin")):
            return "this server answers only to its own address on this machine"
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


def make_app(routes: Routes, *, key: str, port: int) -> Guard:
    """The application for one house file.

    Parameters
    ----------
    routes
        What the page can ask and do.
    key
        The key that the page must send.
    port
        Port that the server listens on.
    """
    static = files("ventplan.live").joinpath("static")
    reports: dict[str, str] = {}

    def report(body: Body) -> Body:
        """Make a report, and return the secret address where it can be read once."""
        address = new_key()
        reports.clear()
        reports[address] = routes.report(body)["page"]
        return {"address": f"/report/{address}"}

    async def read_report(request: Request) -> Response:
        page = reports.pop(request.path_params["address"], None)
        if page is None:
            return Response("This report was opened already; ask for it again from the page.", status_code=404)
        return Response(page, media_type="text/html", headers={"content-security-policy": REPORT_POLICY})

    async def index(_: Request) -> Response:
        return Response(static.joinpath("index.html").read_bytes(), media_type="text/html")

    calls = {name: getattr(routes, name) for name in QUESTIONS + STEPS} | {"report": report}
    app = Starlette(
        routes=[
            Route("/", index),
            Route("/colours.css", _colours),
            *(
                Route(f"/api/{name}", _answering(call, at_once=name == "solve"), methods=["POST"])
                for name, call in calls.items()
            ),
            *(
                Route(f"/api/{name}", _streaming(getattr(routes, name)), methods=["POST"])
                for name in LONG_QUESTIONS
            ),
            Route("/report/{address}", read_report),
            Mount("/static", StaticFiles(directory=str(static))),
        ]
    )  # fmt: skip
    return Guard(app, key=key, port=port)


async def _body(request: Request) -> Body:
    """The request's JSON, counted as it arrives, since a request need not declare its length."""
    sent = bytearray()
    async for part in request.stream():
        sent += part
        if len(sent) > MAX_REQUEST_BYTES:
            raise InputError("the request is too large")
    try:
        text = sent.decode("utf-8")
        body = json.loads(text)
        if "\\ud" in text.lower():
            json.dumps(body, ensure_ascii=False).encode("utf-8")  # half of a surrogate pair is not text
    except UnicodeError:
        raise InputError("a request must be text in UTF-8") from None
    except RecursionError:
        raise InputError("the request is nested too deeply") from None
    if not isinstance(body, dict):
        raise InputError("a request must be a JSON object")
    return body


def _answering(call: Callable[[Body], Body], *, at_once: bool) -> Callable[[Request], Any]:
    """A route for a function; ``at_once`` for the few milliseconds of a drag, where a change of thread costs more."""

    async def answer(request: Request) -> Response:
        try:
            body = await _body(request)
            return JSONResponse(call(body) if at_once else await run_in_threadpool(call, body))
        except Exception as error:
            return _refused(error)

    return answer


def _streaming(call: Callable[[Body], Work]) -> Callable[[Request], Any]:
    """A route for a long question: lines of progress, then the answer."""

    async def answer(request: Request) -> Response:
        try:
            work = call(await _body(request))
        except Exception as error:
            return _refused(error)
        return StreamingResponse(streamed(work, refusal), media_type="application/x-ndjson")

    return answer


def refusal(error: Exception) -> tuple[int, Body]:
    """Status and words for an error that can be explained; any other is raised again."""
    if isinstance(error, NewerOnDisk):
        return 409, {"error": str(error), "newer": error.digest, "choices": CONFLICT_CHOICES}
    if isinstance(error, OtherPageChanged):
        return 409, {"error": str(error), "other_page": True}
    if isinstance(error, BreaksScenarios):
        return 422, {"error": str(error), "errors": [asdict(m) for m in error.errors], "repairs": error.repairs}
    if isinstance(error, InputError):
        return 422, {"error": str(error), "errors": [asdict(m) for m in error.errors]}
    if isinstance(error, NoAnswerError):
        return 422, {"error": str(error), "errors": []}
    if isinstance(error, Stopped):
        return 503, {"error": "the program is stopping", "errors": []}
    if isinstance(error, (KeyError, TypeError, ValueError, AttributeError)) and _caused_by_request(error):
        return 400, {"error": "this request does not come from the page", "errors": []}
    raise error


def _caused_by_request(error: Exception) -> bool:
    """True if the request was malformed, not if the library failed."""
    trace = error.__traceback__
    while trace is not None and trace.tb_next is not None:
        trace = trace.tb_next
    file = trace.tb_frame.f_code.co_filename if trace is not None else ""
    modules = ("server", "routes", "scenario_edits", "answers")
    return file.endswith(("json/decoder.py", *(f"live/{name}.py" for name in modules)))


def _refused(error: Exception) -> Response:
    status, words = refusal(error)
    return JSONResponse(words, status_code=status)


async def _colours(_: Request) -> Response:
    """The colours of the drawings as CSS variables, light and dark."""
    light = "".join(f"{variable(n)}:{pair[0]};" for n, pair in COLOURS.items())
    dark = "".join(f"{variable(n)}:{pair[1]};" for n, pair in COLOURS.items())
    css = (
        f":root{{{light}color-scheme:light}}"
        f"@media (prefers-color-scheme:dark){{:root:not([data-look=light]){{{dark}color-scheme:dark}}}}"
        f":root[data-look=dark]{{{dark}color-scheme:dark}}"
    )
    return Response(css, media_type="text/css")


def usual_port(path: Path) -> int:
    """The port of a house file: always the same, so that the browser finds the draft that it kept for this house."""
    digest = hashlib.sha256(str(path.resolve()).encode()).digest()
    return 20000 + int.from_bytes(digest[:4], "big") % 20000


def listening(path: Path, port: int | None) -> socket.socket:
    """A socket on the loopback address: on the house's own port, or on any free one if that is taken.

    Raises
    ------
    InputError
        If the port that was asked for is taken.
    """
    for number in (usual_port(path), 0) if port is None else (port,):
        # With the protocol named, asyncio sends each part of an answer at once instead of waiting 40 ms for more.
        found = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
        found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            found.bind((LOOPBACK, number))
        except OSError:
            found.close()
            continue
        found.listen(64)
        return found
    raise InputError(f"port {port} of this machine is taken; leave --port out to use a free one")


def serve(path: Path, *, scenario: str | None = None, port: int | None = None, open_page: bool = True) -> None:
    """Serve the page of a house file until it is interrupted.

    Parameters
    ----------
    path
        The house file; it may not exist yet.
    scenario
        Name of the scenario to begin with.
    port
        Port to listen on; the house's own if None.
    open_page
        True to open the page in the browser.

    Raises
    ------
    InputError
        If the file cannot be read, has no such scenario, or the port is taken.
    """
    session = open_session(HouseFile(path))
    house = session.draft.house
    if scenario is not None and (house is None or scenario not in house.scenarios):
        raise unknown_name("scenario", scenario, house.scenarios if house else ())
    taken = listening(path, port)
    number, key = int(taken.getsockname()[1]), new_key()
    address = f"http://{LOOPBACK}:{number}/#key={key}" + (f"&scenario={quote(scenario)}" if scenario else "")
    print(f"The plan of {path.name} is at\n  {address}\non this machine only. Stop with Ctrl+C.", flush=True)
    if open_page:
        webbrowser.open(address)
    routes = Routes(session)
    config = uvicorn.Config(
        make_app(routes, key=key, port=number), log_level="warning", lifespan="off", server_header=False,
        access_log=False, timeout_graceful_shutdown=1,
    )  # fmt: skip
    try:
        uvicorn.Server(config).run(sockets=[taken])
    finally:
        routes.close()
    if session.unsaved:
        print("There are unsaved changes; the browser keeps them for the next time.")
