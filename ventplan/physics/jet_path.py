"""A fan's jet on its way to the plane of an opening.

From the fan to the plane a jet

- grows, along a wall, floor or ceiling that it touches more sideways and less away from it;
- is mirrored in the walls of its room: the mirror images add their momentum;
- loses momentum to the air that comes back along a closed room, which meets it as a rise of pressure
  before the opening.

What it brings to the opening itself is in `ventplan.physics.jet_capture`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from ventplan.physics.jet import ROUND_JET_SPREAD

EDGE = 1.5
"""Edge of a round jet in half-widths, where it stops covering an opening [-].

Fitted once to the two flow simulations in ``tests/outside/data`` together, with `EDGE_POWER`, `ATTACH` and
`RETURN_LENGTH`; docs/model.md shows how flat the fit is.
"""

EDGE_POWER = 0.5
"""The edge of a broad, strongly turbulent jet lies farther out in half-widths: edge = EDGE (k / 0.115)^EDGE_POWER."""

ATTACH = 1.2
"""A jet grows as a wall jet from where this many half-widths reach the wall [-] (its speed there: a quarter)."""

RETURN_LENGTH = 2.4
"""Length over which a jet in a closed room loses all but 1/e of its momentum, in sqrt(room cross-section) [-]."""

WALL_JET_SIDEWAYS = 2.77
WALL_JET_NORMAL = 0.51
"""Growth of a jet along a wall, sideways and away from it, over that of a free round jet [-].

