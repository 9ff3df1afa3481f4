"""``ventplan fit``: correct a house by readings."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ventplan.cli.measure_common import (
    CalibrationFile,
    Display,
    JetError,
    ModelError,
    Readings,
    UnitWords,
    calibration_of,
    error_of,
    optional_quantity,
    units_of,
)
from ventplan.cli.options import AsJson, HouseFile, Replace, ShowUnits
from ventplan.errors import InputError
from ventplan.files import check_new_file, write_file

if TYPE_CHECKING:
    from ventplan.house.units import System
    from ventplan.measure.house_fit import Corrected, HouseFit

FIT_EXAMPLE = (
    "Example: ventplan fit house.yaml readings.csv -o calibrated.yaml. Columns: opening, speed (or pulses and counting "
    "time, or flow, or result: a file that measure opening saved), takes (stream, mean or jet), distance, plus or "
    "minus, scenario, fan, blows out, blows in, stands in, setback, height, aside, turn, tilt, setting, screens, open, "
    "shut. `ventplan verify` takes the same file."
)


def fit(
    house_file: HouseFile,
    readings: Readings,
    output: Annotated[
        Path | None, typer.Option("-o", "--output", metavar="HOUSE", help="Write the calibrated house file.")
    ] = None,
    calibration: CalibrationFile = None,
    model_error: ModelError = "16 %",
    jet_error: JetError = "24 %",
    display: Display = None,
    units: UnitWords = None,
    replace: Replace = False,
    doubtful: Annotated[
        bool, typer.Option("--doubtful", help="Write the house file even where the readings contradict it.")
    ] = False,
    show: ShowUnits = None,
    json: AsJson = False,
) -> None:
    """Correct what is uncertain in a house by readings, and say what to read next."""
    from ventplan.cli.output import print_json, units_for
    from ventplan.house import parse_house
    from ventplan.house.yaml_text import read_text
    from ventplan.measure.house_fit import calibrated_text, fit_house
    from ventplan.measure.house_readings import data_from, read_house_readings
    from ventplan.measure.uncertainty import LEAST_CHANCE

    if output is not None:
        check_new_file(output, replace=replace)
    text = read_text(house_file)
    line = calibration_of(calibration)
    taken = read_house_readings(
        readings,
        house_text=text,
        house_path=str(house_file),
        calibration=line,
        units=units_of(units),
        display_m_s=optional_quantity(display, "speed", "--display", lowest=0.0, highest=1.0),
    )
    data = data_from(
        taken.readings,
        line,
        model_error=error_of(model_error, "--model-error"),
        jet_error=error_of(jet_error, "--jet-error"),
    )
    try:
        fitted = fit_house(taken.house, taken.readings, data, notes=taken.notes)
    except InputError as error:
        raise InputError(f"{readings}: {error}") from error
    result = fitted.result
    if output is not None and (result.believable or doubtful):
        written = calibrated_text(text, fitted, source=readings.name)
        parse_house(written, str(house_file))  # a file that would no longer read is not written
        write_file(output, written)
    if json:
        print_json("fit", result)
    else:
        _print(result, "us" if units_for(taken.house, show) == "us" else "si")
    if output is not None and not (result.believable or doubtful):
        raise InputError(
            f"Nothing was written into {output}, since these readings differ more from every likely house than their "
            f"uncertainties allow (a probability of {result.chance:.1%}; the limit is {LEAST_CHANCE:.0%}): "
            f"{result.at_odds()}. Check readings, units and set-ups; --doubtful writes it all the same"
        )


def _print(result: HouseFit, system: System) -> None:
    from statistics import NormalDist

    from rich.table import Table

    from ventplan.cli.measure_common import interval, letter, print_notes, print_set_ups
    from ventplan.cli.output import console
    from ventplan.house.units import show as shown

    table = Table(title="what the readings change in the house file", title_justify="left", box=None, pad_edge=False)
    for head in ("", "file", "change", "95 % interval", "known before", "known now"):
        table.add_column(head, justify="left" if head == "" else "right")
    for one in result.corrected:
        table.add_row(one.name, one.value, *_cells(one))
    console().print(table)
    table = Table(title="each reading predicted from the others", title_justify="left", box=None, pad_edge=False)
    for head in ("", "line", "read in", "read", "predicted", "95 % interval", ""):
        table.add_column(head, justify="left" if head in ("", "read in") else "right")
    # Noise alone puts one reading of all beyond this in one file of twenty.
    limit = NormalDist().inv_cdf(1.0 - 0.025 / len(result.left_out))
    set_ups = list(dict.fromkeys(left.set_up for left in result.left_out))
    for left in result.left_out:
        table.add_row(
            letter(set_ups.index(left.set_up)),
            left.line,
            left.place,
            ("< " if left.below else "") + shown(left.read_m_s, "speed", system),
            shown(left.expected_m_s, "speed", system),
            interval(left.low_m_s, left.high_m_s, "speed", system),
            "set aside" if left.set_aside else "check" if abs(left.contradiction) > limit else "",
        )
    console().print(table)
    print_set_ups(set_ups)
    print_notes(_notes(result))


def _cells(one: Corrected) -> tuple[str, str, str, str]:
    """Change, interval, and uncertainty before and now."""
    from ventplan.cli.measure_common import signed
    from ventplan.measure.uncertainty import WIDE

    learnt = one.learnt >= 0.1
    if one.unit == "deg":
        change = f"{'±' if one.either_way else ''}{abs(one.factor) if one.either_way else one.factor:.0f}°"
        now = f"± {WIDE * one.posterior:.0f}°" if learnt else "no better"
        return (
            change.replace("-", "−"),
            f"{signed(one.low, 0)}° to {signed(one.high, 0)}°",
            f"± {WIDE * one.prior:.0f}°",
            now,
        )
    now = f"± {WIDE * one.posterior:.0%}" if learnt else "no better"
    return f"x {one.factor:.2f}", f"{one.low:.2f} to {one.high:.2f}", f"± {WIDE * one.prior:.0%}", now


def _notes(result: HouseFit) -> list[str]:
    from ventplan.cli.measure_common import signed

    allowed = (
        "The rest is no more than the stated uncertainties allow. This does not validate the model: an error that all "
        "these readings share goes unnoticed into thrust, spread and discharge. Hold readings that the fit has not "
        "seen against the new file with `ventplan verify`."
        if result.believable
        else f"That is more than the stated uncertainties allow: {result.at_odds()}. Check these readings."
    )
    return [
        f"Readings and model differed by {result.misfit_before:.0%} (root mean square) before the fit, and by "
        f"{result.misfit_after:.0%} after it. {allowed}",
        f"The readings determine {result.settled} independent combination{'' if result.settled == 1 else 's'} of the "
        f"{result.unknowns} unknowns; the rest stays as uncertain as it was.",
        *(f"These readings cannot separate {a} and {b} (correlation {signed(c, 2)})." for a, b, c in result.tied),
        *(
            f"Most worth reading next: the stream in {one.opening} with `{one.scenario}` (what it depends on would be "
            f"known {1.0 - math.exp(-one.gain):.0%} better)."
            for one in result.next_readings
        ),
        *result.notes,
    ]
