"""``ventplan measure jet`` and ``ventplan measure fan``: from a jet to its fan, and from all readings to one
card."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ventplan.cli.measure_options import (
    AirTemperature,
    Altitude,
    CalibrationFile,
    Output,
    Readings,
    Setting,
    Show,
    air_density,
    calibration_of,
    figure_of,
    optional_quantity,
    quantity,
)
from ventplan.cli.options import AsJson, UnitSystem

if TYPE_CHECKING:
    from ventplan.measure.anemometer import Calibration
    from ventplan.measure.card_reading import CardReading
    from ventplan.measure.fan_card import FanCard
    from ventplan.measure.figures import TypedFigures
    from ventplan.measure.profile import Profile
    from ventplan.measure.readings import JetReadings

JET_EXAMPLE = (
    'Example: ventplan measure jet walk.csv --flow "0.30 m3/s ± 6 %". Columns: distance, speed (or pulses and '
    "counting time), and offset for readings across the jet. Takes readings in the stream."
)
FAN_EXAMPLE = (
    "Example: ventplan measure fan circulator flow.json thrust.json walk.json typed.csv --into house.yaml. CSV "
    "columns: what (flow, thrust, speed, power, sound), value with unit and ±, setting."
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
    setting: Setting = "",
    temperature: AirTemperature = "20 °C",
    altitude: Altitude = "0 m",
    output: Output = None,
    show: Show = UnitSystem.si,
    json: AsJson = False,
) -> None:
    """Thrust, spread and flow of a fan from a walk down its jet, from profiles across it, or both."""
    from ventplan.cli.measured import jsonable, name_readings, print_estimates, print_notes
    from ventplan.cli.output import print_json
    from ventplan.errors import InputError, Mistake
    from ventplan.measure.card_reading import from_profile, from_walk, save_reading
    from ventplan.measure.jet import jet_from_walk
    from ventplan.measure.readings import read_jet_readings
    from ventplan.measure.walk import fit_walk

    taken = read_jet_readings(readings)
    line = calibration_of(calibration, taken.indication)
    density = air_density(temperature, altitude)
    known_flow = figure_of(flow, "flow", "--flow", "m3/s")
    known_thrust = figure_of(thrust, "force", "--thrust", "N")
    profiles = _profiles(taken, line, density)
    saved: list[CardReading] = [
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
            beyond_m=optional_quantity(beyond, "length", "--beyond"),
            zero_error_m=quantity(zero_error, "length", "--zero-error") / 1.96,
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
        ]
    if not saved:
        raise InputError([Mistake("readings", "no readings in the stream", "a walk or a profile", file=str(readings))])
    if output is not None:
        for number, reading in enumerate(saved):
            place_ = output if number == 0 else output.with_stem(f"{output.stem}_{number + 1}")
            save_reading(reading, place_)
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
    print_notes(notes)


def _profiles(taken: JetReadings, line: Calibration, density: float) -> dict[float, Profile]:
    from ventplan.measure.profile import fit_profile

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
    from ventplan.cli.measured import name_readings

    notes = [f"Profile at {place:.2f} m: its middle lies {profile.off_centre_m * 100:+.0f} cm off the tape's zero."]
    if profile.censored:
        notes.append(f"Profile at {place:.2f} m: {len(profile.censored)} readings below start-up were left out.")
    return notes + name_readings(
        profile.outliers, taken.profiles[place][2], "Far off the profile, kept, worth a second look"
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
    temperature: AirTemperature = "20 °C",
    altitude: Altitude = "0 m",
    show: Show = UnitSystem.si,
    json: AsJson = False,
) -> None:
    """One card for a fan from everything that was measured, and which readings contradict one another."""
    from ventplan.cli.measured import jsonable, print_estimates, print_notes
    from ventplan.cli.output import print_json
    from ventplan.measure.card_file import write_card
    from ventplan.measure.card_reading import read_reading
    from ventplan.measure.fan_card import combine
    from ventplan.measure.figures import read_typed_figures

    readings: list[CardReading] = []
    power: dict[str, float] = {}
    sound: dict[str, float] = {}
    for path in results:
        if path.suffix.lower() == ".json":
            readings.append(read_reading(path))
        else:
            typed: TypedFigures = read_typed_figures(path)
            readings += typed.readings
            power |= typed.power_w
            sound |= typed.sound_db
    across = optional_quantity(diameter, "length", "--diameter")
    card = combine(readings, density_kg_m3=air_density(temperature, altitude), diameter_m=across)
    if into is not None:
        from ventplan.house import parse_house
        from ventplan.house.yaml_text import read_text

        written = write_card(read_text(into), name, card, power_w=power, sound_db=sound, diameter_m=across)
        parse_house(written, str(into))  # a file that would no longer read is not written
        into.write_text(written, encoding="utf-8")
    if json:
        print_json("measure fan", {"name": name, **jsonable(card), "power_w": power, "sound_db": sound})
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
    print_notes([*_card_notes(card, power), *([f"Written into {into}."] if into else [])])


def _card_notes(card: FanCard, power: dict[str, float]) -> list[str]:
    notes = [
        f"On {setting}: flow {speed.value:.0%}, thrust {speed.value**2:.0%} of the highest (fan laws)."
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
            f"Agreement: chi-squared {card.chi_squared:.1f} for {card.degrees} degrees of freedom; chance alone makes "
            f"it as large in {card.chance:.0%} of such campaigns."
        )
    else:
        notes.append("Nothing was measured twice in different ways, so that nothing checks anything.")
    notes += [
        f"Contradiction: {c.label} is {abs(c.normalised):.1f} standard deviations "
        f"{'above' if c.normalised > 0 else 'below'} what the rest says. Look at it again."
        for c in card.contradictions
    ]
    if card.inflated > 1.0:
        notes.append(f"The readings disagree, so every uncertainty was widened by {card.inflated:.2f}.")
    return notes + list(card.assumed)
