"""A fan measured in a cardboard box: what it would move without the back pressure of the box's exit."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ventplan.errors import NoAnswerError
from ventplan.measure.propagation import evaluate
from ventplan.measure.uncertainty import CALIBRATION, Array, Estimate, single


@dataclass(frozen=True)
class BoxResult:
    """Flow of a fan without its box.

    Attributes
    ----------
    free_flow
        Flow through the blades in the open [m3/s].
    back_pressure
        Static pressure in the box while it was measured [Pa].
    lost
        Share of the free flow that the box took away [-].
    """

    free_flow: Estimate
    back_pressure: Estimate
    lost: float


def share_of_free_flow(*, pressure_ratio: ArrayLike, linear_share: ArrayLike) -> Array:
    """Flow over free flow on the fan curve p / p0 = 1 - c r - (1 - c) r^2 [-], nan above the shut-off
    pressure.

    Parameters
    ----------
    pressure_ratio
        Static pressure over shut-off pressure [-].
    linear_share
        c: 1 for a straight line, 0 for a parabola [-].
    """
    c = np.asarray(linear_share, dtype=float)
    rest = 1.0 - np.asarray(pressure_ratio, dtype=float)
    # The form that stays finite as c goes to 1.
    root = np.sqrt(np.where(rest >= 0.0, c**2 + 4.0 * (1.0 - c) * rest, np.nan))
    # Rounding may leave free delivery a hair above itself.
    # At shut-off a parabola gives 0 / 0.
    return np.asarray(np.minimum(2.0 * rest / np.maximum(c + root, 1e-300), 1.0))


def without_box(
    *,
    flow: Estimate,
    exit_area_m2: float,
    shutoff_pa: float,
    shutoff_error: float = 0.3,
    discharge: float = 0.62,
    discharge_error: float = 0.05,
    density_kg_m3: float = 1.2,
    seed: int = 1,
) -> BoxResult:
    """The flow that the fan would have without the box: its curve, and the loss at the box's exit.

    The exit holds back p = rho / 2 (Q / (Cd A))^2, and on its curve the fan moves Q = r(p / p0) Q0.

    Parameters
    ----------
    flow
        Flow through the exit [m3/s].
    exit_area_m2
        Area of the exit [m2].
    shutoff_pa
        Shut-off pressure of the fan [Pa].
    shutoff_error
        Its relative standard uncertainty [-]; it is seldom known well.
    discharge, discharge_error
        Discharge coefficient of the exit, and its relative standard uncertainty [-].
    density_kg_m3
        Density of the air [kg/m3].
    seed
        Seed of the draws.

    Raises
    ------
    NoAnswerError
        Where the exit would hold back more than half of what the fan can push against: then the answer would
        be the guess of the curve rather than the reading.
    """

    def back_pressure(q: ArrayLike, vane: ArrayLike, cd: ArrayLike) -> Array:
        through = np.asarray(q) + np.asarray(vane)
        return np.asarray(density_kg_m3 / 2.0 * (through / (np.asarray(cd) * exit_area_m2)) ** 2)

    def free(q: ArrayLike, vane: ArrayLike, cd: ArrayLike, p0: ArrayLike, c: ArrayLike) -> Array:
        ratio = back_pressure(q, vane, cd) / np.asarray(p0)
        share = share_of_free_flow(pressure_ratio=ratio, linear_share=np.clip(c, 0.0, 1.0))
        return np.asarray((np.asarray(q) + np.asarray(vane)) / share)

    held = float(back_pressure(flow.value, 0.0, discharge))
    if held > 0.5 * shutoff_pa:
        raise NoAnswerError(
            f"The exit of the box holds back {held:.1f} Pa of the {shutoff_pa:.0f} Pa that the fan can push: "
            "the free flow would be a guess at the fan's curve. Cut the exit larger and read again."
        )
    # The anemometer's part is kept apart: the same vane reads the jet of this fan, too.
    shared = math.sqrt(sum(share.standard**2 for share in flow.budget if share.name == CALIBRATION))
    rest = math.sqrt(max(flow.standard**2 - shared**2, 0.0))
    boxed = (
        single("flow through the box", mean=flow.value, standard=rest, degrees=flow.degrees),
        single(CALIBRATION, mean=0.0, standard=shared),
    )
    exit_ = single("discharge of the exit", mean=discharge, standard=discharge * discharge_error)
    curve = (
        single("shut-off pressure", mean=shutoff_pa, standard=shutoff_pa * shutoff_error),
        # Anything from a parabola to a straight line: rectangular from 0 to 1.
        single("shape of the fan curve", mean=0.5, standard=1.0 / math.sqrt(12.0)),
    )
    generator = np.random.default_rng(seed)
    free_flow = evaluate(free, (*boxed, exit_, *curve), generator=generator, unit="m3/s")
    pressure = evaluate(back_pressure, (*boxed, exit_), generator=generator, unit="Pa")
    return BoxResult(free_flow, pressure, 1.0 - flow.value / free_flow.value)
