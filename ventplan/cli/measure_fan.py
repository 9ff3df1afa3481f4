"""``ventplan measure fan``, ``forms`` and ``all``: from the readings of one fan, or of several, to the house file."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace as changed
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ventplan.cli.measure_common import (
    AirTemperature,
    Altitude,
    CalibrationFile,
    Details,
    Row,
    Show,
    UnitWords,
    air_density,
    calibration_of,
    optional_quantity,
    units_of,
)
from ventplan.cli.options import AsJson, Replace
from ventplan.cli.output import UnitSystem, say
from ventplan.errors import InputError, InvalidValue, NoAnswerError
from ventplan.files import check_new_file, write_file

if TYPE_CHECKING:
    from ventplan.house.records import Fan
    from ventplan.house.units import System
    from ventplan.measure.fan_data import FanData
    from ventplan.measure.fan_reading import FanReading
    from ventplan.measure.rank import Ranking
    from ventplan.measure.session import FanResult
    from ventplan.measure.uncertainty import Estimate

FAN_EXAMPLE = (
    "Example: ventplan measure fan circulator flow.json thrust.json walk.json typed.csv --into house.yaml. CSV "
    "columns: what (flow, thrust, speed, power, sound), value with unit and ±, setting."
)
FORMS_EXAMPLE = (
    "Example: ventplan measure forms --fans 5 -o fans.csv. Writes fans.csv to type into and fans.html to print."
)
ALL_EXAMPLE = (
    "Example: ventplan measure all fans.csv --calibration vane.json -o results. Leave blank what was not read; run it "
    "again when more is filled in."
)

Into = Annotated[Path | None, typer.Option("--into", metavar="HOUSE", help="House file to write the fan into.")]
Figures = dict[str, float]


def fan(
    name: Annotated[str, typer.Argument(metavar="FAN", help="Name of the fan.", show_default=False)],
    results: Annotated[
        list[Path],
        typer.Argument(metavar="RESULTS", help="Saved results (JSON) and typed figures (CSV).", show_default=False),
    ],
    diameter: Annotated[str | None, typer.Option(help="Diameter of the blades.")] = None,
    into: Into = None,
    highest: Annotated[
        str | None,
        typer.Option(help="Name of the highest setting in the readings; found by itself if blank, `high` or listed."),
    ] = None,
    doubtful: Annotated[
        bool, typer.Option("--doubtful", help="Write the fan even where its readings cannot all be right.")
    ] = False,
    temperature: AirTemperature = "20 °C",
    altitude: Altitude = "0 m",
    details: Details = False,
    show: Show = UnitSystem.si,
    json: AsJson = False,
) -> None:
    """Combine all readings of a fan into its flow, thrust and spread, and name readings that contradict each other."""
    from ventplan.cli.measure_common import jsonable, point_to_details, print_estimates, print_notes
    from ventplan.cli.output import console, print_json
    from ventplan.house import read_house
    from ventplan.house.fields import nearest
    from ventplan.house.yaml_text import read_text
    from ventplan.measure.fan_data import combine, doubts, write_fan
    from ventplan.measure.fan_reading import flow_by_method, remarks
    from ventplan.show.cautions import note_words

    fans: Mapping[str, Fan] = {} if into is None else read_house(into).fans
    before = fans.get(name)
    readings, power, sound = _one_highest(*_measured(results), before=before, highest=highest)
    across = optional_quantity(diameter, "length", "--diameter", lowest=0.05, highest=2.5)
    density = air_density(temperature, altitude)
    blades = across or (before.diameter_m if before is not None and "diameter_m" not in before.estimated else None)
    try:
        data = combine(readings, density_kg_m3=density, diameter_m=blades)
    except NoAnswerError as error:
        if into is None or before is not None:
            raise
        hint = f"{into} has no fan {name!r} whose diameter would help. {nearest(name, fans)}".rstrip()
        raise NoAnswerError(f"{error} {hint}") from error
    wrong = doubts(data, density_kg_m3=density, diameter_m=blades, before=before)
    doubted = [note_words(note, show.value) for note in wrong]
    if into is not None:
        if wrong and not doubtful:
            raise InputError(
                f"Nothing was written into {into}, since these figures are hardly possible: {'; '.join(doubted)}. "
                "Check the readings and the names of their settings; --doubtful writes the fan all the same"
            )
        called = before.settings[0].name if before is not None and before.settings else "high"
        _write(
            into,
            write_fan(read_text(into), name, data, power_w=power, sound_db=sound, diameter_m=across, highest=called),
        )
    if json:
        found = {"name": name, **jsonable(data), "power_w": power, "sound_db": sound, "doubts": wrong}
        print_json("measure fan", found)
        return
    system: System = show.value
    console().print(_headline(name, data, system))
    print_estimates("", _rows(data), system, details=details)
    print_notes(
        [
            *(f"CAUTION, this is hardly possible: {one}{'' if one.endswith('?') else '.'}" for one in doubted),
            *remarks(flow=data.flow.value, thrust=data.thrust.value, spread=data.spread.value),
            *_agreement(data),
            *data.assumed,
            *(_flow_notes(flow_by_method(readings, density_kg_m3=density), system) if details else ()),
            *(_setting_notes(data, power) if details else ()),
            *([f"Written into {into}{'' if before else ' as a new fan'}."] if into else []),
        ],
        system,
    )
    point_to_details("Lower settings, and the flow by each method", details=details)


def _headline(name: str, data: FanData, system: System) -> str:
    """What the fan does, in one sentence."""
    from ventplan.cli.measure_common import figure

    wider = figure(data.spread.value, "length", system) if system == "si" else f"{data.spread.value * 12.0:.1f} in"
    return (
        f"{name} moves {figure(data.flow.value, 'flow', system)} through its blades and pushes with "
        f"{figure(data.thrust.value, 'thrust', system)}. Half the width of its jet grows by {wider} for each "
        f"{'foot' if system == 'us' else 'metre'} of distance (its spread)."
    )


def _rows(data: FanData) -> list[Row]:
    return [
        ("flow", data.flow, "flow"),
        ("thrust", data.thrust, "thrust"),
        ("spread", data.spread, ""),
        *((f"speed on {setting}", speed, "share") for setting, speed in data.speeds.items()),
    ]


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
            typed = read_typed_figures(path)
            readings += typed.readings
            power |= typed.power_w
            sound |= typed.sound_db
    return readings, power, sound


def _one_highest(
    readings: list[FanReading], power: Figures, sound: Figures, *, before: Fan | None, highest: str | None
) -> tuple[list[FanReading], Figures, Figures]:
    """The same with the highest setting blank everywhere, whatever it was called, and each other in one spelling."""
    from ventplan.measure.fan_reading import highest_as_blank

    names = [*(reading.setting for reading in readings), *power, *sound]
    listed = [setting.name for setting in before.settings] if before is not None else []
    stands_for = highest_as_blank(names, listed=listed, highest=highest)
    return (
        [changed(reading, setting=stands_for[reading.setting]) for reading in readings],
        {stands_for[name]: value for name, value in power.items()},
        {stands_for[name]: value for name, value in sound.items()},
    )


def _write(into: Path, text: str) -> None:
    from ventplan.house import parse_house

    parse_house(text, str(into))  # a file that can no longer be read is not written
    write_file(into, text)


def _flow_notes(methods: Mapping[str, Estimate], system: System) -> list[str]:
    """The flow by each method, where there are several."""
    from ventplan.house.units import show as shown

    if len(methods) < 2:
        return []
    each = "; ".join(
        f"{shown(one.value, 'flow', system)} ± {one.expanded / one.value:.0%} by {name}"
        for name, one in methods.items()
    )
    return [
        f"The flow by each method alone (95 %): {each}. They are combined with the weight one over the square of their "
        "uncertainty. A flow from a walk is less certain, since it extends the line of the walk to the blades."
    ]


def _setting_notes(data: FanData, power: Figures) -> list[str]:
    """What the fan laws give for lower settings, and the power that a meter shows there."""
    notes = []
    for setting, speed in data.speeds.items():
        notes.append(
            f"On {setting}: flow {speed.value:.0%}, thrust {speed.value**2:.0%}, power {speed.value**3:.0%} of the "
            "highest (fan laws)."
        )
        if setting in power and "" in power:
            notes.append(
                f"On {setting} the meter shows {power[setting]:.0f} W, the fan laws give "
                f"{power[''] * speed.value**3:.0f} W: a motor that is slowed electrically wastes the rest. The meter's "
                "figure is kept."
            )
    return notes


def _agreement(data: FanData) -> list[str]:
    """Whether readings that check each other agree."""
    from ventplan.measure.fan_data import farthest
    from ventplan.measure.uncertainty import LEAST_CHANCE

    if not data.degrees:
        return ["Nothing was measured in two ways, so no reading checks another."]
    agree = data.chance >= LEAST_CHANCE
    notes = [
        "The readings agree with each other within their uncertainty. An error that all share would not show."
        if agree
        else "The readings differ by more than their uncertainty allows (a probability of "
        f"{data.chance:.1%}; the limit is {LEAST_CHANCE:.0%})."
    ]
    if agree or len(farthest(data)) == 1:
        notes += [
            f"Check {one.label}: it is {abs(one.normalised):.1f} standard deviations "
            f"{'above' if one.normalised > 0 else 'below'} what the others give."
            for one in data.contradictions
        ]
    if data.inflated > 1.0:
        notes.append(f"Because of that, the uncertainties of the readings were multiplied by {data.inflated:.2f}.")
    return notes


def forms(
    fans: Annotated[int, typer.Option("--fans", min=1, max=50, help="How many fans.")] = 1,
    names: Annotated[str | None, typer.Option("--names", help="Their names, with commas between.")] = None,
    output: Annotated[Path, typer.Option("-o", "--output", metavar="FILE", help="The form (CSV).")] = Path("fans.csv"),
    replace: Replace = False,
    show: Show = UnitSystem.si,
) -> None:
    """Write one blank form for several fans: a table to type into, and a page to print."""
    from ventplan.measure.session import blank_form
    from ventplan.show.instructions import printed_form

    called = [f"fan {number + 1}" for number in range(fans)]
    if names is not None:
        called = [name.strip() for name in names.split(",") if name.strip()]
        if not called or len(set(called)) < len(called):
            raise InputError([InvalidValue("--names", f'"{names}"', "names with commas between, each one once")])
    page = output.with_suffix(".html")
    for place in (output, page):
        check_new_file(place, replace=replace)
    form = blank_form(called, show=show.value)
    write_file(output, form)
    write_file(page, printed_form(form))
    say(
        f"Wrote {output} (to type into) and {page} (to print) for {len(called)} fan{'s' if len(called) > 1 else ''}. "
        f"When some readings are in it: ventplan measure all {output}"
    )


def all_fans(
    form: Annotated[Path, typer.Argument(metavar="FORM", help="The form, filled in (CSV).", show_default=False)],
    calibration: CalibrationFile = None,
    units: UnitWords = None,
    into: Into = None,
    output: Annotated[
        Path | None, typer.Option("-o", "--output", metavar="FOLDER", help="Folder for the pictures.")
    ] = None,
    temperature: AirTemperature = "20 °C",
    altitude: Altitude = "0 m",
    replace: Replace = False,
    details: Details = False,
    show: Show = UnitSystem.si,
    json: AsJson = False,
) -> None:
    """Work out every fan of a form: figures, ranking and pictures, and what is still missing."""
    from ventplan.cli.measure_common import jsonable, point_to_details, print_estimates, print_notes
    from ventplan.cli.output import console, print_json
    from ventplan.house.units import show as shown
    from ventplan.house.yaml_text import read_text
    from ventplan.measure.fan_data import write_fan
    from ventplan.measure.rank import rank_fans
    from ventplan.measure.session import evaluate_form

    system: System = show.value
    results, notes = evaluate_form(
        form,
        calibration=calibration_of(calibration),
        density_kg_m3=air_density(temperature, altitude),
        units=units_of(units),
    )
    records = {one.name: fan for one in results if (fan := one.as_fan()) is not None}
    ranking = rank_fans(records) if records else None
    drawn = _pictures(results, ranking, output, system, replace=replace) if output is not None else []
    if into is not None:
        text = read_text(into)
        for one in results:
            if one.card is not None:
                text = write_fan(
                    text, one.name, one.card, power_w=one.power_w, sound_db=one.sound_db, diameter_m=one.diameter_m
                )
        _write(into, text)
    if json:
        print_json("measure all", {"fans": [jsonable(one) for one in results], "ranking": ranking})
        return
    if ranking is not None and len(ranking.fans) > 1:
        order = ", ".join(f"{one.name} {shown(one.driven_m3_s, 'flow', system)}" for one in ranking.fans)
        console().print(f"Most air through a bare window, each fan at its best setback: {order}.")
    for one in results:
        rows: Sequence[Row] = [
            (f"thrust{' on ' + name if name else ''}", force, "thrust") for name, force in one.thrusts.items()
        ]
        if one.card is not None:
            console().print(f"\n{_headline(one.name, one.card, system)}")
            rows = _rows(one.card)
        else:
            console().print(f"\n{one.name}: there are too few readings for flow, thrust and spread.")
        print_estimates("", rows, system, details=details)
        missing = f"Still to read: {', '.join(one.missing)}." if one.missing else "The form of this fan is complete."
        print_notes([*one.notes, missing], system)
    print_notes([*notes, *([f"Drew {', '.join(drawn)}."] if drawn else [])])
    if into is not None:
        console().print(f"Written into {into}.")
    point_to_details("\nWhere the uncertainty comes from", details=details)


def _pictures(
    results: tuple[FanResult, ...], ranking: Ranking | None, folder: Path, system: System, *, replace: bool
) -> list[str]:
    """Every picture that the readings allow; gives their names."""
    from ventplan.show.charts_measure import profile_chart, rank_chart, thrusts_chart, walk_chart
    from ventplan.show.paper import save

    folder.mkdir(exist_ok=True)
    drawn: list[tuple[str, object]] = []
    for one in results:
        name = "".join(letter if letter.isalnum() else "_" for letter in one.name)
        if one.thrusts:
            drawn.append((f"{name}_thrust.png", thrusts_chart(one.thrusts, system=system)))
        if one.walk is not None:
            drawn.append((f"{name}_jet.png", walk_chart(one.walk, *one.walk_readings, system=system)))
        for place, profile in one.profiles.items():
            chart = profile_chart(profile, *one.profile_readings[place], distance_m=place, system=system)
            drawn.append((f"{name}_profile_{round(place * 100)}cm.png", chart))
    if ranking is not None and len(ranking.fans) > 1:
        drawn.append(("ranking.png", rank_chart(ranking, system)))
    for name, _ in drawn:
        check_new_file(folder / name, replace=replace)
    for name, chart in drawn:
        save(chart, folder / name)
    return [str(folder / name) for name, _ in drawn]
