"""Cautions that an answer causes: what was computed, what to do, and who says so. None is shown without its
cause.

What to do, and the sources, stand in ``cautions.toml`` beside this file.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from ventplan.airing.march import MOULD_HUMIDITY, Run
from ventplan.house.records import OUTDOORS, House, Opening, Scenario
from ventplan.house.shown import show
from ventplan.house.units import System
from ventplan.network.flow import Flow
from ventplan.network.jets import fan_of
from ventplan.physics.humidity import dew_point, humidity_ratio, relative_humidity_at

SCREENING_PA = (2.0, 5.0)
"""Depressurisation at which a room with a flame is flagged, and flagged strongly [Pa]. Tables differ; neither
is a bound of safety (from memory)."""

NOTICED_PA = 0.2
"""Negative pressure that is worth a word where fans cause it [Pa] (common practice, no source)."""

FALL_M, CHILD_GAP_M = 1.8, 0.10
"""Drop that calls for a guard [m] (6 ft, US building practice, from memory), and the widest gap that a child
does not pass [m] (US CPSC: stops at 100 mm)."""

NIGHT_DB = 30.0
"""Steady sound in bedrooms that sleep stands [dB(A)] (WHO, Guidelines for Community Noise, 1999)."""

GARAGE_M3_S = 0.001
"""Air from a garage that is worth a word [m3/s] (common practice, no source)."""

NEAR_OPENING_M = 0.5
"""Setback below which a fan at an open window gets rained on, and one at a door stands in the way [m] (common
practice, no source)."""

DAMP_H = 6.0
"""Time of damp surfaces that is worth a word [h]; mould needs days (common practice, no source)."""


@dataclass(frozen=True)
class Caution:
    """One caution.

    Attributes
    ----------
    about
        Subject in a few words.
    computed
        What in the answer causes it, with numbers.
    do
        What to do.
    source
        Who says so.
    """

    about: str
    computed: str
    do: str
    source: str


def cautions(
    house: House,
    scenario: Scenario,
    flow: Flow,
    *,
    run: Run | None = None,
    at_night: bool = False,
    units: System | None = None,
) -> tuple[Caution, ...]:
    """The cautions that a solved scenario causes.

    Parameters
    ----------
    house
        The house.
    scenario
        The scenario that was solved.
    flow
        Its solution.
    run
        The way through the weather that it was part of, for damp; or None.
    at_night
        True where people sleep while it runs, for noise.
    units
        Units of the sentences; the house file's own if None.

    Returns
    -------
    tuple of Caution
        In order of weight; empty where nothing calls for one.
    """
    system = units or house.show
    found = [
        *_flames(house, scenario, flow, system),
        *_garages(house, flow, system),
        *_smoke(scenario, flow, system),
        *_falls(house, scenario, flow, system),
        *_fans(house, scenario, system),
        *_damp_air(scenario, flow, system),
        *(_damp_walls(run) if run is not None else ()),
        *(_noise(house, scenario) if at_night else ()),
    ]
    return tuple(found)


@lru_cache(maxsize=1)
def _texts() -> dict[str, Any]:
    import tomllib
    from importlib.resources import files

    return tomllib.loads(files("ventplan.airing").joinpath("cautions.toml").read_text(encoding="utf-8"))


def _caution(kind: str, computed: str) -> Caution:
    text = _texts()[kind]
    do = f"{text['do']} {_texts()['closing']}" if text.get("defer") else text["do"]
    return Caution(text["about"], computed, do, text["source"])


def _flames(house: House, scenario: Scenario, flow: Flow, system: System) -> Iterator[Caution]:
    low, high = SCREENING_PA
    for name, air in flow.rooms.items():
        flame, lack = house.rooms[name].flame, -air.pressure_pa
        if not flame or lack < (NOTICED_PA if scenario.placements else low):
            continue
        level = f"{name}, with {flame}, is {show(lack, 'pressure', system)} below the pressure outdoors"
        if lack >= low:
            flag = show(high if lack >= high else low, "pressure", system)
            yield _caution("flame, flagged", f"{level}: beyond the {flag} at which such rooms are flagged")
        else:
            yield _caution("flame, mild", f"{level}; such rooms are flagged at {show(low, 'pressure', system)}")


def _garages(house: House, flow: Flow, system: System) -> Iterator[Caution]:
    for name, room in house.rooms.items():
        if "garage" not in room.use.lower():
            continue
        drawn = sum(
            opening.forward_m3_s if opening.joins[0] == name else opening.backward_m3_s
            for opening in flow.openings.values()
            if name in opening.joins and OUTDOORS not in opening.joins
        )
        if drawn > GARAGE_M3_S:
            yield _caution("garage", f"{show(drawn, 'flow', system)} come into the house from {name}")


def _smoke(scenario: Scenario, flow: Flow, system: System) -> Iterator[Caution]:
    brought = sum(room.outdoor_m3_s for room in flow.rooms.values())
    opened = any(f.free_area_m2 > 0.0 for f in flow.openings.values() if OUTDOORS in f.joins)
    blown = any(fan.driven_m3_s != 0.0 for fan in flow.fans)
    if scenario.outdoors.smoke and brought > 0.0 and (opened or blown):
        yield _caution("smoke", f"{show(brought, 'flow', system)} of that air come in")


def _falls(house: House, scenario: Scenario, flow: Flow, system: System) -> Iterator[Caution]:
    for name, solved in flow.openings.items():
        opening = house.openings[name]
        gap = gap_m(opening, scenario)
        if opening.drop_m <= FALL_M or solved.free_area_m2 <= 0.0 or gap <= CHILD_GAP_M:
            continue
        screen = "its screen on, which holds nobody" if name in scenario.screened else "no screen on"
        drop = show(opening.drop_m, "length", system)
        yield _caution("fall", f"{name} is open by {show(gap, 'length', system)} above a drop of {drop}, with {screen}")


def gap_m(opening: Opening, scenario: Scenario) -> float:
    """The narrower side of what is open.

    Parameters
    ----------
    opening
        The opening.
    scenario
        The state that it is in.

    Returns
    -------
    float
        Width or height of the free area, whichever is less [m].
    """
    share, along_width = scenario.shares[opening.name], opening.free_along == "width"
    return min(opening.width_m * (share if along_width else 1.0), opening.height_m * (1.0 if along_width else share))


def _fans(house: House, scenario: Scenario, system: System) -> Iterator[Caution]:
    for placement in scenario.placements:
        opening = house.openings[placement.opening]
        near = placement.sealed or placement.setback_m < NEAR_OPENING_M
        place = "sealed in" if placement.sealed else f"{show(placement.setback_m, 'length', system)} from"
        if scenario.outdoors.rain and (placement.stands_in == OUTDOORS or (near and opening.is_external)):
            yield _caution("rain", f"it rains, and {placement.fan} is {place} {opening.name}")
        if placement.stands_in == OUTDOORS:
            yield _caution("fan outdoors", f"{placement.fan} stands outdoors, {place} {opening.name}")
        if near and opening.kind in ("door", "passage"):
            yield _caution("fan in a doorway", f"{placement.fan} is {place} {opening.name}")


def _damp_air(scenario: Scenario, flow: Flow, system: System) -> Iterator[Caution]:
    outdoors = scenario.outdoors
    if outdoors.relative_humidity <= 0.0:
        return
    state = {"temperature_c": outdoors.temperature_c, "relative_humidity": outdoors.relative_humidity}
    ratio, dew = humidity_ratio(**state), show(float(dew_point(**state)), "temperature", system)
    for name, air in flow.rooms.items():
        room_c = scenario.temperatures_c[name]
        humidity = float(relative_humidity_at(temperature_c=room_c, ratio=ratio))
        if humidity > MOULD_HUMIDITY and room_c < outdoors.temperature_c and air.outdoor_air_change_per_h > 0.5:
            cool = show(room_c, "temperature", system)
            yield _caution(
                "damp air", f"air of dew point {dew} comes into {name} at {cool}: {100 * humidity:.0f} % there"
            )


def _damp_walls(run: Run) -> Iterator[Caution]:
    room, humidity = run.wettest
    if humidity >= 1.0:
        yield _caution("damp walls", f"water condenses on the walls of {room}")
    elif run.damp_h > DAMP_H:
        worst = f"the worst, in {room}, reach {100.0 * humidity:.0f} %"
        yield _caution("damp walls", f"walls stay above 80 % humidity for {run.damp_h:.0f} h; {worst}")


def _noise(house: House, scenario: Scenario) -> Iterator[Caution]:
    loud: dict[str, float] = {}
    for placement in scenario.placements:
        room, sound = house.rooms.get(placement.stands_in), fan_of(house, placement).sound_db
        if room is not None and sound is not None and ("bed" in room.use.lower() or room.people > 0.0):
            loud[room.name] = loud.get(room.name, 0.0) + 10.0 ** (sound / 10.0)
    for name, strength in loud.items():
        level = 10.0 * math.log10(strength)
        if level > NIGHT_DB:
            yield _caution("noise", f"the fans in {name} make {level:.0f} dB(A) at 1 m")
