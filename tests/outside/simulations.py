"""Two flow simulations of our own, and what the model makes of the same cases.

The figures stand in ``data/``, each file under a head that says how they were made. Errors are shares of the fan's own
flow in the open: an error of 0.1 for a fan of 0.5 m3/s is 0.05 m3/s.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from unittest.mock import patch

import numpy as np
from numpy.typing import NDArray

from ventplan.house.records import OUTDOORS, Fan, House, Opening, Outdoors, Placement, Room, Scenario
from ventplan.network import Flow, solve
from ventplan.physics import jet_path, orifice
from ventplan.physics.jet import start_half_width
from ventplan.physics.jet_capture import JetCapture, capture_jets
from ventplan.physics.jet_path import Path as JetPath
from ventplan.physics.jet_path import Source, jet_at_plane

Floats = NDArray[np.float64]

DATA = Path(__file__).parent / "data"
DENSITY = 1.2

DISC_FLOW_M3_S, DISC_THRUST_N, DISC_RADIUS_M, DISC_SPREAD = 0.363, 1.5, 0.25, 0.115
"""The disc of the axisymmetric simulation: its flow in the open as simulated, its spread that of the round jet."""

ROOM_FAN = Fan("fan", flow_m3_s=0.45, thrust_n=1.8, diameter_m=0.5, spread=0.19)
"""The fan of the room simulation, with the spread that its jet shows there."""

RETURN_DISCHARGE = 0.68
"""Discharge coefficient that the room simulation shows at its return opening [-]."""


@dataclass(frozen=True)
class Case:
    """One simulated case and the model's answer to it.

    Attributes
    ----------
    row
        The row of the data file.
    simulated_m3_s, model_m3_s
        Net flow through the opening [m3/s].
    blades_m3_s
        The fan's own flow in the open [m3/s].
    """

    row: dict[str, str]
    simulated_m3_s: float
    model_m3_s: float
    blades_m3_s: float

    @property
    def error(self) -> float:
        """Model minus simulation, as a share of the fan's own flow [-]."""
        return (self.model_m3_s - self.simulated_m3_s) / self.blades_m3_s

    def __getitem__(self, column: str) -> float:
        return float(self.row[column])


