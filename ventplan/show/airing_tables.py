"""Clearing, nights and what to do tonight, for the terminal."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from ventplan.advice.night_plan import ActionCode, Outcome, TimelineStep, TonightAnswer
from ventplan.airing import NoteCode
from ventplan.airing.clearing import NeverReason
from ventplan.airing.policy import Reason
from ventplan.airing.safety import Hazard, HazardCode
from ventplan.house.records import House
from ventplan.house.units import System, show, show_time, show_time_up_to_a_day
from ventplan.show.cautions import cautions_view, note_words
from ventplan.show.instructions import action_words, listed
from ventplan.show.tables import about_temperature, paragraphs, percent, table, upper_first

if TYPE_CHECKING:
    from rich.console import RenderableType

    from ventplan.advice.night_plan import TonightIntervals
    from ventplan.airing import Note
    from ventplan.airing.clearing import HouseClearing, Release
    from ventplan.airing.night import Morning, Night
    from ventplan.airing.policy import Run
    from ventplan.house.units import System


MOST_COLUMNS = 5
"""Runs that fit side by side in 80 columns."""
MOST_MORNINGS, MOST_CHANGES = 14, 60
"""Mornings, and periods with open windows, that get a row each."""
ROUNDING = 1e-9
"""Share of the largest exposure below which a room's is rounding, and shown as none [-]."""
_EXPOSURE = (
    "Exposure: concentration multiplied by time, as minutes at the starting level unless it has a unit, until the "
    "slowest scenario of this table is clear. Passes through: share of the release that enters the room on its way "
    "out. Volumes: outdoor air that enters until every room is clear, in volumes of the house."
)


def clearing_view(
    answers: Sequence[HouseClearing], what: str, *, release: Release, system: System, age: bool = False
) -> Iterator[RenderableType]:
    """Scenarios side by side, then each room by room.

    Parameters
    ----------
    answers
        One for each scenario.
    what
        What is cleared, and down to what, in words; empty to leave clearing out.
    release
        What was released, with its limit and unit.
    system
        Units of the flows.
    age
        True to show the age of the air in each room, too.
    """
    from rich.text import Text

    if what:
        yield Text(clearing_headline(answers), style="bold")
        if len(release.start) == 1:
            (room,) = release.start
            name = f'"{room}"' if " " in room else room
            yield Text(
                "Only scenarios of the house file were compared. To search for better ones: "
                f"ventplan place --clear {name}"
            )
        yield table(
            f"Clearing {what}",
            ["scenario", "clear after", "outdoor air", "volumes", "leaves mostly by"],
            [
                [
                    answer.scenario,
                    _clear_after(answer.clearing.clear_s),
                    show(answer.outdoor_m3_s, "flow", system),
                    f"{answer.clearing.air_changes:.1f}" if math.isfinite(answer.clearing.clear_s) else "–",
                    _most(answer.leaves_by),
                ]
                for answer in answers
            ],
        )
    for answer in answers:
        if what:
            yield _room_table(answer, release)
        if age:
            yield from _age_view(answer)
    if what:
        yield Text(_EXPOSURE, style="dim")
    notes = dict.fromkeys(note_words(note) for answer in answers for note in answer.notes)
    if notes:
        yield paragraphs("Notes", notes)
    yield from cautions_view({answer.scenario: answer.cautions for answer in answers}, system)


def _most(shares: Mapping[str, float]) -> str:
    """The name with the largest share, and the share."""
    name = max(shares, key=lambda one: shares[one], default="")
    return f"{name} {percent(shares[name])}" if name and shares[name] >= 0.005 else "–"


def _age_view(answer: HouseClearing) -> Iterator[RenderableType]:
    """How old the air of each room is, and through which rooms it has passed."""
    rows = []
    for name, room in answer.age.rooms.items():
        if name in answer.age.without_outdoor_air:
            rows.append([name, "isolated", "–", "–", "–"])
            continue
        where = [_most(room.entered_by), _most(room.came_through)]
        rows.append([name, _minutes(room.age_s), percent(room.direct), *where])
    heads = ["room", "age", "from outdoors", "entered in", "passed"]
    yield table(f"{answer.scenario}: age of the air", heads, rows)
    house = answer.age
    effectiveness = ""
    if len(house.rooms) > 1:  # In one room it is 1 by definition.
        effectiveness = (
            f"; air-change effectiveness {house.air_change_effectiveness:.2f} (1 if it were one well-mixed room)"
        )
    if math.isfinite(house.mean_age_s):
        yield paragraphs(
            "",
            [
                "From outdoors: share of the air that enters the room directly. Entered in: the room in which most of "
                "it entered the house. Passed: the other room that most of it has passed through.",
                f"The house: mean age {show_time(house.mean_age_s)}; its volume is replaced in "
                f"{show_time(house.nominal_time_s)}{effectiveness}. Garages and isolated rooms do not count.",
            ],
        )


