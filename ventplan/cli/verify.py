"""``ventplan verify``: readings against the prediction."""

from __future__ import annotations

from typing import TYPE_CHECKING

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
from ventplan.cli.options import AsJson, HouseFile, Picture, Replace, ShowUnits
from ventplan.cli.output import check_picture
from ventplan.cli.terminal import say
from ventplan.errors import InputError

if TYPE_CHECKING:
    from ventplan.house.units import System
    from ventplan.measure.setback_series import BestSetback, SetbackSeries
    from ventplan.measure.verification import Explanation, Verification

VERIFY_EXAMPLE = (
    "Example: ventplan verify house.yaml readings.csv -o verified.png. Columns as for `ventplan fit`: opening, speed "
    "(or flow, or result), takes, scenario, fan, blows out, setback, screens, open, shut and the others."
)


def verify(
    house_file: HouseFile,
    readings: Readings,
    output: Picture = None,
    replace: Replace = False,
    calibration: CalibrationFile = None,
    model_error: ModelError = "16 %",
    jet_error: JetError = "24 %",
    display: Display = None,
    units: UnitWords = None,
    show: ShowUnits = None,
    json: AsJson = False,
) -> None:
    """Hold readings against what the house file predicts, and say what a difference points to."""
    from ventplan.cli.output import print_json, units_for
    from ventplan.house.yaml_text import read_text
    from ventplan.measure.house_readings import read_house_readings
    from ventplan.measure.verification import verify as held_against

    check_picture(output, replace=replace)
    line = calibration_of(calibration)
    taken = read_house_readings(
        readings,
        house_text=read_text(house_file),
        house_path=str(house_file),
        calibration=line,
        units=units_of(units),
        display_m_s=optional_quantity(display, "speed", "--display", lowest=0.0, highest=1.0),
    )
    try:
        result = held_against(
            taken.house,
            taken.readings,
            line,
            notes=taken.notes,
            model_error=error_of(model_error, "--model-error"),
            jet_error=error_of(jet_error, "--jet-error"),
        )
    except InputError as error:
        raise InputError(f"{readings}: {error}") from error
    system: System = "us" if units_for(taken.house, show) == "us" else "si"
    if json:
        verdict = {"wrong_here": result.wrong_here}
        print_json("verify", {**vars(result), **verdict})
    else:
        _print(result, system)
    if output is not None:
        from ventplan.show.charts_measure import verification_charts
        from ventplan.show.paper import save

        for number, chart in enumerate(verification_charts(result, system=system)):
            place = output if number == 0 else output.with_stem(f"{output.stem}_{number + 1}")
            save(chart, place)
            if not json:
                say(f"Drew it to {place}.")


def _print(result: Verification, system: System) -> None:
    from rich.table import Table

    from ventplan.cli.measure_common import letter, print_notes, print_set_ups
    from ventplan.cli.output import console
    from ventplan.house.units import show as shown
    from ventplan.house.units import shown_unit

    console().print(_headline(result))
    table = Table(box=None, pad_edge=False)
    unit = shown_unit("speed", system)
    for head in ("", "line", "read in", f"predicted\n{unit} (90 %)", f"measured\n{unit} (95 %)", "ratio", ""):
        left = head in ("", "read in")
        table.add_column(head, justify="left" if left else "right", no_wrap=head.startswith(("predicted", "measured")))
    set_ups = list(dict.fromkeys(one.set_up for one in result.comparisons))

    def number(value: float) -> str:
        return shown(value, "speed", system).partition(" ")[0]

    for one in result.comparisons:
        measured = f"{number(one.measured_m_s)} ({number(one.measured_low_m_s)} to {number(one.measured_high_m_s)})"
        table.add_row(
            letter(set_ups.index(one.set_up)),
            one.line,
            one.place,
            f"{number(one.predicted_m_s)} ({number(one.low_m_s)} to {number(one.high_m_s)})",
            f"below {number(one.measured_m_s)}" if one.below else measured,
            "" if one.below else f"{one.ratio:.2f}",
            one.verdict,
        )
    console().print(table)
    print_set_ups(set_ups)
    print_notes(
        [
            *(said for series in result.series for said in _series_notes(series, system)),
            *(_explained(one) for one in result.explanations),
            *_deciding(result, system),
            *result.notes,
        ]
    )


def _headline(result: Verification) -> str:
    known = [one for one in result.comparisons if not one.below]
    agree = sum(one.verdict == "agrees" for one in result.comparisons)
    count = len(result.comparisons)
    mean = f" Measured over predicted is {result.mean_ratio:.2f} on average." if known else ""
    if result.contradicted:
        return (
            f"The model is wrong here: these readings and the prediction differ by more than their uncertainties allow "
            f"(a probability of {result.chance:.1%}). {agree} of {count} readings agree one by one.{mean}"
        )
    if result.wrong_here:
        return (
            f"The model is wrong here about the best setback. {agree} of {count} readings agree one by one.{mean} "
            "Trust the measured setback."
        )
    return f"{agree} of {count} readings agree with the prediction within the stated uncertainties.{mean}"


def _span(best: BestSetback, system: System) -> str:
    from ventplan.cli.measure_common import interval
    from ventplan.house.units import show as shown

    return (
        f"{shown(best.setback_m, 'length', system)} (90 %: {interval(best.low_m, best.high_m, 'length', system)}"
        f"{')' if best.bracketed else ', and it may lie beyond the setbacks that were read)'}"
    )


def _series_notes(series: SetbackSeries, system: System) -> list[str]:
    name = f"{series.fan} at {series.target}, read in {series.place}"
    predicted = _span(series.predicted, system).replace("that were read", "of the curve")
    if series.measured is None:
        return [
            f"{name}: the best setback is predicted at {predicted}. Readings at four different setbacks or more would "
            "measure it."
        ]
    said = f"{name}: best setback measured {_span(series.measured, system)}, predicted {predicted}."
    return [f"{said} The two contradict each other." if series.apart else said]


def _explained(one: Explanation) -> str:
    change = f"{abs(one.value):.0f}° off" if one.unit else f"times {one.value:.2f}"
    prior = "as likely as not" if one.surprise < 1.0 else f"{one.surprise:.1f} standard deviations from what was known"
    return (
        f"{one.cause}, {change}, would explain {one.explained:.0%} of the misfit ({prior}). To decide: "
        f"{one.decided_by}."
    )


def _deciding(result: Verification, system: System) -> list[str]:
    from ventplan.house.units import show as shown

    if result.deciding is None:
        return []
    first, second = result.explanations[:2]
    at = result.deciding
    return [
        f"One more reading would tell the first two apart: {at.opening} with {at.set_up}, where {first.cause} predicts "
        f"{shown(at.first_m_s, 'speed', system)} and {second.cause} {shown(at.second_m_s, 'speed', system)}."
    ]
