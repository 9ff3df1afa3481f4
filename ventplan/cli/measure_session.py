"""``ventplan measure forms`` and ``measure all``: several fans in one evening."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ventplan.cli.measure_common import (
    AirTemperature,
    Altitude,
    CalibrationFile,
    Show,
    UnitWords,
    air_density,
    calibration_of,
    units_of,
)
from ventplan.cli.options import AsJson, Replace, UnitSystem
from ventplan.cli.terminal import say
from ventplan.errors import InputError, InvalidValue

if TYPE_CHECKING:
    from ventplan.house.units import System
    from ventplan.measure.rank import Ranking
    from ventplan.measure.session import FanResult

FORMS_EXAMPLE = (
    "Example: ventplan measure forms --fans 5 -o fans.csv. Writes fans.csv to type into and fans.html to print."
)
ALL_EXAMPLE = (
    "Example: ventplan measure all fans.csv --calibration vane.json -o results. Leave blank what was not read; run it "
    "again when more is filled in."
)


def forms(
    fans: Annotated[int, typer.Option("--fans", min=1, max=50, help="How many fans.")] = 1,
    names: Annotated[str | None, typer.Option("--names", help="Their names, with commas between.")] = None,
    output: Annotated[Path, typer.Option("-o", "--output", metavar="FILE", help="The form (CSV).")] = Path("fans.csv"),
    replace: Replace = False,
    show: Show = UnitSystem.si,
) -> None:
    """Write one blank form for several fans: a table to type into, and a page to print."""
    from ventplan.files import check_new_file, write_file
    from ventplan.measure.session import blank_form, printed_form

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
        f"Then: ventplan measure all {output}"
    )


def all_fans(
    form: Annotated[Path, typer.Argument(metavar="FORM", help="The form, filled in (CSV).", show_default=False)],
    calibration: CalibrationFile = None,
    units: UnitWords = None,
    into: Annotated[
        Path | None, typer.Option("--into", metavar="HOUSE", help="House file to write the fans into.")
    ] = None,
    output: Annotated[
        Path | None, typer.Option("-o", "--output", metavar="FOLDER", help="Folder for the pictures.")
    ] = None,
    temperature: AirTemperature = "20 °C",
    altitude: Altitude = "0 m",
    replace: Replace = False,
    show: Show = UnitSystem.si,
    json: AsJson = False,
) -> None:
    """Work out every fan of a form: cards, thrusts, profiles, ranking and pictures, and what is still missing."""
    from ventplan.cli.measure_common import jsonable, print_estimates, print_notes
    from ventplan.cli.output import console, print_json
    from ventplan.house.units import show as shown
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
    written = _pictures(results, ranking, output, system, replace=replace) if output is not None else []
    if into is not None:
        _write(into, results)
    if json:
        print_json("measure all", {"fans": [jsonable(one) for one in results], "ranking": ranking})
        return
    for one in results:
        card = one.card
        rows = [(f"thrust{' on ' + name if name else ''}", t, "thrust") for name, t in one.thrusts.items()]
        if card is not None:
            rows = [
                ("flow", card.flow, "flow"),
                ("thrust", card.thrust, "thrust"),
                ("spread k", card.spread, ""),
                *((f"speed on {name}", speed, "share") for name, speed in card.speeds.items()),
            ]
        if rows:
            print_estimates(one.name, rows, system)
        else:
            console().print(one.name)
        print_notes(
            [
                *one.notes,
                *([f"Still missing: {', '.join(one.missing)}."] if one.missing else ["The form is complete."]),
            ]
        )
    if ranking is not None and len(ranking.fans) > 1:
        order = ", ".join(f"{one.name} {shown(one.driven_m3_s, 'flow', system)}" for one in ranking.fans)
        console().print(f"By flow through a bare window at the best setback: {order}.")
    print_notes([*notes, *([f"Drew {', '.join(written)}."] if written else [])])
    if into is not None:
        console().print(f"Written into {into}.")


def _pictures(
    results: tuple[FanResult, ...], ranking: Ranking | None, folder: Path, system: System, *, replace: bool
) -> list[str]:
    """Every picture that the readings allow; gives their names."""
    from ventplan.files import check_new_file
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


def _write(into: Path, results: tuple[FanResult, ...]) -> None:
    """All cards into a house file, or none."""
    from ventplan.files import write_file
    from ventplan.house import parse_house
    from ventplan.house.yaml_text import read_text
    from ventplan.measure.fan_data import write_fan

    text = read_text(into)
    for one in results:
        if one.card is not None:
            text = write_fan(
                text, one.name, one.card, power_w=one.power_w, sound_db=one.sound_db, diameter_m=one.diameter_m
            )
    parse_house(text, str(into))  # a file that would no longer read is not written
    write_file(into, text)
