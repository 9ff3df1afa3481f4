"""The routes: each takes what the page sends, calls one function, and answers in JSON."""

from __future__ import annotations

import json
import threading
from collections.abc import Callable
from dataclasses import asdict
from importlib.resources import files
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response, StreamingResponse
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from ventplan.errors import InputError, NoAnswerError
from ventplan.house import House
from ventplan.house.units import System
from ventplan.house.yaml_text import key_text
from ventplan.live import ask, keep, over_time
from ventplan.live.ask import held_against
from ventplan.live.file import NewerOnDisk
from ventplan.live.guard import Guard, new_key
from ventplan.live.page import page_of
from ventplan.live.session import BreaksScenarios, OtherPageChanged, Session, apply_changes, read_draft
from ventplan.live.worker import Progress, Stopped, Worker, streamed
from ventplan.network.flow import Flow

MOST_BYTES = 4_000_000
CHOICES = (
    "Load what is on disk: the text you have here stays one step back (undo). "
    "Or write over it: what the other program wrote is lost."
)

REPORT_POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; frame-ancestors 'none'"
"""A report has its style inside; it runs nothing and loads nothing."""

Body = dict[str, Any]


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
    api = {name: getattr(routes, name) for name in QUESTIONS + STEPS}

    async def printed(request: Request) -> Response:
        """A report that the page asked for; its address is a secret and good once."""
        page = routes.reports.pop(request.path_params["address"], None)
        if page is None:
            return Response("This report was opened already; ask for it again from the page.", status_code=404)
        return Response(page, media_type="text/html", headers={"content-security-policy": REPORT_POLICY})

    app = Starlette(
        routes=[
            Route("/", _file("index.html", "text/html")),
            Route("/colours.css", _colours),
            *(
                Route(f"/api/{name}", _answering(call, at_once=name == "solve"), methods=["POST"])
                for name, call in api.items()
            ),
            Route("/api/place", routes.place, methods=["POST"]),
            Route("/api/tonight", routes.tonight, methods=["POST"]),
            Route("/report/{address}", printed),
            Mount("/static", StaticFiles(directory=str(static))),
        ]
    )
    return Guard(app, key=key, port=port)


QUESTIONS = ("page", "solve", "picture", "curve", "compare", "readings", "report", "clearing")
STEPS = ("edit", "keep", "adopt", "back", "forward", "save", "load", "draft")


class Routes:
    """What the page can ask and do; each method takes the request's JSON and gives the answer's."""

    def __init__(self, session: Session) -> None:
        self.session = session
        self.searcher, self.helper = Worker(), Worker()
        self.last: Flow | None = None
        self.reports: dict[str, str] = {}

    def house(self) -> House:
        """The house that the page shows: as far as it could be read, or the latest that could."""
        if self.session.good is None or self.session.good.house is None:
            raise InputError(self.session.draft.errors or "there is no house in this file yet")
        return self.session.good.house

    def house_in_hand(self) -> House:
        """The house of the text in hand, for a step that changes it."""
        if self.session.draft.house is None:
            raise InputError(self.session.draft.errors or "there is no house in this file yet")
        return self.session.draft.house

    def shown(self, body: Body) -> System:
        """Units that the page asks for."""
        good = self.session.good
        own: System = good.house.show if good is not None and good.house is not None else "si"
        return "us" if body.get("units") == "us" else "si" if body.get("units") == "si" else own

    def close(self) -> None:
        """End the processes for long questions."""
        self.searcher.close()
        self.helper.close()

    def page(self, body: Body) -> Body:
        """The page itself."""
        return page_of(self.session, self.shown(body))

    def solve(self, body: Body) -> Body:
        """Numbers of a state."""
        house = self.house()
        self.last, found = ask.solved(house, ask.state_in_hand(house, body), self.shown(body), body, self.last)
        return found

    def picture(self, body: Body) -> Body:
        """Numbers, the ways of the air, and cautions."""
        return ask.pictured(self.house(), ask.state_in_hand(self.house(), body), self.shown(body), body)

    def curve(self, body: Body) -> Body:
        """The setback curve of a fan."""
        scenario, fan = ask.state_in_hand(self.house(), body), str(body["fan"])
        found: Body = self.helper.ask(ask.curve, (self.house(), scenario, fan, self.shown(body)))
        return found

    def compare(self, body: Body) -> Body:
        """This state beside another scenario."""
        house = self.house()
        other = ask.state_in_hand(house, {"scenario": body["other"]})
        asked = {"tint": body.get("tint")}
        what = (house, ask.state_in_hand(house, body), other, self.shown(body), asked)
        found: Body = self.helper.ask(ask.side_by_side, what)
        return found

    def report(self, body: Body) -> Body:
        """Make the report about a state; it is read at the address that comes back."""
        house = self.house()
        what = (house, ask.state_in_hand(house, body), self.shown(body))
        address = new_key()
        self.reports = {address: self.helper.ask(ask.report, what)}
        return {"address": f"/report/{address}"}

    def clearing(self, body: Body) -> Body:
        """How smoke in one room clears."""
        house = self.house()
        what = (house, ask.state_in_hand(house, body), str(body["room"]), self.shown(body))
        found: Body = self.helper.ask(over_time.clearing, what)
        return found

    def readings(self, body: Body) -> Body:
        """Readings beside the model."""
        house = self.house()
        return held_against(house, ask.state_in_hand(house, body), body["readings"], self.shown(body))

    def edit(self, body: Body) -> Body:
        """Change the house."""
        changes, what = body["changes"], str(body["what"])
        keys = [key_text(tuple(c["path"])[:2]) for c in changes]
        with self.session.lock:
            self.session.check(body["revision"], what)
            self.session.change(what, keys, lambda text: apply_changes(text, changes), repair=_repair(body))
        return self.page(body)

    def keep(self, body: Body) -> Body:
        """Keep the state in hand in its scenario."""
        house, what = self.house_in_hand(), str(body["what"])
        keep.check_kept(house, body["scenario"])
        after = ask.state_in_hand(house, body)

        def make(text: str) -> str:
            now = read_draft(text, self.session.file.path).house
            return keep.kept(text, now or house, after)

        with self.session.lock:
            self.session.check(body["revision"], what)
            self.session.change(what, [key_text(("scenarios", after.name))], make, repair=_repair(body))
        return self.page(body)

    def adopt(self, body: Body) -> Body:
        """Put a state into a new scenario."""
        name, what = str(body["name"]).strip(), str(body["what"])
        self.house_in_hand()

        def make(text: str) -> str:
            path = self.session.file.path
            return keep.adopted(text, body["scenario"], name, body["state"], lambda t: read_draft(t, path).house)

        with self.session.lock:
            self.session.check(body["revision"], what)
            self.session.change(what, [key_text(("scenarios", name))], make)
        return self.page(body)

    def back(self, body: Body) -> Body:
        """Take a step back."""
        with self.session.lock:
            self.session.check(body["revision"], "undo")
            self.session.step(True)
        return self.page(body)

    def forward(self, body: Body) -> Body:
        """Take a step forward again."""
        with self.session.lock:
            self.session.check(body["revision"], "redo")
            self.session.step(False)
        return self.page(body)

    def save(self, body: Body) -> Body:
        """Write the text in hand to the file."""
        with self.session.lock:
            self.session.check(body["revision"], "save")
            self.session.save(over=body.get("over"))
        return self.page(body)

    def load(self, body: Body) -> Body:
        """Take what is on disk."""
        with self.session.lock:
            self.session.load()
        return self.page(body)

    def draft(self, body: Body) -> Body:
        """Take a text that the browser kept."""
        with self.session.lock:
            self.session.check(body["revision"], "bring back unsaved work")
            self.session.take("bring back unsaved work", str(body["text"]))
        return self.page(body)

    async def place(self, request: Request) -> Response:
        """Search for a better place; lines of progress, then the answer."""
        return await self._searched(request, ask.better_place, ("aim", "name", "fan", "count"))

    async def tonight(self, request: Request) -> Response:
        """Plan the night; lines of progress, then the answer."""
        return await self._searched(request, over_time.tonight, ("high", "low", "bedtime", "waking", "quiet"))

    async def _searched(self, request: Request, call: Callable[..., Body], keys: tuple[str, ...]) -> Response:
        try:
            body = await _body(request)
            house, system = self.house(), self.shown(body)
            scenario = ask.state_in_hand(house, body)
        except Exception as error:
            return _refused(error)
        question = {key: str(body.get(key) or "") for key in keys}

        def work(progress: Progress, stop: threading.Event) -> Body:
            what = (house, scenario, question, system)
            found: Body = self.searcher.ask(call, what, progress=progress, stop=stop)
            return found

        lines = streamed(work, refusal)
        return StreamingResponse(lines, media_type="application/x-ndjson")


