"""Remarks on what is possible but unlikely in a house: read all the same, and listed by ``ventplan check``."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping

from ventplan.house.catalogue import usual_figures
from ventplan.house.fan_pose import fan_pose
from ventplan.house.fields import listed, nearest
from ventplan.house.reading import Reading
from ventplan.house.records import Fan, House, Opening, Room, Scenario
from ventplan.house.units import System, fixed, show
from ventplan.house.weather import odd_outdoor_air

NEAR_HEAD_M = 0.3
"""Distance of the blades from a head below which a fan is remarked on [m]; common practice, no source."""
COLD_C, HOT_C = 5.0, 45.0
"""Air temperatures indoors beyond which a unit was probably mistaken [°C]."""


def remark_on_temperatures(reading: Reading, rooms: Mapping[str, Room], scenarios: Mapping[str, Scenario]) -> None:
    """Remark on indoor air that is colder or hotter than people keep it, and on outdoor air that hardly any place
    has."""
    outdoors = (odd_outdoor_air(scenario.outdoors.temperature_c) for scenario in scenarios.values())
    reading.remarks += dict.fromkeys(filter(None, outdoors))
    odd: dict[float, list[str]] = {}
    for name, room in rooms.items():
        odd.setdefault(room.temperature_c, []).append(name)
    remarked: set[float] = set()
    for temperature_c, names in odd.items():
        if not COLD_C <= temperature_c <= HOT_C:
            remarked.add(temperature_c)
            which = "every room" if len(names) == len(rooms) > 1 else ", ".join(names)
            reading.remarks.append(odd_air(temperature_c, f"in {which}"))
    for scenario in scenarios.values():
        for temperature_c in dict.fromkeys(scenario.temperatures_c.values()):
            if not COLD_C <= temperature_c <= HOT_C and temperature_c not in remarked:
                remarked.add(temperature_c)
                reading.remarks.append(odd_air(temperature_c, f"in scenario {scenario.name}"))


def odd_air(temperature_c: float, where: str) -> str:
    """A remark on one temperature [°C]."""
    return f"indoor air of {fixed(temperature_c, 1)} °C {where}: outside {COLD_C:g} to {HOT_C:g} °C; is the unit right?"


def odd_figures(values: Mapping[str, float | None], section: str, of: str, system: System) -> Iterator[str]:
    """A remark on each figure outside what is usual for it.

    Parameters
    ----------
    values
        Figures by their name in ``data/usual.yaml``, SI; None is passed over.
    section
        Section of that table.
    of
        What they are figures of, such as ``room hall``.
    system
        Units of the remarks.
    """
    for name, value in values.items():
        usual = usual_figures()[section][name]
        low, high, quantity = float(usual["low"]), float(usual["high"]), usual["quantity"]
        if value is None or low - 1e-9 <= value <= high + 1e-9:
            continue

        def shown(number: float, quantity: str = quantity) -> str:
            return f"{number:g}" if quantity == "number" else show(number, quantity, system)

        hint = f": {usual['hint']}" if "hint" in usual else ""
        yield f"{of}: {name} of {shown(value)}, where {shown(low)} to {shown(high)} is usual{hint}"


def remark_on_house(reading: Reading, house: House) -> None:
    """Remark on every figure of a house that is possible but unlikely."""
    leakage = reading.spec.leakage

    def remark(section: str, of: str, **values: float | None) -> None:
        named = {name.replace("_", " "): value for name, value in values.items()}
        for sentence in odd_figures(named, section, of, house.show):
            reading.remark(sentence)

    ach50 = None if leakage is None else leakage.ach50
    figures: dict[str, float | None] = {"leakage at 50 Pa": ach50, "fabric": house.fabric_w_k}
    for sentence in odd_figures(figures, "house", "house", house.show):
        reading.remark(sentence)
    for scenario in house.scenarios.values():
        air, wind = scenario.outdoors, scenario.outdoors.wind
        remark("outdoors", "outdoors", wind=wind.speed_m_s or None, shelter=air.shelter,
               height_of_the_wind=wind.height_m, altitude=air.altitude_m, humidity=air.relative_humidity)  # fmt: skip
    for room in house.rooms.values():
        remark_on_room(reading, room, remark)
    for opening in house.openings.values():
        remark_on_opening(reading, house, opening, remark)
    for fan in house.fans.values():
        own = {"power": fan.power_w, "sound": fan.sound_db, "pressure at no flow": fan.shutoff_pa,
               "diameter": fan.diameter_m, "highest axis": fan.highest_m, "spread": fan.spread,
               "error of the flow": fan.flow_error, "error of the thrust": fan.thrust_error,
               "error of the spread": fan.spread_error}  # fmt: skip
        remark_on_settings(reading, fan)
        for sentence in odd_figures(own, "fans", f"fan {fan.name}", house.show):
            reading.remark(sentence)
    for obstacle in house.obstacles.values():
        remark("obstacles", f"obstacle {obstacle.name}", height=obstacle.height_m)
    for person in house.people_at.values():
        if person.asleep and house.rooms[person.room].is_garage:
            reading.remark(f"people at {person.name}: a place to sleep in {person.room}, a garage")
        remark("people at", f"people at {person.name}", height_of_the_head=person.height_m)
    for surface, height in house.surfaces.items():
        remark("surfaces", f"surface {surface}", height=height)
    for scenario in house.scenarios.values():
        remark_on_placements(reading, house, scenario, remark)
    for section in ("rooms", "openings", "fans", "obstacles", "scenarios", "surfaces", "people_at"):
        same: dict[str, str] = {}
        for name in getattr(house, section):
            twin = same.setdefault(" ".join(name.lower().split()), name)
            if twin != name:
                reading.remark(f"{section.replace('_', ' ')}: {twin} and {name} differ in capitals or spaces only")
    night = house.tonight
    swing = None if night.high_c is None or night.low_c is None else night.high_c - night.low_c
    remark("tonight", "tonight", quiet=night.quiet_db, noise=night.noise_db, low=night.low_c, high=night.high_c,
           difference_of_high_and_low=swing,
           hours_of_sleep=(night.waking_h - night.bedtime_h) % 24.0)  # fmt: skip
    if house.rooms and house.openings and not any(opening.is_external for opening in house.openings.values()):
        reading.remark("house: no opening leads outdoors: no outdoor air can come in")
    for room_name in house.rooms:
        if house.openings and not any(room_name in opening.joins for opening in house.openings.values()):
            reading.remark(f"room {room_name}: no opening leads into it: its air does not move")


def remark_on_settings(reading: Reading, fan: Fan) -> None:
    """Remark on settings that do not go down from the fan's own figures."""
    for setting, before in zip(fan.settings, (None, *fan.settings), strict=False):
        if before is not None and setting.speed >= before.speed:
            reading.remark(f"fan {fan.name}: {before.name} and {setting.name} are the same speed")
        for what, most in (("power_w", fan.power_w), ("sound_db", fan.sound_db)):
            value = getattr(setting, what)
            if value is not None and most is not None and value > most * 1.001:
                word = f"{what.split('_')[0]} of {value:g} on {setting.name}"
                reading.remark(f"fan {fan.name}: {word}, more than the {most:g} of the fan itself")
    if fan.settings and fan.settings[0].speed < 0.995:
        first = fan.settings[0]
        reading.remark(
            f"fan {fan.name}: its highest setting, {first.name}, is {first.speed:.0%} of its own figures: flow, thrust "
            "and power are those of the highest setting"
        )