def _minutes(seconds: float) -> str:
    """A time in minutes, so that the rows of a column compare; in hours beyond a day."""
    if seconds > 86_400.0:
        return show_time(seconds)
    return f"{seconds / 60.0:.1f} min" if seconds < 597.0 else f"{seconds / 60.0:.0f} min"


def _clear_after(seconds: float) -> str:
    return _minutes(seconds) if seconds <= 86_400.0 else show_time_up_to_a_day(seconds)


def _room_table(answer: HouseClearing, release: Release) -> RenderableType:
    unit = release.unit
    shares = unit == "of the start"

    def level(value: float) -> str:
        if shares:
            return percent(value)
        return f"{value:.0f} {unit}".rstrip() if unit == "ppm" or value >= 100.0 else f"{value:.3g} {unit}".rstrip()

    rows = []
    below = f"stays below {level(release.limit)}"
    most = max(room.exposure for room in answer.clearing.rooms.values())
    for name, room in answer.clearing.rooms.items():
        exposure = room.exposure if room.exposure > ROUNDING * most else 0.0
        why = answer.clearing.never.get(name)
        rising = math.isinf(room.peak_s)  # towards where it settles, which is its peak
        highest = room.end if rising else room.peak
        never = "" if why is None else f"never: {_why(why, level(room.end))}"
        rows.append(
            [
                name,
                never if never else _clear_after(room.clear_s) if room.clear_s > 0.0 else below,
                level(highest),
                "in the end" if rising else _minutes(room.peak_s) if room.peak_s > 0.0 else "start",
                f"{exposure / 60.0:.{0 if exposure >= 597.0 else 1}f} min"
                if shares
                else f"{level(exposure / 3600.0)} h",
                percent(room.visited),
            ]
        )
    return table(answer.scenario, ["room", "clear after", "peak", "at", "exposure", "passes through"], rows)


def _why(reason: NeverReason, settles_at: str) -> str:
    """Why a room does not clear."""
    return {
        NeverReason.ISOLATED: "no outdoor air reaches it",
        NeverReason.OUTDOORS_ABOVE_LIMIT: "the air outdoors is not below the limit",
        NeverReason.SETTLES_ABOVE: f"settles at {settles_at}",
        NeverReason.TAKES_WEEKS: "takes more than two weeks",
    }[reason]


def night_view(
    answer: Night,
    days: Sequence[Morning],
    cautions: Mapping[str, tuple[Hazard, ...]],
    notes: Sequence[Note] = (),
    *,
    system: System,
) -> Iterator[RenderableType]:
    """Runs through the weather side by side, when to open, and the house at every morning."""
    from rich.text import Text

    first = answer.runs[0]
    start = show(first.settled_c[0], "temperature", system)
    yield Text(night_headline(answer, days, system), style="bold")
    yield table(
        f"From {first.plan[0].begin}, {start}, to {first.plan[-1].end}: temperature of air and walls together",
        ["", "at the end", "cooler by", "heat removed", "fan energy", "heat per kWh"],
        [_run_row(run, answer, system) for run in answer.runs],
    )
    if answer.cooling_per_fan:
        yield Text("Heat per kWh: kWh of heat removed beyond windows alone, per kWh of fan energy.", style="dim")
    for run in answer.runs:
        if run.name in cautions:
            yield _openings(run)
    if days:
        yield from _mornings(answer, days, system)
    if notes:
        yield paragraphs("Notes", map(note_words, notes))
    yield from cautions_view(cautions, system)


