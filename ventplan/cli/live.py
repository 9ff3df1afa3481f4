"""``ventplan live``."""

from __future__ import annotations

from typing import Annotated

import typer

from ventplan.cli.options import HouseFile, ScenarioName
from ventplan.errors import InputError


def live(
    house: HouseFile,
    scenario: ScenarioName = None,
    port: Annotated[
        int | None,
        typer.Option("--port", metavar="N", min=1024, max=65535, help="Port; the house's own if left out."),
    ] = None,
    no_open: Annotated[bool, typer.Option("--no-open", help="Do not open the browser.")] = False,
) -> None:
    """Open the plan in the browser, on this machine only: drag fans, open windows, draw rooms, see the air change.

    A house file that does not exist yet is drawn from nothing and written when you save.

    Example: ventplan live house_examples/bungalow.yaml --scenario evening
    """
    try:
        from ventplan.live.server import serve
    except ModuleNotFoundError as error:
        if (error.name or "").partition(".")[0] not in ("starlette", "uvicorn"):
            raise
        raise InputError(
            "the live page needs starlette and uvicorn, which are not installed; install them with: "
            "pip install 'ventplan[live]'"
        ) from None
    serve(house, scenario=scenario, port=port, open_page=not no_open)
