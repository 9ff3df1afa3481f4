"""What people with fans and an anemometer report, and what the model makes of the same set-ups.

Where the reading was taken behind a bare opening, the stream may have narrowed: reading times area lies between the
mean flow and the mean flow over the discharge coefficient. A screen evens the stream out. Thrust was not measured, so
the model's flow is uncertain by the square root of a third more or less thrust.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

from ventplan.advice import SetbackAnswer, setback_curve
from ventplan.advice.setback import solve_placed
from ventplan.house import House, Placement, parse_house, read_house
from ventplan.house.catalogue import data

HOUSES = Path(__file__).parents[2] / "house_examples"
THRUST_BAND = (2.0 / 3.0, 4.0 / 3.0)
DISTANCE_BAND_M = 1.0


@dataclass(frozen=True)
class Observation:
    """One thing that practice reports; speeds and setbacks are ranges."""

    claim: str
    house: str
    fan: str
    opening: str
    back_through: str
    mark: str
    setback_m: float | None = None
    speed_m_s: tuple[float, float] | None = None
    best_setback_m: tuple[float, float] | None = None
    flow_over_blades: float | None = None
    too_low_because: str | None = None


@dataclass(frozen=True)
class Expected:
    """What the model expects of it: a range of flow [m3/s], and where it finds the best setback."""

    mean_m3_s: float
    flow_m3_s: tuple[float, float]
    area_m2: float
    blades_m3_s: float
    best_setback_m: float = field(default=float("nan"))

    def allows(self, low_m3_s: float, high_m3_s: float) -> bool:
        """Whether a reported range of flow touches the expected one."""
        return low_m3_s <= self.flow_m3_s[1] and high_m3_s >= self.flow_m3_s[0]


def observations() -> list[Observation]:
    """Everything in ``data/practice.toml``."""
    with (Path(__file__).parent / "data" / "practice.toml").open("rb") as file:
        return [
            Observation(**{key: tuple(v) if isinstance(v, list) else v for key, v in entry.items()})
            for entry in tomllib.load(file)["observation"]
        ]


@cache
def house_named(name: str) -> House:
    """An example house."""
    return read_house(HOUSES / f"{name}.yaml")


@cache
def best_of(house: str, fan: str, opening: str) -> SetbackAnswer:
    """The setback curve of a fan in an example house as it stands."""
    return setback_curve(house_named(house), None, fan=fan, opening=opening)


def expected(seen: Observation) -> Expected:
    """The model's answer to an observation."""
    house = house_named(seen.house)
    back = house.openings[seen.back_through]
    blades = house.fans[seen.fan].flow_m3_s
    best = float("nan")
    if seen.setback_m is None:
        curve = best_of(seen.house, seen.fan, seen.opening).curves[0]
        mean, best = curve.best_flow_m3_s, curve.best_setback_m
    else:
        placed = Placement(seen.fan, seen.opening, house.openings[seen.opening].joins[0], seen.setback_m)
        mean = solve_placed(house, house.first_scenario(), placed).openings[seen.opening].net_m3_s
    narrowing = 1.0 if back.screen is not None else 1.0 / back.discharge
    low, high = (mean * share**0.5 for share in THRUST_BAND)
    return Expected(mean, (low, high * narrowing), back.area_m2, blades, best)


def with_every_fan(name: str) -> House:
    """An example house with every fan of the catalogue in it."""
    text = (HOUSES / f"{name}.yaml").read_text("utf-8")
    head = text.split("\nfans:\n", 1)[0]
    fans = "".join(f"  {fan}: {{like: {fan}}}\n" for fan in data("fans.yaml"))
    return parse_house(f"{head}\nfans:\n{fans}\nscenarios:\n  as it stands: {{}}\n")
