"""``ventplan measure``: readings in, figures with their uncertainty out."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ventplan.cli.measure_common import (
    LEAST,
    AirTemperature,
    Altitude,
    CalibrationFile,
    Details,
    Drawing,
    Output,
    Readings,
    Setting,
    Show,
    UnitWords,
    air_density,
    calibration_of,
    error_of,
    explained,
    optional_quantity,
    parsed,
    quantity,
    save_each,
    units_of,
)
from ventplan.cli.measure_fan import ALL_EXAMPLE, FAN_EXAMPLE, FORMS_EXAMPLE, all_fans, fan, forms
from ventplan.cli.measure_jet import JET_EXAMPLE, jet
from ventplan.cli.options import AsJson, Replace
from ventplan.cli.output import UnitSystem, check_picture, save_picture
from ventplan.files import check_new_file

if TYPE_CHECKING:
    from ventplan.airing import Note
    from ventplan.house.units import System
    from ventplan.measure.fan_bench import BoxResult
    from ventplan.measure.opening import OpeningResult

measure = typer.Typer(no_args_is_help=True, help="Turn readings (CSV files) into figures with their uncertainty.")


@measure.command(
    epilog="Example: ventplan measure anemometer pairs.csv -o vane.json. Columns: indicated \\[m/s] (or pulses and "
    "counting time), reference \\[m/s] (or distance and time of carrying it through still air)."
)
def anemometer(
    readings: Readings,
    output: Output = None,
    replace: Replace = False,
    units: UnitWords = None,
    picture: Drawing = None,
    reference_error: Annotated[str, typer.Option(help="Uncertainty that all references share, 95 %.")] = "4 %",
    start_up: Annotated[str | None, typer.Option(help="Start-up speed, where known otherwise.")] = None,
    details: Details = False,
    show: Show = UnitSystem.si,
    json: AsJson = False,
) -> None:
    """Calibrate an anemometer: a line from indicated to true speed, and its start-up speed."""
    from ventplan.cli.measure_common import figure, name_readings, point_to_details, print_notes, signed
    from ventplan.cli.output import console, print_json
    from ventplan.house.units import shown_number, shown_unit
    from ventplan.measure.anemometer import as_dict, calibrate, save_calibration
    from ventplan.measure.readings import read_calibration_pairs

    check_picture(picture, replace=replace)
    pairs = read_calibration_pairs(readings, units=units_of(units))
    with explained(readings):
        line = calibrate(
            indicated=pairs.indicated,
            reference_m_s=pairs.reference_m_s,
            indication=pairs.indication,
            reference_error=error_of(reference_error, "--reference-error"),
            start_up_m_s=optional_quantity(start_up, "speed", "--start-up", lowest=0.0, highest=5.0),
        )
    if output is not None:
        check_new_file(output, replace=replace)
        save_calibration(line, output)
    system: System = show.value
    if picture is not None:
        from ventplan.show.charts_measure import calibration_chart

        save_picture(
            picture,
            lambda: calibration_chart(line, pairs.indicated.tolist(), pairs.reference_m_s.tolist(), system=system),
            quiet=json,
        )
    if json:
        print_json("measure anemometer", as_dict(line))
        return
    middle = (line.lowest_m_s + line.highest_m_s) / 2.0
    known_to = float(line.expanded_at((middle - line.intercept_m_s) / line.slope)) / middle
    unit, digits = shown_unit("speed", system), 0 if system == "us" else 3
    intercept = signed(shown_number(line.intercept_m_s, "speed", system), digits).replace("+", "+ ").replace("−", "− ")
    if line.indication == "Hz":
        slope = f"{shown_number(line.slope, 'speed', system):.4g} {unit} x pulses per second"
    else:
        slope = f"{line.slope:.3f} x reading"
    console().print(
        f"True speed = {slope} {intercept} {unit}, right within {known_to:.1%} (95 %) at "
        f"{figure(middle, 'speed', system)}. A reading of 0 means a speed between 0 and "
        f"{figure(line.start_up_m_s, 'speed', system)}, where the vane starts to turn."
    )
    scatter = (
        f"One reading scatters by {figure(line.scatter_m_s, 'speed', system)} about the line, which was taken from "
        f"{figure(line.lowest_m_s, 'speed', system)} to {figure(line.highest_m_s, 'speed', system)}."
    )
    print_notes([*name_readings(line.outliers, pairs.lines), *pairs.notes, *([scatter] if details else [])])
    point_to_details("Scatter and range of the calibration", details=details)


@measure.command(
    epilog='Example: ventplan measure opening traverse.csv --size "1.0 m x 1.1 m" --calibration vane.json. Columns: '
    "speed \\[m/s] (or pulses and counting time); across and up for a traverse. Takes readings in the stream, "
    "gives the mean over the opening."
)
def opening(
    readings: Annotated[Path | None, typer.Argument(metavar="READINGS", help="CSV file.", show_default=False)] = None,
    size: Annotated[str, typer.Option(help='Clear width x height, such as "1.0 m x 1.1 m".')] = "",
    positions: Annotated[bool, typer.Option("--positions", help="Print where to hold the probe.")] = False,
    duct: Annotated[bool, typer.Option("--duct", help="Log-Tchebycheff places, for the inside of a duct.")] = False,
    obstructed: Annotated[str, typer.Option(help="Area that bars, probe and hand take away.")] = "0 m2",
    downstream: Annotated[str, typer.Option(help="Distance of the probe behind the plane (one place only).")] = "0 m",
    screened: Annotated[bool, typer.Option("--screened", help="A screen is in place.")] = False,
    box: Annotated[
        str | None,
        typer.Option(
            "--box",
            metavar="PRESSURE",
            help="The opening is the exit of a box around a fan with this shut-off pressure.",
        ),
    ] = None,
    calibration: CalibrationFile = None,
    units: UnitWords = None,
    setting: Setting = "",
    temperature: AirTemperature = "20 °C",
    altitude: Altitude = "0 m",
    output: Output = None,
    replace: Replace = False,
    details: Details = False,
    show: Show = UnitSystem.si,
    json: AsJson = False,
) -> None:
    """Flow through an opening or a box, from one place or a traverse."""
    from ventplan.cli.measure_common import figure, jsonable
    from ventplan.cli.output import console, print_json
    from ventplan.measure.fan_bench import without_box
    from ventplan.measure.fan_reading import from_estimate, save_reading
    from ventplan.measure.opening import Rule, flow_through, parse_size
    from ventplan.measure.opening import positions as probe_positions
    from ventplan.measure.readings import read_opening_readings

    system: System = show.value
    rule: Rule = "log-Tchebycheff" if duct else "equal area"
    width, height = parsed(parse_size, size, "--size")
    if positions or readings is None:
        places = probe_positions(width_m=width, height_m=height, rule=rule)
        if json:
            print_json("measure opening", {"rule": rule, "positions": [{"across_m": x, "up_m": y} for x, y in places]})
            return
        console().print(f"Hold the probe at these {len(places)} places ({rule}): from the left edge, from the bottom.")
        for x, y in places:
            console().print(f"  {figure(x, 'length', system):>8}  {figure(y, 'length', system):>8}")
        return
    taken = read_opening_readings(readings, units=units_of(units))
    line = calibration_of(calibration, taken.indication)
    taken_away = quantity(
        obstructed,
        "area",
        "--obstructed",
        lowest=0.0,
        highest=0.9 * width * height,
        hint=f"the opening itself is {width * height:.3g} m²; at least a tenth must stay free",
    )
    with explained(readings):
        result = flow_through(
            readings=taken.places,
            width_m=width,
            height_m=height,
            calibration=line,
            obstructed_m2=taken_away,
            downstream_m=quantity(downstream, "length", "--downstream", lowest=0.0, highest=10.0),
            screened=screened,
            rule=rule,
        )
    boxed = None
    if box is not None:
        boxed = without_box(
            flow=result.flow,
            exit_area_m2=result.free_area.value,
            shutoff_pa=quantity(box, "pressure", "--box", lowest=LEAST, highest=1000.0),
            density_kg_m3=air_density(temperature, altitude),
        )
    if output is not None:
        check_new_file(output, replace=replace)
        save_reading(from_estimate("flow", boxed.free_flow if boxed else result.flow, setting=setting), output)
    if json:
        found = {**jsonable(result), "notes": [*taken.notes, *result.notes], "without_box": jsonable(boxed)}
        print_json("measure opening", found)
        return
    _print_opening(result, boxed, taken.notes, system, details=details)


def _print_opening(
    result: OpeningResult, boxed: BoxResult | None, notes: tuple[Note, ...], system: System, *, details: bool
) -> None:
    from ventplan.cli.measure_common import point_to_details, print_estimates, print_notes, with_interval
    from ventplan.cli.output import console
    from ventplan.measure.fan_reading import remarks

    places = "one place" if result.places == 1 else f"{result.places} places"
    if boxed is None:
        said = f"{with_interval(result.flow, 'flow', system)} flows through the opening, by readings at {places}."
    else:
        said = (
            f"The fan moves {with_interval(boxed.free_flow, 'flow', system)} in the open. {boxed.lost:.0%} of that is "
            f"lost in the box, by readings at {places} of its exit."
        )
    console().print(said)
    print_estimates(
        "",
        [
            ("mean speed", result.mean_speed, "speed"),
            ("free area", result.free_area, "area"),
            ("flow", result.flow, "flow"),
            ("pressure in the box", boxed.back_pressure if boxed else None, "pressure"),
            ("flow without the box", boxed.free_flow if boxed else None, "flow"),
        ],
        system,
        details=details,
    )
    beyond = "one place" if result.beyond == 1 else f"{result.beyond} places"
    print_notes(
        (
            *notes,
            *result.notes,
            *([f"At {beyond} the speed is above the range of the calibration."] if result.beyond else []),
            *(remarks(flow=boxed.free_flow.value) if boxed else ()),
        ),
        system,
    )
    point_to_details("Where the uncertainty comes from", details=details)


@measure.command(
    epilog='Example: ventplan measure thrust scale.csv --lever "30 cm / 60 cm". Columns: fan (on or off), reading '
    "\\[g], direction (forward or reverse), setting. Readings with the fan off before, between and after give the tare "
    "and its drift."
)
def thrust(
    readings: Readings,
    lever: Annotated[str, typer.Option(help='Arm of the scale / arm of the fan, "30 cm / 60 cm" or a number.')] = "1",
    step: Annotated[str, typer.Option(help="Step of the scale's display.")] = "1 gf",
    scale_error: Annotated[str, typer.Option(help="Uncertainty of the scale, 95 %.")] = "1 %",
    units: UnitWords = None,
    output: Output = None,
    picture: Drawing = None,
    replace: Replace = False,
    details: Details = False,
    show: Show = UnitSystem.si,
    json: AsJson = False,
) -> None:
    """Thrust of a fan from a kitchen scale, in newtons and gram-force."""
    from ventplan.cli.measure_common import (
        interval,
        jsonable,
        known,
        name_readings,
        point_to_details,
        print_estimates,
        print_notes,
        signed,
    )
    from ventplan.cli.output import console, print_json
    from ventplan.measure.fan_bench import parse_lever, read_scale_readings, thrust_from_scale
    from ventplan.measure.fan_reading import from_estimate, remarks

    check_picture(picture, replace=replace)
    system: System = show.value
    ratio, ratio_error = parsed(parse_lever, lever, "--lever")
    results, lines = {}, {}
    for run in read_scale_readings(readings, units=units_of(units)):
        lines[run.setting] = run.lines
        with explained(readings, run.setting):
            results[run.setting] = thrust_from_scale(
                readings_g=run.readings_g,
                running=run.running,
                reverse=run.reverse,
                lever=ratio,
                lever_error=ratio_error,
                resolution_g=quantity(step, "force", "--step", lowest=LEAST, highest=10.0) / 9.80665e-3,
                scale_error=error_of(scale_error, "--scale-error"),
            )
    if output is not None:
        saved = [from_estimate("thrust", result.thrust, setting=name) for name, result in results.items()]
        save_each(saved, output, replace=replace, names=[name or str(n) for n, name in enumerate(results)])
    if picture is not None:
        from ventplan.show.charts_measure import thrusts_chart

        thrusts = {name: result.thrust for name, result in results.items()}
        save_picture(picture, lambda: thrusts_chart(thrusts, system=system), quiet=json)
    if json:
        print_json("measure thrust", {"settings": {name: jsonable(result) for name, result in results.items()}})
        return
    for name, result in results.items():
        on = f" on {name}" if name else " on its highest setting" if len(results) > 1 else ""
        force = result.thrust
        span = interval(*force.interval, "thrust", system)
        said = f"{force.value:.2f} N, or {result.gram_force:.0f} gram-force ({span}, 95 %)"
        console().print(f"The fan's thrust{on} is {said if known(force) else 'not known'}.")
    rows = [(name or "highest", result.thrust, "thrust") for name, result in results.items()]
    if details:
        print_estimates("", rows, system, details=True)
    for name, result in results.items():
        turned = "" if result.bias_g is None else f"; turning the fan round cancelled {signed(result.bias_g)} g"
        drift = f"{name or 'highest'}: the reading with the fan off drifted by {signed(result.drift_g)} g{turned}."
        print_notes(
            [
                *name_readings(result.outliers, lines[name]),
                *result.notes,
                *remarks(thrust=result.thrust.value),
                *([drift] if details else []),
            ],
            system,
        )
    point_to_details("Where the uncertainty comes from, and the drift of the scale", details=details)


measure.command(epilog=JET_EXAMPLE)(jet)
measure.command(epilog=FAN_EXAMPLE)(fan)
measure.command(epilog=FORMS_EXAMPLE)(forms)
measure.command("all", epilog=ALL_EXAMPLE)(all_fans)