REASONS = {
    Reason.COOLER_OUTDOORS: "it is cooler outdoors",
    Reason.WARMER_OUTDOORS: "it is not cooler outdoors",
    Reason.COOL_ENOUGH: "it is cool enough",
    Reason.SMOKE: "smoke outdoors",
    Reason.RAIN: "rain",
    Reason.MUGGY: "muggy outdoors",
    Reason.DAMP_WALLS: "walls would get damp",
    Reason.AS_PLANNED: "as planned",
}
"""Why windows are as they are."""
ORDINARY = (Reason.WARMER_OUTDOORS, Reason.AS_PLANNED)
"""Reasons for shut windows that need no row."""


def _openings(run: Run) -> RenderableType:
    """When windows are open and fans run, and why each change was made."""
    opened = [step for step in run.plan if step.windows != "shut"]
    if len(opened) > MOST_CHANGES:
        hours = {
            w: sum(s.end_s - s.begin_s for s in run.plan if s.windows == w) / 3600.0 for w in ("open", "with fans")
        }
        return paragraphs(
            f"{run.name}: windows are opened {len(opened)} times",
            [
                f"They are open without fans for {hours['open']:.0f} h and with fans for {hours['with fans']:.0f} h in "
                "all. --save FILE.csv writes down when."
            ],
        )
    if not opened:
        rows = [[run.plan[0].begin, run.plan[-1].end, "shut", REASONS[run.plan[0].reason]]]
    else:
        listed = [step for step in run.plan if step.windows != "shut" or step.reason not in ORDINARY]
        rows = [[step.begin, step.end, step.windows, REASONS[step.reason]] for step in listed]
    return table(f"{run.name}: windows", ["from", "to", "windows", "because"], rows, words=4)


def _mornings(answer: Night, days: Sequence[Morning], system: System) -> Iterator[RenderableType]:
    """The house at every morning, or the warmest of many, and the air of the rooms at the last one."""
    names = [run.name for run in answer.runs][:MOST_COLUMNS]

    def degrees(values: Sequence[float]) -> list[str]:
        return [show(value, "temperature", system) for value in values]

    shown, title = days, "Mornings: temperature of air and walls together"
    if len(days) > MOST_MORNINGS:
        shut = names[0]
        warmest = sorted(days, key=lambda day: -day.house_c[shut])[:MOST_MORNINGS]
        shown, title = [day for day in days if day in warmest], f"The {MOST_MORNINGS} warmest of {len(days)} mornings"
    if len(days) > 1:
        rows = [[day.when, *degrees([day.outdoor_c, *(day.house_c[name] for name in names)])] for day in shown]
        yield table(title, ["", "outdoors", *names], rows)
    last = days[-1]
    rows = [[room, *degrees([last.rooms_c[name][room] for name in names])] for room in last.rooms_c[names[0]]]
    yield table(f"Air in the rooms, {last.when}", ["room", *names], rows)


def _run_row(run: Run, answer: Night, system: System) -> list[str]:
    gained, per_fan = answer.gained_k.get(run.name), answer.cooling_per_fan.get(run.name)
    return [
        run.name,
        show(run.settled_c[-1], "temperature", system),
        "–" if gained is None else show(gained, "temperature difference", system),
        f"{run.vented_kwh:.{0 if run.vented_kwh >= 9.95 else 1}f} kWh",
        "–" if run.windows != "with fans" or run.fan_kwh is None else f"{run.fan_kwh:.1f} kWh",
        "–" if per_fan is None else f"{per_fan:.1f}".replace("-", "−"),
    ]


def clearing_headline(answers: Sequence[HouseClearing]) -> str:
    """The scenario that clears the house soonest, in a sentence."""
    best = min(answers, key=lambda one: one.clearing.clear_s)
    if not math.isfinite(best.clearing.clear_s):
        return "No scenario clears every room." if len(answers) > 1 else "Not every room gets clear."
    others = f", the soonest of {len(answers)} scenarios" if len(answers) > 1 else ""
    return f"{best.scenario}: every room is clear after {show_time_up_to_a_day(best.clearing.clear_s)}{others}."


def night_headline(answer: Night, days: Sequence[Morning], system: System) -> str:
    """The mornings of the plan that ends coolest, against everything shut, in a sentence; its end if there are none."""
    if not answer.gained_k:
        return "Everything stays shut."
    best = max((run for run in answer.runs if run.name in answer.gained_k), key=lambda run: answer.gained_k[run.name])
    end, cooler = show(best.settled_c[-1], "temperature", system), answer.gained_k[best.name]
    if cooler < 0.05:
        return f"Opening windows does not cool the house in this weather: {end} at the end."
    if days:
        shut = answer.runs[0].name
        house = [day.house_c[best.name] for day in days]
        less = [day.house_c[shut] - day.house_c[best.name] for day in days]
        when = days[0].when if len(days) == 1 else f"{days[0].when.split()[-1]} on {len(days)} mornings"
        range_c, range_k = _span(house, "temperature", system), _span(less, "temperature difference", system)
        return f"{best.name}: the house is at {range_c} at {when}, {range_k} cooler than with everything shut."
    by = show(cooler, "temperature difference", system)
    return f"{best.name}: the house ends at {end}, {by} cooler than with everything shut."


