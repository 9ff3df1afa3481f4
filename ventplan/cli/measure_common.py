"""What the measuring commands share: options and what their text means, and how measured figures are shown."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, TypeVar

import typer

from ventplan.cli.output import UnitSystem
from ventplan.errors import InputError, InvalidValue
from ventplan.files import check_new_file

if TYPE_CHECKING:
    from ventplan.airing import Note
    from ventplan.house.units import System
    from ventplan.measure.anemometer import Calibration, Indication
    from ventplan.measure.fan_reading import FanReading
    from ventplan.measure.uncertainty import Estimate

Readings = Annotated[Path, typer.Argument(metavar="READINGS", help="CSV file.", show_default=False)]
Show = Annotated[UnitSystem, typer.Option("--show", help="Units of the tables.")]
Output = Annotated[Path | None, typer.Option("-o", "--output", metavar="FILE", help="Save the result as JSON.")]
CalibrationFile = Annotated[
    Path | None,
    typer.Option(
        "--calibration", metavar="FILE", help="Saved calibration of the anemometer; without it 10 % (95 %) is allowed."
    ),
]
Setting = Annotated[str, typer.Option("--setting", help="Speed setting of the fan; the highest if left out.")]
AirTemperature = Annotated[str, typer.Option("--temperature", help="Air temperature.")]
Altitude = Annotated[str, typer.Option("--altitude", help="Height above the sea.")]
Drawing = Annotated[
    Path | None,
    typer.Option("--picture", metavar="FILE", help="Draw readings and fit: .svg, .png or .pdf."),
]
UnitWords = Annotated[
    str | None,
    typer.Option("--units", metavar="UNITS", help="Units of numbers without one, such as ft,ft/min; SI if left out."),
]
Details = Annotated[
    bool, typer.Option("--details", help="Add where the uncertainty comes from, and how the readings were used.")
]

ModelError = Annotated[str, typer.Option("--model-error", help="Uncertainty of the model at one opening, 95 %.")]
JetError = Annotated[
    str | None,
    typer.Option(
        "--jet-error",
        help="Uncertainty of the flow that a jet drives, 95 %; if left out 13 % for a jet at the middle of its "
        "opening, 20 % for a fan close to it, 35 % for a jet off its middle.",
    ),
]
Display = Annotated[
    str | None,
    typer.Option("--display", help="Step of the anemometer's display; by the readings' last digit if left out."),
]

LEAST = 1e-12
"""Stands for "above zero" as a lowest value."""

_UNITS = {
    "length": " m",
    "area": " m²",
    "force": " N",
    "pressure": " Pa",
    "temperature": " °C",
    "speed": " m/s",
    "kelvins": " K",
}

Value = TypeVar("Value")


def parsed(parse: Callable[[str], Value], text: str, option: str) -> Value:
    """What a parser makes of an option's text; an error names the option."""
    from ventplan.house.units import UnitError

    try:
        return parse(text)
    except UnitError as error:
        raise InputError([InvalidValue(option, error.found, error.allowed, error.hint)]) from None


def quantity(
    text: str, kind: str, option: str, *, lowest: float = -math.inf, highest: float = math.inf, hint: str = ""
) -> float:
    """What an option's text says, in SI, within what is allowed; an error names the option."""
    from ventplan.house.units import parse_quantity

    value = parsed(lambda said: parse_quantity(said, kind), text, option)
    return within(value, option, lowest=lowest, highest=highest, kind=kind, said=text, hint=hint)


def within(
    value: float,
    option: str,
    *,
    lowest: float,
    highest: float = math.inf,
    kind: str = "number",
    said: str = "",
    hint: str = "",
) -> float:
    """The value itself where it is in the allowed range; an error names the option and the range.

    ``LEAST`` as the lowest says that it must be above zero.
    """
    if math.isfinite(value) and lowest <= value <= highest:
        return value
    raise InputError([InvalidValue(option, f'"{said or f"{value:g}"}"', _range(lowest, highest, kind), hint)])


