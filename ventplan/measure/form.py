"""The blank form of an evening of measuring: as a table to type into, and as a page to print."""

from __future__ import annotations

import csv
import html
import io
from collections.abc import Sequence
from typing import Literal

from ventplan.measure.traverse import positions

BOX = "50 cm x 50 cm"
JET_PLACES = {"si": (0.3, 0.6, 1.0, 1.5, 2.0, 2.5, 3.0, 4.0), "us": (1.0, 2.0, 3.0, 5.0, 6.5, 8.0, 10.0, 13.0)}
"""Distances of a walk along the jet that are easy to find on a tape [m, ft]."""
PROFILE_AT = {"si": 2.0, "us": 6.5}
"""Distance of a profile across the jet [m, ft]."""
PROFILE_OFFSETS = {"si": (-60, -45, -30, -15, 0, 15, 30, 45, 60), "us": (-24, -18, -12, -6, 0, 6, 12, 18, 24)}
"""Offsets of a profile from the middle of the jet [cm, in]."""
SCALE_RUN = ("off", "on", "off", "on", "off")

_CELLS = ("setting", "distance", "offset", "across", "up", "runs", "direction", "reading", "speed", "value", "note")
_HEADINGS = {
    "si": ("m", "cm", "m/s"),
    "us": ("ft", "in", "ft/min"),
}


def blank_form(fans: Sequence[str], *, show: Literal["si", "us"] = "si") -> str:
    """A form to fill in, as CSV: a row for every reading, places filled in as a proposal.

    Parameters
    ----------
    fans
        Names of the fans.
    show
        Units of the headings.
    """
    far, near, speed = _HEADINGS[show]
    short = 0.0254 if show == "us" else 0.01
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow(
        ["fan", "test", "setting", f"distance [{far}]", f"offset [{near}]", f"across [{near}]", f"up [{near}]", "runs",
         "direction", "reading [g]", f"speed [{speed}]", "value", "note"]
    )  # fmt: skip

    def row(fan: str, test: str, **cells: str) -> None:
        names = (
            "setting",
            "distance",
            "offset",
            "across",
            "up",
            "runs",
            "direction",
            "reading",
            "speed",
            "value",
            "note",
        )
        table.writerow([fan, test, *(cells.get(name, "") for name in names)])

    for fan in fans:
        row(fan, "diameter", note=f"of the blades, such as {'14 in' if show == 'us' else '34 cm'}")
        row(fan, "power", note="by a meter at the plug, such as 45 W")
        row(fan, "sound", note="1 m away, such as 52 dB")
        row(fan, "lever", value="1", note="arm of the scale / arm of the fan, such as 30 cm / 60 cm; 1 for none")
        for way in ("forward", "reverse"):
            for runs in SCALE_RUN:
                row(fan, "thrust", runs=runs, direction=way, note="" if runs == "on" else "fan off: the tare")
        for place in JET_PLACES[show]:
            row(fan, "jet", distance=f"{place:g}", note="the highest speed at this distance")
        for offset in PROFILE_OFFSETS[show]:
            row(fan, "profile", distance=f"{PROFILE_AT[show]:g}", offset=f"{offset:g}")
        row(fan, "box size", value=BOX, note="exit of the box around the fan")
        for across, up in positions(width_m=0.5, height_m=0.5):
            row(fan, "box", across=f"{across / short:.3g}", up=f"{up / short:.3g}", note="in the exit of the box")
    return text.getvalue()


_HOW = {
    "thrust": "Weigh the thrust: with the fan off, on, off, on, off; then the same with the fan turned round. Keep "
    "fingers and cords away from the blades.",
    "jet": "Walk down the jet with the anemometer, and note the highest speed at each distance from the blades.",
    "profile": "Across the jet, at one distance: from the middle of the jet to both sides.",
    "box": "A cardboard box around the fan: the speed at each place of its exit, from its left edge and its bottom.",
}


def printed_form(form: str) -> str:
    """The same form as a page to print, one table for each fan and test.

    Parameters
    ----------
    form
        The form as CSV.
    """
    head, *rows = list(csv.reader(io.StringIO(form)))
    parts = [
        "<!doctype html><html lang='en'><meta charset='utf-8'><title>Fans to measure</title><style>",
        "body{font:11pt sans-serif}table{border-collapse:collapse;margin:0 0 1em}td,th{border:1px solid #888;"
        "padding:.2em .6em;min-width:4em}h2{break-before:page}h2:first-of-type{break-before:auto}</style>",
        "<h1>Fans to measure</h1><p>Date: ________ Temperature: ________ Anemometer: ________ Scale: ________</p>",
    ]
    for fan in dict.fromkeys(row[0] for row in rows):
        parts.append(f"<h2>{html.escape(fan)}</h2>")
        mine = [row for row in rows if row[0] == fan]
        groups: dict[str, list[list[str]]] = {}
        for row in mine:
            groups.setdefault(row[1] if row[1] in _HOW else "single figures", []).append(row)
        for test, lines in groups.items():
            wanted = {"thrust": ("reading",), "single figures": ("value",)}.get(test, ("speed",))
            shown = [
                i
                for i, name in enumerate(head)
                if i and (name.split(" [")[0] in wanted or any(row[i] for row in lines)) and (i > 1 or test not in _HOW)
            ]
            parts.append(f"<h3>{html.escape(test)}</h3><p>{html.escape(_HOW.get(test, ''))}</p><table><tr>")
            parts += [f"<th>{html.escape(head[i])}</th>" for i in shown]
            parts.append("</tr>")
            for row in lines:
                parts.append("<tr>" + "".join(f"<td>{html.escape(row[i])}</td>" for i in shown) + "</tr>")
            parts.append("</table>")
    return "".join(parts) + "</html>\n"