def remark_on_placements(reading: Reading, house: House, scenario: Scenario, remark: Callable[..., None]) -> None:
    """Remark on fans far from their opening, high up, or at a head."""
    for placement in scenario.placements:
        of = f"scenario {scenario.name}: {placement.fan}"
        remark("placements", of, setback=placement.setback_m, height_of_what_it_stands_on=placement.support_m)
        if placement.sealed:
            continue
        pose = fan_pose(house, placement, scenario.shares[placement.opening])
        for person in house.people_at.values():
            apart = math.dist((pose.x, pose.y, pose.height_m), (*person.at, person.height_m)) - pose.radius_m
            if person.room == placement.stands_in and apart < NEAR_HEAD_M:
                gap = show(max(apart, 0.0), "length", house.show)
                reading.remark(f"{of} has its blades {gap} from the head at {person.name}")


def remark_on_room(reading: Reading, room: Room, remark: Callable[..., None]) -> None:
    """Remark on a room's figures and on a use that ventplan does not know."""
    words = f"{room.use} {room.name}".lower()
    sides = [max(p[i] for p in room.corners) - min(p[i] for p in room.corners) for i in (0, 1)]
    usual = usual_figures()["rooms"]
    low_rooms = any(word in words for word in usual["ceiling"]["but"])
    small_rooms = any(word in words for word in usual["shortest side"]["but"])
    remark("rooms", f"room {room.name}", ceiling=None if low_rooms else room.ceiling_m, floor=room.floor_m,
           longest_side=max(sides), shortest_side=None if small_rooms else min(sides), mixing=room.mixing,
           gain=room.gain_w, people=room.people,
           people_for_each_square_metre=room.people / max(room.area_m2, 1e-9))  # fmt: skip
    known = usual_figures()["uses"]
    if room.use and not any(word in room.use for word in known):
        near = nearest(room.use, known)
        reading.remark(
            f"room {room.name}: use: {room.use} is no use that ventplan knows, so that no caution rests on it. "
            + (near or f"It knows {listed(known, 60)}")
        )