def _span(values: Sequence[float], quantity: str, system: System) -> str:
    """Least and greatest of some values, as ``20.1 to 23.4 °C``; one where they read the same."""
    low, high = show(min(values), quantity, system), show(max(values), quantity, system)
    return low if low == high else f"{low.rpartition(' ')[0]} to {high}"


LEFT_OUT = {
    HazardCode.FLAME_FLAGGED: "lower the pressure at a flame beyond the limit",
    HazardCode.GARAGE_AIR: "draw air from a garage",
    HazardCode.SMOKE: "bring smoke in",
    HazardCode.FIRE_DOOR: "hold a fire door open",
    HazardCode.NOISE: "be louder at the pillow than the limit of QUIET, or its sound is not in the house file",
}
"""Why plans were left out, after "because they would"."""


STANDARD_TIME = (
    "Times are standard time. During daylight saving time add 1 hour to each, and give --bedtime and --waking 1 hour "
    "earlier than your clock shows."
)
"""What a forecast's high and low need: the daily curve follows the sun, not the clock."""
LEAST_GAIN_K = 0.25
"""A fan's gain in a room that is worth a place in the headline [K] (common practice, no source)."""


def tonight_view(
    house: House,
    answer: TonightAnswer,
    notes: Sequence[Note],
    system: System,
    sure: TonightIntervals | None = None,
) -> Iterator[RenderableType]:
    """Everything that ``ventplan tonight`` prints."""
    from rich.text import Text

    yield Text(headline(house, answer, system), style="bold")
    if any(note.code == NoteCode.DAILY_CURVE for note in notes):
        yield Text(STANDARD_TIME)
    yield table(
        f"{house.name}: what to do",
        ["when", "what"],
        [
            (when if i == 0 else "", line)
            for when, lines in tonight_steps(house, answer, system)
            for i, line in enumerate(lines)
        ],
        words=2,
    )
    yield table(
        "Air temperature",
        ["", *outcomes(answer)],
        list(_rows(answer, system)),
    )
    yield Text(fan_words(answer, system))
    if answer.uses_fan and any(level > 0.0 for level in answer.pillow_db.values()):
        levels = "; ".join(f"{level:.0f} dB(A) in {room}" for room, level in answer.pillow_db.items() if level > 0.0)
        yield Text(f"At the pillow from {answer.bedtime} on: about {levels}; the limit is {answer.quiet_db:.0f} dB(A).")
    if sure is not None:
        for room, (low, high) in sure.waking_c.items():
            span = f"{show(low, 'temperature', system)} and {show(high, 'temperature', system)}"
            yield Text(
                f"{upper_first(room)} on waking: between {span} (90 %), since openings, fans and wind are not known "
                "exactly."
            )
    said = [
        *(_left_out(code, count, answer.quiet_db) for code, count in answer.left_out.items()),
        *map(note_words, notes),
    ]
    if said:
        yield paragraphs("Notes", said)
    yield from cautions_view({"": answer.cautions}, system)


def outcomes(answer: TonightAnswer) -> Mapping[str, Outcome]:
    """What is compared, by name."""
    found = {"everything shut": answer.shut, "best windows alone": answer.windows}
    return {**found, "this plan": answer.plan} if answer.uses_fan else found


