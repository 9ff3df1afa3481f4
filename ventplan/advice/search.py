"""Where to put which fan: the search for the best plan.

Screening solves every set of openings with every placement in bulk, on a few setbacks; what comes out on top is solved
again in full, its setbacks settled as continuous optima, and its doors and windows changed one by one as long as that
helps. Changes that bring next to nothing are taken back.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from ventplan.advice.candidates import candidates, everything_open
from ventplan.advice.objective import Objective
from ventplan.advice.optimise import Settler
from ventplan.advice.plan import PlaceAnswer
from ventplan.advice.screening import Progress, Screening, by_kind
from ventplan.airing.weather import Weather
from ventplan.errors import InputError, NoAnswerError, unknown_name
from ventplan.house.records import House, Scenario
from ventplan.network import solve

KINDS_IN_FULL = 6
"""How many kinds of plan are settled in full before the best three are shown."""
STATES_IN_FULL = 4
"""How many of the best states of each kind are solved in full."""
MOST_FANS = 3


def place(
    house: House,
    scenario: Scenario | str | None = None,
    *,
    target: str | None = None,
    room: str | None = None,
    whole_house: bool = False,
    clear: str | None = None,
    cool: str | None = None,
    weather: Weather | None = None,
    by_hour: float = 6.0,
    fans: Sequence[str] | None = None,
    fans_at_once: int = 1,
    fans_outdoors: bool = False,
    count: int = 3,
    progress: Progress | None = None,
) -> PlaceAnswer:
    """Suggest where to put which fan.

    Parameters
    ----------
    house
        The house.
    scenario
        The state to start from, or the name of one; fans that it places are free to move.
    target, room, whole_house, clear, cool
        The aim, exactly one: most air through an opening, most air change for a room, or for the worst room, a room
        cleared soonest, or a room coolest by ``by_hour`` with ``weather``.
    weather
        The night, for ``cool``.
    by_hour
        Hour of the morning, for ``cool`` [h].
    fans
        Names of the fans to try; all of the house's if left out.
    fans_at_once
        How many fans run together, 1 to 3.
    fans_outdoors
        True to let fans stand outdoors too.
    count
        How many plans that really differ to show.
    progress
        Called with states done and to do. Ctrl-C while screening ends it with the best so far.

    Returns
    -------
    PlaceAnswer
        The best plans.

    Raises
    ------
    InputError
        For a name that the house does not have, or no aim or several.
    NoAnswerError
        Where the house has too few fans, or none of them finds a place.
    """
    aim = the_aim(
        house,
        target=target,
        room=room,
        whole_house=whole_house,
        clear=clear,
        cool=cool,
        weather=weather,
        by_hour=by_hour,
    )
    base = start_state(house, scenario, aim)
    names = fan_names(house, fans, fans_at_once)
    found = tuple(candidates(house, everything_open(house, base), names, fans_outdoors=fans_outdoors))
    if not found:
        raise NoAnswerError(
            f"none of the fans ({', '.join(names)}) finds a place in {house.name!r} with a clear line to an opening."
        )
    screening = Screening(house, base, aim, found)
    screened, exhaustive = screening.search(fans_at_once, STATES_IN_FULL, progress)
    if not screened:
        raise NoAnswerError(f"no {fans_at_once} of the fans find places at different openings of {house.name!r}.")
    settler = Settler(screening)
    settled = [settler.settle(states) for states in by_kind(screened, STATES_IN_FULL)[:KINDS_IN_FULL]]
    settled = [one for one in settled if settler.useful(one)] or settled[:1]
    settled.sort(key=lambda one: -one.value)
    settled = [settler.improve(one) for one in settled[: count + 1]]
    settled.sort(key=settler.verdict, reverse=True)
    alone = settler.improve(settler.settle(screening.openings_alone(STATES_IN_FULL)))
    before = solve(house, base)
    placed = {candidate.placement.fan for candidate in found}
    return PlaceAnswer(
        aim=aim,
        before=aim.verdict(house, base, before),
        openings_alone=settler.plan(alone),
        plans=tuple(settler.plan(one) for one in settled[:count]),
        states=screening.states + settler.states,
        exhaustive=exhaustive,
        left_out=screening.left_out,
        stopped=screening.stopped,
        nowhere=tuple(name for name in names if name not in placed),
    )


def start_state(house: House, scenario: Scenario | str | None, aim: Objective) -> Scenario:
    """The state to start from, without fans, the aimed opening open."""
    base = house.scenarios[scenario] if isinstance(scenario, str) else scenario or house.first_scenario()
    base = replace(base, placements=())
    if aim.kind == "opening" and base.shares[aim.name] <= 0.0:
        base = replace(base, shares={**base.shares, aim.name: house.openings[aim.name].full_share})
    return base


def fan_names(house: House, fans: Sequence[str] | None, fans_at_once: int) -> tuple[str, ...]:
    """Names of the fans to try.

    Raises
    ------
    InputError
        For a fan that the house does not have, or a number of fans that is not from 1 to 3.
    NoAnswerError
        Where there are too few.
    """
    if not 1 <= fans_at_once <= MOST_FANS:
        raise InputError(f"{fans_at_once} fans at once: it can be from 1 to {MOST_FANS}")
    names = tuple(fans) if fans is not None else tuple(house.fans)
    for name in names:
        if name not in house.fans:
            raise unknown_name("fan", name, house.fans)
    if len(names) < fans_at_once:
        raise NoAnswerError(
            f"{house.name!r} has {len(names) or 'no'} fan{'s' if len(names) != 1 else ''} to place, and the question "
            f"is for {fans_at_once}; add what you have under `fans:` in the house file."
        )
    return names


def the_aim(
    house: House,
    *,
    target: str | None = None,
    room: str | None = None,
    whole_house: bool = False,
    clear: str | None = None,
    cool: str | None = None,
    weather: Weather | None = None,
    by_hour: float = 6.0,
) -> Objective:
    """The one aim asked for, its name checked against the house.

    Raises
    ------
    InputError
        For a name that the house does not have, no aim or several, or a night without weather to its morning.
    """
    asked = {"opening": target, "room": room, "clear": clear, "cool": cool}
    named = {kind: name for kind, name in asked.items() if name is not None}
    if len(named) + whole_house != 1:
        raise InputError(
            "say what to aim at, exactly one: an opening, a room, the whole house, a room to clear, a room to cool"
        )
    if whole_house:
        return Objective("house")
    kind, name = next(iter(named.items()))
    known = house.openings if kind == "opening" else house.rooms
    if name not in known:
        raise unknown_name("opening" if kind == "opening" else "room", name, known)
    if kind == "cool" and weather is None:
        raise InputError("to cool a room by morning, give the weather of the night (a CSV of hourly weather)")
    if kind == "opening":
        return Objective("opening", name)
    if kind == "cool" and weather is not None:
        return Objective("cool", name, weather.until(by_hour), by_hour)
    return Objective("clear" if kind == "clear" else "room", name)