def _repair(body: Body) -> str:
    """What the page chose to do about scenarios that the step breaks."""
    return str(body.get("repair", ""))


async def _body(request: Request) -> Body:
    """The request's JSON, counted while it comes: a request need not say beforehand how long it is."""
    sent = bytearray()
    async for part in request.stream():
        sent += part
        if len(sent) > MOST_BYTES:
            raise InputError("too much at once")
    try:
        text = sent.decode("utf-8")
        body = json.loads(text)
        if "\\ud" in text.lower():
            json.dumps(body, ensure_ascii=False).encode("utf-8")  # half of a character that takes two is no text
    except UnicodeError:
        raise InputError("a request must be text in UTF-8") from None
    except RecursionError:
        raise InputError("maps within maps without end") from None
    if not isinstance(body, dict):
        raise InputError("a map is wanted")
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


def refusal(error: Exception) -> tuple[int, Body]:
    """Status and words for an error that can be explained; any other is raised again."""
    if isinstance(error, NewerOnDisk):
        return 409, {"error": str(error), "newer": error.digest, "choices": CHOICES}
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
    if isinstance(error, (KeyError, TypeError, ValueError, AttributeError)) and _of_request(error):
        return 400, {"error": "that request is not one of this page's", "errors": []}
    raise error


def _of_request(error: Exception) -> bool:
    """True where what the page sent was malformed, not where the library failed."""
    trace = error.__traceback__
    while trace is not None and trace.tb_next is not None:
        trace = trace.tb_next
    file = trace.tb_frame.f_code.co_filename if trace is not None else ""
    return file.endswith(("live/app.py", "live/state.py", "json/decoder.py", "live/ask.py"))


def _refused(error: Exception) -> Response:
    status, words = refusal(error)
    return JSONResponse(words, status_code=status)


def _file(name: str, kind: str) -> Callable[[Request], Any]:
    async def answer(request: Request) -> Response:
        return Response(files("ventplan.live").joinpath("static", name).read_bytes(), media_type=kind)

    return answer


async def _colours(request: Request) -> Response:
    """The colours of the drawings as variables, light and dark."""
    from ventplan.show.colours import COLOURS, variable

    light = "".join(f"{variable(n)}:{pair[0]};" for n, pair in COLOURS.items())
    dark = "".join(f"{variable(n)}:{pair[1]};" for n, pair in COLOURS.items())
    css = (
        f":root{{{light}color-scheme:light}}"
        f"@media (prefers-color-scheme:dark){{:root:not([data-look=light]){{{dark}color-scheme:dark}}}}"
        f":root[data-look=dark]{{{dark}color-scheme:dark}}"
    )
    return Response(css, media_type="text/css")
