"""``ventplan measure jet``: from a jet to its fan."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from ventplan.cli.measure_common import (
    AirTemperature,
    Altitude,
    CalibrationFile,
    Drawing,
    Output,
    Readings,
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
from ventplan.cli.options import AsJson, Replace, UnitSystem
from ventplan.cli.output import check_picture
from ventplan.errors import InputError, InvalidValue

if TYPE_CHECKING:
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
    show: Show = UnitSystem.si,
    json: AsJson = False,
) -> None:
    """Thrust, spread and flow of a fan from a walk down its jet, from profiles across it, or both."""
    from ventplan.cli.measure_common import jsonable, name_readings, print_estimates, print_notes
    from ventplan.cli.output import print_json
    from ventplan.measure.fan_reading import from_profile, from_walk, remarks
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
    notes = [note for place, profile in profiles.items() for note in _profile_notes(place, profile, taken)]
    walk = result = None
    if taken.distances_m.size:
        speeds = line.speed(taken.indicated)
        seen = speeds >= line.start_up_m_s
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
        on_line = [line_ for line_, kept in zip(taken.lines, seen, strict=True) if kept]
        core_end = float(taken.distances_m[seen][list(walk.core)].max()) if walk.core else 0.0
        in_core = f"{len(walk.core)} readings up to {core_end:.2f} m lie in the core and were left out."
        notes += [
            f"{len(walk.used)} readings on the line, each scattering by {walk.scatter:.1%}.",
            *([in_core] if walk.core else []),
            *([f"{int((~seen).sum())} readings below start-up were left out."] if not seen.all() else []),
            *name_readings(walk.outliers, on_line, "Far off the line, kept, worth a second look"),
            *(f"Known: {said}" for said in result.known),
            *(f"Not known: {said}" for said in result.unknown),
            *(f"Check: {said}" for said in result.checks),
            *remarks(**{name: one.value for name, one in _figures(result).items()}),
        ]
    if len(profiles) > 1 and known_thrust is None and result is not None:
        notes.append(
            f"Of the profiles, that at {next(iter(profiles)):.2f} m settles the jet here; save with -o and let "
            "`ventplan measure fan` weigh all of them."
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
    for place, profile in profiles.items():
        print_estimates(
            f"profile at {place:.2f} m",
            [
                ("centre speed", profile.centre_speed, "speed"),
                ("half-width (1/e)", profile.half_width, "length"),
                ("thrust", profile.thrust, "thrust"),
                ("flow of the jet there", profile.flow, "flow"),
            ],
            show.value,
        )
    if result is not None:
        print_estimates(
            "jet",
            [
                ("thrust", result.thrust, "thrust"),
                ("flow at the blades", result.flow, "flow"),
                ("spread k", result.spread, ""),
                ("half-width at the blades", result.start_half_width, "length"),
                ("b0 / k", result.origin, "length"),
                ("k² / T [1/N]", result.spread_squared_over_thrust, ""),
            ],
            show.value,
        )
    print_notes([*taken.notes, *notes])


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

    charts: list[Any] = []
    if walk is not None:
        speeds = line.speed(taken.indicated)
        seen = speeds >= line.start_up_m_s
        charts.append(walk_chart(walk, taken.distances_m[seen].tolist(), speeds[seen].tolist(), system=system))
    for place, profile in profiles.items():
        offsets, shown, _ = taken.profiles[place]
        corrected = line.speed(shown).tolist()
        charts.append(profile_chart(profile, offsets.tolist(), corrected, distance_m=place, system=system))
    for number, chart in enumerate(charts, start=1):
        place_of = picture if number == 1 else picture.with_stem(f"{picture.stem}_{number}")
        save_picture(place_of, partial(_same, chart), quiet=quiet)


def _same(chart: Any) -> Any:
    return chart


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


def _profile_notes(place: float, profile: Profile, taken: JetReadings) -> list[str]:
    from ventplan.cli.measure_common import name_readings, signed

    notes = [
        f"Profile at {place:.2f} m: its middle lies {signed(profile.off_centre_m * 100.0, 0)} cm off the tape's zero."
    ]
    if profile.censored:
        notes.append(f"Profile at {place:.2f} m: {len(profile.censored)} readings below start-up were left out.")
    return notes + name_readings(
        profile.outliers, taken.profiles[place][2], "Far off the profile, kept, worth a second look"
    )
