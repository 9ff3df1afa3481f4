"""``ventplan fit``: correct a house by readings at its openings."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ventplan.cli.measure_common import CalibrationFile, Readings, calibration_of, error_of
from ventplan.cli.options import AsJson, HouseFile, Replace, ShowUnits
from ventplan.errors import InputError
from ventplan.files import check_new_file, write_file

if TYPE_CHECKING:
    from ventplan.house.units import System
    from ventplan.measure.fit_report import HouseFit

FIT_EXAMPLE = (
    "Example: ventplan fit house.yaml readings.csv -o calibrated.yaml. Columns: opening, speed (or pulses and counting "
    "time), takes (stream or mean), scenario, fan, blows out, blows in, stands in, setback, setting, screens, open, "
    "shut."
)


def fit(
    house_file: HouseFile,
    readings: Readings,
    output: Annotated[
        Path | None, typer.Option("-o", "--output", metavar="HOUSE", help="Write the calibrated house file.")
    ] = None,
    calibration: CalibrationFile = None,
    model_error: Annotated[str, typer.Option(help="Uncertainty of the model at one opening, 95 %.")] = "16 %",
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
    from ventplan.measure.fit_report import calibrated_text, fit_house
    from ventplan.measure.house_readings import noise_of, read_house_readings
    from ventplan.measure.uncertainty import LEAST_CHANCE

    if output is not None:
        check_new_file(output, replace=replace)
    text = read_text(house_file)
    line = calibration_of(calibration)
    house, taken, notes = read_house_readings(
        readings,
        house_text=text,
        house_path=str(house_file),
        calibration=line,
        model_error=error_of(model_error, "--model-error"),
    )
    try:
        result, knobs, posterior = fit_house(house, taken, noise_of(taken, line), notes=notes)
    except InputError as error:
        raise InputError(f"{readings}: {error}") from error
    if output is not None and (result.believable or doubtful):
        written = calibrated_text(text, knobs, posterior, source=readings.name)
        parse_house(written, str(house_file))  # a file that would no longer read is not written
        write_file(output, written)
    if json:
        print_json("fit", result)
    else:
        _print(result, "us" if units_for(house, show) == "us" else "si")
    if output is not None and not (result.believable or doubtful):
        raise InputError(
            f"Nothing was written into {output}, since these readings differ more from every likely house than their "
            f"uncertainties allow (a probability of {result.chance:.1%}; the limit is {LEAST_CHANCE:.0%}): "
            f"{result.at_odds()}. Check readings, units and set-ups; --doubtful writes it all the same"
        )


def _print(result: HouseFit, system: System) -> None:
    from statistics import NormalDist

    from rich.table import Table

    from ventplan.cli.measure_common import interval, print_notes, signed
    from ventplan.cli.output import console
    from ventplan.house.shown import show as shown
    from ventplan.measure.uncertainty import WIDE

    knobs = Table(title="what the readings say of the house", title_justify="left", box=None, pad_edge=False)
    for head in ("", "file", "times", "95 % interval", "known before", "now"):
        knobs.add_column(head, justify="left" if head == "" else "right")
    for one in result.corrected:
        knobs.add_row(
            one.name, one.value, f"{one.factor:.2f}", f"{one.low:.2f} to {one.high:.2f}", f"± {WIDE * one.prior:.0%}",
            f"± {WIDE * one.posterior:.0%}" if one.learnt >= 0.1 else "no better",
        )  # fmt: skip
    console().print(knobs)
    table = Table(title="each reading foretold by the others", title_justify="left", box=None, pad_edge=False)
    for head in ("", "read", "foretold", "95 % interval", ""):
        table.add_column(head, justify="left" if head == "" else "right")
    # Chance alone puts one reading of all beyond this in one campaign of twenty.
    limit = NormalDist().inv_cdf(1.0 - 0.025 / len(result.left_out))
    for left in result.left_out:
        table.add_row(
            left.label,
            shown(left.read_m_s, "speed", system),
            shown(left.expected_m_s, "speed", system),
            interval(left.low_m_s, left.high_m_s, "speed", system),
            "set aside" if left.set_aside else "look again" if abs(left.normalised) > limit else "",
        )
    console().print(table)
    print_notes(
        [
            f"Readings and model differed by {result.misfit_before:.0%} (root mean square) before the fit, and by "
            f"{result.misfit_after:.0%} after it. "
            + (
                "The rest is no more than the stated uncertainties allow. This does not validate the model: an error "
                "of the jet model of 20 to 40 % goes unnoticed into thrust and discharge. Readings that the fit has "
                "not seen, at other setbacks and openings, would show it."
                if result.believable
                else f"That is more than the stated uncertainties allow: {result.at_odds()}. Check these readings."
            ),
            *(f"Cannot be told apart: {a} and {b} (correlation {signed(c, 2)})." for a, b, c in result.tied),
            *(
                f"Worth reading next: the stream in {one.opening} with `{one.scenario}` (what it bears on would be "
                f"known {1.0 - math.exp(-one.gain):.0%} closer)."
                for one in result.next_readings
            ),
            *result.notes,
        ]
    )