def remark_on_opening(reading: Reading, house: House, opening: Opening, remark: Callable[..., None]) -> None:
    """Remark on an opening's figures and on the shape of its frame."""
    spec = reading.opening_specs[opening.name]
    of, screen = f"opening {opening.name}", opening.screen
    kinds = usual_figures()["openings"]["discharge"]["kinds"]
    remark("openings", of, discharge=opening.discharge if opening.kind in kinds else None,
           crack_flow_at_1_Pa=opening.leak_m3_s, wind_pressure=opening.wind_pressure, loss=spec.loss,
           temperature_of_the_column=opening.column_c,
           open_part_of_the_screen=screen and screen.open_area_ratio)  # fmt: skip
    floors = [house.rooms[place].floor_m for place in opening.joins if place in house.rooms]
    sizes = {"width": opening.width_m, "height": opening.height_m, "sill": opening.bottom_m - max(floors)}
    for what, (low, high) in usual_figures()["frames"][opening.kind].items():
        if not float(low) - 1e-9 <= sizes[what] <= float(high) + 1e-9:
            range_ = f"{show(float(low), 'length', house.show)} to {show(float(high), 'length', house.show)}"
            order = "; size is [width, height]" if what != "sill" else ""
            value = show(sizes[what], "length", house.show)
            reading.remark(f"{of}: {what} of {value} for a {opening.kind}, where {range_} is usual{order}")
    for word, share in (("open", opening.open_share), ("full", opening.full_share)):
        if 0.0 < share < 0.02 and getattr(spec, word) is not None and getattr(spec, word).kind != "share":
            reading.remark(f"{of}: {word} frees {share:.1%} of its frame: is the unit right?")
    for amount in (spec.open, spec.full):
        if amount is not None and amount.kind == "share" and 0.0 < amount.value < 0.02:
            reading.remark(f"{of}: {amount.value * 100:g} % is hardly open; is it {amount.value * 1e4:g} %?")
    if spec.drop is not None and spec.drop > max(opening.bottom_m, 0.0) + 3.0:
        drop, level = (show(value, "length", house.show) for value in (spec.drop, opening.bottom_m))
        reading.remark(f"{of}: a drop of {drop} through an opening {level} above the ground outside")


USUAL = "most houses leak 3 to 10 air changes an hour at 50 Pa (common practice, no source)"
"""How leaky houses are."""

NO_LEAKAGE = (
    "no leakage of walls, only the cracks of shut openings, so that the house is very tight when all is shut; "
    f"{USUAL}: write leakage: {{ach50: 6}}, see docs/house_file.md"
)
"""What ``check`` says among what was assumed."""


def leakage_is_assumed(house: House) -> bool:
    """True where the house file gives no leakage of walls, so that a shut house is very tight."""
    return NO_LEAKAGE in house.defaults