Half-velocity growth 0.26 and 0.048 (Launder & Rodi 1983, Annu. Rev. Fluid Mech. 15:429, from memory) over 0.094.
"""


@dataclass(frozen=True)
class Source:
    """A fan as a source of momentum.

    Attributes
    ----------
    thrust_n
        Thrust [N].
    start_half_width_m
        Half-width of its jet at the blades [m].
    spread
        Growth of the half-width for each metre [-].
    radius_m
        Radius of the blades [m].
    """

    thrust_n: float
    start_half_width_m: float
    spread: float
    radius_m: float


@dataclass(frozen=True)
class Path:
    """The way of a jet's axis to the plane of an opening; y runs along the wall, z up.

    Attributes
    ----------
    setback_m
        Distance of the blades from the plane [m].
    y_m, z_m
        Where the blades stand, counted from the middle of the opening [m].
    turn_deg, tilt_deg
        Direction of the axis from the normal, towards +y and towards +z [deg].
    y_walls_m, z_walls_m
        Lowest and highest y and z of the room, counted from the middle of the opening [m]; infinite outdoors.
    """

    setback_m: float
    y_m: float = 0.0
    z_m: float = 0.0
    turn_deg: float = 0.0
    tilt_deg: float = 0.0
    y_walls_m: tuple[float, float] = (-math.inf, math.inf)
    z_walls_m: tuple[float, float] = (-math.inf, math.inf)

    @property
    def room_area_m2(self) -> float:
        """Cross-section of the room that the jet travels through [m2]; infinite outdoors."""
        return (self.y_walls_m[1] - self.y_walls_m[0]) * (self.z_walls_m[1] - self.z_walls_m[0])


@dataclass(frozen=True)
class JetAtPlane:
    """A jet as it crosses the plane of an opening.

    Attributes
    ----------
    momentum_n
        Momentum flux through the whole plane along its normal [N].
    y_m, z_m
        Where its axis crosses [m].
    y_half_width_m, z_half_width_m
        Half-widths in the plane [m].
    y_edge_m, z_edge_m
        Distance of its edge from the axis in the plane [m].
    y_images_m, z_images_m
        Where its mirror images cross [m].
    pressure_rise_pa
        Pressure before the opening over that in the rest of the room [Pa].
    """

    momentum_n: float
    y_m: float
    z_m: float
    y_half_width_m: float
    z_half_width_m: float
    y_edge_m: float
    z_edge_m: float
    y_images_m: tuple[float, ...] = ()
    z_images_m: tuple[float, ...] = ()
    pressure_rise_pa: float = 0.0


def edge_ratio(*, spread: float) -> float:
    """Edge of a jet in half-widths, EDGE (k / 0.115)^EDGE_POWER.

    Parameters
    ----------
    spread
        Growth of the half-width for each metre [-].

    Returns
    -------
    float
        Edge over half-width [-].
    """
    ratio: float = EDGE * (spread / ROUND_JET_SPREAD) ** EDGE_POWER
    return ratio


def _growth(*, touches_y: float, touches_z: float, length_m: float) -> tuple[float, float]:
    """Travel that counts for the growth in y and in z, of a jet that touches a wall from these distances on [m]."""
    first, last = sorted((min(touches_y, length_m), min(touches_z, length_m)))
    along_wall = last - first
    free_and_corner = length_m - along_wall
    sideways, away = WALL_JET_SIDEWAYS * along_wall, WALL_JET_NORMAL * along_wall
    y_part, z_part = (away, sideways) if touches_y < touches_z else (sideways, away)
    return free_and_corner + y_part, free_and_corner + z_part


def _nearest_image(centre_m: float, walls_m: tuple[float, float]) -> tuple[float, ...]:
    return tuple(2.0 * wall - centre_m for wall in walls_m if math.isfinite(wall))


def jet_at_plane(*, source: Source, path: Path) -> JetAtPlane:
    """Carry a fan's jet to the plane of an opening.

    Parameters
    ----------
    source
        The fan.
    path
        Its way to the opening.

    Returns
    -------
    JetAtPlane
        The jet in the plane.

    Notes
    -----
    A jet touches a wall where `ATTACH` half-widths reach it; from there it grows `WALL_JET_SIDEWAYS` times as fast
    along it and `WALL_JET_NORMAL` times as fast away from it; in a corner, or where it fills the room, as a free jet.
    In a closed room of cross-section A the momentum falls as exp(-s / (RETURN_LENGTH sqrt(A))), and what is lost
    raises the pressure before the opening by (T - M) / A, since nothing else takes up the thrust.
    A jet at an angle crosses the plane with its width stretched by 1 / cos, its normal momentum is T cos.
    """
    turn, tilt = math.radians(path.turn_deg), math.radians(path.tilt_deg)
    cos_turn, cos_tilt = math.cos(turn), math.cos(tilt)
    length = path.setback_m / (cos_turn * cos_tilt)
    y_end = path.y_m + path.setback_m * math.tan(turn)
    z_end = path.z_m + path.setback_m * math.tan(tilt)
    edge = edge_ratio(spread=source.spread)

    def touches(middle: float, walls: tuple[float, float]) -> float:
        distance = max(min(middle - walls[0], walls[1] - middle), 0.0)
        return max((distance / ATTACH - source.start_half_width_m) / source.spread, 0.0)

    y_travel, z_travel = _growth(
        touches_y=touches((path.y_m + y_end) / 2.0, path.y_walls_m),
        touches_z=touches((path.z_m + z_end) / 2.0, path.z_walls_m),
        length_m=length,
    )
    y_half = (source.start_half_width_m + source.spread * y_travel) / cos_turn
    z_half = (source.start_half_width_m + source.spread * z_travel) / cos_tilt

    area = path.room_area_m2
    kept = math.exp(-length / (RETURN_LENGTH * math.sqrt(area))) if math.isfinite(area) else 1.0
    return JetAtPlane(
        momentum_n=source.thrust_n * kept * cos_turn * cos_tilt,
        y_m=y_end,
        z_m=z_end,
        y_half_width_m=y_half,
        z_half_width_m=z_half,
        y_edge_m=max(edge * y_half, source.radius_m),
        z_edge_m=max(edge * z_half, source.radius_m),
        y_images_m=_nearest_image(y_end, path.y_walls_m),
        z_images_m=_nearest_image(z_end, path.z_walls_m),
        pressure_rise_pa=source.thrust_n * (1.0 - kept) * cos_turn * cos_tilt / area,
    )
