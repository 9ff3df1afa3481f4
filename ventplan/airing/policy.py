"""When to open, when to shut, when a fan is worth its electricity."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from ventplan.house.records import Outdoors

State = Literal["shut", "open", "with fans"]


@dataclass(frozen=True)
class Policy:
    """Rules for someone at the windows.

    Attributes
    ----------
    open_k
        Open when it is cooler outdoors than indoors by this much [K].
    fans_k
        Run fans when it is cooler outdoors by this much [K].
    slack_k
        Undo either only when the difference is this much smaller, so that nobody runs to and fro [K].
    coolest_c
        Shut when the house would settle at this or less [°C] (18 °C: WHO Housing and Health Guidelines,
        2018).
    dampest
        Shut when the outdoor air would have more than this relative humidity at the coolest walls [-].
    highest_dew_point_c
        Shut when the dew point outdoors is above this [°C], unless the air indoors holds more water still.
    open_in_rain
        True to leave windows open in the rain.
    rest_s
        Leave things as they are for at least this long [s], but for a reason to shut.
    """

    open_k: float = 1.0
    fans_k: float = 2.0
    slack_k: float = 0.5
    coolest_c: float = 18.0
    dampest: float = 0.80
    highest_dew_point_c: float = 19.0
    open_in_rain: bool = True
    rest_s: float = 3600.0


def next_state(
    policy: Policy,
    state: State,
    *,
    since_s: float,
    most: State,
    indoor_c: float,
    settled_c: float,
    outdoors: Outdoors,
    wetter: bool,
    dew_point_c: float,
    surface_humidity: float,
) -> State:
    """What to do now.

    Parameters
    ----------
    policy
        The rules.
    state
        How things stand.
    since_s
        How long they have stood so [s].
    most
        The most that may be done.
    indoor_c
        Air temperature of the house [°C].
    settled_c
        What it would settle at if it were shut up now [°C].
    outdoors
        Weather.
    wetter
        True where the air outdoors holds more water than the air indoors.
    dew_point_c
        Dew point of the air outdoors [°C].
    surface_humidity
        Relative humidity that it would have at the coolest walls [-].

    Returns
    -------
    State
        ``shut``, ``open`` or ``with fans``.
    """
    refused = (
        outdoors.smoke
        or (outdoors.rain and not policy.open_in_rain)
        or (wetter and dew_point_c > policy.highest_dew_point_c)
        or surface_humidity > policy.dampest
        or settled_c <= policy.coolest_c + (2.0 * policy.slack_k if state == "shut" else 0.0)
    )
    if most == "shut" or refused:
        return "shut"
    if since_s < policy.rest_s:
        return state
    cooler = indoor_c - outdoors.temperature_c
    if most == "with fans" and cooler >= policy.fans_k - (policy.slack_k if state == "with fans" else 0.0):
        return "with fans"
    return "open" if cooler >= policy.open_k - (policy.slack_k if state != "shut" else 0.0) else "shut"
