"""From a drag to new numbers on the page of the large example house: ``python -m tests.benchmarks.live_drag``.

Once from the program alone (a request over the loopback to the whole answer), and once in a real browser (from the
pointer's move to the numbers drawn), both against the bare solver in the same run.
"""

from __future__ import annotations

import http.client
import json
import shutil
import statistics
import sys
import tempfile
import threading
import time
from pathlib import Path
from typing import Any

from tests.benchmarks.timing import Table, put_into
from ventplan.house import House
from ventplan.network import solve

HOUSE = Path(__file__).parents[2] / "house_examples" / "rambling_house.yaml"
PAGE = Path(__file__).parents[2] / "docs" / "live.md"
KEY = "a key for measuring"
CASES = (("east wing", "floor fan"), ("upstairs at night", "pedestal"))
"""Scenarios and the fan that is dragged in them; in the second a jet passes two doors in line, the longest solve."""
STEPS = 120
ALLOWED_MS = 100.0


def main() -> None:
    """Print the table; ``--write`` puts it into docs/live.md."""
    text = table().markdown()
    print(text)
    if "--write" in sys.argv[1:]:
        put_into(PAGE, text)


def table() -> Table:
    """Median and 95th percentile of each way, and the bare solver's."""
    import uvicorn

    from ventplan.live.house_file import HouseFile
    from ventplan.live.routes import Routes
    from ventplan.live.server import listening, make_app
    from ventplan.live.session import open_session

    rows = []
    with tempfile.TemporaryDirectory() as folder:
        path = Path(shutil.copy(HOUSE, folder))
        taken = listening(path, 0)
        port = int(taken.getsockname()[1])
        routes = Routes(open_session(HouseFile(path)))
        config = uvicorn.Config(make_app(routes, key=KEY, port=port), log_level="error", lifespan="off")
        server = uvicorn.Server(config)
        thread = threading.Thread(target=server.run, kwargs={"sockets": [taken]}, daemon=True)
        thread.start()
        while not server.started:
            time.sleep(0.01)
        house = routes.house()
        for scenario, fan in CASES:
            bare = bare_ms(house, scenario)
            rows.append(row(scenario, "the solver alone", bare, bare))
            rows.append(row(scenario, "request to answer", answers_ms(port, house, scenario), bare))
            shown = browser_ms(port, scenario, fan)
            if shown:
                rows.append(row(scenario, "pointer's move to numbers on the page", shown, bare))
        server.should_exit = True
        thread.join(3.0)
        routes.close()
    return Table(
        "From a drag to new numbers",
        ("scenario", "", "median, ms", "95 %, ms", "median / solver alone"),
        rows,
        f"Large example house, {STEPS} places of one fan. On the page a move may wait for the answer before it; "
        f"{ALLOWED_MS:.0f} ms are allowed.",
    )


def row(scenario: str, what: str, times_ms: list[float], bare_ms: list[float]) -> list[str]:
    """One line of the table."""
    median, high = statistics.median(times_ms), sorted(times_ms)[int(0.95 * (len(times_ms) - 1))]
    return [scenario, what, f"{median:.0f}", f"{high:.0f}", f"{median / statistics.median(bare_ms):.1f}"]


def bare_ms(house: House, scenario: str) -> list[float]:
    """Times of the solver without a page [ms]."""
    solve(house, scenario)
    times = []
    for _ in range(STEPS // 2):
        begun = time.perf_counter()
        solve(house, scenario)
        times.append(1000.0 * (time.perf_counter() - begun))
    return times


def answers_ms(port: int, house: House, scenario: str) -> list[float]:
    """Times from a request to the whole answer, the fan elsewhere each time [ms]."""
    from ventplan.live.scenario_edits import state_of
    from ventplan.live.server import KEY_HEADER

    state = state_of(house.scenarios[scenario])
    headers = {"Origin": f"http://127.0.0.1:{port}", KEY_HEADER: KEY, "Content-Type": "application/json"}
    connection = http.client.HTTPConnection("127.0.0.1", port)
    times = []
    for step in range(STEPS):
        state["fans"][0]["setback_m"] = 0.5 + 0.01 * step
        begun = time.perf_counter()
        body = json.dumps({"scenario": scenario, "state": state, "units": "si"})
        connection.request("POST", "/api/solve", body, headers)
        json.loads(connection.getresponse().read())
        times.append(1000.0 * (time.perf_counter() - begun))
    return times[5:]


def browser_ms(port: int, scenario: str, fan: str) -> list[float]:
    """Times from the pointer's move to the numbers drawn, as the page measures them [ms]; none without a browser."""
    chromium = shutil.which("chromium")
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        return []
    if chromium is None:
        return []
    with sync_playwright() as started:
        browser: Any = started.chromium.launch(executable_path=chromium, args=["--no-sandbox", "--disable-gpu"])
        page = browser.new_page(viewport={"width": 1280, "height": 900})
        page.goto(f"http://127.0.0.1:{port}/#key={KEY}&scenario={scenario}")
        page.wait_for_selector("body[data-ready=yes]")
        page.wait_for_timeout(800)
        box = page.locator(f'#plan [data-kind=fan][data-name="{fan}"] .hit').bounding_box()
        x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
        page.mouse.move(x, y)
        page.mouse.down()
        page.mouse.move(x - 8, y)
        page.wait_for_timeout(500)
        page.evaluate("performance.clearMeasures()")
        for step in range(STEPS):
            page.mouse.move(x - 8 - 0.25 * step, y + 0.1 * step)
            page.wait_for_timeout(16)
        page.wait_for_timeout(300)
        measured = page.evaluate("performance.getEntriesByName('drag to numbers').map((m) => m.duration)")
        browser.close()  # the fan still in hand: letting go would start the setback curve beside the next case
    return [float(m) for m in measured]


if __name__ == "__main__":
    main()
