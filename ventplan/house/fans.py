"""Records of fans and where they are placed, in SI units."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace


@dataclass(frozen=True)
class FanSetting:
    """One speed setting, relative to the fan's own figures, which are those of its highest setting.

    Attributes
    ----------
    speed
        Share of the rotational speed [-]: flow goes with it, thrust with its square, power with its cube.
    power_w, sound_db
        Measured figures of this setting where known [W], [dB(A)].
    """

    name: str
    speed: float
    power_w: float | None = None
    sound_db: float | None = None


@dataclass(frozen=True)
class Fan:
    """A portable fan.

    Attributes
    ----------
    flow_m3_s
        Flow through the blades in the open [m3/s].
    thrust_n
        Thrust in the open [N].
    diameter_m
        Diameter of the blades [m].
    spread
        Growth of the jet's half-width (to 1/e of the centre speed) for each metre of travel [-].
    power_w
        Electrical input [W], or None.
    shutoff_pa
        Static pressure at no flow when sealed into an opening [Pa].
    sound_db
        Sound pressure level at 1 m [dB(A)], or None.
    settings
        Speed settings, highest first; empty for a fan with one speed.
    lowest_m, highest_m
        Heights above the floor at which its axis can stand [m].
    axis_m
        Lowest and highest height of its axis above what it stands on [m]: alike but for a fan on a pole.
    tilt_range_deg
        How far it tilts: lowest (downwards is negative) and highest [deg].
    stays_at
        Name of the opening that it is fixed in, such as an attic fan in its gable vent; empty for a portable fan.
    can_seal
        True where its shape lets it be sealed into a window.
    flow_error, thrust_error, spread_error
        Standard uncertainty, relative [-].
    jet_gain
        Flow that its jet drives over what the jet model says [-]: 1, but where the model's own error is studied.
    estimated
        Names of what was estimated, each with how; ``tilts`` stands for the range of its tilt.
    """

    name: str
    flow_m3_s: float
    thrust_n: float
    diameter_m: float
    spread: float
    power_w: float | None = None
    shutoff_pa: float = 30.0
    sound_db: float | None = None
    settings: tuple[FanSetting, ...] = ()
    lowest_m: float = 0.3
    highest_m: float = 1.3
    axis_m: tuple[float, float] = (0.3, 0.3)
    tilt_range_deg: tuple[float, float] = (0.0, 0.0)
    stays_at: str = ""
    can_seal: bool = False
    flow_error: float = 0.10
    thrust_error: float = 0.15
    spread_error: float = 0.15
    jet_gain: float = 1.0
    estimated: Mapping[str, str] = field(default_factory=dict)

    def at_setting(self, setting: FanSetting) -> Fan:
        """The fan on another setting by the fan laws: flow, thrust and power by the first, second and third power."""
        share = setting.speed
        power = setting.power_w if setting.power_w is not None else self.power_w and self.power_w * share**3
        sound = setting.sound_db
        if sound is None and self.sound_db is not None:
            sound = self.sound_db + 50.0 * math.log10(share)
        return replace(
            self,
            flow_m3_s=self.flow_m3_s * share,
            thrust_n=self.thrust_n * share**2,
            shutoff_pa=self.shutoff_pa * share**2,
            power_w=power,
            sound_db=sound,
        )


@dataclass(frozen=True)
class Placement:
    """Where a fan stands and what it blows at.

    Attributes
    ----------
    fan
        Name of the fan.
    opening
        Name of the opening that it blows at.
    stands_in
        The room it stands in, or ``outdoors``; it blows through the opening to the other side.
    setback_m
        Distance from the blades to the plane of the opening, along the opening's normal [m].
    height_m
        Height of the axis above the floor it stands on [m]; None for the middle of the opening, within the fan's reach.
    aside_m
        Sideways distance of the blades from the opening's middle line, positive towards ``end`` [m].
    turn_deg, tilt_deg
        Direction of the axis from the opening's normal: sideways, positive towards ``end``, and upwards [deg].
    sealed
        True where the fan is sealed into the opening; setback and aim do not matter then.
    setting
        Name of the speed setting; empty for the highest.
    stands_on
        What it stands on: ``floor``, ``sill``, one of the house's surfaces or an obstacle; empty where nobody said.
    support_m
        Height of that above the floor [m]; None where nobody said.
    """

    fan: str
    opening: str
    stands_in: str
    setback_m: float = 1.0
    height_m: float | None = None
    aside_m: float = 0.0
    turn_deg: float = 0.0
    tilt_deg: float = 0.0
    sealed: bool = False
    setting: str = ""
    stands_on: str = ""
    support_m: float | None = None
