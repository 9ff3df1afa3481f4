"""Scenarios side by side, for the terminal."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from ventplan.advice.comparison import Comparison, outdoor_air
from ventplan.house.records import House
from ventplan.house.units import System, fixed, show, shown_unit
from ventplan.show.airing_tables import caution_lines
from ventplan.show.flow_tables import MIN_REPORTED_FLOW_M3_S
from ventplan.show.tables import number, paragraphs, rate_words, table

if TYPE_CHECKING:
    from rich.console import RenderableType


def compare_view(house: House, comparison: Comparison, system: System) -> Iterator[RenderableType]:
    """Everything that ``ventplan compare`` prints: one column a scenario."""
    from rich.text import Text

    names = [one.scenario for one in comparison.scenarios]
    flows = [one.flow for one in comparison.scenarios]
    first = outdoor_air(flows[0])
    heads = [chr(ord("A") + i) for i in range(len(names))]
    totals = [outdoor_air(flow) for flow in flows]
    yield Text(f"{house.name}: outdoor air that enters the house", style="bold")
    for i, (head, name) in enumerate(zip(heads, names, strict=True)):
        against = f", {fixed(totals[i] / first, 2)} times A" if i and first > 1e-9 else ""
        yield Text(f"  {head}  {name}: {show(totals[i], 'flow', system)}{against}")
    yield table(
        "Rooms: outdoor air changes an hour",
        ("room", *heads),
        [
            (room, *(rate_words(one.outdoor_air_change_per_h.get(room, 0.0)) for one in comparison.scenarios))
            for room in house.rooms
        ],
    )
    busy = [
        name
        for name in house.openings
        if any(abs(f.openings[name].net_m3_s) >= MIN_REPORTED_FLOW_M3_S for f in flows if name in f.openings)
    ]
    rows = []
    for name in busy:
        a, b = house.openings[name].joins
        cells = [number(f.openings[name].net_m3_s, "flow", system) if name in f.openings else "–" for f in flows]
        rows.append((name, f"{a} to {b}", *cells))
    yield table(
        f"Net flow at openings ({shown_unit('flow', system)}; negative: the other way)",
        ("opening", "from, to", *heads),
        rows,
        words=2,
    )
    fans = max(len(flow.fans) for flow in flows)
    if fans:
        rows = []
        for index in range(fans):
            cells = [fixed(flow.fans[index].ratio, 2) if index < len(flow.fans) else "–" for flow in flows]
            rows.append((f"fan {index + 1}", *cells))
        yield table("Fans: flow through the opening over flow through the blades", ("", *heads), rows)
    if comparison.differences:
        yield Text("")
        yield paragraphs(
            "What makes the difference from A, each change made alone",
            (
                f"{heads[names.index(d.scenario)]}: {d.change}: {'+' if d.flow_m3_s >= 0.0 else ''}"
                f"{show(d.flow_m3_s, 'flow', system)} of outdoor air"
                for d in comparison.differences
            ),
        )
    yield from caution_lines(
        {head: one.cautions for head, one in zip(heads, comparison.scenarios, strict=True)}, system
    )
