"""A room with two windows, of which a fan blows out of one: the house of the tests of fitting and verifying."""

from __future__ import annotations


def house_text(*, spread: float = 0.13, errors: str = "15 %, 8 %, 10 %", inlet_m: float = 3.2) -> str:
    """The house file.

    Parameters
    ----------
    spread
        Spread of the fan's jet [-].
    errors
        95 % uncertainties of the fan's thrust, flow and spread in the file.
    inlet_m
        Distance of the inlet from the corner [m]; at 1.5 m it is opposite the window.
    """
    thrust, flow, width = errors.split(", ")
    return f"""# a comment that stays
indoors: {{temperature: 20 °C}}
outdoors: {{temperature: 20 °C}}
rooms:
  room: {{at: [0 m, 0 m], size: [6 m, 4 m], ceiling: 2.5 m}}
openings:
  window: {{kind: window, joins: [room, outdoors], wall: east, along: 1.5 m, size: [1.0 m, 1.1 m], sill: 0.8 m,
           full: 100 %}}
  inlet: {{kind: window, joins: [room, outdoors], wall: west, along: {inlet_m} m, size: [0.6 m, 0.7 m], sill: 0.8 m,
           full: 100 %}}    # painted
fans:
  fan: {{flow: 0.4 m3/s, thrust: 2.6 N, diameter: 34 cm, spread: {spread},
        thrust error: {thrust}, flow error: {flow}, spread error: {width}}}
scenarios:
  as it stands: {{}}
  blown: {{open: [window, inlet], fans: [{{fan: fan, blows out: window, setback: 2 m}}]}}
"""
