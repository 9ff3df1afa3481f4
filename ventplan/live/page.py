"""The whole of what a page shows after a step: the house, its scenarios, its mistakes, and what can be done next."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from ventplan.house.catalogue import assumptions, fan_specs, sashes, screens
from ventplan.house.shown import show
from ventplan.house.units import System
from ventplan.live.plan import plan_of
from ventplan.live.session import Session
from ventplan.live.state import state_of


def page_of(session: Session, system: System | None = None) -> dict[str, Any]:
    """Everything that the page needs to draw itself anew.

    Parameters
    ----------
    session
        The house being edited.
    system
        Units that the reader chose; the file's own if None.
    """
    draft = session.draft
    house = draft.house
    shown: System = system or (house.show if house else "si")
    return {
        "file": session.file.path.name,
        "place": str(session.file.path),
        "revision": session.revision,
        "text": draft.text,
        "on_disk": session.on_disk,
        "unsaved": session.unsaved,
        "undo": session.undo[-1][0] if session.undo else "",
        "redo": session.redo[-1][0] if session.redo else "",
        "units": shown,
        "mistakes": [asdict(m) for m in draft.mistakes],
        "house": plan_of(house, draft.data, shown) if house else None,
        "scenarios": {n: state_of(s) | {"words": weather_words(s, shown)} for n, s in house.scenarios.items()}
        if house
        else {},
        "catalogue": {"fans": list(fan_specs()), "screens": list(screens()), "sashes": list(sashes()),
                      "kinds": list(assumptions()["kinds"])},
    }  # fmt: skip


def weather_words(scenario: Any, system: System) -> dict[str, str]:
    """The weather of a scenario as people read it."""
    wind = scenario.outdoors.wind
    return {
        "temperature": show(scenario.outdoors.temperature_c, "temperature", system),
        "wind": show(wind.speed_m_s, "wind", system),
        "from": show(wind.from_deg, "angle", system),
    }
