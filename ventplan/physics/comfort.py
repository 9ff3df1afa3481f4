"""Effects of moving air on people: draught in cool air, relief in warm air."""

from __future__ import annotations

import numpy as np

from ventplan.physics import Numbers

_SPEEDS_M_S = (0.3, 0.6, 0.9, 1.2)
_RELIEF_K = (0.0, 1.2, 1.8, 2.2)


def draught_rate(*, temperature_c: Numbers, speed_m_s: Numbers, turbulence_intensity: Numbers) -> Numbers:
    """Share of people dissatisfied because of draught at neck or ankles.

    Parameters
    ----------
    temperature_c
        Local air temperature, 20 to 26 [°C].
    speed_m_s
        Local mean air speed, up to 0.5 [m/s].
    turbulence_intensity
        Standard deviation of the speed over its mean, 0.1 to 0.6 [-].

    Returns
    -------
    Numbers
        Share of people dissatisfied, 0 to 1 [-].

    Notes
    -----
    DR = (34 - t) (v - 0.05)^0.62 (0.37 v Tu + 3.14) in percent, with Tu in percent, for light, mainly sedentary
    activity; 0 below 0.05 m/s and at most 100 %. Outside the stated ranges the value is a guide only.

    References
    ----------
    ISO 7730:2005, eq. 6; ASHRAE Handbook Fundamentals 2021, ch. 9, eq. 59.

    Examples
    --------
    >>> round(float(draught_rate(temperature_c=22.0, speed_m_s=0.18, turbulence_intensity=0.40)), 3)
    0.197
    """
    speed = np.maximum(speed_m_s, 0.05)
    strength = 0.37 * speed * 100.0 * turbulence_intensity + 3.14
    rate = np.maximum(34.0 - temperature_c, 0.0) * (speed - 0.05) ** 0.62 * strength
    share: Numbers = np.clip(rate / 100.0, 0.0, 1.0)
    return share


def relief_k(*, speed_m_s: Numbers, operative_temperature_c: Numbers) -> Numbers:
    """Rise of the acceptable temperature of a room because air moves over the people in it.

    Parameters
    ----------
    speed_m_s
        Mean air speed at the person [m/s]; values above 1.2 count as 1.2.
    operative_temperature_c
        Operative temperature of the room [°C].

    Returns
    -------
    Numbers
        Rise [K]; 0 up to 25 °C, where the standard gives no credit.

    Notes
    -----
    Linear between 0 K at 0.3 m/s and the table's 1.2, 1.8 and 2.2 K at 0.6, 0.9 and 1.2 m/s. For rooms that are cooled
    by opening windows, with people who can adjust the air speed.

    References
    ----------
    ANSI/ASHRAE Standard 55-2020, increases in acceptable operative temperature limits (adaptive method).
    """
    relief = np.interp(speed_m_s, _SPEEDS_M_S, _RELIEF_K)
    credited: Numbers = np.where(np.greater(operative_temperature_c, 25.0), relief, 0.0)
    return credited
