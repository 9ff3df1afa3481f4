"""Figures of fans that cannot be true, and what a file leaves out of a house's leakage.

The bounds are common practice, no source: wide enough for any fan of a household.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from ventplan.house.reading import Reading
from ventplan.house.records import House
from ventplan.house.shown import rounded
from ventplan.house.yaml_text import Path_
from ventplan.physics.jet import thrust_of_uniform_jet

FASTEST_M_S, FASTEST_BY_THRUST_M_S = 30.0, 20.0
"""Mean speed through the blades above which a flow, and a flow worked out from a thrust, must be wrong [m/s]."""
LEAST_FLOW_M3_S, MOST_FLOW_M3_S = 0.01, 5.0
"""Flow through the blades of a portable fan [m3/s]."""
WRONG_RATIO, ODD_RATIO = 8.0, 3.0
"""Thrust over rho Q^2 / A, or the other way round, from where it is a mistake, and from where it is remarked on [-]."""
GRAMS = "If a scale showed the thrust in grams, write gf, such as thrust: 150 gf (1.5 N)"


def fan_is_plausible(
    reading: Reading,
    path: Path_,
    *,
    flow_m3_s: float,
    thrust_n: float,
    diameter_m: float,
    density: float,
    power_w: float | None,
    how: Mapping[str, str],
    like: tuple[str, float] | None,
) -> bool:
    """True for a fan whose figures fit one another; notes a mistake where they cannot, a remark where they hardly do.

    Parameters
    ----------
    reading
        The reading, which keeps mistakes and remarks.
    path
        The fan in the file.
    flow_m3_s, thrust_n, diameter_m
        Its figures [m3/s], [N], [m].
    density
        Density of the air [kg/m3].
    power_w
        Electrical input [W], or None.
    how
        Which of them were estimated, and how.
    like
        Name of the catalogue fan it is said to be like, and that fan's thrust [N]; None for a fan of its own.

    Notes
    -----
    A uniform jet through the disc A of the blades has thrust = rho Q^2 / A: the ratio to it is 1 to 1.3 for most fans.
    """
    disc = math.pi / 4.0 * diameter_m**2
    speed = flow_m3_s / disc
    by_thrust = "flow_m3_s" in how and "thrust_n" not in how
    if not by_thrust and not LEAST_FLOW_M3_S <= flow_m3_s <= MOST_FLOW_M3_S:
        reading.report(
            (*path, "flow"),
            f"{flow_m3_s:.3g} m³/s through the blades",
            f"from {LEAST_FLOW_M3_S:g} to {MOST_FLOW_M3_S:g} m³/s for a portable fan",
            "Check the unit of the flow; a point is a decimal point: 2.400 m3/h is 2.4 m3/h",
        )
        return False
    if by_thrust and like is not None and ratio_apart(thrust_n / like[1]) > WRONG_RATIO:
        reading.report(
            (*path, "thrust"), f"{thrust_n:.3g} N", f"about the thrust of a {like[0]}, {like[1]:.3g} N", GRAMS
        )
        return False
    if speed > (FASTEST_BY_THRUST_M_S if by_thrust else FASTEST_M_S):
        reading.report(
            (*path, "thrust" if by_thrust else "flow"),
            f"{thrust_n:.3g} N from blades of {diameter_m:.2f} m, a mean speed of {speed:.0f} m/s"
            if by_thrust
            else f"{flow_m3_s:.3g} m³/s through {diameter_m:.2f} m, a mean speed of {speed:.0f} m/s",
            f"up to {FASTEST_BY_THRUST_M_S if by_thrust else FASTEST_M_S:g} m/s through the blades",
            GRAMS if by_thrust else "Check the unit of the flow, and the diameter",
        )
        return False
    uniform = float(thrust_of_uniform_jet(flow_m3_s=flow_m3_s, area_m2=disc, density=density))
    apart = ratio_apart(thrust_n / uniform)
    words = (
        f"{thrust_n:.3g} N, {rounded(thrust_n / uniform, 2, 3)} times the {uniform:.2g} N of "
        f"{flow_m3_s:.3g} m³/s through blades of {diameter_m:.2f} m (rho Q² / A)"
    )
    if apart > WRONG_RATIO:
        allowed = f"from 1/{WRONG_RATIO:g} of that to {WRONG_RATIO:g} times"
        hint = GRAMS if thrust_n > uniform else "Check the units of flow and thrust"
        reading.report((*path, "thrust" if "thrust_n" not in how else "flow"), words, allowed, hint)
        return False
    in_the_jet = thrust_n * speed / 2.0
    if power_w is not None and in_the_jet > power_w:
        reading.report(
            (*path, "power"),
            f"{power_w:.3g} W, less than the {in_the_jet:.2g} W that its jet carries (half of thrust times speed)",
            "most household fans take 5 to 100 times that",
            "Check the units of power, flow and thrust",
        )
        return False
    if apart > ODD_RATIO:
        reading.remarks.append(
            f"fan {path[-1]}: thrust {words}; most fans have 1 to 1.3 times: check flow, thrust, blades"
        )
    return True


def ratio_apart(ratio: float) -> float:
    """A ratio or its reciprocal, whichever is above 1 [-]."""
    return max(ratio, 1.0 / ratio)


USUAL = "most houses leak 3 to 10 air changes an hour at 50 Pa (common practice, no source)"
"""How leaky houses are."""

NO_LEAKAGE = (
    "no leakage of walls, only the cracks of shut openings, so that the house is very tight when all is shut; "
    f"{USUAL}: write leakage: {{ach50: 6}}, see docs/house_file.md"
)
"""What ``check`` says among what was assumed."""


def tight_notes(house: House) -> tuple[str, ...]:
    """A note for answers that rest on how leaky a shut house is; nothing where the file tells its leakage."""
    if NO_LEAKAGE not in house.defaults:
        return ()
    return (
        f"The house file gives no leakage of walls, so that what is shut is very tight here; {USUAL}. Write "
        "leakage: {ach50: 6} to see what that changes (docs/house_file.md).",
    )