def rows(name: str) -> list[dict[str, str]]:
    """The rows of a data file, without its head."""
    lines = (DATA / name).read_text("utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def rms(errors: Iterable[float]) -> float:
    """Root of the mean square."""
    return float(np.sqrt(np.mean(np.square(list(errors)))))


def disc_capture(setback_m: float, opening_radius_m: float) -> JetCapture:
    """What the disc's jet brings to a square opening of the same area as the round one, with no walls about."""
    side = opening_radius_m * math.sqrt(math.pi)
    start = start_half_width(flow_m3_s=DISC_FLOW_M3_S, thrust_n=DISC_THRUST_N, density=DENSITY)
    source = Source(DISC_THRUST_N, float(start), DISC_SPREAD, DISC_RADIUS_M)
    crossing = jet_at_plane(source=source, path=JetPath(setback_m))
    return capture_jets(jets=[crossing], width_m=side, height_m=side, density=DENSITY)


def flow_at_opening(capture: JetCapture, *, area_m2: float, dp_pa: float, discharge: float = 0.62) -> float:
    """Net flow through an opening with a jet: the covered part by its own law, the rest as an orifice [m3/s]."""
    push, quadratic = capture.covered_coefficients(density=DENSITY)
    linear, plain = orifice.orifice_coefficients(discharge=discharge, density=DENSITY)
    covered = orifice.face_velocity(dp_pa=push + dp_pa, linear=linear, quadratic=quadratic) * capture.covered_m2
    rest = orifice.face_velocity(dp_pa=dp_pa, linear=linear, quadratic=plain) * (area_m2 - capture.covered_m2)
    return float(covered + rest)


def opening_cases() -> list[Case]:
    """A jet at a round opening in a thin wall, against axisymmetric simulation."""
    cases = []
    for row in rows("jet_at_round_opening.csv"):
        radius, dp = float(row["opening_radius_m"]), float(row["room_minus_outdoors_Pa"])
        capture = disc_capture(float(row["setback_m"]), radius)
        model = flow_at_opening(capture, area_m2=math.pi * radius**2, dp_pa=dp)
        cases.append(Case(row, float(row["net_flow_m3_s"]), model, DISC_FLOW_M3_S))
    return cases


def room_house(*, width_m: float, height_m: float, sill_m: float, return_area_m2: float) -> House:
    """The simulated room: 6 x 4 x 2.5 m, an opening in the middle of each end wall, no weather."""
    side = math.sqrt(return_area_m2)
    room = Room("room", ((0.0, 0.0), (6.0, 0.0), (6.0, 4.0), (0.0, 4.0)), ceiling_m=2.5)

    def opening(name: str, x: float, out: float, width: float, height: float, sill: float, discharge: float) -> Opening:
        return Opening(
            name=name,
            kind="passage",
            joins=("room", OUTDOORS),
            start=(x, 2.0 - width / 2.0),
            end=(x, 2.0 + width / 2.0),
            normal=(out, 0.0),
            bottom_m=sill,
            height_m=height,
            discharge=discharge,
            wind_pressure=0.0,
        )

    openings = {
        "target": opening("target", 6.0, 1.0, width_m, height_m, sill_m, 0.62),
        "return": opening("return", 0.0, -1.0, side, side, 1.25 - side / 2.0, RETURN_DISCHARGE),
    }
    still = Scenario("still", dict.fromkeys(openings, 1.0), frozenset(), (), Outdoors(), {"room": 20.0})
    return House("room", {"room": room}, openings, {"fan": ROOM_FAN}, {}, {"still": still})


def solve_room(house: House, *, setback_m: float, fan_height_m: float) -> Flow:
    """The room with its fan in a place."""
    placed = Placement("fan", "target", "room", setback_m, height_m=fan_height_m)
    return solve(house, replace(house.first_scenario(), placements=(placed,)))


def house_of(row: dict[str, str]) -> House:
    """The room of one row of the simulation."""
    names = ("width_m", "height_m", "sill_m", "return_area_m2")
    return room_house(**{name: float(row[name]) for name in names})


def room_cases() -> list[Case]:
    """A fan in a closed room, through the whole solver, against large-eddy simulation on its usual grid."""
    cases = []
    for row in rows("fan_in_a_room.csv"):
        if row["grid_m"] != "0.03":
            continue
        flow = solve_room(house_of(row), setback_m=float(row["setback_m"]), fan_height_m=float(row["fan_height_m"]))
        net = flow.openings["target"].net_m3_s
        cases.append(Case(row, float(row["net_flow_m3_s"]), net, ROOM_FAN.flow_m3_s))
    return cases


def errors_left_out(constants: Sequence[str]) -> list[float]:
    """Error of each case, openings then rooms, when the jet's fitted constants are fitted to all the others.

    Straight lines through the fit in use give it without fitting again: e / (1 - h), with h the leverage of the case,
    the diagonal of J J+ (Allen 1974, Technometrics 16:125, PRESS; from memory). The constants in use are round figures
    near the least squares, not at it, so this is close, not exact.
    """

    def errors() -> Floats:
        return np.array([case.error for case in (*opening_cases(), *room_cases())])

    columns = []
    for name in constants:
        value = getattr(jet_path, name)
        ends = []
        for factor in (0.95, 1.05):
            with patch.object(jet_path, name, factor * value):
                ends.append(errors())
        columns.append((ends[1] - ends[0]) / (0.1 * value))
    jacobian = np.stack(columns, axis=1)
    leverage = np.sum(jacobian * np.linalg.pinv(jacobian).T, axis=1)
    left_out: list[float] = (errors() / (1.0 - leverage)).tolist()
    return left_out
