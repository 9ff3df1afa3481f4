"""What a state does over time: a plan for tonight with its temperatures, and how a room clears of smoke."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path, PurePath
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

from ventplan.errors import InputError, InvalidValue
from ventplan.house import House, Scenario
from ventplan.house.fields import to_clock
from ventplan.house.units import System, UnitError, parse_quantity, show, show_time
from ventplan.live.scenario_edits import state_of
from ventplan.show.plan_notes import temperature_bounds_c

if TYPE_CHECKING:
    from ventplan.advice.night_plan import TonightQuestion
    from ventplan.airing.weather import Weather

TONIGHT_FIELDS = ("high", "low", "weather", "weather_name", "bedtime", "waking", "quiet")
FRAMES = 120
"""Moments of a course that the page can stop at."""
SHARE_BOUNDS = (0.01, 0.05, 0.1, 0.25, 0.5)
"""Bounds of the colours for what is left of a release [-]."""
BEFORE_BEDTIME_H, AFTER_WAKING_H = 6.0, 5.0
"""When the plan for a night begins, and how long it goes on in the morning [h]."""


def tonight(
    house: House, scenario: Scenario, asked: Mapping[str, str], system: System, progress: Callable[[int, int], None]
) -> dict[str, Any]:
    """What to do tonight, as instructions with their times, and the temperature of each room at each moment.

    Parameters
    ----------
    house, scenario
        The present house.
    asked
        As typed: ``high`` and ``low`` (temperatures), ``bedtime`` and ``waking`` (times of day), ``quiet`` (a sound
        level); an empty one is taken from the house file. ``weather`` is the text of a file with hourly weather in
        place of ``high`` and ``low``, and ``weather_name`` its name.
    system
        Units of the texts, and of numbers without a unit.
    progress
        Called with states done and to do.

    Raises
    ------
    InputError
        For invalid values, each at its field.
    """
    from ventplan.advice.tonight import plan_tonight
    from ventplan.show.airing_tables import fan_words, headline, outcomes, tonight_steps
    from ventplan.show.cautions import note_words

    question = _night_question(house, scenario, asked, system)
    weather = question.weather
    answer = plan_tonight(house, scenario, question, progress=progress)
    run, ways = answer.runs[-1], outcomes(answer)
    every_c = [c for course in run.rooms_c.values() for c in course]
    parts = {"evening": answer.evening, "night": answer.night}
    return {
        "headline": headline(house, answer, system),
        "notes": [note_words(note) for note in weather.notes],
        "fan": fan_words(answer, system),
        "steps": [{"when": when, "lines": lines} for when, lines in tonight_steps(house, answer, system)],
        "ways": list(ways),
        "rows": [
            {
                "name": f"{room}, {when}",
                "cells": [show(getattr(way, key)[room], "temperature", system) for way in ways.values()],
            }
            for room in answer.rooms
            for when, key in ((answer.bedtime, "bedtime_c"), (answer.waking, "waking_c"))
        ],
        "states": {name: state_of(part) for name, part in parts.items() if part is not None},
        "course": _course(
            run.times_s, run.rooms_c, [weather.label(t) for t in run.times_s], temperature_bounds_c(every_c, system),
            "warm", "Temperature", lambda c: show(c, "temperature", system),
            [_part_at(run.plan, t) for t in run.times_s],
            [f"outdoors {show(c, 'temperature', system)}" for c in run.outdoor_c],
        ),
    }  # fmt: skip


def _night_question(house: House, scenario: Scenario, asked: Mapping[str, str], system: System) -> TonightQuestion:
    from ventplan.advice.night_plan import TonightQuestion
    from ventplan.advice.search import fan_names
    from ventplan.advice.tonight import the_rooms
    from ventplan.airing.policy import Policy
    from ventplan.airing.weather import daily_curve

    wants, file = house.tonight, asked.get("weather", "")
    degrees = "°F" if system == "us" else "°C"
    fields: list[tuple[str, str, str, float | None]] = [
        ("bedtime", "", "", wants.bedtime_h),
        ("waking", "", "", wants.waking_h),
        ("quiet", "sound", "dB", wants.quiet_db),
    ]
    if not file:
        fields += [("high", "temperature", degrees, wants.high_c), ("low", "temperature", degrees, wants.low_c)]
    figures: dict[str, float] = {}
    errors: list[InvalidValue] = []
    for key, quantity, unit, usual in fields:
        typed = asked.get(key, "").strip()
        try:
            figures[key] = _figure(typed, quantity, unit, usual)
        except UnitError as error:
            errors.append(InvalidValue(f"tonight > {key}", error.found, error.allowed, error.hint))
        except ValueError:
            errors.append(InvalidValue(f"tonight > {key}", f'"{typed}"', "a time of day such as 22:30"))
    asleep_h = (figures.get("waking", 7.0) - figures.get("bedtime", 22.0)) % 24.0
    if not 1.0 <= asleep_h <= 16.0:
        errors.append(InvalidValue("tonight > waking", f"{asleep_h:g} hours after bedtime", "1 to 16 hours after it"))
    if errors:
        raise InputError(errors)
    bedtime_h = figures["bedtime"]
    weather = (
        _weather_of(file, asked.get("weather_name", ""))
        if file
        else daily_curve(
            high_c=figures["high"], low_c=figures["low"], begin_h=(bedtime_h - BEFORE_BEDTIME_H) % 24.0,
            hours=BEFORE_BEDTIME_H + asleep_h + AFTER_WAKING_H, humidity=scenario.outdoors.relative_humidity,
            wind=scenario.outdoors.wind,
        )
    )  # fmt: skip
    bedtime_s = weather.seconds_until(bedtime_h)
    waking_s = bedtime_s + 3600.0 * asleep_h
    if waking_s > weather.duration_s:
        raise InputError(
            f"the weather ends at {weather.label(weather.duration_s)}, before people wake; give hours up to waking"
        )
    return TonightQuestion(
        weather=weather.first(waking_s + 3600.0 * AFTER_WAKING_H), bedtime_s=bedtime_s, waking_s=waking_s,
        rooms=the_rooms(house, []), quiet_db=figures["quiet"], noise_db=wants.noise_db, keep_out=wants.keep_out,
        fans=fan_names(house, None, 1) if house.fans else (), policy=Policy(),
    )  # fmt: skip


def _figure(typed: str, quantity: str, unit: str, usual: float | None) -> float:
    """What was typed in SI, a time of day in hours; ``usual`` if nothing was typed."""
    if not typed:
        if usual is None:
            raise UnitError("nothing", f"the forecast's temperature, such as {'88 °F' if unit == '°F' else '31 °C'}")
        return usual
    if not quantity:
        return to_clock(typed)
    bare = typed.replace(",", ".").replace(".", "", 1).lstrip("+-").isdigit()
    return parse_quantity(f"{typed} {unit}" if bare else typed, quantity)


def _weather_of(text: str, name: str) -> Weather:
    """Weather from the text of a file that the browser read; the library's reader wants a file."""
    from ventplan.airing.weather_files import read_weather

    with TemporaryDirectory() as folder:
        path = Path(folder) / (PurePath(name).name or "weather.csv")
        path.write_text(text, "utf-8")
        return read_weather(path)


