"""Weather as conditions with weights: from an hourly file or a wind rose, and fewer that stand for many.

Conditions are alike where they push the house alike. Each is a point in speeds: the wind at the eaves as a vector, and
the speed whose pressure is that of the stack, u = sqrt(g H |dT| / T) with the sign of dT, H the height of the eaves.
Groups of near points (k-means, begun at points far from each other, so that the same file gives the same groups) are
each stood for by their mean: mean temperature, mean speed, and the bearing of the mean wind vector.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ventplan.advice.candidates import kind_of
from ventplan.advice.objective import Objective, the_objective
from ventplan.advice.optimise import FLAME_FACTOR, Optimised
from ventplan.advice.placement import hazards_beyond
from ventplan.advice.plan import NEAR_BEST_SHARE, Condition, OverAnswer, WeatherGroup, WeatherPlan
from ventplan.advice.screening import Floats, Progress
from ventplan.advice.search import (
    Constraints,
    Search,
    fan_names,
    is_worth_a_fan,
    search_task,
    start_state,
)
from ventplan.airing.safety import STORM_M_S, HazardCode, flame_is_flagged
from ventplan.airing.weather import Weather
from ventplan.errors import InputError, InvalidValue, NoAnswerError
from ventplan.house.records import House, Outdoors, Scenario
from ventplan.house.table import Column, read_table
from ventplan.house.weather import WIND_COLUMNS, winds_of
from ventplan.network import solve
from ventplan.network.weather import eaves_height_m, local_wind_speed, open_country_wind_speed
from ventplan.physics.air import ZERO_CELSIUS_K
from ventplan.physics.buoyancy import GRAVITY_M_S2

Ints = NDArray[np.int64]

ROSE_COLUMNS = (
    *(replace(column, required=column.name == "wind speed") for column in WIND_COLUMNS),
    Column("share", "share", lowest=0.0, highest=1.0),
    Column("temperature", "temperature", required=False, lowest=-60.0, highest=60.0),
)
"""What a wind rose may have; the temperature may be left out."""
OVER_FULL = 1.01
"""Shares of a wind rose may add up to this, by rounding [-]."""
MAX_ROUNDS = 100
DEFAULT_GROUPS = 8
"""Conditions that stand for all weather, unless asked otherwise."""


def hourly_conditions(weather: Weather, base: Outdoors) -> tuple[Condition, ...]:
    """Every row of a weather file, weighted by the time it stands for.

    Parameters
    ----------
    weather
        Weather over time.
    base
        What the file does not have: terrain, shelter, altitude, the station.

    Returns
    -------
    tuple of Condition
        In the order of the file.
    """
    seconds = np.array(weather.seconds)
    edges = np.concatenate([seconds[:1], (seconds[1:] + seconds[:-1]) / 2.0, seconds[-1:]])
    weights = np.diff(edges) / (seconds[-1] - seconds[0])
    return tuple(
        Condition(weather.at(second, base), float(weight))
        for second, weight in zip(weather.seconds, weights, strict=True)
    )


def when_opening_helps(
    house: House, scenario: Scenario, conditions: Sequence[Condition]
) -> tuple[tuple[Condition, ...], float]:
    """The conditions in which open windows help: no warmer outdoors than indoors, dry, no smoke, and no storm.

    Parameters
    ----------
    house, scenario
        The house and the state it is in, for its temperatures.
    conditions
        The weather.

    Returns
    -------
    tuple
        Those conditions, their weights adding up to 1, and their share of the time [-].

    Raises
    ------
    NoAnswerError
        Where there are none.
    """
    indoors = _indoors_c(house, scenario)
    helpful = [
        one
        for one in conditions
        if one.outdoors.temperature_c <= indoors + 0.05
        and not one.outdoors.rain
        and not one.outdoors.smoke
        and open_country_wind_speed(replace(scenario, outdoors=one.outdoors)) < STORM_M_S
    ]
    share = math.fsum(one.weight for one in helpful)
    if share <= 0.0:
        raise NoAnswerError(
            f"in no hour of this weather does opening help: outdoors it is always warmer than {indoors:.1f} °C, wet, "
            "smoky or stormy. Give other weather, or the temperature of the rooms with --indoor."
        )
    return tuple(replace(one, weight=one.weight / share) for one in helpful), share


def _indoors_c(house: House, scenario: Scenario) -> float:
    """Mean air temperature of the rooms, weighted by volume [°C]."""
    volumes = [room.volume_m3 for room in house.rooms.values()]
    return float(np.average([scenario.temperatures_c[name] for name in house.rooms], weights=volumes))


def read_wind_rose(path: str | Path, base: Outdoors) -> tuple[Condition, ...]:
    """Read how often which wind blows.

    Parameters
    ----------
    path
        CSV file with the headings ``wind from`` (a bearing or a word, empty for calm), ``wind speed [m/s]``,
        ``share [%]`` and, where known, ``temperature [°C]``.
    base
        Everything else: terrain, shelter, the station, and the temperature where the file has none.

    Returns
    -------
    tuple of Condition
        One for each row; what the shares miss of the whole is calm.

    Raises
    ------
    InputError
        Every error in the file, with its line.
    """
    table = read_table(path, ROSE_COLUMNS)
    speeds, bearings, errors = winds_of(table)
    shares = table.numbers["share"]
    total = math.fsum(shares)
    if not errors and (total > OVER_FULL or total <= 0.0):
        found = f"shares that add up to {total:.0%}"
        errors.append(
            InvalidValue("share", found, "shares of the time, 100 % together at most", "", table.path, table.lines[0])
        )
    if errors:
        raise InputError(errors)
    temperatures = table.numbers["temperature"]
    found_conditions = [
        Condition(
            replace(
                base,
                temperature_c=base.temperature_c if math.isnan(temperature) else temperature,
                wind=replace(base.wind, speed_m_s=speed, from_deg=bearing),
            ),
            share / max(total, 1.0),
        )
        for bearing, speed, share, temperature in zip(bearings, speeds, shares, temperatures, strict=True)
        if share > 0.0
    ]
    if total < 2.0 - OVER_FULL:
        calm = replace(base, wind=replace(base.wind, speed_m_s=0.0))
        found_conditions.append(Condition(calm, 1.0 - total))
    whole = math.fsum(condition.weight for condition in found_conditions)
    return tuple(replace(condition, weight=condition.weight / whole) for condition in found_conditions)


def points_of(house: House, scenario: Scenario, conditions: Sequence[Condition]) -> Floats:
    """Conditions as points in speeds: wind at the eaves to the east and north, and the stack's.

    Parameters
    ----------
    house, scenario
        The house and the state it is in, for its height and its temperatures.
    conditions
        The weather.

    Returns
    -------
    ndarray
        Shape (conditions, 3) [m/s].
    """
    indoors = _indoors_c(house, scenario)
    height = eaves_height_m(house)
    points = []
    for condition in conditions:
        outdoors = condition.outdoors
        speed = local_wind_speed(house, replace(scenario, outdoors=outdoors))
        bearing = math.radians(outdoors.wind.from_deg)
        warmer = indoors - outdoors.temperature_c
        stack = math.sqrt(GRAVITY_M_S2 * height * abs(warmer) / (indoors + ZERO_CELSIUS_K))
        points.append((speed * math.sin(bearing), speed * math.cos(bearing), math.copysign(stack, warmer)))
    return np.array(points)


def reduced(
    house: House, scenario: Scenario, conditions: Sequence[Condition], groups: int
) -> tuple[tuple[Condition, ...], Ints]:
    """Fewer conditions that stand for many.

    Parameters
    ----------
    house, scenario
        The house and the state it is in.
    conditions
        The weather.
    groups
        How many conditions to come down to, at most.

    Returns
    -------
    tuple
        The conditions, the most frequent first, and the group of each that was given, shape (given,).
    """
    weights = np.array([condition.weight for condition in conditions])
    points = points_of(house, scenario, conditions)
    labels = _grouped(points, weights, groups)
    order = sorted(set(labels.tolist()), key=lambda label: -weights[labels == label].sum())
    members = [np.flatnonzero(labels == label) for label in order]
    place = np.zeros(len(conditions), dtype=np.int64)
    for number, mine in enumerate(members):
        place[mine] = number
    return tuple(_mean([conditions[i] for i in mine.tolist()]) for mine in members), place


def _mean(conditions: Sequence[Condition]) -> Condition:
    weights = np.array([condition.weight for condition in conditions])
    outdoors = [condition.outdoors for condition in conditions]
    speeds = np.array([one.wind.speed_m_s for one in outdoors])
    bearings = np.radians([one.wind.from_deg for one in outdoors])

    def mean(values: Sequence[float] | Floats) -> float:
        return float(np.average(values, weights=weights))

    east, north = mean(speeds * np.sin(bearings)), mean(speeds * np.cos(bearings))
    middle = replace(
        outdoors[0],
        temperature_c=mean([one.temperature_c for one in outdoors]),
        relative_humidity=mean([one.relative_humidity for one in outdoors]),
        wind=replace(
            outdoors[0].wind,
            speed_m_s=mean(speeds),
            from_deg=math.degrees(math.atan2(east, north)) % 360.0,
        ),
        rain=bool(mean([one.rain for one in outdoors]) > 0.5),
    )
    return Condition(middle, float(weights.sum()))


def _grouped(points: Floats, weights: Floats, groups: int) -> Ints:
    """Cluster of each point by weighted k-means, shape (points,).

    Not by `scipy.cluster.vq`, which takes no weights: on six invented wind roses its clusters spread
    4 to 25 % wider, and as wide on the weather in `house_examples`.
    """
    centres = _far_apart(points, groups)
    labels = np.zeros(len(points), dtype=np.int64)
    for step in range(MAX_ROUNDS):
        distance = np.linalg.norm(points[:, None, :] - centres[None, :, :], axis=2)
        nearest = distance.argmin(axis=1)
        if np.array_equal(nearest, labels) and step > 0:
            break
        labels = nearest
        for group in range(len(centres)):
            mine = labels == group
            if mine.any():
                centres[group] = np.average(points[mine], axis=0, weights=np.maximum(weights[mine], 1e-12))
    return labels


def _far_apart(points: Floats, count: int) -> Floats:
    """As many different points as asked for, each the farthest from those before it; the first is the most middling."""
    chosen = [int(np.linalg.norm(points - points.mean(axis=0), axis=1).argmin())]
    distance = np.linalg.norm(points - points[chosen[0]], axis=1)
    while len(chosen) < count and distance.max() > 1e-6:
        chosen.append(int(distance.argmax()))
        distance = np.minimum(distance, np.linalg.norm(points - points[chosen[-1]], axis=1))
    return points[chosen].copy()


def place_over(
    house: House,
    conditions: Sequence[Condition],
    scenario: Scenario | str | None = None,
    *,
    target: str | None = None,
    room: str | None = None,
    whole_house: bool = False,
    clear: str | None = None,
    fans: Sequence[str] | None = None,
    fans_at_once: int = 1,
    fans_outdoors: bool = False,
    constraints: Constraints | None = None,
    groups: int = DEFAULT_GROUPS,
    hour_by_hour: bool = False,
    count: int = 3,
    progress: Progress | None = None,
) -> OverAnswer:
    """Suggest where to put which fan for all the weather there is; fans and windows stay as they are.

    Parameters
    ----------
    house
        The house.
    conditions
        The weather (`hourly_conditions`, `read_wind_rose`).
    scenario
        The state to start from, or the name of one; its weather does not matter, its temperatures do.
    target, room, whole_house, clear
        The objective, exactly one, as `place` has it.
    fans
        Names of the fans to try; all of the house's if left out.
    fans_at_once
        How many fans may run together, 1 to 3.
    fans_outdoors
        True to let fans stand outdoors too.
    constraints
        What plans may not do.
    groups
        How many conditions may stand for all.
    hour_by_hour
        True to solve every plan that came out under every condition that was given, not only under the groups.
    count
        How many plans that really differ to give.
    progress
        Called with states done and a guess of all.

    Returns
    -------
    OverAnswer
        The best plans, and the best for each group of conditions.

    Raises
    ------
    InputError
        For a name that the house does not have, no objective or several, or no weather.
    NoAnswerError
        Where the house has too few fans, or they find no place.
    KeyboardInterrupt
        Where Ctrl-C stopped the search: the plans found so far were not computed under all weather.
    """
    if not conditions or groups < 1:
        raise InputError("weather is needed: at least one condition, and at least one group")
    objective = the_objective(house, target=target, room=room, whole_house=whole_house, clear=clear)
    base = start_state(house, scenario, objective)
    names = fan_names(house, fans, fans_at_once)
    few, _ = reduced(house, base, conditions, groups)
    weights = np.array([condition.weight for condition in few])
    bases = [replace(base, outdoors=condition.outdoors) for condition in few]
    task = search_task(
        house,
        bases,
        weights,
        objective,
        names,
        fans_outdoors=fans_outdoors,
        fans_at_once=fans_at_once,
        constraints=constraints,
    )
    search = Search(task, progress)
    found = search.run(fans_at_once)
    if found.stopped:
        raise KeyboardInterrupt
    pool = [*found.best(), *found.alone, *found.by_weather]
    if not any(plan.team for plan in pool):
        raise NoAnswerError(f"no {fans_at_once} of the fans find places at different openings of {house.name!r}.")
    table, flagged = _under_each(house, base, objective, pool, few)
    values, flags, judged_weights, states = table, flagged, weights, search.states
    if hour_by_hour:
        values, flags = _under_each(house, base, objective, pool, conditions, progress)
        judged_weights, states = np.array([condition.weight for condition in conditions]), states + values.size
    there, judged = (np.where(at, FLAME_FACTOR, 1.0) * each for at, each in ((flagged, table), (flags, values)))
    near = (judged >= NEAR_BEST_SHARE * judged.max(axis=0)) @ judged_weights
    means, ranks = values @ judged_weights, judged @ judged_weights
    order = sorted(range(len(pool)), key=lambda i: -ranks[i])
    alone = next(i for i in order if not pool[i].team)
    grave = hazards_beyond(search, pool[alone])
    causes = [
        grave(plan) | ({HazardCode.FLAME_FLAGGED} if (flags[i] & ~flags[alone]).any() else set())
        for i, plan in enumerate(pool)
    ]
    plans = [
        _weather_plan(task.base, plan, float(means[i]), float(near[i]), table[i], causes[i])
        for i, plan in enumerate(pool)
    ]
    kinds = {kind_of(pool[i].team): i for i in reversed(order) if pool[i].team}
    best = sorted(kinds.values(), key=lambda i: (bool(causes[i]), -ranks[i]))
    worth = [i for i in best if is_worth_a_fan(objective, float(ranks[i]), float(ranks[alone]))]
    worth = [] if worth and causes[worth[0]] else worth
    return OverAnswer(
        objective=objective,
        base=task.base,
        openings_alone=plans[alone],
        plans=tuple(plans[i] for i in worth[:count] or [alone]),
        best_with_fan=plans[best[0]],
        groups=tuple(
            WeatherGroup(condition, objective.value(house, one, solve(house, one)), plans[int(there[:, i].argmax())])
            for i, (condition, one) in enumerate(zip(few, task.bases, strict=True))
        ),
        conditions=len(conditions),
        hour_by_hour=hour_by_hour,
        states=states,
        exhaustive=found.complete,
    )


def _under_each(
    house: House,
    base: Scenario,
    objective: Objective,
    pool: Sequence[Optimised],
    conditions: Sequence[Condition],
    progress: Progress | None = None,
) -> tuple[Floats, NDArray[np.bool_]]:
    """Value of every plan under every condition, and whether its fans get a flame flagged, shape (plans, conditions).

    A plan without an answer under a condition counts for nothing there.
    """
    found, flagged = np.zeros((len(pool), len(conditions))), np.zeros((len(pool), len(conditions)), dtype=bool)
    for place, condition in enumerate(conditions):
        weathered, near = replace(base, outdoors=condition.outdoors), None
        for i, plan in enumerate(pool):
            state = replace(weathered, shares=plan.shares, placements=(*plan.team, *base.placements))
            try:
                near = solve(house, state, near=near)
                found[i, place] = objective.value(house, state, near)
                flagged[i, place] = bool(state.placements) and flame_is_flagged(house, near)
            except NoAnswerError:
                near = None
        if progress is not None:
            progress(place + 1, len(conditions))
    return found, flagged


def _weather_plan(
    base: Scenario, plan: Optimised, value: float, near: float, values: Floats, causes: frozenset[HazardCode]
) -> WeatherPlan:
    changed = [name for name, share in plan.shares.items() if (share > 0.0) != (base.shares[name] > 0.0)]
    return WeatherPlan(
        placements=plan.team,
        shares=dict(plan.shares),
        opens=tuple(name for name in changed if plan.shares[name] > 0.0),
        shuts=tuple(name for name in changed if plan.shares[name] <= 0.0),
        value=value,
        near_best=near,
        values=tuple(values.tolist()),
        causes=tuple(sorted(causes)),
    )
