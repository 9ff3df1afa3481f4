"""Stated 95 % intervals hold the truth in 93 to 97 % of simulated campaigns, with every stated error drawn."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import pytest

from tests.unit.measure.blown_window import house_text
from ventplan.house import House, parse_house
from ventplan.measure.anemometer import uncalibrated
from ventplan.measure.fan_data import combine
from ventplan.measure.fan_reading import FanReading
from ventplan.measure.house_fit import corrected
from ventplan.measure.house_model import Parameter, model_of, parameters_of, start_of
from ventplan.measure.house_readings import HouseReading, data_from, model_covariance
from ventplan.measure.inference import fit
from ventplan.measure.jet import fit_walk, jet_from_walk
from ventplan.measure.uncertainty import Estimate, Source
from ventplan.network.jets import jet_situation

CAMPAIGNS = 1000
DENSITY, THRUST, FLOW, SPREAD = 1.2, 1.7, 0.30, 0.13


def _share(held: list[bool]) -> float:
    return sum(held) / len(held)


@pytest.mark.slow
def test_intervals_of_the_jet_walk_hold_the_truth() -> None:
    # Core to 0.7 m with two readings well inside it, scatter 3 %, scale of the anemometer 2 %, zero of the tape 1 cm,
    # flow 5 %, and a shape that is Gaussian within 8 %.
    generator = np.random.default_rng(11)
    places = np.array([0.15, 0.35, 0.9, 1.1, 1.4, 1.8, 2.2, 2.6, 3.0, 3.4])
    held: dict[str, list[bool]] = {"thrust": [], "spread": [], "origin": [], "ratio": []}
    for _ in range(CAMPAIGNS):
        shape = 1.0 + 0.08 * generator.standard_normal()
        intercept = DENSITY * FLOW * shape / (2.0 * THRUST)
        slope = SPREAD * math.sqrt(math.pi * DENSITY / (2.0 * THRUST))
        scale = 1.0 + 0.02 * generator.standard_normal()
        true_places = places - 0.01 * generator.standard_normal()
        speeds = scale / (intercept + slope * np.maximum(true_places, 0.7))
        speeds = speeds * np.exp(0.03 * generator.standard_normal(places.size))
        walk = fit_walk(
            distances_m=places,
            speeds_m_s=speeds,
            zero_error_m=0.01,
            calibration=Source("anemometer calibration", np.array([0.0, 1.0]), np.diag([0.0, 0.02**2])),
            indicated=speeds,
        )
        flow = Estimate(FLOW * (1.0 + 0.05 * generator.standard_normal()), 0.05 * FLOW)
        jet = jet_from_walk(walk, density_kg_m3=DENSITY, flow=flow, draws=2000)
        truths = (
            ("thrust", jet.thrust, THRUST),
            ("spread", jet.spread, SPREAD),
            ("origin", jet.origin, intercept / slope),
            ("ratio", jet.spread_squared_over_thrust, SPREAD**2 / THRUST),
        )
        for name, estimate, truth in truths:
            assert estimate is not None
            held[name].append(estimate.interval[0] <= truth <= estimate.interval[1])
    assert {name: round(_share(hits), 3) for name, hits in held.items() if not 0.93 <= _share(hits) <= 0.97} == {}


@pytest.mark.slow
def test_intervals_of_the_combined_fan_hold_the_truth() -> None:
    generator = np.random.default_rng(12)
    start = FLOW / math.sqrt(2.0 * math.pi * THRUST / DENSITY)
    width = start + SPREAD * 2.0
    walk = np.array([[0.09**2, -0.8 * 0.03 * 0.02], [-0.8 * 0.03 * 0.02, 0.02**2]])
    true = {
        "flow": ([FLOW], np.diag([0.05**2]), [1.0], ""),
        "thrust": ([THRUST], np.diag([0.03**2]), [0.0], ""),
        "walk": (
            [DENSITY * FLOW / 2.0 / THRUST, SPREAD * math.sqrt(math.pi * DENSITY / 2.0 / THRUST)],
            walk,
            [-1.0, -1.0],
            "",
        ),
        "profile": (
            [math.sqrt(2.0 * THRUST / math.pi / DENSITY) / width, width],
            np.diag([0.05**2, 0.04**2]),
            [1.0, 0.0],
            "",
        ),
        "flow, middle": ([0.83 * FLOW], np.diag([0.05**2]), [1.0], "middle"),
        "thrust, middle": ([0.83**2 * THRUST], np.diag([0.03**2]), [0.0], "middle"),
    }
    held: dict[str, list[bool]] = {"flow": [], "thrust": [], "spread": [], "middle": []}
    agreed = []
    for _ in range(CAMPAIGNS):
        vane = 0.03 * generator.standard_normal()
        readings = []
        for name, (values, covariance, signs, setting) in true.items():
            noise = generator.multivariate_normal(np.zeros(len(values)), covariance)
            drawn = np.array(values) * np.exp(noise + np.array(signs) * vane)
            kind = name.split(",")[0]
            error = 0.03 if kind != "thrust" else 0.0
            readings.append(FanReading(kind, drawn, covariance, error, setting=setting, distance_m=2.0, label=name))  # type: ignore[arg-type]
        card = combine(readings, density_kg_m3=DENSITY)
        for name, estimate, truth in (
            ("flow", card.flow, FLOW),
            ("thrust", card.thrust, THRUST),
            ("spread", card.spread, SPREAD),
            ("middle", card.speeds["middle"], 0.83),
        ):
            held[name].append(estimate.interval[0] <= truth <= estimate.interval[1])
        agreed.append(card.chance >= 0.05)
    assert {name: round(_share(hits), 3) for name, hits in held.items() if not 0.93 <= _share(hits) <= 0.97} == {}
    # The alarm of contradiction goes off by chance once in twenty.
    assert 0.93 <= _share(agreed) <= 0.97


START_UP = 0.55
SETBACKS = (0.3, 0.6, 1.0, 1.5, 2.2, 3.0, 4.0)
IN_JET = (1.0, 2.0)


def _parabola(
    parameters: Sequence[Parameter], readings: Sequence[HouseReading], house: House
) -> Callable[[np.ndarray], np.ndarray]:
    """The model of all readings as a parabola in the parameters: value, slopes and curvature, solved once."""
    model = model_of(house, parameters, readings)
    prior = np.array([parameter.prior for parameter in parameters])
    unit = np.diag(prior)
    middle = model(np.zeros(prior.size))
    rise, fall = (np.array([model(sign * move) for move in unit]) for sign in (1.0, -1.0))
    slopes = (rise - fall).T / 2.0
    curved = np.zeros((middle.size, prior.size, prior.size))
    for i in range(prior.size):
        curved[:, i, i] = rise[i] + fall[i] - 2.0 * middle
        for j in range(i):
            both = model(unit[i] + unit[j])
            curved[:, i, j] = curved[:, j, i] = both - rise[i] - rise[j] + middle

    def parabola(point: np.ndarray) -> np.ndarray:
        z = point / prior
        return middle + slopes @ z + 0.5 * np.einsum("nij,i,j->n", curved, z, z)

    return parabola


MEASURED, CATALOGUE = "15 %, 8 %, 10 %", "25 %, 20 %, 15 %"


@pytest.mark.slow
@pytest.mark.parametrize(
    ("known", "model_error", "jet_error"),
    [
        pytest.param(MEASURED, 0.02, 0.0, id="measured fan, exact model"),
        pytest.param(MEASURED, 0.08, None, id="measured fan, model as far off as simulations show"),
        pytest.param(CATALOGUE, 0.02, 0.0, id="catalogue fan, exact model"),
        pytest.param(CATALOGUE, 0.08, None, id="catalogue fan, model as far off as simulations show"),
    ],
)
def test_intervals_of_the_house_fit_hold_the_truth(known: str, model_error: float, jet_error: float | None) -> None:
    # A setback series at the inlet and two readings in the jet, with the scatter of single places, a calibration error
    # that all share, a display with steps of 0.1 m/s, and a vane that stands still below 0.55 m/s.
    house = parse_house(house_text(errors=known, inlet_m=1.5))
    state = house.scenarios["blown"]
    states = [replace(state, name=f"{s}", placements=(replace(state.placements[0], setback_m=s),)) for s in SETBACKS]
    readings = [
        HouseReading(s, "inlet", 1.0, "stream", 0.05, "", situation=jet_situation(house, s, s.placements[0]))
        for s in states
    ]
    readings += [HouseReading(states[0], "", 1.0, "jet", 0.05, "", distance_m=d) for d in IN_JET]
    parameters = parameters_of(house, states)
    prior = np.array([parameter.prior for parameter in parameters])
    parabola = _parabola(parameters, readings, house)
    vane = uncalibrated(relative=0.03, start_up_m_s=START_UP)
    generator = np.random.default_rng(13)
    common = model_covariance(readings, model_error=model_error, jet_error=jet_error) + 0.03**2
    held: dict[str, list[bool]] = {parameter.name: [] for parameter in parameters}
    censored = 0
    for _ in range(CAMPAIGNS):
        truth = prior * generator.standard_normal(prior.size)
        shared = generator.multivariate_normal(np.zeros(len(readings)), common)
        speeds = np.exp(parabola(truth) + shared + 0.05 * generator.standard_normal(len(readings)))
        shown = np.where(speeds < START_UP, 0.0, np.round(speeds, 1))
        rounded = [math.hypot(0.05, 0.1 / math.sqrt(12.0) / max(v, START_UP)) for v in shown]
        taken = [
            replace(r, speed_m_s=max(float(v), START_UP), below=bool(v < START_UP), error=error)
            for r, v, error in zip(readings, shown, rounded, strict=True)
        ]
        censored += sum(reading.below for reading in taken)
        data = data_from(taken, vane, model_error=model_error, jet_error=jet_error)
        found = fit(model=parabola, data=data, prior=prior, start=start_of(parameters))
        for one in corrected(parameters, found, parabola, data, prior):
            true = dict(zip(held, truth, strict=True))[one.name]
            inside = one.low <= (true if one.unit else math.exp(true)) <= one.high
            held[one.name].append(bool(inside))
    shares = {name: round(_share(hits), 3) for name, hits in held.items()}
    assert censored > 0.5 * CAMPAIGNS
    # Where the side of an aim cannot be told its interval covers both, and holds more.
    low = {name: share for name, share in shares.items() if share < 0.93 or (share > 0.97 and "aim" not in name)}
    assert low == {}