def headline(house: House, answer: TonightAnswer, system: System) -> str:
    """The answer in one or two sentences."""
    room = answer.rooms[0]
    opens = [step for step in answer.timeline if any(a.code == ActionCode.OPEN for a in step.actions)]
    waking = about_temperature(answer.plan.waking_c[room], system)
    if not opens:
        why = "there is smoke outdoors" if answer.smoke else f"opening would not make {room} cooler"
        return f"Keep everything shut tonight: {why}. Expect about {waking} at {answer.waking}."
    fans = list(
        dict.fromkeys(a.names[0] for step in answer.timeline for a in step.actions if a.code == ActionCode.START_FAN)
    )
    first = opens[0]
    names = [name for action in first.actions if action.code == ActionCode.OPEN for name in action.names]
    kinds = "windows" if all(house.openings[name].kind == "window" for name in names) else "windows and doors"
    what = listed(names) if len(names) <= 3 else f"{len(names)} {kinds}"
    start = "Open" if first.time_s <= 0.0 else f"Keep the house shut until {first.when}, then open"
    starts = [step for step in answer.timeline if any(a.code == ActionCode.START_FAN for a in step.actions)]
    since = f" from {starts[0].when}" if starts and starts[0].time_s > first.time_s else ""
    run = f" and run the {listed(fans)}{since}" if fans else ""
    cooler = answer.shut.waking_c[room] - answer.plan.waking_c[room]
    gains = {name: answer.windows.waking_c[name] - answer.plan.waking_c[name] for name in answer.rooms}
    most = max(gains, key=gains.__getitem__)
    versus = f", {show(cooler, 'temperature difference', system)} cooler than with everything shut"
    if fans and gains[most] >= LEAST_GAIN_K:
        where = "" if most == room else f"; {most} is then"
        gain = show(gains[most], "temperature difference", system)
        versus += f"{where or ' and'} {gain} cooler than with the best windows alone"
    return f"{start} {what}{run}: expect about {waking} in {room} at {answer.waking}{versus}."


def fan_words(answer: TonightAnswer, system: System) -> str:
    """Whether a fan is worth it."""
    if answer.smoke:
        return "Keep fans that blow outdoors off until the smoke is gone; follow the advice of the local authority."
    if answer.fan_adds_k is None:
        return "No fan of the house file may be used in this night's plan; the windows do it alone."
    adds = show(max(answer.fan_adds_k, 0.0), "temperature difference", system)
    where = f"{listed(answer.rooms)} from {answer.bedtime} to {answer.waking}"
    if answer.uses_fan:
        fans = {p.fan for state in (answer.evening, answer.night) if state for p in state.placements}
        run = "fan makes" if len(fans) == 1 else "fans make"
        return f"Averaged over {where}, the {run} it {adds} cooler than the best windows alone."
    return f"Leave the fan off: it would make {where} only {adds} cooler on average than the windows alone."


def tonight_steps(house: House, answer: TonightAnswer, system: System) -> list[tuple[str, list[str]]]:
    """When to do what, a line for each action; times at which nothing is done are left out."""
    steps = answer.timeline
    until = [f"until {step.when}" for step in steps[1:]] + ["all night"]
    found = [
        (step.when, list(_lines(house, step, end, answer, system))) for step, end in zip(steps, until, strict=True)
    ]
    return [(when, lines) for when, lines in found if lines]


def _lines(house: House, step: TimelineStep, until: str, answer: TonightAnswer, system: System) -> Iterator[str]:
    for action in step.actions:
        words = action_words(house, action, system)
        yield f"{words.removesuffix('.')} {until}." if action.code == ActionCode.KEEP_SHUT else words
    if step.when != answer.bedtime or answer.night is None:
        return
    within_reach = [
        name
        for hazard in answer.cautions
        if hazard.code == HazardCode.OPEN_UNATTENDED
        for name in hazard.names
        if house.openings[name].kind == "window"
    ]
    if within_reach:
        yield (
            f"Hold {listed(within_reach)} at a stop narrower than a person: within reach from outside. This lets in "
            "less air than the temperatures below assume."
        )


def _rows(answer: TonightAnswer, system: System) -> Iterator[Sequence[str]]:
    """Each room at bedtime and on waking, for every way to spend the night."""
    ways = outcomes(answer).values()
    for room in answer.rooms:
        yield (f"{room}, {answer.bedtime}", *(show(way.bedtime_c[room], "temperature", system) for way in ways))
        yield (f"{room}, {answer.waking}", *(show(way.waking_c[room], "temperature", system) for way in ways))


def _left_out(code: str, count: int, quiet_db: float) -> str:
    who = (
        "1 plan with a fan was left out, because it" if count == 1 else f"{count} plans with a fan were left out: each"
    )
    return f"{who} would {LEFT_OUT[HazardCode(code)]}.".replace("QUIET", f"{quiet_db:.0f} dB(A)")
