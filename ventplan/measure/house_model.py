"""What a house should read at its openings and in its jets, and how far such a prediction may be off."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from ventplan.errors import InputError, NoAnswerError
from ventplan.house.records import House, Placement, Scenario
from ventplan.measure.anemometer import Calibration
from ventplan.measure.inference import Data, Model, Noise, Posterior, information_gain
from ventplan.measure.opening import ONE_PLACE_ERROR
from ventplan.measure.parameters import Parameter, posed, turned
from ventplan.measure.uncertainty import WIDE, Array
from ventplan.network.flow import Flow

MODEL_ERROR = 0.08
"""Relative standard uncertainty of the model at one opening in one set-up, by itself [-]: even flow simulation agrees
with measurement within 10 to 20 % only (NIST, NISTIR 7065, 2003)."""

JET_ERROR = 0.12
"""Relative standard uncertainty of the flow that a jet drives, alike for set-ups that are alike [-]: the jet model is
about a tenth of the blades' flow off flow simulations of single rooms, and off in the same way at neighbouring
setbacks."""

ALIKE = 0.7
"""Logarithm of the ratio of two setbacks over which the jet model's error changes [-]: the residuals of simulated
setback series keep their sign over about a factor of two."""

Takes = Literal["stream", "mean", "jet"]


@dataclass(frozen=True)
class HouseReading:
    """One reading.

    Attributes
    ----------
    scenario
        The set-up in which it was taken.
    opening
        Where; empty for a reading in the jet.
    speed_m_s
        Speed [m/s]; the start-up speed where the vane stood still.
    takes
        ``stream`` for the anemometer in the middle of the stream, ``mean`` for the mean over the opening, ``jet`` for
        the middle of the jet, ``distance_m`` from the blades.
    error
        Relative standard uncertainty of this reading alone [-].
    label
        Where it stands in the file, for people.
    below
        True where the vane stood still: the speed is below ``speed_m_s``, and nothing more is known.
    distance_m
        Distance from the blades of a reading in the jet [m].
    by_anemometer
        False for a reading that does not share the anemometer's error.
    """

    scenario: Scenario
    opening: str
    speed_m_s: float
    takes: Takes
    error: float
    label: str
    below: bool = False
    distance_m: float = 0.0
    by_anemometer: bool = True

    @property
    def place(self) -> str:
        """Where it was taken, for people."""
        return self.opening or f"the jet at {self.distance_m:.2f} m"

    @property
    def line(self) -> str:
        """Its line in the file of readings."""
        return self.label.rpartition("line ")[2]

    @property
    def fan(self) -> Placement | None:
        """The one fan of the set-up that stands free; None for none or several."""
        free = [placed for placed in self.scenario.placements if not placed.sealed]
        return free[0] if len(free) == 1 else None


def predicted(flow: Flow, opening: str, takes: Takes) -> float:
    """What the model expects a reading at an opening to be [m/s].

    Where one place in the stream says nothing (a jet goes through, or air goes both ways), the mean stands
    in.
    """
    here = flow.openings[opening]
    if takes == "stream" and here.reading_m_s is not None:
        return here.reading_m_s
    return here.face_speed_m_s


def jet_speed(house: House, placed: Placement, distance_m: float) -> float:
    """Speed in the middle of a fan's free jet [m/s], no higher than that of an even stream from the blades.

    Uc = sqrt(2 T / (pi rho)) / (b0 + k s), in the core sqrt(T / (rho A)).
    """
    from ventplan.physics.air import REFERENCE_DENSITY
    from ventplan.physics.jet import centre_speed, half_width, start_half_width

    density = REFERENCE_DENSITY
    fan = house.fans[placed.fan]
    setting = next((one for one in fan.settings if one.name == placed.setting), None)
    fan = fan.at_setting(setting) if setting is not None else fan
    start = start_half_width(flow_m3_s=fan.flow_m3_s, thrust_n=fan.thrust_n, density=density)
    width = half_width(distance_m=distance_m, start_half_width_m=start, spread=fan.spread)
    core = math.sqrt(fan.thrust_n / (density * math.pi / 4.0 * fan.diameter_m**2))
    return min(float(centre_speed(thrust_n=fan.thrust_n, half_width_m=width, density=density)), core)


def model_of(house: House, parameters: Sequence[Parameter], readings: Sequence[HouseReading]) -> Model:
    """The logarithms of all readings as a function of the parameters; each set-up is solved once.

    Raises
    ------
    NoAnswerError
        Where the model has no air moving at an opening that was read.
    """
    from ventplan.network import solve

    def model(point: Array) -> Array:
        changed = turned(house, parameters, point)
        flows: dict[str, Flow] = {}
        values = np.empty(len(readings))
        for index, reading in enumerate(readings):
            if reading.takes == "jet":
                speed = jet_speed(changed, reading.scenario.placements[0], reading.distance_m)
            else:
                name = reading.scenario.name
                if name not in flows:
                    flows[name] = solve(changed, posed(reading.scenario, parameters, point))
                speed = predicted(flows[name], reading.opening, reading.takes)
            if reading.below:
                speed = max(speed, 1e-6)
            if not speed > 0.0:
                raise NoAnswerError(
                    f"The model has no air moving through {reading.opening} where {reading.label} was read: is it "
                    "shut in that set-up, or the set-up wrong?"
                )
            values[index] = math.log(speed)
        return values

    return model


def model_covariance(readings: Sequence[HouseReading], *, model_error: float, jet_error: float) -> Array:
    """Covariance of the model's own error of the logarithms of readings, shape (n, n).

    Two readings in one opening of one set-up have ``model_error`` in common. Two in set-ups in which one fan stands
    before the same opening have ``jet_error`` in common, exp(-(ln s1 / s2)^2 / (2 l^2)) of it at setbacks s1 and s2.

    Parameters
    ----------
    readings
        The readings.
    model_error, jet_error
        Relative standard uncertainties [-].
    """
    count = len(readings)
    places = [(reading.scenario.name, reading.opening, reading.distance_m) for reading in readings]
    fans = [reading.fan if reading.takes != "jet" else None for reading in readings]
    covariance = np.zeros((count, count))
    for i in range(count):
        for j in range(count):
            if places[i] == places[j]:
                covariance[i, j] += model_error**2
            one, other = fans[i], fans[j]
            if one is None or other is None:
                continue
            if (one.fan, one.opening, one.stands_in) == (other.fan, other.opening, other.stands_in):
                apart = math.log((one.setback_m + 0.1) / (other.setback_m + 0.1))
                covariance[i, j] += jet_error**2 * math.exp(-0.5 * (apart / ALIKE) ** 2)
    return covariance


def calibration_errors(readings: Sequence[HouseReading], calibration: Calibration) -> Array:
    """Relative standard uncertainty that the anemometer brings to each reading, the same error for all, shape (n,);
    as wide at 95 % as its degrees of freedom make it."""
    speeds = np.array([reading.speed_m_s for reading in readings])
    indicated = (speeds - calibration.intercept_m_s) / calibration.slope
    shared = calibration.expanded_at(indicated) / WIDE / speeds
    return np.asarray(np.where([reading.by_anemometer for reading in readings], shared, 0.0))


def data_from(
    readings: Sequence[HouseReading],
    calibration: Calibration,
    *,
    model_error: float = MODEL_ERROR,
    jet_error: float = JET_ERROR,
) -> Data:
    """Readings with all their errors, in the form that a fit takes.

    Parameters
    ----------
    readings
        The readings.
    calibration
        What the anemometer's readings mean; its error is common to all.
    model_error, jet_error
        Relative standard uncertainties of the model [-], see ``model_covariance``.
    """
    shared = calibration_errors(readings, calibration)
    common = model_covariance(readings, model_error=model_error, jet_error=jet_error) + np.outer(shared, shared)
    return Data(
        logarithms=np.log([reading.speed_m_s for reading in readings]),
        below=np.array([reading.below for reading in readings]),
        noise=Noise(np.array([reading.error for reading in readings]), common),
    )


def telling(house: House, readings: Sequence[HouseReading]) -> tuple[list[int], tuple[str, ...]]:
    """Which readings say something, and a note on those in one place of a jet or of air that goes both ways.

    Raises
    ------
    InputError
        For a reading at an opening that its set-up has shut.
    NoAnswerError
        Where no reading says anything.
    """
    from ventplan.network import solve

    flows: dict[str, Flow] = {}
    kept, blown, shut = [], [], []
    for index, reading in enumerate(readings):
        if reading.takes == "jet":
            kept.append(index)
            continue
        if reading.scenario.name not in flows:
            flows[reading.scenario.name] = solve(house, reading.scenario)
        here = flows[reading.scenario.name].openings[reading.opening]
        if reading.scenario.shares[reading.opening] == 0.0:
            shut.append(reading.label)
        elif reading.takes == "stream" and here.reading_m_s is None:
            blown.append(reading.label)
        else:
            kept.append(index)
    if shut:
        raise InputError(
            f"shut in its set-up, and read all the same: {'; '.join(shut)}. Name the set-up in which it was open, or "
            "say what differs in the columns `open` and `shut`"
        )
    if not kept:
        raise NoAnswerError(
            "Every reading stands in an opening that a jet goes through or that air passes both ways, where one place "
            "says nothing. Read where the room draws the air in, or take a traverse and say `mean`."
        )
    if not blown:
        return kept, ()
    return kept, (
        f"Left out, since one place in a jet, or where air goes both ways, says nothing: {'; '.join(blown)}.",
    )


def start_of(parameters: Sequence[Parameter]) -> Array:
    """Where a fit begins, shape (k,): the file's own figures, but the aim of a fan half its prior off, since the
    effect of an aim is even and has no slope at zero."""
    return np.array([0.0 if one.is_factor else 0.5 * one.prior for one in parameters])


@dataclass(frozen=True)
class NextReading:
    """A reading that could be taken, and how much it would tell [nat]."""

    scenario: str
    opening: str
    gain: float


def worth_reading(
    house: House, parameters: Sequence[Parameter], posterior: Posterior, states: Mapping[str, Scenario], most: int
) -> tuple[NextReading, ...]:
    """Every open opening in every scenario with a fan, by how much a reading in its stream would tell.

    Parameters
    ----------
    house, parameters, posterior
        The house and its fit.
    states
        The set-ups to look at, by name.
    most
        How many to propose.
    """
    from ventplan.network import solve

    found = []
    step = 0.2 * np.sqrt(np.diag(posterior.covariance))
    points = [posterior.point, *(posterior.point + move for move in np.diag(step))]
    for name, state in states.items():
        if not state.placements:
            continue
        try:
            middle, *moved = [
                solve(turned(house, parameters, point), posed(state, parameters, point)) for point in points
            ]
        except NoAnswerError:
            continue  # a scenario without an answer is no place for a reading
        for opening, here in middle.openings.items():
            # One place in the stream must mean something, and the vane must turn.
            if here.reading_m_s is None or here.reading_m_s < 0.4:
                continue
            base = math.log(here.reading_m_s)
            slopes = np.array([math.log(max(predicted(flow, opening, "stream"), 1e-6)) - base for flow in moved]) / step
            error = math.hypot(ONE_PLACE_ERROR["screened" if opening in state.screened else "bare"], 0.08)
            found.append(NextReading(name, opening, information_gain(posterior.covariance, slopes, error)))
    return tuple(sorted(found, key=lambda one: -one.gain)[:most])
