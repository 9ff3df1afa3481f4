"""``ventplan rank``: fans by what they drive."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING, Annotated, Any

import typer

from ventplan.cli.options import AsJson, HouseFile, Picture, Replace, ScenarioName, ShowUnits
from ventplan.cli.output import check_picture, save_picture

if TYPE_CHECKING:
    from collections.abc import Mapping

    from ventplan.house.fans import Fan
    from ventplan.house.units import System
    from ventplan.measure.rank import RankedFan, Ranking


class Order(StrEnum):
    """What fans are put in order by."""

    flow = "flow"
    thrust = "thrust"
    watt = "watt"
    power = "power"
    noise = "noise"


RANK_EXAMPLE = "Example: ventplan rank house.yaml -o rank.png"


def rank(
    house_file: HouseFile,
    by: Annotated[
        Order,
        typer.Option(
            "--by",
            help="Most flow through the window, thrust or thrust per watt first; or least power or noise first.",
        ),
    ] = Order.flow,
    opening: Annotated[
        str | None,
        typer.Option(
            "--opening", metavar="NAME", help="Compare at this opening of the house instead of a window of 1 m x 1.1 m."
        ),
    ] = None,
    scenario: ScenarioName = None,
    output: Picture = None,
    replace: Replace = False,
    details: Annotated[
        bool, typer.Option("--details", help="Add the flow through the blades, and how well each jet suits the window.")
    ] = False,
    show: ShowUnits = None,
    json: AsJson = False,
) -> None:
    """Rank the fans of a house file by the flow that they drive through a window, thrust, power or noise."""
    from ventplan.cli.output import print_json, units_for
    from ventplan.errors import InputError, InvalidValue, unknown_name
    from ventplan.house import read_house
    from ventplan.measure.rank import best_in_house, in_order, rank_fans

    check_picture(output, replace=replace)
    house = read_house(house_file)
    if not house.fans:
        raise InputError([InvalidValue("fans", "no fans", "at least one fan to rank", file=str(house_file))])
    if opening is None and scenario is not None:
        found = f'"{scenario}" without an opening'
        raise InputError([InvalidValue("--scenario", found, "--opening with it, to compare in the house")])
    if scenario is not None and scenario not in house.scenarios:
        raise unknown_name("scenario", scenario, house.scenarios)
    if opening is None:
        ranking = rank_fans(house.fans)
    else:
        best, _ = best_in_house(house, house.scenarios[scenario] if scenario else None, opening)
        ranking = rank_fans(house.fans, best, opening=opening)
    ranking = in_order(ranking, by=by.value)
    system: System = "us" if units_for(house, show) == "us" else "si"

    def figure() -> Any:
        from ventplan.show.charts_measure import rank_chart

        return rank_chart(ranking, system)

    save_picture(output, figure, quiet=json)
    if json:
        print_json("rank", ranking)
        return
    _print(ranking, by, house.fans, system, details=details)


def _print(ranking: Ranking, by: Order, fans: Mapping[str, Fan], system: System, *, details: bool) -> None:
    from rich.table import Table

    from ventplan.cli.measure_common import point_to_details, print_notes, signed
    from ventplan.cli.output import console
    from ventplan.house.units import show as shown
    from ventplan.measure.uncertainty import WIDE

    console().print(_headline(ranking, by, system))
    several = len(ranking.fans) > 1
    said = by.value if by in (Order.power, Order.noise) else "per watt"
    table = Table(box=None, pad_edge=False)
    heads = ("fan", "moves", "at setback", "thrust", "±", said)
    for head in (*heads, *(("through blades", "off the curve") if details else ())):
        table.add_column(head, justify="left" if head == "fan" else "right")
    for fan in ranking.fans:
        cells = [
            fan.name,
            shown(fan.driven_m3_s, "flow", system),
            shown(fan.setback_m, "length", system),
            shown(fan.thrust_n, "thrust", system),
            f"{fan.thrust_error * WIDE:.0%}",
            _figure_of(fan, said, system),
        ]
        if details:
            curve = f"{signed(fan.residual * 100.0, 0)}%" if several else "–"
            cells += [shown(fan.blades_m3_s, "flow", system), curve]
        table.add_row(*cells)
    console().print(table)
    pairs = {frozenset((fan.name, other)) for fan in ranking.fans for other in fan.close_to}
    close = "; ".join(sorted(" and ".join(sorted(pair)) for pair in pairs))
    # Cubic feet a minute over the root of a gram-force.
    factor, unit = (ranking.factor * 2118.88 * 0.00980665**0.5, "cfm") if system == "us" else (ranking.factor, "m³/s")
    left_out = ", ".join(ranking.unplaced)
    curve = (
        f"The curve is flow = {factor:.3g} {unit} x square root of thrust in {'gf' if system == 'us' else 'N'}. A fan "
        "above it has a jet that suits the window; one below it has too narrow or too wide a jet."
    )
    print_notes(
        [
            *([f"Left out, since they find no place there or drive no air: {left_out}."] if left_out else []),
            *([f"Thrusts that do not differ within their uncertainty (± for 95 %): {close}."] if close else []),
            *_missing(fans),
            *([curve] if details and several else []),
        ]
    )
    point_to_details("Flow through the blades, and how well each jet suits the window", details=details)


def _headline(ranking: Ranking, by: Order, system: System) -> str:
    """The first fan, and what it is compared at."""
    from ventplan.house.units import show as shown
    from ventplan.measure.rank import WINDOW_M

    first = ranking.fans[0]
    orders = {
        Order.flow: "moves the most air",
        Order.thrust: "has the most thrust",
        Order.watt: "has the most thrust per watt",
        Order.power: "takes the least power",
        Order.noise: "is the quietest",
    }
    window = " x ".join(shown(side, "length", system) for side in WINDOW_M)
    through = ranking.opening or f"a bare window of {window}, with a door open for supply"
    lead = f"{first.name} {orders[by]}: " if len(ranking.fans) > 1 else f"{first.name} moves "
    return (
        f"{lead}{shown(first.driven_m3_s, 'flow', system)} through {through}, at its best setback of "
        f"{shown(first.setback_m, 'length', system)}."
    )


def _figure_of(fan: RankedFan, said: str, system: System) -> str:
    """Power or noise where fans are in that order, else the thrust for each watt."""
    from ventplan.house.units import show as shown

    if said == "per watt":
        return _per_watt(fan.thrust_per_watt, system)
    value, quantity = (fan.power_w, "power") if said == "power" else (fan.sound_db, "sound")
    return "–" if value is None else shown(value, quantity, system)


def _per_watt(thrust_per_watt: float | None, system: System) -> str:
    """Thrust for each watt of electricity."""
    from ventplan.house.units import shown_number

    if thrust_per_watt is None:
        return "–"
    if system == "us":
        return f"{shown_number(thrust_per_watt, 'thrust', system):.1f} gf/W"
    return f"{thrust_per_watt * 1000.0:.0f} mN/W"


def _missing(fans: Mapping[str, Fan]) -> list[str]:
    """A note for each figure that some fans lack, since a search by power or noise leaves those fans out."""
    notes = []
    for what, least, lacking in (
        ("power", "power", [name for name, fan in fans.items() if fan.power_w is None]),
        ("sound", "noise", [name for name, fan in fans.items() if fan.sound_db is None]),
    ):
        if lacking:
            notes.append(
                f"No {what} in the house file: {', '.join(lacking)}. `place --least {least}` leaves "
                f"{'it' if len(lacking) == 1 else 'them'} out until it is there."
            )
    return notes