def _range(lowest: float, highest: float, kind: str) -> str:
    """An allowed range in words, in SI."""

    def one(limit: float) -> str:
        return f"{limit * 100:g} %" if kind == "share" else f"{limit:.10g}{_UNITS.get(kind, '')}"

    least = "above 0" if lowest == LEAST else "" if lowest == -math.inf else f"{one(lowest)} or more"
    if highest == math.inf:
        return (least or "a finite number").replace("-", "−")
    if lowest in (LEAST, -math.inf):
        return f"{least}{', ' if least else ''}at most {one(highest)}".replace("-", "−")
    return f"{one(lowest)} to {one(highest)}".replace("-", "−")


def optional_quantity(
    text: str | None, kind: str, option: str, *, lowest: float = -math.inf, highest: float = math.inf
) -> float | None:
    """Like ``quantity``, for an option that may be left out."""
    return None if text is None else quantity(text, kind, option, lowest=lowest, highest=highest)


def error_of(text: str, option: str) -> float:
    """Relative standard uncertainty from what is stated for 95 %, above 0 and at most 100 %."""
    from ventplan.measure.uncertainty import WIDE

    return quantity(text, "share", option, lowest=LEAST, highest=1.0) / WIDE


def save_each(readings: Sequence[FanReading], output: Path, *, replace: bool, names: Sequence[str]) -> None:
    """Save what ``measure fan`` takes: the first under the name given, the others with their own behind it.

    Raises
    ------
    InputError
        Where any of the files is there already and is not to be replaced; then none is written.
    """
    from ventplan.measure.fan_reading import save_reading

    places = [output, *(output.with_stem(f"{output.stem}_{name.replace('/', '-')}") for name in names[1:])]
    for place in places:
        check_new_file(place, replace=replace)
    for reading, place in zip(readings, places, strict=True):
        save_reading(reading, place)


def figure_of(text: str | None, kind: str, option: str, unit: str) -> Estimate | None:
    """A figure with its uncertainty from ``0.30 m3/s ± 6 %`` or from a saved result."""
    from ventplan.measure.fan_reading import as_estimate, parse_figure, read_reading

    if text is None:
        return None
    if text.lower().endswith(".json"):
        return as_estimate(read_reading(text), unit=unit)
    given = parsed(lambda said: parse_figure(said, kind, unit), text, option)
    within(given.value, option, lowest=LEAST, highest=500.0, said=text, kind=kind)
    return given


def units_of(text: str | None) -> Mapping[str, str]:
    """Units for numbers that have none, by quantity."""
    from ventplan.measure.readings import parse_units

    return {} if text is None else parse_units(text)


@contextmanager
def explained(readings: Path, what: str = "") -> Iterator[None]:
    """Turn a refusal of a measuring function into an error in its file."""
    try:
        yield
    except ValueError as error:
        raise InputError(f"{readings}: {f'{what}: ' if what else ''}{error}") from error


def calibration_of(path: Path | None, indication: Indication | None = None) -> Calibration:
    """The saved calibration, or an uncalibrated anemometer; its indication must be that of the readings, where it is
    known."""
    from ventplan.measure.anemometer import read_calibration, uncalibrated

    line = uncalibrated() if path is None else read_calibration(path)
    if indication is not None and line.indication != indication:
        hint = "Calibrate by pulses too: `ventplan measure anemometer`" if indication == "Hz" else ""
        found, allowed = f"a calibration in {line.indication}", f"one in {indication}, like the readings"
        raise InputError([InvalidValue("--calibration", found, allowed, hint)])
    return line


def air_density(temperature: str, altitude: str) -> float:
    """Density of air at half humidity [kg/m3]."""
    from ventplan.physics.air import density

    return float(
        density(
            temperature_c=quantity(temperature, "temperature", "--temperature", lowest=-60.0, highest=60.0),
            altitude_m=quantity(altitude, "length", "--altitude", lowest=-500.0, highest=9000.0),
            relative_humidity=0.5,
        )
    )


Row = tuple[str, "Estimate | None", str]
"""Name, figure, and its quantity for the units; an empty quantity is a plain number."""


