"""What to do tonight, in words: a sentence, a timeline, and what it brings."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from ventplan.advice.night_plan import Action, ActionCode, Outcome, TimelineStep, TonightAnswer
from ventplan.airing.hazard import HazardCode
from ventplan.house.records import House
from ventplan.house.units import System, show
from ventplan.show.airing_tables import caution_lines
from ventplan.show.tables import fan_instruction, paragraphs, table

if TYPE_CHECKING:
    from rich.console import RenderableType

    from ventplan.advice.night_plan import TonightIntervals

LEFT_OUT = {
    HazardCode.FLAME_FLAGGED: "lower the pressure at a flame beyond the limit",
    HazardCode.GARAGE_AIR: "draw air from a garage",
    HazardCode.SMOKE: "bring smoke in",
    HazardCode.FIRE_DOOR: "hold a fire door open",
    HazardCode.NOISE: "be louder at the pillow than the limit of QUIET, or its sound is not in the house file",
}
"""Why plans were left out, after "because they would"."""


def tonight_view(
    house: House,
    answer: TonightAnswer,
    notes: Sequence[str],
    system: System,
    sure: TonightIntervals | None = None,
) -> Iterator[RenderableType]:
    """Everything that ``ventplan tonight`` prints.

    Parameters
    ----------
    house
        The house.
    answer
        What to do.
    notes
        What was assumed of the weather and the house.
    system
        Units.
    sure
        Intervals of what it brings, or None.
    """
    from rich.text import Text

    yield Text(headline(answer, system), style="bold")
    yield table(
        f"{house.name}: what to do",
        ["when", "what"],
        [
            (step.when if i == 0 else "", line)
            for step in answer.timeline
            for i, line in enumerate(_lines(house, step, answer, system))
        ],
        words=2,
    )
    yield table(
        "What it brings (air temperature)",
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
                f"{room} on waking: between {span} (90 %), for what is not known well of openings, fans and wind."
            )
    said = [*(_left_out(code, count, answer.quiet_db) for code, count in answer.left_out.items()), *notes]
    if said:
        yield paragraphs("Notes", said)
    yield from caution_lines({"tonight": answer.cautions}, system)


def outcomes(answer: TonightAnswer) -> Mapping[str, Outcome]:
    """What is compared, by name."""
    found = {"everything shut": answer.shut, "best windows alone": answer.windows}
    return {**found, "this plan": answer.plan} if answer.uses_fan else found


def headline(answer: TonightAnswer, system: System) -> str:
    """The answer in one or two sentences."""
    room = answer.rooms[0]
    opens = [step for step in answer.timeline if any(a.code == ActionCode.OPEN for a in step.actions)]
    waking = show(answer.plan.waking_c[room], "temperature", system)
    if not opens:
        why = "there is smoke outdoors" if answer.smoke else f"opening would not make {room} cooler"
        return f"Keep everything shut tonight: {why}. Expect about {waking} at {answer.waking}."
    fans = list(
        dict.fromkeys(a.names[0] for step in answer.timeline for a in step.actions if a.code == ActionCode.START_FAN)
    )
    first = opens[0]
    names = [name for action in first.actions if action.code == ActionCode.OPEN for name in action.names]
    what = _listed(names) if len(names) <= 3 else f"{len(names)} windows and doors"
    start = "Open" if first.time_s <= 0.0 else f"Keep the house shut until {first.when}, then open"
    starts = [step for step in answer.timeline if any(a.code == ActionCode.START_FAN for a in step.actions)]
    since = f" from {starts[0].when}" if starts and starts[0].time_s > first.time_s else ""
    run = f" and run the {_listed(fans)}{since}" if fans else ""
    cooler = answer.shut.waking_c[room] - answer.plan.waking_c[room]
    than_windows = answer.windows.waking_c[room] - answer.plan.waking_c[room]
    versus = f", {show(cooler, 'temperature difference', system)} cooler than with everything shut"
    if fans:
        versus += f" and {show(than_windows, 'temperature difference', system)} cooler than with the best windows alone"
    return f"{start} {what}{run}: expect about {waking} in {room} at {answer.waking}{versus}."


def fan_words(answer: TonightAnswer, system: System) -> str:
    """Whether a fan is worth it."""
    if answer.smoke:
        return "Keep fans that blow outdoors off until the smoke is gone; follow the advice of the local authority."
    if answer.fan_adds_k is None:
        return "No fan of the house file may be used in this night's plan; the windows do it alone."
    adds = show(max(answer.fan_adds_k, 0.0), "temperature difference", system)
    if answer.uses_fan:
        return f"Averaged over the night, the fan makes it {adds} cooler than the best windows alone."
    return f"Leave the fan off: it would make it only {adds} cooler over the night than the windows alone."


def _lines(house: House, step: TimelineStep, answer: TonightAnswer, system: System) -> Iterator[str]:
    """What to do at one time, a line for each action."""
    if not step.actions:
        yield "Nothing changes at bedtime."
    for action in step.actions:
        yield action_words(house, action, system)


def action_words(house: House, action: Action, system: System) -> str:
    """One action as an instruction.

    Parameters
    ----------
    house
        The house.
    action
        What to do.
    system
        Units.
    """
    names = _listed(action.names)
    match action.code:
        case ActionCode.KEEP_SHUT:
            return "Keep all windows and outside doors shut."
        case ActionCode.SHUT_ALL:
            return "Shut all windows and outside doors: it gets warmer outdoors than in."
        case ActionCode.SHUT_COOL:
            return "Shut all windows and outside doors: the rooms are cool enough for the night."
        case ActionCode.SHUT:
            return f"Shut {names}."
        case ActionCode.STOP_FAN:
            return f"Turn the {names} off."
        case ActionCode.CHANGE_SETTING:
            return f"Turn the {names} to {action.setting or 'its highest setting'}."
        case ActionCode.OPEN:
            full = min(house.openings[name].full_share for name in action.names)
            wide = action.share >= 0.97 * full
            return f"Open {names}{' wide' if wide else f' to {100.0 * action.share:.0f} % of the frame'}."
        case ActionCode.START_FAN:
            assert action.placement is not None
            return f"{fan_instruction(house, action.placement, system)}."


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


def _listed(names: Sequence[str]) -> str:
    """Names as a list with "and"."""
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)