def clearing(house: House, scenario: Scenario, room: str, system: System) -> dict[str, Any]:
    """How smoke or a smell that fills one room clears, with what is left in each room at each moment.

    Parameters
    ----------
    house, scenario
        The house and its state.
    room
        Where it begins.
    system
        Units of the texts.
    """
    from ventplan.airing.clearing import clear_house, share_released

    answer = clear_house(house, [scenario], share_released([room]))[0].clearing
    times = list(answer.times_s)
    levels = {name: [row[i] for row in answer.concentrations] for i, name in enumerate(answer.rooms)}
    return {
        "rows": [
            {"name": name, "cells": [show_time(one.clear_s) if one.clear_s > 0.0 else "stays below 5 %"]}
            for name, one in answer.rooms.items()
        ],
        "course": _course(
            times, levels, [show_time(t) for t in times], SHARE_BOUNDS, "warm", f"Left of the smoke in {room}",
            lambda share: f"{100.0 * share:.0f} %", None, None,
        ),
    }  # fmt: skip


def _part_at(plan: Sequence[Any], time_s: float) -> str:
    return next((str(p.windows) for p in plan if p.begin_s <= time_s < p.end_s), str(plan[-1].windows) if plan else "")


def _course(
    times_s: Sequence[float],
    rooms: Mapping[str, Sequence[float]],
    labels: Sequence[str],
    bounds: Sequence[float],
    scale: str,
    title: str,
    words: Callable[[float], str],
    parts: Sequence[str] | None,
    notes: Sequence[str] | None,
) -> dict[str, Any]:
    """Moments of a course: colour and text of each room, as `ventplan.live.answers` has them of one state."""
    count = len(times_s)
    picked = sorted({round(i * (count - 1) / max(FRAMES - 1, 1)) for i in range(min(FRAMES, count))})
    return {
        "title": title,
        "scale": scale,
        "bounds": [words(bound) for bound in bounds],
        "frames": [
            {
                "label": labels[i],
                "part": parts[i] if parts else "",
                "note": notes[i] if notes else "",
                "rooms": {
                    name: [f"{scale} {bisect_right(bounds, values[i]) + 1}", words(values[i])]
                    for name, values in rooms.items()
                },
            }
            for i in picked
        ],
    }
