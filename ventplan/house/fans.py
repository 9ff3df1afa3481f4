"""Fans and where they stand, in SI units; and a walk down the jet of a fan: its file, and the fan that its speeds show.

The centre speed of a jet falls so that its inverse is a straight line in the distance s from the blades:
1/Uc = (s + b0/k) k sqrt(pi rho / (2 T)), with b0 = Q0 / sqrt(2 pi T / rho); so the slope gives k^2 / T and the value at
the blades gives Q0 / T.
"""

from __future__ import annotations

import math
import stat
from collections.abc import Mapping
from contextvars import ContextVar
from dataclasses import dataclass, field, replace
from pathlib import Path

from ventplan.errors import InputError, InvalidValue
from ventplan.house.table import Column, read_table


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
        What it stands on: ``floor``, ``sill``, one of the house's surfaces or an obstacle; empty if not stated.
    support_m
        Height of that above the floor [m]; None if not stated.
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


MOST_WALK_BYTES = 1_000_000
"""Size of the largest file of a jet walk [bytes]."""
outside_allowed: ContextVar[bool] = ContextVar("outside_allowed", default=False)
"""True where a house file may name files outside its own folder; ``--allow-outside`` sets it."""


def walk_file(folder: Path, name: str) -> Path:
    """The file of a jet walk: an ordinary file, not too large, in the folder of the house file or below it.

    Raises
    ------
    InputError
        If it is none; with what to do.
    """
    allowed = "a CSV file in the folder of the house file"

    def refused(found: str, hint: str = "") -> InputError:
        return InputError([InvalidValue("jet", found, allowed, hint)])

    try:
        there, home = (folder / name).resolve(), folder.resolve()
        found = there.stat() if there.is_relative_to(home) or outside_allowed.get() else None
    except FileNotFoundError:
        raise refused("no such file") from None
    except (OSError, ValueError, RuntimeError):
        raise refused("a path that cannot be read") from None
    if found is None:
        hint = "Copy it there, or run the command with --allow-outside if you wrote the house file yourself"
        raise refused("a path that leads out of that folder", hint)
    if not stat.S_ISREG(found.st_mode):
        raise refused("a folder" if stat.S_ISDIR(found.st_mode) else "no ordinary file")
    if found.st_size > MOST_WALK_BYTES:
        raise refused(f"a file of {found.st_size} bytes", f"A walk of a thousand rows has less than {MOST_WALK_BYTES}")
    return there


@dataclass(frozen=True)
class JetLine:
    """The straight line through 1/Uc over s.

    Attributes
    ----------
    slope_s_m2
        d(1/Uc)/ds [s/m2].
    start_s_m
        1/Uc at the blades [s/m].
    slope_error, start_error
        Standard errors, relative [-].
    """

    slope_s_m2: float
    start_s_m: float
    slope_error: float
    start_error: float


def read_walk(path: Path) -> list[tuple[float, float]]:
    """Distances [m] and speeds [m/s] from a CSV file with these two headings, units in them.

    Raises
    ------
    InputError
        If the file cannot be read, or a heading or a figure is not as it should be.
    ValueError
        If there are fewer than three rows.
    """
    columns = (
        Column("distance", "length", lowest=0.0, highest=30.0),
        Column("speed", "speed", lowest=0.02, highest=50.0),
    )
    numbers = read_table(path, columns).numbers
    points = list(zip(numbers["distance"], numbers["speed"], strict=True))
    if len(points) < 3:
        raise ValueError("at least three rows of distance and speed")
    return points


def jet_line(points: list[tuple[float, float]]) -> JetLine:
    """Least squares of 1/Uc over s.

    Raises
    ------
    ValueError
        If the speeds do not fall along the way as those of a jet do.
    """
    count = len(points)
    mean = sum(s for s, _ in points) / count
    inverse = [1.0 / u for _, u in points]
    mean_inverse = sum(inverse) / count
    spread = sum((s - mean) ** 2 for s, _ in points)
    if spread <= 0.0:
        raise ValueError("at least two different distances")
    slope = sum((s - mean) * y for (s, _), y in zip(points, inverse, strict=True)) / spread
    start = mean_inverse - slope * mean
    if slope <= 0.0 or start <= 0.0:
        raise ValueError(
            "speeds that fall with distance as in a jet: near the blades more slowly than one over the distance"
        )
    rest = sum((y - start - slope * s) ** 2 for (s, _), y in zip(points, inverse, strict=True))
    variance = rest / max(count - 2, 1)
    return JetLine(
        slope,
        start,
        math.sqrt(variance / spread) / slope,
        math.sqrt(variance * (1.0 / count + mean**2 / spread)) / start,
    )


def fan_from_line(
    line: JetLine, *, flow_m3_s: float | None, thrust_n: float | None, spread: float, density: float
) -> tuple[float, float, float]:
    """Flow [m3/s], thrust [N] and spread [-] from the line and whichever of them is known.

    With a known flow or thrust the line gives the other two; with neither, the spread is taken as given.
    """
    if thrust_n is None and flow_m3_s is not None:
        thrust_n = flow_m3_s * density / (2.0 * line.start_s_m)
    if thrust_n is None:
        thrust_n = math.pi * density / 2.0 * (spread / line.slope_s_m2) ** 2
    else:
        spread = line.slope_s_m2 / math.sqrt(math.pi * density / (2.0 * thrust_n))
    if flow_m3_s is None:
        flow_m3_s = 2.0 * line.start_s_m * thrust_n / density
    return flow_m3_s, thrust_n, spread
