"""``ventplan verify`` and ``ventplan fit``: readings compared with the prediction, and a house corrected by them."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ventplan.cli.measure_common import (
    CalibrationFile,
    Details,
    Display,
    JetError,
    ModelError,
    Readings,
    UnitWords,
    calibration_of,
    error_of,
    letter,
    optional_quantity,
    print_set_ups,
    units_of,
)
from ventplan.cli.options import AsJson, HouseFile, Picture, Replace, ShowUnits
from ventplan.cli.output import check_picture, say
from ventplan.errors import InputError
from ventplan.files import check_new_file, write_file

if TYPE_CHECKING:
    from ventplan.airing import Note
    from ventplan.house.units import System
    from ventplan.measure.anemometer import Calibration
    from ventplan.measure.house_fit import Corrected, HouseFit
    from ventplan.measure.house_readings import HouseReadings
    from ventplan.measure.setback_series import BestSetback, SetbackSeries
    from ventplan.measure.verification import Comparison, Explanation, Verification

_COLUMNS = (
    "Columns: opening, speed (or pulses and counting time, or flow, or result: a file that measure opening saved), "
    "takes (stream, mean or jet), distance, plus or minus, scenario, fan, blows out, blows in, stands in, setback, "
    "height, aside, turn, tilt, setting, screens, open, shut."
)
FIT_EXAMPLE = f"Example: ventplan fit house.yaml readings.csv -o calibrated.yaml. {_COLUMNS}"
VERIFY_EXAMPLE = f"Example: ventplan verify house.yaml readings.csv -o verified.png. {_COLUMNS}"

SHOWN_READINGS = 10
"""Readings in the table of ``verify`` without ``--details``."""


def _read(
    house_file: Path, readings: Path, line: Calibration, units: str | None, display: str | None
) -> tuple[str, HouseReadings]:
    """The text of the house file, and the readings with their set-ups."""
    from ventplan.house.yaml_text import read_text
    from ventplan.measure.house_readings import read_house_readings

    text = read_text(house_file)
    return text, read_house_readings(
        readings,
        house_text=text,
        house_path=str(house_file),
        calibration=line,
        units=units_of(units),
        display_m_s=optional_quantity(display, "speed", "--display", lowest=0.0, highest=1.0),
    )


def verify(
    house_file: HouseFile,
    readings: Readings,
    output: Picture = None,
    replace: Replace = False,
    calibration: CalibrationFile = None,
    model_error: ModelError = "16 %",
    jet_error: JetError = None,
    display: Display = None,
    units: UnitWords = None,
    details: Details = False,
    show: ShowUnits = None,
    json: AsJson = False,
) -> None:
    """Compare readings with the prediction of the house file, and say what a difference points to."""
    from ventplan.cli.output import print_json, units_for
    from ventplan.measure.verification import verify as compare

    check_picture(output, replace=replace)
    line = calibration_of(calibration)
    _, taken = _read(house_file, readings, line, units, display)
    try:
        result = compare(
            taken.house,
            taken.readings,
            line,
            notes=taken.notes,
            model_error=error_of(model_error, "--model-error"),
            jet_error=None if jet_error is None else error_of(jet_error, "--jet-error"),
        )
    except InputError as error:
        raise InputError(f"{readings}: {error}") from error
    system: System = "us" if units_for(taken.house, show) == "us" else "si"
    if json:
        print_json("verify", {**vars(result), "wrong_here": result.wrong_here})
    else:
        _print_verification(result, system, details=details)
    if output is not None:
        from ventplan.show.charts_measure import verification_charts
        from ventplan.show.paper import save

        for number, chart in enumerate(verification_charts(result, system=system)):
            place = output if number == 0 else output.with_stem(f"{output.stem}_{number + 1}")
            save(chart, place)
            if not json:
                say(f"Drew it to {place}.")


def _print_verification(result: Verification, system: System, *, details: bool) -> None:
    from rich.table import Table

    from ventplan.cli.measure_common import point_to_details, print_notes
    from ventplan.cli.output import console
    from ventplan.house.units import show as shown
    from ventplan.house.units import shown_unit

    console().print(_headline(result))
    print_notes(said for series in result.series for said in _series_notes(series, system))
    unit = shown_unit("speed", system)
    table = Table(box=None, pad_edge=False)
    for head in ("line", "", "read in", f"predicted\n{unit} (90 %)", f"measured\n{unit} (95 %)", "ratio", ""):
        left = head in ("", "read in")
        table.add_column(head, justify="left" if left else "right", no_wrap=head.startswith(("predicted", "measured")))
    chosen = _to_show(result.comparisons, details=details)
    set_ups = list(dict.fromkeys(one.set_up for one in chosen))

    def number(value: float) -> str:
        return shown(value, "speed", system).partition(" ")[0]

    for one in chosen:
        measured = f"{number(one.measured_m_s)} ({number(one.measured_low_m_s)} to {number(one.measured_high_m_s)})"
        table.add_row(
            one.line,
            letter(set_ups.index(one.set_up)),
            one.place,
            f"{number(one.predicted_m_s)} ({number(one.low_m_s)} to {number(one.high_m_s)})",
            f"below {number(one.measured_m_s)}" if one.below else measured,
            "" if one.below else f"{one.ratio:.2f}",
            one.verdict,
        )
    console().print(table)
    print_set_ups(set_ups)
    if result.explanations:
        console().print("\nWhat one cause alone could explain:")
        table = Table(box=None, pad_edge=False)
        for head in ("cause", "it would be", "explains", "plausible?", "to find out"):
            table.add_column(head, justify="right" if head == "explains" else "left")
        for cause in result.explanations[: None if details else 3]:
            table.add_row(*_cause_cells(cause))
        console().print(table)
    print_notes([*_deciding(result, system), *result.notes], system)
    rest = len(result.comparisons) - len(chosen)
    if rest:
        point_to_details(f"{rest} more readings", details=details)


def _to_show(comparisons: tuple[Comparison, ...], *, details: bool) -> list[Comparison]:
    """All readings, or those that disagree and the farthest off of the others, in the order of the file."""
    if details or len(comparisons) <= SHOWN_READINGS:
        return list(comparisons)
    order = sorted(comparisons, key=lambda one: (one.verdict == "agrees", -abs(one.score) if not one.below else 0.0))
    kept = order[:SHOWN_READINGS]
    return [one for one in comparisons if one in kept]


def _headline(result: Verification) -> str:
    from ventplan.measure.uncertainty import LEAST_CHANCE

    known = [one for one in result.comparisons if not one.below]
    agree, count = sum(one.verdict == "agrees" for one in result.comparisons), len(result.comparisons)
    readings = f"{agree} of {count} readings agree with it within the uncertainties of both"
    mean = f" On average, measured over predicted is {result.mean_ratio:.2f}." if known else ""
    still = [one.line for one in result.comparisons if one.below and one.verdict == "lower"]
    if result.chance < LEAST_CHANCE:
        return (
            f"The prediction is wrong here: together, the readings differ from it by more than the uncertainties allow "
            f"(a chance of {result.chance:.1%}). {readings}.{mean} Trust the readings."
        )
    if still:
        return (
            f"The prediction is wrong here: the vane did not turn where it should (line{'s' if len(still) > 1 else ''} "
            f"{', '.join(still)}). {readings}.{mean} Trust the readings."
        )
    if result.wrong_here:
        return f"The prediction is wrong here about the best setback: trust the measured one. {readings}.{mean}"
    return f"The prediction holds: {readings}.{mean}"


def _span(best: BestSetback, system: System) -> str:
    from ventplan.cli.measure_common import interval
    from ventplan.house.units import show as shown

    return (
        f"{shown(best.setback_m, 'length', system)} ({interval(best.low_m, best.high_m, 'length', system)}, 90 %"
        f"{')' if best.bracketed else '; it may lie beyond the setbacks that were read)'}"
    )


def _series_notes(series: SetbackSeries, system: System) -> list[str]:
    """The best setback of a series, measured and predicted."""
    name = f"Best setback of {series.fan} at {series.target}, by readings in {series.place}"
    predicted = _span(series.predicted, system).replace("that were read", "of the curve")
    if series.measured is None:
        return [f"{name}: predicted {predicted}. Readings at four setbacks or more would measure it."]
    said = f"{name}: measured {_span(series.measured, system)}, predicted {predicted}."
    return [f"{said} The two contradict each other." if series.apart else said]


def _cause_cells(one: Explanation) -> tuple[str, str, str, str, str]:
    change = f"{abs(one.value):.0f}° off" if one.unit else f"{one.value:.2f} times"
    likely = "yes" if one.surprise < 1.0 else "possible" if one.surprise < 2.0 else "hardly"
    return one.cause, change, f"{one.explained:.0%}", likely, one.decided_by


def _deciding(result: Verification, system: System) -> list[str]:
    from ventplan.house.units import show as shown

    if result.deciding is None:
        return []
    first, second = result.explanations[:2]
    at = result.deciding
    return [
        f"One more reading would decide between the first two: in {at.opening}, with the fan "
        f"{shown(at.setback_m, 'length', system)} back. If it is the "
        f"{first.cause}, expect {shown(at.first_m_s, 'speed', system)}; if it is the {second.cause}, "
        f"{shown(at.second_m_s, 'speed', system)}."
    ]


def fit(
    house_file: HouseFile,
    readings: Readings,
    output: Annotated[
        Path | None, typer.Option("-o", "--output", metavar="HOUSE", help="Write the calibrated house file.")
    ] = None,
    calibration: CalibrationFile = None,
    model_error: ModelError = "16 %",
    jet_error: JetError = None,
    display: Display = None,
    units: UnitWords = None,
    replace: Replace = False,
    doubtful: Annotated[
        bool, typer.Option("--doubtful", help="Write the house file even where the readings contradict it.")
    ] = False,
    details: Details = False,
    show: ShowUnits = None,
    json: AsJson = False,
) -> None:
    """Correct what is uncertain in a house by readings, and say what to read next."""
    from ventplan.cli.output import console, print_json, units_for
    from ventplan.house import parse_house
    from ventplan.measure.house_fit import calibrated_text, fit_house
    from ventplan.measure.house_readings import data_from
    from ventplan.measure.uncertainty import LEAST_CHANCE

    if output is not None:
        check_new_file(output, replace=replace)
    line = calibration_of(calibration)
    text, taken = _read(house_file, readings, line, units, display)
    data = data_from(
        taken.readings,
        line,
        model_error=error_of(model_error, "--model-error"),
        jet_error=None if jet_error is None else error_of(jet_error, "--jet-error"),
    )
    try:
        fitted = fit_house(taken.house, taken.readings, data, notes=taken.notes)
    except InputError as error:
        raise InputError(f"{readings}: {error}") from error
    result = fitted.result
    written = output is not None and (result.believable or doubtful)
    if output is not None and written:
        new = calibrated_text(text, fitted, source=readings.name)
        parse_house(new, str(house_file))  # a file that can no longer be read is not written
        write_file(output, new)
    if json:
        print_json("fit", result)
    else:
        _print_fit(result, "us" if units_for(taken.house, show) == "us" else "si", details=details)
        if written:
            console().print(f"Written into {output}, with the old figures in comments.")
    if output is not None and not written:
        from ventplan.show.cautions import note_words

        raise InputError(
            f"Nothing was written into {output}, since these readings differ more from every likely house than their "
            f"uncertainties allow (a probability of {result.chance:.1%}; the limit is {LEAST_CHANCE:.0%}): "
            f"{note_words(result.at_odds())}. Check readings, units and set-ups; --doubtful writes it all the same"
        )


def _print_fit(result: HouseFit, system: System, *, details: bool) -> None:
    from rich.table import Table

    from ventplan.cli.measure_common import point_to_details, print_notes
    from ventplan.cli.output import console
    from ventplan.show.cautions import note_words

    rest = (
        "which the uncertainties of readings and model allow."
        if result.believable
        else f"which is more than their uncertainties allow: {note_words(result.at_odds())}. Check these readings."
    )
    console().print(
        f"The readings differed from the house file by {result.misfit_before:.0%} on average, and differ from the "
        f"corrected house by {result.misfit_after:.0%}, {rest}"
    )
    shown = [one for one in result.corrected if details or one.learnt >= 0.1]
    if shown:
        table = Table(box=None, pad_edge=False)
        for head in ("", "in the file", "corrected", "95 % interval", *(("± before", "± now") if details else ())):
            table.add_column(head, justify="left" if head == "" else "right")
        for one in shown:
            table.add_row(*_cells(one, system)[: None if details else 4])
        console().print(table)
    if len(shown) < len(result.corrected):
        others = f"{len(result.corrected) - len(shown)} {'other ' if shown else ''}figures"
        console().print(f"The readings do not determine {others}, which stay as they are.")
    if details:
        _print_left_out(result, system)
    print_notes(_fit_notes(result, details=details), system)
    point_to_details("All figures, and each reading predicted from the others", details=details)


def _print_left_out(result: HouseFit, system: System) -> None:
    """Each reading beside its prediction from the others."""
    from statistics import NormalDist

    from rich.table import Table

    from ventplan.cli.measure_common import interval
    from ventplan.cli.output import console
    from ventplan.house.units import show as shown

    table = Table(title="\nEach reading predicted from the others", title_justify="left", box=None, pad_edge=False)
    for head in ("line", "set-up", "read in", "read", "predicted", "95 % interval", ""):
        table.add_column(head, justify="left" if head in ("set-up", "read in", "") else "right")
    # Noise alone puts one reading of all beyond this in one file of twenty.
    limit = NormalDist().inv_cdf(1.0 - 0.025 / len(result.left_out))
    set_ups = list(dict.fromkeys(left.set_up for left in result.left_out))
    for left in result.left_out:
        table.add_row(
            left.line,
            letter(set_ups.index(left.set_up)),
            left.place,
            ("< " if left.below else "") + shown(left.read_m_s, "speed", system),
            shown(left.expected_m_s, "speed", system),
            interval(left.low_m_s, left.high_m_s, "speed", system),
            "set aside" if left.set_aside else "check" if abs(left.contradiction) > limit else "",
        )
    console().print(table)
    print_set_ups(set_ups)


def _cells(one: Corrected, system: System) -> tuple[str, ...]:
    """Name, value in the file, corrected value and interval; uncertainty before and now."""
    from ventplan.cli.measure_common import signed
    from ventplan.measure.uncertainty import WIDE

    before, now = WIDE * one.prior, WIDE * one.posterior
    if one.unit == "deg":
        change = f"± {abs(one.factor):.0f}°" if one.either_way else f"{signed(one.factor, 0)}°"
        interval = f"{signed(one.low, 0)}° to {signed(one.high, 0)}°"
        return one.name, "as placed", change, interval, f"{before:.0f}°", f"{now:.0f}°"
    value, low, high = (_value(one, factor, system) for factor in (one.factor, one.low, one.high))
    return (
        one.name,
        _value(one, 1.0, system),
        value,
        f"{low.partition(' ')[0]} to {high}",
        f"{before:.0%}",
        f"{now:.0%}",
    )


def _value(one: Corrected, factor: float, system: System) -> str:
    """A figure of the house file times a factor, in the reader's units."""
    from ventplan.house.units import show as shown

    value = one.size * factor
    if one.kind == "screen":
        return f"{value * 1000.0:.2f} mm"
    if one.kind in ("thrust", "flow"):
        return shown(value, one.kind, system)
    if one.kind == "leaks":
        return f"{value * 2118.88:.1f} cfm" if system == "us" else f"{value * 3600.0:.1f} m³/h"
    return f"{value:.3f}" if one.kind == "spread" else f"{value:.2f}"


def _fit_notes(result: HouseFit, *, details: bool) -> list[str | Note]:
    from ventplan.cli.measure_common import signed

    more = [
        f"The readings determine {result.settled} independent combination{'' if result.settled == 1 else 's'} of the "
        f"{result.unknowns} uncertain figures.",
        *(f"They cannot separate {a} from {b} (correlation {signed(c, 2)})." for a, b, c in result.tied),
    ]
    return [
        *result.notes,
        *(more if details else ()),
        *(
            f"{'Next best' if number else 'Best reading to take next'}: in the stream of {one.opening} with "
            f"`{one.scenario}` (what it depends on would be known {1.0 - math.exp(-one.gain):.0%} better)."
            for number, one in enumerate(result.next_readings[: None if details else 1])
        ),
        *(
            ["Discharge is the share of an opening's area that the air stream fills (the discharge coefficient)."]
            if any(one.kind == "discharge" and one.learnt >= 0.1 for one in result.corrected)
            else []
        ),
        "A good fit does not prove the model, since an error that all readings share ends up in the figures. Keep a "
        "few readings back, and compare them with the new file by `ventplan verify`.",
    ]
