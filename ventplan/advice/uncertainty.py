"""What is uncertain in a house and its state, and variants of both that are as possible as the one in the file.

Each cause of doubt is one standard normal number: a factor exp(sigma z) on something, or a shift sigma z. What several
things have in common (one discharge coefficient for all openings, one mesh for all screens of a kind, one jet model for
all fans) is a cause of its own besides the single ones. A cause has a name, so that the same number can be used for it
in every plan that is compared.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from functools import lru_cache
from importlib.resources import files

import numpy as np
from numpy.typing import NDArray

from ventplan.errors import InputError, NoAnswerError
from ventplan.house.records import Fan, House, Opening, Placement, Scenario, Screen
from ventplan.network.jets import jet_situation
from ventplan.network.weather import wind_pressures

Floats = NDArray[np.float64]
Progress = Callable[[int, int], None]
Evaluate = Callable[[House, Scenario], Floats]

WORK = {"low": 64, "normal": 256, "high": 1024}
"""Draws by how much work they may cost."""
FEWEST, MOST = 16, 65_536
MOST_FAILED = 0.1
"""Share of draws without an answer above which there is no answer at all [-]."""
LARGEST_DISCHARGE = 1.0
"""No opening passes more than an ideal nozzle of its area [-]."""


@dataclass(frozen=True)
class Uncertainties:
    """Standard uncertainties of what a house file does not know well; 0 for what is known.

    Attributes
    ----------
    discharge_shared, discharge_own
        Discharge coefficient times free area, relative [-]: of all openings together, and of each one.
    screen_loss
        Loss of a mesh, relative [-].
    leak
        Leaks of all that is shut, relative [-].
    wind_speed, wind_direction_deg
        Wind at the house, relative [-] and [deg].
    wind_pressure
        Wind pressure coefficient of each open opening [-].
    outdoor_temperature_k, room_temperature_shared_k, room_temperature_own_k
        Temperatures of the air outdoors, in all rooms together, and in each [K].
    jet_shared, jet_own, jet_own_near, jet_own_aside
        The jet model, on the flow that a jet drives, relative [-]: of all jets together, of each fan at its opening by
        how it stands there (`ventplan.network.jets.jet_situation`).
    shutoff_pressure
        Shut-off pressure of a sealed fan, relative [-].
    """

    discharge_shared: float
    discharge_own: float
    screen_loss: float
    leak: float
    wind_speed: float
    wind_direction_deg: float
    wind_pressure: float
    outdoor_temperature_k: float
    room_temperature_shared_k: float
    room_temperature_own_k: float
    jet_shared: float
    jet_own: float
    jet_own_near: float
    jet_own_aside: float
    shutoff_pressure: float

    def __post_init__(self) -> None:
        for field in fields(self):
            if not getattr(self, field.name) >= 0.0:
                raise ValueError(f"{field.name} must be 0 or more, not {getattr(self, field.name)}")


_SUFFIX = {"deg": "_deg", "K": "_k"}


@lru_cache(maxsize=1)
def default_uncertainties() -> Uncertainties:
    """The figures of ``data/uncertainties.toml``, where each has its source."""
    text = files("ventplan.advice").joinpath("data", "uncertainties.toml").read_text("utf-8")
    table = tomllib.loads(text)
    return Uncertainties(**{name + _SUFFIX.get(one["unit"], ""): float(one["value"]) for name, one in table.items()})


@dataclass(frozen=True)
class Cause:
    """One cause of doubt.

    Attributes
    ----------
    name
        What it is, in plain words; the same in every state that it has a say in.
    group
        What it belongs to when doubts are summed up.
    sigma
        Standard deviation of the logarithm of a factor [-], or of a shift in its unit.
    """

    name: str
    group: str
    sigma: float


def causes_of(
    house: House, scenarios: Sequence[Scenario], uncertainties: Uncertainties | None = None
) -> tuple[Cause, ...]:
    """Every cause of doubt that has a say in one of these states.

    Parameters
    ----------
    house
        The house.
    scenarios
        Its states.
    uncertainties
        How uncertain things are; the defaults if left out.

    Returns
    -------
    tuple of Cause
        Each once, in the same order for the same house and states.
    """
    u = uncertainties or default_uncertainties()
    found = dict.fromkeys(
        cause for scenario in scenarios for part in (_openings, _weather, _fans) for cause in part(house, scenario, u)
    )
    return tuple(cause for cause in found if cause.sigma > 0.0)


def _openings(house: House, scenario: Scenario, u: Uncertainties) -> list[Cause]:
    opened = [o for o in house.openings.values() if scenario.shares[o.name] > 0.0]
    meshes = dict.fromkeys(o.screen.name for o in opened if o.screen is not None and o.name in scenario.screened)
    return [
        Cause("discharge of all openings", "discharge coefficients", u.discharge_shared),
        *(Cause(f"discharge of {o.name}", "discharge coefficients", u.discharge_own) for o in opened),
        *(Cause(f"mesh {mesh}", "screens", u.screen_loss) for mesh in meshes),
        Cause("leaks", "leaks", u.leak),
    ]


def _weather(house: House, scenario: Scenario, u: Uncertainties) -> list[Cause]:
    found = [
        Cause("outdoor temperature", "temperatures", u.outdoor_temperature_k),
        Cause("temperature of all rooms", "temperatures", u.room_temperature_shared_k),
        *(Cause(f"temperature of {room}", "temperatures", u.room_temperature_own_k) for room in house.rooms),
    ]
    if scenario.outdoors.wind.speed_m_s > 0.0:
        outer = [o.name for o in house.openings.values() if o.is_external and scenario.shares[o.name] > 0.0]
        found += [
            Cause("wind speed", "wind", u.wind_speed),
            Cause("wind direction", "wind", u.wind_direction_deg),
            *(Cause(f"wind pressure at {name}", "wind", u.wind_pressure) for name in outer),
        ]
    return found


def _fans(house: House, scenario: Scenario, u: Uncertainties) -> list[Cause]:
    own = {"straight": u.jet_own, "near": u.jet_own_near, "aside": u.jet_own_aside}
    found = []
    for placement in scenario.placements:
        fan = house.fans[placement.fan]
        found.append(Cause(f"flow of {fan.name}", "flow through blades", fan.flow_error))
        if placement.sealed:
            found.append(Cause(f"shut-off pressure of {fan.name}", "shut-off pressure", u.shutoff_pressure))
            continue
        found += [
            Cause(f"thrust of {fan.name}", "thrust", fan.thrust_error),
            Cause(f"spread of {fan.name}", "jet spread", fan.spread_error),
            Cause("jets", "jet model", u.jet_shared),
            Cause(_jet_name(placement), "jet model", own[jet_situation(house, scenario, placement)]),
        ]
    return found


def _jet_name(placement: Placement) -> str:
    return f"jet from {placement.stands_in} at {placement.opening}"


def perturbed(house: House, scenario: Scenario, shifts: Mapping[str, float]) -> tuple[House, Scenario]:
    """The house and its state with every cause shifted by so much.

    Parameters
    ----------
    house, scenario
        The house and its state.
    shifts
        By name of a cause: the logarithm of its factor [-], or its shift [deg], [K], [-]. Others stay.

    Returns
    -------
    tuple
        A variant of both; the arguments are left as they are.

    Notes
    -----
    A screen's loss goes with (1 - e^2) / e^2 (`ventplan.physics.screen`), so a factor F on it is the open-area ratio
    e' with 1 / e'^2 = 1 + F (1 / e^2 - 1). The error of the jet model goes into ``Fan.jet_gain``: at the same
    width a jet then carries so many times the flow, near the fan and far from it.
    """

    def shift(name: str) -> float:
        return shifts.get(name, 0.0)

    weather = scenario.outdoors
    state = replace(
        scenario,
        outdoors=replace(
            weather,
            temperature_c=weather.temperature_c + shift("outdoor temperature"),
            wind=replace(
                weather.wind,
                speed_m_s=weather.wind.speed_m_s * math.exp(shift("wind speed")),
                from_deg=(weather.wind.from_deg + shift("wind direction")) % 360.0,
            ),
        ),
        temperatures_c={
            room: celsius + shift("temperature of all rooms") + shift(f"temperature of {room}")
            for room, celsius in scenario.temperatures_c.items()
        },
    )
    coefficients = _wind_pressure_coefficients(house, state)
    openings = {
        name: _varied_opening(opening, coefficients.get(name), shifts) for name, opening in house.openings.items()
    }
    leak = math.exp(shift("leaks"))
    rooms = {name: replace(room, leak_m3_s=room.leak_m3_s * leak) for name, room in house.rooms.items()}
    jets: dict[str, float] = dict.fromkeys(house.fans, 0.0)
    for placement in scenario.placements:
        jets[placement.fan] += 0.0 if placement.sealed else shift("jets") + shift(_jet_name(placement))
    fans = {name: _varied_fan(fan, jets[name], shifts) for name, fan in house.fans.items()}
    return replace(house, openings=openings, rooms=rooms, fans=fans), state


def _wind_pressure_coefficients(house: House, scenario: Scenario) -> dict[str, float]:
    """Wind pressure coefficient of each opening to outdoors, whatever its source; none without wind."""
    if scenario.outdoors.wind.speed_m_s <= 0.0:
        return {}
    ones = {name: replace(opening, wind_pressure=1.0) for name, opening in house.openings.items()}
    unit = wind_pressures(replace(house, openings=ones), scenario)
    return {name: pressure / unit[name] for name, pressure in wind_pressures(house, scenario).items()}


def _varied_opening(opening: Opening, coefficient: float | None, shifts: Mapping[str, float]) -> Opening:
    factor = math.exp(shifts.get("discharge of all openings", 0.0) + shifts.get(f"discharge of {opening.name}", 0.0))
    varied = replace(
        opening,
        discharge=min(opening.discharge * factor, max(LARGEST_DISCHARGE, opening.discharge)),
        leak_m3_s=opening.leak_m3_s * math.exp(shifts.get("leaks", 0.0)),
    )
    if coefficient is not None:
        varied = replace(varied, wind_pressure=coefficient + shifts.get(f"wind pressure at {opening.name}", 0.0))
    if opening.screen is not None:
        logarithm = shifts.get(f"mesh {opening.screen.name}", 0.0)
        varied = replace(varied, screen=with_loss(opening.screen, factor=math.exp(logarithm)))
    return varied


def with_loss(screen: Screen, *, factor: float) -> Screen:
    """A screen whose loss is so many times as large, by its open-area ratio.

    Parameters
    ----------
    screen
        The screen.
    factor
        Loss over that of the screen [-].
    """
    ratio = screen.open_area_ratio
    return replace(screen, open_area_ratio=1.0 / math.sqrt(1.0 + factor * (1.0 / ratio**2 - 1.0)))


def _varied_fan(fan: Fan, jet: float, shifts: Mapping[str, float]) -> Fan:
    def factor(what: str) -> float:
        return math.exp(shifts.get(f"{what} of {fan.name}", 0.0))

    return replace(
        fan,
        flow_m3_s=fan.flow_m3_s * factor("flow"),
        thrust_n=fan.thrust_n * factor("thrust"),
        jet_gain=fan.jet_gain * math.exp(jet),
        spread=fan.spread * factor("spread"),
        shutoff_pa=fan.shutoff_pa * factor("shut-off pressure"),
    )


def shifts_of(causes: Sequence[Cause], normal: Iterable[float]) -> dict[str, float]:
    """Shifts by name from standard normal numbers, one for each cause."""
    return {cause.name: cause.sigma * float(z) for cause, z in zip(causes, normal, strict=True)}


def draws_of(text: str) -> int:
    """Number of draws that a word (low, normal, high) or a number asks for, up to the next power of two.

    Parameters
    ----------
    text
        The word or number.

    Raises
    ------
    InputError
        For any other word, or a number out of range.

    Examples
    --------
    >>> draws_of("low"), draws_of("100")
    (64, 128)
    """
    if text in WORK:
        return WORK[text]
    if not text.isdigit() or not FEWEST <= int(text) <= MOST:
        raise InputError(f"how much work: found {text!r}; allowed: {', '.join(WORK)}, or {FEWEST} to {MOST} draws")
    return int(2 ** np.ceil(np.log2(int(text))))


def normal_draws(causes: int, draws: int, seed: int = 1) -> Floats:
    """Standard normal numbers that fill their space evenly.

    Parameters
    ----------
    causes
        How many numbers for each draw.
    draws
        How many draws; a power of two.
    seed
        The same seed gives the same draws, and more draws begin with those of fewer.

    Returns
    -------
    ndarray
        Shape (draws, causes).

    Notes
    -----
    A scrambled Sobol sequence through the inverse of the normal distribution (Owen 1998, from memory).
    """
    from scipy.special import ndtri
    from scipy.stats import qmc

    if causes == 0:
        return np.zeros((draws, 0))
    even = qmc.Sobol(causes, seed=seed).random(draws)
    normal: Floats = ndtri(np.clip(even, 1e-9, 1.0 - 1e-9))
    return normal


def evaluated(
    house: House,
    scenarios: Sequence[Scenario],
    evaluate: Evaluate,
    causes: Sequence[Cause],
    normal: Floats,
    progress: Progress | None = None,
) -> Floats:
    """Values of states in every draw; the same draw for all states.

    Parameters
    ----------
    house
        The house.
    scenarios
        Its states.
    evaluate
        Gives the values of a house in a state, shape (values,); raises `NoAnswerError` where there are none.
    causes, normal
        Causes of doubt, and their standard normal numbers, shape (draws, causes).
    progress
        Called with solved and all states.

    Returns
    -------
    ndarray
        Shape (draws, scenarios, values); not-a-number where a draw has no answer.
    """
    rows: list[list[Floats | None]] = []
    for i, numbers in enumerate(normal):
        shifts = shifts_of(causes, numbers)
        rows.append([_attempt(evaluate, *perturbed(house, scenario, shifts)) for scenario in scenarios])
        if progress is not None:
            progress((i + 1) * len(scenarios), normal.shape[0] * len(scenarios))
    size = next((one.size for row in rows for one in row if one is not None), 0)
    nothing = np.full(size, np.nan)
    return np.array([[nothing if one is None else one for one in row] for row in rows])


def _attempt(evaluate: Evaluate, house: House, scenario: Scenario) -> Floats | None:
    try:
        return evaluate(house, scenario)
    except NoAnswerError:
        return None


def answered(values: Floats) -> NDArray[np.bool_]:
    """Which draws have an answer for everything, shape (draws,); values have their draws along the first axis.

    Raises
    ------
    NoAnswerError
        Where too many have none.
    """
    good = np.asarray(np.isfinite(values.reshape(values.shape[0], -1)).all(axis=1), dtype=np.bool_)
    if values.size == 0 or good.mean() < 1.0 - MOST_FAILED:
        raise NoAnswerError(
            f"only {int(good.sum())} of {good.size} possible houses have an answer; the uncertainty of this one is not "
            "known. Try it without the jets that pass several openings in line."
        )
    return good
