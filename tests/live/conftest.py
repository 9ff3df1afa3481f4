"""A house, a served page, and a browser to use it with. Browser tests are skipped where no chromium is installed."""

from __future__ import annotations

import os
import shutil
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import uvicorn

from ventplan.live.house_file import HouseFile
from ventplan.live.routes import Routes
from ventplan.live.server import listening, make_app
from ventplan.live.session import Session, open_session

KEY = "a key for tests"
ARGUMENTS = (
    "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--no-first-run", "--disable-component-update",
    "--disable-sync",
)  # fmt: skip

HOUSE = """\
# An invented house for trying the page.
name: Page house   # its name
outdoors: {temperature: 15 °C, wind: {speed: 2 m/s, from: 270 deg}}
indoors: {temperature: 25 °C}

rooms:
  living:  {at: [0 m, 0 m], size: [5 m, 4 m]}   # the big one
  bedroom: {at: [5 m, 0 m], size: [4 m, 4 m]}

openings:
  middle door:  {kind: door, joins: [living, bedroom], along: 1.5 m, size: [0.9 m, 2 m]}
  west window:  {kind: window, joins: [living, outdoors], wall: west, along: 1.4 m, size: [1.2 m, 1.2 m],
                 sash: side hinged, screen: fine 18x16}
  east window:  {kind: window, joins: [bedroom, outdoors], wall: east, along: 1.4 m, size: [1.2 m, 1.2 m],
                 sash: sliding, screen: fine 18x16}

fans:
  box fan: {like: box 20 in}
  desk fan: {like: table 12 in}

scenarios:
  evening:   # both windows
    open: [west window, east window]
    fans: [{fan: box fan, blows out: west window, setback: 1.5 m}]
  shut up: {}
"""


@dataclass
class Served:
    """A house being served."""

    path: Path
    routes: Routes
    port: int

    @property
    def session(self) -> Session:
        return self.routes.session

    @property
    def origin(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def address(self, scenario: str = "evening") -> str:
        return f"{self.origin}/#key={KEY}&scenario={scenario}"

    def text(self) -> str:
        return self.path.read_text("utf-8")

    def start_again(self) -> None:
        """Forget everything, as a program that is started anew."""
        self.routes.session = open_session(HouseFile(self.path))


@pytest.fixture(scope="session")
def server(tmp_path_factory: Any) -> Iterator[Served]:
    """One server for all tests, since its process for long questions takes a while to start."""
    path = tmp_path_factory.mktemp("live") / "page_house.yaml"
    taken = listening(path, 0)
    port = taken.getsockname()[1]
    routes = Routes(open_session(HouseFile(path)))
    config = uvicorn.Config(
        make_app(routes, key=KEY, port=port), log_level="warning", lifespan="off", timeout_graceful_shutdown=1
    )
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, kwargs={"sockets": [taken]}, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.01)
    yield Served(path, routes, port)
    server.should_exit = True
    thread.join(3.0)
    routes.close()
    taken.close()


@pytest.fixture
def served(server: Served) -> Served:
    server.path.write_text(HOUSE, "utf-8")
    server.start_again()
    return server


@pytest.fixture
def from_nothing(server: Served) -> Served:
    server.path.unlink(missing_ok=True)
    server.start_again()
    return server


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    chromium = os.environ.get("CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
    if chromium is None:
        pytest.skip("no chromium on this machine: apt-get install chromium, or name it in the variable CHROMIUM")
    playwright = pytest.importorskip(
        "playwright.sync_api", reason="playwright drives the browser: pip install playwright"
    )
    with playwright.sync_playwright() as started:
        opened = started.chromium.launch(executable_path=chromium, args=list(ARGUMENTS))
        yield opened
        opened.close()


class User:
    """Someone in front of the page; errors of the page fail the test at its end."""

    def __init__(self, page: Any) -> None:
        self.page = page
        self.errors: list[str] = []
        self.requests: list[str] = []
        page.on("pageerror", lambda error: self.errors.append(str(error)))
        page.on("request", lambda request: self.requests.append(request.url))
        page.on("console", self.heard)

    def heard(self, message: Any) -> None:
        """An error on the console, besides the refusals that tests provoke."""
        if message.type == "error" and not any(status in message.text for status in ("403", "409", "422")):
            self.errors.append(message.text)

    def open(self, address: str) -> None:
        self.page.goto(address)
        self.page.wait_for_selector("body[data-ready=yes]")
        self.until("document.querySelector('#summary').textContent !== ''")

    def thing(self, kind: str, name: str) -> Any:
        return self.page.locator(f'#plan [data-kind="{kind}"][data-name="{name}"]')

    def middle(self, kind: str, name: str) -> tuple[float, float]:
        part = self.thing(kind, name)
        box = (part.locator(".hit") if kind != "room" else part).bounding_box()
        return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2

    def on_plan(self, x: float, y: float) -> tuple[float, float]:
        """Where a place of the plan [m] is on the screen."""
        found = self.page.evaluate(
            "([x, y]) => { const s = document.querySelector('#plan'); const p = new DOMPoint(x, -y)"
            ".matrixTransform(s.getScreenCTM()); return [p.x, p.y]; }",
            [x, y],
        )
        return found[0], found[1]

    def drag(self, start: tuple[float, float], end: tuple[float, float], steps: int = 8) -> None:
        mouse = self.page.mouse
        mouse.move(*start)
        mouse.down()
        mouse.move(*end, steps=steps)
        mouse.up()

    def click(self, spot: tuple[float, float]) -> None:
        self.page.mouse.click(*spot)

    def row(self, table: str, name: str) -> list[str]:
        return self.page.locator(f'#table-{table} tr[data-name="{name}"] td').all_inner_texts()

    def until(self, condition: str, timeout: float = 10_000) -> None:
        """Wait for an expression of the page; looked at from outside, since the page lets no text run as code."""
        for _ in range(round(timeout / 50)):
            if self.page.evaluate(condition):
                return
            self.page.wait_for_timeout(50)
        raise AssertionError(f"not within {timeout / 1000:.0f} s: {condition}")

    def wait_for(self, condition: Callable[[], bool], timeout: float = 10_000) -> None:
        """Wait for something in the program."""
        for _ in range(round(timeout / 50)):
            if condition():
                return
            self.page.wait_for_timeout(50)
        raise AssertionError(f"not within {timeout / 1000:.0f} s")


@pytest.fixture
def user(browser: Any) -> Iterator[User]:
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    someone = User(context.new_page())
    someone.page.set_default_timeout(10_000)
    yield someone
    context.close()
    assert someone.errors == []
