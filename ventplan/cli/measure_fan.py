"""``ventplan measure fan``: from all readings to one card."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ventplan.cli.measure_common import AirTemperature, Altitude, Show, air_density, optional_quantity
from ventplan.cli.options import AsJson, UnitSystem
from ventplan.errors import InputError, NoAnswerError

if TYPE_CHECKING:
    from ventplan.house.fans import Fan
    from ventplan.house.units import System
    from ventplan.measure.fan_data import FanData
    from ventplan.measure.fan_reading import FanReading, TypedFigures
    from ventplan.measure.uncertainty import Estimate

FAN_EXAMPLE = (
    "Example: ventplan measure fan circulator flow.json thrust.json walk.json typed.csv --into house.yaml. CSV "
    "columns: what (flow, thrust, speed, power, sound), value with unit and ±, setting."
)


def fan(
    name: Annotated[str, typer.Argument(metavar="FAN", help="Name of the fan.", show_default=False)],
    results: Annotated[
        list[Path],
        typer.Argument(metavar="RESULTS", help="Saved results (JSON) and typed figures (CSV).", show_default=False),
    ],
    diameter: Annotated[str | None, typer.Option(help="Diameter of the blades.")] = None,
    into: Annotated[
        Path | None, typer.Option("--into", metavar="HOUSE", help="House file to write the fan into.")
    ] = None,
    highest: Annotated[
        str | None,
        typer.Option(help="Name of the highest setting in the readings; found by itself if blank, `high` or listed."),
    ] = None,
    doubtful: Annotated[
        bool, typer.Option("--doubtful", help="Write the card even where its readings cannot all be true.")
    ] = False,
    temperature: AirTemperature = "20 °C",
    altitude: Altitude = "0 m",
    show: Show = UnitSystem.si,
    json: AsJson = False,
) -> None:
    """One card for a fan from everything that was measured, and which readings contradict one another."""
    from ventplan.cli.measure_common import jsonable, print_estimates, print_notes
    from ventplan.cli.output import print_json
    from ventplan.house.fields import nearest
    from ventplan.measure.fan_data import combine, doubts, flow_by_method
    from ventplan.measure.fan_reading import remarks

    fans = _known_fans(into)
    before = fans.get(name)
    readings, power, sound = _one_highest(*_measured(results), before=before, highest=highest)
    across = optional_quantity(diameter, "length", "--diameter", lowest=0.05, highest=2.5)
    density = air_density(temperature, altitude)
    known = before.diameter_m if before is not None and "diameter_m" not in before.estimated else None
    try:
        card = combine(readings, density_kg_m3=density, diameter_m=across or known)
    except NoAnswerError as error:
        if into is None or before is not None:
            raise
        raise NoAnswerError(
            f"{error} There is no fan {name!r} in {into} that would tell more. {nearest(name, fans)}".rstrip()
        ) from error
    wrong = doubts(card, density_kg_m3=density, diameter_m=across or known, before=before)
    if into is not None:
        if wrong and not doubtful:
            raise InputError(
                f"Nothing was written into {into}, since this card can hardly be true: {'; '.join(wrong)}. "
                "Look at the readings and the names of their settings again; --doubtful writes it all the same"
            )
        _write(into, name, card, power, sound, across, before)
    if json:
        found = {"name": name, **jsonable(card), "power_w": power, "sound_db": sound, "doubts": wrong}
        print_json("measure fan", found)
        return
    print_estimates(
        name,
        [
            ("flow", card.flow, "flow"),
            ("thrust", card.thrust, "thrust"),
            ("spread k", card.spread, ""),
            *((f"speed on {setting}", speed, "share") for setting, speed in card.speeds.items()),
        ],
        show.value,
    )
    print_notes(
        [
            *(
                f"CAUTION, this can hardly be true: {one.rstrip('?')}{'?' if one.endswith('?') else '.'}"
                for one in wrong
            ),
            *remarks(flow=card.flow.value, thrust=card.thrust.value, spread=card.spread.value),
            *_flow_notes(flow_by_method(readings, density_kg_m3=density), show.value),
            *_card_notes(card, power),
            *([f"Written into {into}{'' if before else ', as a fan that it did not have'}."] if into else []),
        ]
    )


Figures = dict[str, float]


def _known_fans(into: Path | None) -> Mapping[str, Fan]:
    """The fans of the house file."""
    from ventplan.house import read_house

    return {} if into is None else read_house(into).fans


def _measured(results: list[Path]) -> tuple[list[FanReading], Figures, Figures]:
    """Readings, power and sound by setting, from all files."""
    from ventplan.measure.fan_reading import read_reading, read_typed_figures

    readings: list[FanReading] = []
    power: Figures = {}
    sound: Figures = {}
    for path in results:
        if path.suffix.lower() == ".json":
            readings.append(read_reading(path))
        else:
            typed: TypedFigures = read_typed_figures(path)
            readings += typed.readings
            power |= typed.power_w
            sound |= typed.sound_db
    return readings, power, sound


def _one_highest(
    readings: list[FanReading], power: Figures, sound: Figures, *, before: Fan | None, highest: str | None
) -> tuple[list[FanReading], Figures, Figures]:
    """The same with the highest setting blank everywhere, whatever it was called, and each other in one spelling."""
    from dataclasses import replace

    from ventplan.measure.fan_reading import highest_as_blank

    names = [*(reading.setting for reading in readings), *power, *sound]
    listed = [setting.name for setting in before.settings] if before is not None else []
    stands_for = highest_as_blank(names, listed=listed, highest=highest)
    return (
        [replace(reading, setting=stands_for[reading.setting]) for reading in readings],
        {stands_for[name]: value for name, value in power.items()},
        {stands_for[name]: value for name, value in sound.items()},
    )


def _write(
    into: Path,
    name: str,
    card: FanData,
    power: Figures,
    sound: Figures,
    across: float | None,
    before: Fan | None,
) -> None:
    from ventplan.files import write_file
    from ventplan.house import parse_house
    from ventplan.house.yaml_text import read_text
    from ventplan.measure.fan_data import write_fan

    called = before.settings[0].name if before is not None and before.settings else "high"
    written = write_fan(read_text(into), name, card, power_w=power, sound_db=sound, diameter_m=across, highest=called)
    parse_house(written, str(into))  # a file that would no longer read is not written
    write_file(into, written)


def _flow_notes(ways: Mapping[str, Estimate], system: System) -> list[str]:
    """How the flow comes out by each way, where there are several."""
    from ventplan.house.units import show as shown

    if len(ways) < 2:
        return []
    each = "; ".join(
        f"{shown(one.value, 'flow', system)} ± {one.expanded / one.value:.0%} by {name}" for name, one in ways.items()
    )
    return [
        f"The flow by each way alone (95 %): {each}. The card weighs them by one over the square of their uncertainty. "
        "A flow from a walk is the coarser one, since it extrapolates the line of the walk to the blades."
    ]


def _card_notes(card: FanData, power: dict[str, float]) -> list[str]:
    from ventplan.measure.fan_data import farthest
    from ventplan.measure.uncertainty import LEAST_CHANCE

    notes = [
        f"On {setting}: flow {speed.value:.0%}, thrust {speed.value**2:.0%}, power {speed.value**3:.0%} of the highest "
        "(fan laws)."
        for setting, speed in card.speeds.items()
    ]
    for setting, watts in power.items():
        if setting in card.speeds and "" in power:
            law = power[""] * card.speeds[setting].value ** 3
            notes.append(
                f"On {setting} the meter shows {watts:.0f} W, the cube law {law:.0f} W: a motor slowed by its "
                "winding loses the rest. The meter's figure is kept."
            )
    if card.degrees:
        notes.append(
            "What was measured in more than one way differs by no more than the stated uncertainties allow. An error "
            "that all ways have in common would not show."
            if card.chance >= LEAST_CHANCE
            else "What was measured in more than one way differs by more than the stated uncertainties allow "
            f"(a probability of {card.chance:.1%}; the limit is {LEAST_CHANCE:.0%})."
        )
    else:
        notes.append("Nothing was measured twice in different ways, so that nothing checks anything.")
    notes += [
        f"Contradiction: {c.label} is {abs(c.normalised):.1f} standard deviations "
        f"{'above' if c.normalised > 0 else 'below'} what the rest says. Look at it again."
        for c in (card.contradictions if len(farthest(card)) == 1 or card.chance >= LEAST_CHANCE else ())
    ]
    if card.inflated > 1.0:
        notes.append(
            f"The readings disagree, so the uncertainty of all that are checked by others was widened by "
            f"{card.inflated:.2f}."
        )
    return notes + list(card.assumed)
