"""Listen on this machine only, print the address, and open the page."""

from __future__ import annotations

import hashlib
import socket
import webbrowser
from pathlib import Path

from ventplan.errors import InputError
from ventplan.live.file import HouseFile
from ventplan.live.session import open_session

LOOPBACK = "127.0.0.1"


def usual_port(path: Path) -> int:
    """The port of a house file: always the same, so that the browser finds the draft that it kept for this house."""
    digest = hashlib.sha256(str(path.resolve()).encode()).digest()
    return 20000 + int.from_bytes(digest[:4], "big") % 20000


def listening(path: Path, port: int | None) -> socket.socket:
    """A socket on the loopback address; on the house's own port, or any free one where that is taken.

    Raises
    ------
    InputError
        Where the port that was asked for is taken.
    """
    for number in (usual_port(path), 0) if port is None else (port,):
        # With the protocol named, asyncio sends each part of an answer at once instead of waiting 40 ms for company.
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
        Where the file cannot be read, has no such scenario, or the port is taken.
    """
    try:
        import uvicorn

        from ventplan.live.app import Routes, make_app
        from ventplan.live.guard import new_key
    except ImportError:
        raise InputError(
            "the live page needs starlette and uvicorn, which are not installed; install them with: "
            "pip install 'ventplan[live]'"
        ) from None
    from urllib.parse import quote

    session = open_session(HouseFile(path))
    house = session.draft.house
    if scenario is not None and (house is None or scenario not in house.scenarios):
        names = ", ".join(house.scenarios) if house else "none"
        raise InputError(f"there is no scenario {scenario!r}; the house has: {names}")
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
        print("There are changes that were not saved; the browser keeps them for the next time.")