def jsonable(value: Any) -> Any:
    """Like the record itself, with every estimate as value, uncertainty, degrees of freedom and 95 % interval."""
    from ventplan.airing import Note
    from ventplan.measure.uncertainty import Estimate

    if isinstance(value, Estimate):
        return value.as_dict()
    if isinstance(value, Note):
        return value
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {field.name: jsonable(getattr(value, field.name)) for field in dataclasses.fields(value)}
    if isinstance(value, Mapping):
        return {key: jsonable(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [jsonable(item) for item in value]
    return value


def figure(value: float, quantity: str, system: System) -> str:
    """A value as people read it; an empty quantity is a plain number with three digits."""
    from ventplan.house.units import show

    return show(value, quantity, system) if quantity else f"{value:.3g}".replace("-", "−")


def signed(value: float, decimals: int = 1) -> str:
    """A number with its sign, the minus being the one of all tables."""
    return f"{value:+.{decimals}f}".replace("-", "−")


def interval(low: float, high: float, quantity: str, system: System) -> str:
    """Both ends of an interval; the unit once where it is the same."""
    first, last = figure(low, quantity, system), figure(high, quantity, system)
    head, _, unit = first.partition(" ")
    return f"{head if unit and last.partition(' ')[2] == unit else first} to {last}"


def known(estimate: Estimate) -> bool:
    """False for a positive quantity whose 95 % interval reaches down to zero."""
    return not estimate.interval[0] <= 0.0 < estimate.value


def with_interval(estimate: Estimate, quantity: str, system: System) -> str:
    """A figure with its 95 % interval, for a sentence."""
    return f"{figure(estimate.value, quantity, system)} ({interval(*estimate.interval, quantity, system)}, 95 %)"


def print_estimates(title: str, rows: Iterable[Row], system: System, *, details: bool) -> None:
    """A table of figures with their 95 % intervals; with details, the largest part of each uncertainty.

    A figure whose interval reaches down to zero is not known, and the table says so in its place.
    """
    from rich.table import Table

    from ventplan.cli.output import console

    table = Table(title=title or None, title_justify="left", box=None, pad_edge=False)
    for head in ("", "value", "95 % interval", "±", *(("most of ± is from",) if details else ())):
        table.add_column(head, justify="left" if head in ("", "most of ± is from") else "right")
    for name, estimate, quantity in rows:
        if estimate is None:
            continue
        low, high = estimate.interval
        half = (high - low) / 2.0 / abs(estimate.value) if estimate.value else float("nan")
        cells = [
            name,
            figure(estimate.value, quantity, system) if known(estimate) else "not known",
            interval(low, high, quantity, system),
            "–" if not half < 10.0 else f"{half:.0%}" if half >= 0.0095 else "<1%",
        ]
        largest = max(estimate.budget, key=lambda share: share.standard, default=None)
        if details:
            cells.append(largest.name if largest and largest.standard > 0.0 else "")
        table.add_row(*cells)
    if table.row_count:
        console().print(table)


def print_notes(notes: Iterable[str | Note], system: System = "si") -> None:
    """Notes, one to a paragraph; ``system`` matters for those that are not sentences yet."""
    from ventplan.cli.output import console
    from ventplan.show.cautions import note_words

    for note in notes:
        console().print(f"- {note if isinstance(note, str) else note_words(note, system)}")


def point_to_details(what: str, *, details: bool) -> None:
    """The line that says what ``--details`` adds, where it is not there already."""
    from ventplan.cli.output import console

    if not details:
        console().print(f"{what}: add --details.", style="dim")


def name_readings(numbers: Iterable[int], lines: Sequence[int]) -> list[str]:
    """A sentence that names outliers by their lines in the file; nothing for none."""
    places = [str(lines[number]) for number in numbers]
    if not places:
        return []
    many = len(places) > 1
    return [
        f"Check line{'s' if many else ''} {', '.join(places)} of the readings: {'they are' if many else 'it is'} far "
        f"off the others. {'They were' if many else 'It was'} kept."
    ]


def letter(index: int) -> str:
    """A, B ... Z, A1, B1 ..."""
    return chr(ord("A") + index % 26) + (str(index // 26) if index >= 26 else "")


def print_set_ups(names: Iterable[str]) -> None:
    """The set-ups behind the letters of a table."""
    from ventplan.cli.output import console

    for index, name in enumerate(names):
        console().print(f"{letter(index)}: {name}", style="dim")
