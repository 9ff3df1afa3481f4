"""The laws of strips and cracks on arrays of figures, where the shorter form of a plain strip saves time."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
from numpy.typing import NDArray

from ventplan.network.links import FlowNetwork
from ventplan.physics.crack import crack_flow, crack_flow_slope
from ventplan.physics.orifice import face_velocity, face_velocity_slope

Floats = NDArray[np.float64]
Law = Mapping[str, Floats]


def plain_strip_flow(dp: Floats, law: Law) -> tuple[Floats, Floats]:
    """Net mass flow of strips whose pressure difference does not change over their height, and its slope.

    Parameters
    ----------
    dp
        Driving pressure, shape (strips,) [Pa].
    law
        ``width_m``, ``height_m``, and ``linear``, ``quadratic`` and ``density``, each ``_forward`` and ``_backward``.

    Returns
    -------
    tuple of ndarray
        Flow [kg/s] and slope [kg/(s Pa)], shape (strips,).
    """
    ahead = dp > 0.0
    linear = np.where(ahead, law["linear_forward"], law["linear_backward"])
    quadratic = np.where(ahead, law["quadratic_forward"], law["quadratic_backward"])
    density = np.where(ahead, law["density_forward"], law["density_backward"])
    carried = law["width_m"] * law["height_m"] * density
    velocity = face_velocity(dp_pa=dp, linear=linear, quadratic=quadratic)
    slope = face_velocity_slope(dp_pa=dp, linear=linear, quadratic=quadratic)
    return np.asarray(carried * velocity), np.asarray(carried * slope)


def crack_mass_flow(dp: Floats, law: Law) -> tuple[Floats, Floats]:
    """Mass flow of cracks, and its slope.

    Parameters
    ----------
    dp
        Driving pressure, shape (cracks,) [Pa].
    law
        ``coefficient``, ``exponent``, ``density_forward`` and ``density_backward``.

    Returns
    -------
    tuple of ndarray
        Flow [kg/s] and slope [kg/(s Pa)], shape (cracks,).
    """
    density = np.where(dp >= 0.0, law["density_forward"], law["density_backward"])
    flow = crack_flow(dp_pa=dp, coefficient=law["coefficient"], exponent=law["exponent"])
    slope = crack_flow_slope(dp_pa=dp, coefficient=law["coefficient"], exponent=law["exponent"])
    return np.asarray(density * flow), np.asarray(density * slope)


def mass_law(network: FlowNetwork) -> Callable[[Floats], tuple[Floats, Floats]]:
    """``network.mass_flow_and_slope``, or where no strip has a gradient its shorter form.

    Parameters
    ----------
    network
        The house as arrays.

    Returns
    -------
    callable
        From driving pressure (links,) [Pa] to mass flows [kg/s] and slopes [kg/(s Pa)], both (links,).
    """
    strip, crack, count = network.strip_figures, network.crack_figures, network.strip_count
    if np.any(strip["gradient_pa_m"]):
        return network.mass_flow_and_slope
    ways = {"forward": "a", "backward": "b"}
    law = {f"{kind}_{way}": strip[f"{kind}_{end}"] for kind in _BOTH_WAYS for way, end in ways.items()}
    law |= {"width_m": strip["width_m"], "height_m": strip["height_m"]}
    leak = {f"density_{way}": crack[f"density_{end}"] for way, end in ways.items()}
    leak |= {"coefficient": crack["coefficient"], "exponent": crack["exponent"]}

    def short(dp: Floats) -> tuple[Floats, Floats]:
        flow, slope = plain_strip_flow(dp[:count], law)
        if count == dp.size:
            return flow, slope
        more, more_slope = crack_mass_flow(dp[count:], leak)
        return np.append(flow, more), np.append(slope, more_slope)

    return short


_BOTH_WAYS = ("linear", "quadratic", "density")
