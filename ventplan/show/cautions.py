"""Hazards as sentences: what in the answer causes them, what to do, and who says so; and notes on what it rests on."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from ventplan.airing import Note, NoteCode
from ventplan.airing.policy import MOULD_HUMIDITY
from ventplan.airing.safety import NOTICED_PA, Hazard, HazardCode, weight
from ventplan.airing.weather_files import COLUMNS
from ventplan.house.remarks import USUAL
from ventplan.house.units import System, show
from ventplan.house.weather import odd_outdoor_air
from ventplan.show.tables import paragraphs, percent, upper_first

if TYPE_CHECKING:
    from rich.console import RenderableType


SHARE_OF_FANS = 0.9
"""Share of a negative pressure from which on fans are said to cause all of it [-]."""
ASSUMED_WORDS = {"wind speed": "calm", "sun": "dark", "rain": "dry"}
"""How the assumed values of a weather file are said."""
TO_CHECK = {
    "thrust": "the lever ratio (`--lever`), the unit of the scale and the tare",
    "flow": "the unit of the speeds and the size of the opening",
    "spread": "the unit of the distances, and that they count from the blades",
}
"""What to check where a figure of a fan is implausible."""
SAME_TEXT = {HazardCode.GARAGE_WALL: HazardCode.GARAGE_AIR, HazardCode.HEATER_BESIDE_FANS: HazardCode.CIRCUIT}
"""Hazards with the same subject and the same advice as another."""


@dataclass(frozen=True)
class Caution:
    """A hazard in words.

    Attributes
    ----------
    about
        Subject in a few words.
    computed
        What in the answer causes it, with numbers.
    do
        What to do.
    source
        Who says so.
    code
        Kind of hazard, which never changes with the wording.
    names, numbers
        What it is about, and what was computed, in SI.
    """

    about: str
    computed: str
    do: str
    source: str
    code: str
    names: tuple[str, ...]
    numbers: Mapping[str, float]


def note_words(note: Note, system: System = "si") -> str:
    """A note as a sentence."""
    numbers, listed = note.numbers, ", ".join(note.names)
    match note.code:
        case NoteCode.PARTLY_MIXED:
            mixing = ", ".join(f"{room} ({percent(share)})" for room, share in numbers.items())
            return f"Times are for the air that mixes: {mixing}. The still rest clears later."
        case NoteCode.DOORWAY_EXCHANGE:
            return (
                "Where little air is driven through an open inner door, an exchange as for "
                f"{numbers['difference_k']:g} K between the rooms is assumed; times that rest on it are rough."
            )
        case NoteCode.LEAKAGE_ASSUMED:
            return (
                f"The house file gives no leakage of walls, so what is shut is very tight here; {USUAL}. Write "
                "leakage: {ach50: 6} to see what that changes (docs/house_file.md)."
            )
        case NoteCode.UNUSUAL_OUTDOORS:
            return f"Unusual: {odd_outdoor_air(numbers['temperature_c'])}."
        case NoteCode.WEATHER_ASSUMED:
            values = [f"{ASSUMED_WORDS.get(name) or percent(value)} ({name})" for name, value in numbers.items()]
            return f"Assumed where the weather file has no value: {', '.join(values)}."
        case NoteCode.HEADINGS_UNKNOWN:
            known = ", ".join(column.name for column in COLUMNS)
            return f"Headings of the weather file that are not known: {listed}. Known: {known}."
        case NoteCode.DAILY_CURVE:
            return (
                "Hours between the high and the low follow the daily curve of ASHRAE Fundamentals 2017, in standard "
                "time; in summer time each hour comes one later."
            )
        case NoteCode.HOURS_COUNTED:
            return (
                f"{percent(numbers['share'])} of the time counts: when it is dry, without a storm, and no warmer "
                "outdoors than indoors."
            )
        case NoteCode.ONE_LINE_EVEN | NoteCode.ONE_LINE_PEAKED:
            return f"All places are along one line, so the speeds beside it are not known. {_one_line(note)}"
        case NoteCode.DOWNSTREAM_UNUSED:
            return (
                "--downstream corrects one place only, and is not used here. Take a traverse in the plane of the "
                "opening."
            )
        case NoteCode.ONE_PLACE:
            return (
                "One place stands for the whole opening: fair where air is drawn through it evenly, worthless where "
                "a fan's jet goes through it. `--positions` prints the places of a traverse."
            )
        case NoteCode.STREAM_CONTRACTS:
            return (
                f"Behind a sharp edge the stream contracts: the reading was divided by {numbers['divided_by']:.2f} to "
                "get the mean."
            )
        case NoteCode.BELOW_START_UP:
            return (
                f"At {numbers['area']:.0%} of the area the speed was below start-up: it counts as 0 to "
                f"{show(numbers['start_up_m_s'], 'speed', system)}, not as 0."
            )
        case NoteCode.THRUST_NEAR_ZERO:
            most = show(numbers["below_n"], "thrust", system)
            return f"The thrust does not differ from zero within its uncertainty: it is below {most}."
        case NoteCode.ONE_DIRECTION:
            return (
                "Only one direction was read: the pull of the cable and the tilt of the table are not cancelled, and "
                f"{numbers['allowed']:.0%} is allowed for them. Turn the fan round and read again to cancel them."
            )
        case NoteCode.DIRECTIONS_DIFFER:
            return "The two directions differ by more than a fifth of the thrust: look for a cable that pulls."
        case NoteCode.SAME_DIRECTION:
            return "Both directions push the same way. Was the fan turned round?"
        case NoteCode.THRUST_BY_FLOW:
            return (
                "Only one of thrust and flow was measured; the other follows from T = "
                f"{numbers['factor']:.2f} rho Q² / A (within {numbers['error']:.0%})."
            )
        case NoteCode.TYPICAL_SPREAD:
            return (
                f"No reading determines the spread: the typical {numbers['spread']:.2f} is assumed (within "
                f"{numbers['error']:.0%})."
            )
        case NoteCode.IMPLAUSIBLE:
            value, low, high = (_figure(numbers[key], listed, system) for key in ("value", "lowest", "highest"))
            return (
                f"CAUTION: a {listed} of {value} is implausible for a household fan, which has {low} to {high}. "
                f"Check {TO_CHECK[listed]}."
            )
        case NoteCode.THRUST_UNLIKE_FLOW:
            return (
                f"a stream of {show(numbers['flow_m3_s'], 'flow', system)} through blades of "
                f"{show(numbers['diameter_m'], 'length', system)} pushes with about "
                f"{show(numbers['expected_n'], 'thrust', system)}, and the readings give "
                f"{show(numbers['thrust_n'], 'thrust', system)}: check flow, thrust, diameter and settings"
            )
        case NoteCode.UNLIKE_FILE:
            before, now = (_figure(numbers[key], listed, system) for key in ("file", "readings"))
            return f"the {listed} is {before} in the house file and {now} in the readings"
        case NoteCode.ODD_SETTING:
            return f"the speed on {listed} is {numbers['share']:.0%} of the highest: is it a lower setting?"
        case NoteCode.CONTRADICTION:
            return (
                "the readings contradict one another: they differ by more than the stated uncertainties allow "
                f"(a probability of {numbers['chance']:.1%}; the limit is {numbers['limit']:.0%}); {_sides(note)}"
            )
        case NoteCode.CHECK_READING:
            side = "above" if numbers["off"] > 0.0 else "below"
            return (
                f"Check {listed}: it is {abs(numbers['off']):.1f} standard deviations {side} what the other readings "
                "give."
            )
        case NoteCode.UNITS_READ:
            columns: dict[str, list[str]] = {}
            for column, unit in zip(note.names[::2], note.names[1::2], strict=True):
                columns.setdefault(unit, []).append(column)
            said = "; ".join(f"{' and '.join(names)} in {unit}" for unit, names in columns.items())
            return f"Numbers without a unit were read as: {said}."
        case NoteCode.TIMES_UNREADABLE:
            return (
                "The times of the log cannot be read (write 12 s, 20:00:01 or 2030-07-01 20:00:01): even steps are "
                "assumed."
            )
        case NoteCode.UNEVEN_LOG:
            return (
                f"The log is uneven: {numbers['uneven']:.0f} of {numbers['steps']:.0f} time steps differ from the "
                "usual one: its interval is less sure."
            )
        case NoteCode.LOGGED_SERIES:
            few = numbers["independent"] < numbers["enough"]
            return (
                f"Of the {numbers['readings']:.0f} logged readings the first {numbers['settling']:.0f} were left out, "
                "while the speed settled. Successive readings resemble each other, so the other "
                f"{numbers['kept']:.0f} count as {numbers['independent']:.0f} independent ones."
                f"{' Log longer: so few make the interval rough.' if few else ''}"
            )
        case NoteCode.VANE_STILL:
            return (
                f"The vane did not turn in {_lines(note.names)}: the speed there is between 0 and its start-up speed."
            )
        case NoteCode.SETUP_OF_FILE:
            rows = _lines(note.names[1:])
            return f"No {note.names[0]} in {rows}, below rows that have one: the house file's own is used."
        case NoteCode.LEFT_OUT:
            reason = "one place in a jet, or where air goes both ways, does not give the flow"
            return f"Left out, since {reason}: {'; '.join(note.names)}."
        case NoteCode.SET_ASIDE:
            which = "it" if len(note.names) == 1 else "them"
            return (
                f"Set aside, since the others contradict {which}: {'; '.join(note.names)}. Nothing above rests on "
                f"{which}: correct a typing error, or read there again."
            )
        case NoteCode.FARTHEST_APART:
            high, low = note.names
            return f"farthest apart are {high}, above what the others predict, and {low}, below it"
        case NoteCode.ALL_ON_ONE_SIDE:
            return (
                f"all are {listed} what the file and the others predict: a unit, the calibration or a set-up may be "
                "wrong"
            )


def _lines(numbers: Sequence[str]) -> str:
    return f"line{'s' if len(numbers) > 1 else ''} {', '.join(numbers)}"


def _figure(value: float, name: str, system: System) -> str:
    """A figure of a fan; its spread has no unit."""
    return f"{value:.3g}" if name == "spread" else show(value, name, system)


def _sides(note: Note) -> str:
    """Which readings disagree: the one that all others contradict, or both sides where none can be singled out."""
    found = {label: note.numbers[label] for label in note.names}
    above, below = ([label for label, score in found.items() if (score > 0.0) is side] for side in (True, False))
    sides = [f"{' and '.join(side)} {word}" for side, word in ((above, "above"), (below, "below")) if side]
    said = f"{', '.join(sides)} what the others give by {max(map(abs, found.values())):.1f} standard deviations"
    return said if len(found) == 1 else f"{said} each, so the readings do not show which is wrong: check them all"


def _one_line(note: Note) -> str:
    """What readings along one line leave open, and what to do."""
    if note.code is NoteCode.ONE_LINE_EVEN:
        return (
            f"The interval allows {100.0 * note.numbers['allowed']:.0f} % for them; read two more lines to do better."
        )
    return (
        "If the stream is as peaked across the line as along it, the flow given here is "
        f"{note.numbers['too_high']:.0%} too high. The interval allows for that; read at least two more lines, or take "
        "the places that `--positions` prints."
    )


@lru_cache(maxsize=1)
def texts() -> dict[str, Any]:
    """The texts by code, and ``closing``, the sentence that defers to codes and licensed practice."""
    import tomllib
    from importlib.resources import files

    found: dict[str, Any] = tomllib.loads(files("ventplan.show").joinpath("cautions.toml").read_text(encoding="utf-8"))
    return found


def cautions_of(hazards: Iterable[Hazard], system: System) -> tuple[Caution, ...]:
    """Hazards as sentences, in the same order."""
    return tuple(caution_of(hazard, system) for hazard in hazards)


def caution_of(hazard: Hazard, system: System) -> Caution:
    """A hazard as sentences."""
    text = texts()[SAME_TEXT.get(hazard.code, hazard.code)]
    do = f"{text['do']} {texts()['closing']}" if text.get("defer") else text["do"]
    computed = _computed(hazard, system)
    return Caution(text["about"], computed, do, text["source"], hazard.code.value, hazard.names, hazard.numbers)


def _computed(hazard: Hazard, system: System) -> str:
    """What in the answer causes a hazard."""
    n, names = hazard.numbers, hazard.names
    match hazard.code:
        case HazardCode.FLAME_FLAGGED | HazardCode.FLAME_MILD:
            return _flame(hazard, system)
        case HazardCode.GARAGE_AIR:
            return f"{show(n['flow_m3_s'], 'flow', system)} comes into the house from {names[0]}"
        case HazardCode.GARAGE_WALL:
            lack = show(n["depressurisation_pa"], "pressure", system)
            return f"{names[0]} is {lack} below the pressure of {names[1]} behind its wall, which may leak"
        case HazardCode.SMOKE:
            return f"{show(n['flow_m3_s'], 'flow', system)} of that air comes in"
        case HazardCode.FIRE_DOOR:
            return f"{names[0]}, which leads to the stairs of the building, is open"
        case HazardCode.STORM:
            return f"wind of {show(n['wind_m_s'], 'wind', system)} over open country, and open: {', '.join(names)}"
        case HazardCode.FALL:
            screen = "its screen on" if n["screened"] else "no screen on"
            gap, drop = show(n["gap_m"], "length", system), show(n["drop_m"], "length", system)
            return f"{names[0]} is open by {gap} above a drop of {drop}, with {screen}"
        case HazardCode.FAN_FALL:
            drop = show(n["drop_m"], "length", system)
            return f"{names[0]} stands in the open {names[1]}, above a drop of {drop}"
        case HazardCode.OPEN_UNATTENDED:
            return ", ".join(names)
        case HazardCode.RAIN | HazardCode.FAN_OUTDOORS | HazardCode.FAN_IN_DOORWAY:
            return _fan(hazard, system)
        case HazardCode.CIRCUIT:
            both = show(n["fans_w"] + n["heater_w"], "power", system)
            heater = show(n["heater_w"], "power", system)
            return (
                f"the fans in {names[0]} take {show(n['fans_w'], 'power', system)}; with a heater of {heater} that is "
                f"{both}"
            )
        case HazardCode.HEATER_BESIDE_FANS:
            released = show(n["heater_w"], "power", system)
            taken = show(n["fans_w"], "power", system)
            return f"the fans in {names[0]} take {taken} beside {released} of heat released there"
        case HazardCode.NOISE:
            return f"about {n['level_db']:.0f} dB(A) in {names[0]} from {' and '.join(names[1:])}"
        case _:
            return _air(hazard, system)


def _flame(hazard: Hazard, system: System) -> str:
    (room, flame), n = hazard.names, hazard.numbers
    value, by_fans = n["depressurisation_pa"], n["by_fans_pa"]
    level = f"{room}, with {flame}, is {show(value, 'pressure', system)} below outdoors"
    if NOTICED_PA <= by_fans < SHARE_OF_FANS * value:
        level += f", {show(by_fans, 'pressure', system)} of it by fans"
    side = "beyond" if hazard.code == HazardCode.FLAME_FLAGGED else "within"
    return f"{level}, and {side} the limit of {n['limit_pa']:g} Pa"


def _fan(hazard: Hazard, system: System) -> str:
    (fan, opening), n = hazard.names, hazard.numbers
    place = "sealed into" if n["sealed"] else f"{show(n['setback_m'], 'length', system)} from"
    if hazard.code == HazardCode.RAIN:
        return f"it rains, and {fan} is {place} {opening}"
    if hazard.code == HazardCode.FAN_OUTDOORS:
        return f"{fan} stands outdoors, {place} {opening}, and its cord runs there"
    return f"{fan} is {place} {opening}, and its cord lies there"


def _air(hazard: Hazard, system: System) -> str:
    """Hazards of damp, draught and warmth."""
    n, names = hazard.numbers, hazard.names
    match hazard.code:
        case HazardCode.DAMP_AIR:
            dew, cool = show(n["dew_point_c"], "temperature", system), show(n["room_c"], "temperature", system)
            return f"air of dew point {dew} comes into {names[0]} at {cool}: {100 * n['humidity']:.0f} % there"
        case HazardCode.DAMP_WALLS | HazardCode.DAMP_WALLS_SHUT:
            wet = n["humidity"] > 1.0 - 1e-9
            reach = f"the worst, in {names[0]}, reach {100.0 * n['humidity']:.0f} %"
            worst = f"water condenses in {names[0]}" if wet else reach
            return (
                f"walls stay above {percent(MOULD_HUMIDITY)} humidity for {n['damp_h']:.0f} h at a time, and {worst}; "
                f"with everything shut for {n['shut_h']:.0f} h"
            )
        case HazardCode.STRONG_AIR:
            speed, limit = show(n["speed_m_s"], "speed", system), show(n["limit_m_s"], "speed", system)
            return f"the air at {names[0]} moves at {speed}, above {limit}"
        case HazardCode.DRAUGHT:
            air = f"{show(n['temperature_c'], 'temperature', system)} at {show(n['speed_m_s'], 'speed', system)}"
            return f"air of {air} at {names[0]} is unpleasant for about {100 * n['bothered']:.0f} % of people"
        case HazardCode.WARM_AIR:
            by = show(n["warmer_k"], "temperature difference", system)
            return f"{show(n['flow_m3_s'], 'flow', system)} comes in that is {by} warmer than the rooms"
        case _:
            raise ValueError(f"no words for {hazard.code}")


WORST_BY = ("depressurisation_pa", "level_db", "bothered", "speed_m_s", "flow_m3_s")
"""Numbers of hazards by which the worst of several plans is found."""


def cautions_view(by_plan: Mapping[str, Sequence[Hazard]], system: System) -> Iterator[RenderableType]:
    """Cautions of one plan or several, each said once, the gravest first; nothing where there are none.

    Parameters
    ----------
    by_plan
        Hazards by the name of the plan that causes them; the name may be empty where there is one plan.
    system
        Units.
    """

    lines = caution_lines(by_plan, system)
    if lines:
        yield paragraphs("Cautions" if len(lines) > 1 else "Caution", lines)


def caution_lines(by_plan: Mapping[str, Sequence[Hazard]], system: System) -> list[str]:
    """Cautions as sentences: what causes each in which plan, and what to do; at the end who comes before the answer."""
    closing = texts()["closing"]
    listed: dict[str, dict[tuple[str, ...], dict[str, Caution]]] = {}
    order: dict[str, int] = {}
    for plan, hazards in by_plan.items():
        for caution in cautions_of(hazards, system):
            order[caution.do] = min(order.get(caution.do, len(HazardCode)), weight(HazardCode(caution.code)))
            listed.setdefault(caution.do, {}).setdefault((caution.about, *caution.names), {})[plan] = caution
    lines = []
    for do in sorted(listed, key=lambda key: order[key]):
        causes = [_cause(found, len(by_plan)) for found in listed[do].values()]
        about = next(iter(listed[do]))[0]
        lines.append(f"{upper_first(about)}: {'; '.join(dict.fromkeys(causes))}. {do.removesuffix(closing).strip()}")
    if any(do.endswith(closing) for do in listed):
        lines.append(closing)
    return lines


def _cause(found: Mapping[str, Caution], plans: int) -> str:
    """The cause of a caution with the plans that have it; of plans with other numbers the worst is given."""

    def size(caution: Caution) -> float:
        return next((caution.numbers[name] for name in WORST_BY if name in caution.numbers), 0.0)

    worst = max(found.values(), key=size)
    same = [plan for plan, caution in found.items() if caution.computed == worst.computed]
    less = [plan for plan in found if plan not in same]
    if plans == 1 or (len(same) == plans and plans > 2):
        return worst.computed.rstrip(".") + (" (all plans)" if plans > 1 else "")
    which = ", ".join(same) + (f"; less in {', '.join(less)}" if less else "")
    return f"{worst.computed.rstrip('.')} ({which})"
