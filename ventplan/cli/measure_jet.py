"""``ventplan measure jet``: from a jet to its fan."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from ventplan.cli.measure_common import (
    AirTemperature,
    Altitude,
    CalibrationFile,
    Details,
    Drawing,
    Output,
    Readings,
    Row,
    Setting,
    Show,
    UnitWords,
    air_density,
    calibration_of,
    figure_of,
    optional_quantity,
    quantity,
    save_each,
    units_of,
)
from ventplan.cli.options import AsJson, Replace
from ventplan.cli.output import UnitSystem, check_picture
from ventplan.errors import InputError, InvalidValue

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from ventplan.airing import Note
    from ventplan.house.units import System
    from ventplan.measure.anemometer import Calibration
    from ventplan.measure.fan_reading import FanReading
    from ventplan.measure.jet import JetResult, Profile, Walk
    from ventplan.measure.readings import JetReadings
    from ventplan.measure.uncertainty import Estimate

JET_EXAMPLE = (
    'Example: ventplan measure jet walk.csv --flow "0.30 m3/s ± 6 %". Columns: distance, speed (or pulses and '
    "counting time), and offset for readings across the jet. Takes readings in the stream."
)


def jet(
    readings: Readings,
    flow: Annotated[
        str | None, typer.Option(help="Flow through the blades: a figure with ±, or a saved result.")
    ] = None,
    thrust: Annotated[str | None, typer.Option(help="Thrust: a figure with ±, or a saved result.")] = None,
    beyond: Annotated[
        str | None, typer.Option(help="Use readings from this distance on; found by itself if left out.")
    ] = None,
    zero_error: Annotated[str, typer.Option(help="How well the blades' place on the tape is known, 95 %.")] = "2 cm",
    calibration: CalibrationFile = None,
    units: UnitWords = None,
    setting: Setting = "",
    temperature: AirTemperature = "20 °C",
    altitude: Altitude = "0 m",
    output: Output = None,
    picture: Drawing = None,
    replace: Replace = False,
    details: Details = False,
    show: Show = UnitSystem.si,
    json: AsJson = False,
) -> None:
    """Thrust, spread and flow of a fan from a walk down its jet, from profiles across it, or both."""
    from ventplan.cli.measure_common import jsonable
    from ventplan.cli.output import print_json
    from ventplan.measure.fan_reading import from_profile, from_walk
    from ventplan.measure.jet import fit_walk, jet_from_walk
    from ventplan.measure.readings import read_jet_readings
    from ventplan.measure.uncertainty import WIDE

    check_picture(picture, replace=replace)
    taken = read_jet_readings(readings, units=units_of(units))
    line = calibration_of(calibration, taken.indication)
    density = air_density(temperature, altitude)
    known_flow = figure_of(flow, "flow", "--flow", "m3/s")
    known_thrust = figure_of(thrust, "force", "--thrust", "N")
    profiles = _profiles(taken, line, density)
    saved: list[FanReading] = [
        from_profile(profile, distance_m=place, setting=setting) for place, profile in profiles.items()
    ]
    speeds = line.speed(taken.indicated)
    seen = speeds >= line.start_up_m_s
    walk = result = None
    if taken.distances_m.size:
        walk = fit_walk(
            distances_m=taken.distances_m[seen],
            speeds_m_s=speeds[seen],
            beyond_m=optional_quantity(beyond, "length", "--beyond", lowest=0.0, highest=50.0),
            zero_error_m=quantity(zero_error, "length", "--zero-error", lowest=0.0, highest=1.0) / WIDE,
            calibration=line.source(),
            indicated=taken.indicated[seen],
        )
        saved.insert(0, from_walk(walk, setting=setting))
        result = jet_from_walk(
            walk,
            density_kg_m3=density,
            flow=known_flow,
            thrust=known_thrust,
            profile_thrust=next(iter(profiles.values())).thrust if profiles else None,
            same_anemometer=flow is not None and flow.lower().endswith(".json"),
        )
    if not saved:
        raise InputError(
            [InvalidValue("readings", "no readings in the stream", "a walk or a profile", file=str(readings))]
        )
    if output is not None:
        save_each(saved, output, replace=replace, names=[str(number + 1) for number in range(len(saved))])
    if picture is not None:
        _draw(picture, taken, line, profiles, walk, show.value, quiet=json)
    if json:
        shown = {"jet": jsonable(result), "walk": jsonable(walk)}
        shown["profiles"] = [{"distance_m": place, **jsonable(profile)} for place, profile in profiles.items()]
        print_json("measure jet", shown)
        return
    notes: list[str | Note] = list(taken.notes)
    if walk is not None:
        notes += _walk_notes(walk, taken, seen, show.value, details=details)
    _print(result, profiles, taken, notes, show.value, details=details)


def _print(
    result: JetResult | None,
    profiles: Mapping[float, Profile],
    taken: JetReadings,
    notes: list[str | Note],
    system: System,
    *,
    details: bool,
) -> None:
    from ventplan.cli.measure_common import figure, point_to_details, print_estimates, print_notes, with_interval
    from ventplan.cli.output import console
    from ventplan.measure.fan_reading import remarks

    rows: list[Row] = []
    figures = {}
    if result is not None:
        figures = _figures(result)
        rows = [("thrust", result.thrust, "thrust"), ("flow at the blades", result.flow, "flow")]
        rows.append(("spread (half-width / distance)", result.spread, ""))
    elif profiles:
        figures = {"thrust": next(iter(profiles.values())).thrust}
    quantities = {"thrust": "thrust", "flow": "flow", "spread": ""}
    said = [f"{name} {with_interval(one, quantities[name], system)}" for name, one in figures.items()]
    if said:
        console().print(f"By its jet, the fan has: {', '.join(said)}.")
    else:
        console().print("These readings alone give neither thrust nor flow nor spread of the fan.")
    if details and result is not None:
        rows += [
            ("half-width at the blades", result.start_half_width, "length"),
            ("start of the jet, behind the blades", result.origin, "length"),
            ("spread squared / thrust [1/N]", result.spread_squared_over_thrust, ""),
        ]
    if result is not None:
        print_estimates("", rows, system, details=details)
    for place, profile in profiles.items():
        if details or result is None:
            print_estimates(
                f"profile at {figure(place, 'length', system)}",
                [
                    ("speed in the middle", profile.centre_speed, "speed"),
                    ("half-width", profile.half_width, "length"),
                    ("thrust", profile.thrust, "thrust"),
                    ("flow of the jet there", profile.flow, "flow"),
                ],
                system,
                details=details,
            )
        notes += _profile_notes(place, profile, taken, system, details=details)
    if len(profiles) > 1 and result is not None:
        notes.append(
            f"Of the profiles, only that at {figure(next(iter(profiles)), 'length', system)} is used here. Save with "
            "-o, and `ventplan measure fan` uses all of them."
        )
    if result is not None:
        notes += _jet_notes(result, system, details=details)
    print_notes([*notes, *remarks(**{name: one.value for name, one in figures.items()})], system)
    point_to_details("The profiles, the start of the jet, and which readings were used", details=details)


def _jet_notes(result: JetResult, system: System, *, details: bool) -> list[str]:
    """What is not known, whether a given flow agrees, and what the figures rest on."""
    from ventplan.cli.measure_common import figure, known

    if not result.by:
        return [
            "Not known: thrust, spread and flow, each by itself. A fan of four times the thrust, twice the spread and "
            "four times the flow has the same walk.",
            "Add the flow through the blades, the thrust from a scale, or a profile across the jet at one distance.",
        ]
    figures = (
        ("thrust", result.thrust, "thrust"), ("flow at the blades", result.flow, "flow"), ("spread", result.spread, "")
    )  # fmt: skip
    notes = [
        f"Not known: {name}. The readings leave it anywhere from zero to {figure(one.interval[1], kind, system)}. Take "
        "more of them, farther apart along the jet, or measure it otherwise."
        for name, one, kind in figures
        if one is not None and not known(one)
    ]
    if result.flow_apart is not None:
        verdict = "agrees with" if result.flow_apart <= 2.0 else "contradicts (check both)"
        notes.append(
            f"The given flow {verdict} the flow by thrust and walk, {result.flow_apart:.1f} standard deviations apart."
        )
    rest = {
        "thrust": "Flow and spread follow from the line of the walk and the thrust, if the jet has a Gaussian profile.",
        "profile": "Flow and spread follow from the line of the walk and the thrust of the profile, a Gaussian.",
        "flow": "Thrust and spread follow from the line of the walk and the flow, T = rho Q0 / (2 alpha); 8 % of the "
        "thrust is allowed for a profile that is not Gaussian.",
    }
    return [*notes, *([rest[result.by]] if details else [])]


def _walk_notes(walk: Walk, taken: JetReadings, seen: NDArray[np.bool_], system: System, *, details: bool) -> list[str]:
    """Which readings of the walk were used."""
    from ventplan.cli.measure_common import figure, name_readings

    on_line = [line for line, kept in zip(taken.lines, seen, strict=True) if kept]
    notes = name_readings(walk.outliers, on_line)
    if not details:
        return notes
    notes.append(f"{len(walk.used)} readings are on the line of the walk; each scatters by {walk.scatter:.1%}.")
    if walk.core:
        end = float(taken.distances_m[seen][list(walk.core)].max())
        notes.append(
            f"{len(walk.core)} readings up to {figure(end, 'length', system)} were left out: they are in the core of "
            "the jet, where the speed does not fall yet."
        )
    if not seen.all():
        notes.append(f"{int((~seen).sum())} readings below the start-up speed were left out.")
    return notes


def _draw(
    picture: Path,
    taken: JetReadings,
    line: Calibration,
    profiles: Mapping[float, Profile],
    walk: Walk | None,
    system: System,
    *,
    quiet: bool,
) -> None:
    """The walk, and each profile in a file of its own behind it."""
    from ventplan.cli.output import save_picture
    from ventplan.show.charts_measure import profile_chart, walk_chart

    charts: list[Callable[[], Any]] = []
    if walk is not None:
        speeds = line.speed(taken.indicated)
        seen = speeds >= line.start_up_m_s
        walked = (taken.distances_m[seen].tolist(), speeds[seen].tolist())
        charts.append(partial(walk_chart, walk, *walked, system=system))
    for place, profile in profiles.items():
        offsets, shown, _ = taken.profiles[place]
        across = (offsets.tolist(), line.speed(shown).tolist())
        charts.append(partial(profile_chart, profile, *across, distance_m=place, system=system))
    for number, chart in enumerate(charts, start=1):
        save_picture(picture if number == 1 else picture.with_stem(f"{picture.stem}_{number}"), chart, quiet=quiet)


def _figures(result: JetResult) -> dict[str, Estimate]:
    """What is known of the jet: figures whose interval does not reach down to nothing."""
    named = {"thrust": result.thrust, "flow": result.flow, "spread": result.spread}
    return {name: one for name, one in named.items() if one is not None and one.interval[0] > 0.0}


def _profiles(taken: JetReadings, line: Calibration, density: float) -> dict[float, Profile]:
    from ventplan.measure.jet import fit_profile

    return {
        place: fit_profile(
            offsets_m=offsets,
            speeds_m_s=line.speed(shown),
            density_kg_m3=density,
            start_up_m_s=line.start_up_m_s,
            calibration=line.source(),
            indicated=shown,
        )
        for place, (offsets, shown, _) in taken.profiles.items()
    }


def _profile_notes(place: float, profile: Profile, taken: JetReadings, system: System, *, details: bool) -> list[str]:
    from ventplan.cli.measure_common import figure, name_readings

    notes = name_readings(profile.outliers, taken.profiles[place][2])
    at = f"Profile at {figure(place, 'length', system)}: "
    if details:
        off = figure(abs(profile.off_centre_m), "length", system)
        notes.append(f"{at}the middle of the jet is {off} from the zero of the offsets.")
    if details and profile.censored:
        notes.append(f"{at}{len(profile.censored)} readings below the start-up speed were left out.")
    return notes
