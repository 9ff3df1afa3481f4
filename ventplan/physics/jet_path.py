"""A jet on its way to the plane of an opening.

A jet leaves its source evenly over a small area, at speed U0 = T / (rho Q0): the slipstream of a fan, or the vena
contracta of the air that enters through an opening. From there to the plane it

- mixes with the air around it: its momentum flux density is that of the source smeared by a Gaussian
  (`ventplan.physics.jet`), so a core at U0 comes first and a Gaussian jet later;
- spreads; along a wall, floor or ceiling that it touches, faster along it and slower away from it;
- is mirrored in the walls of its room: the mirror images add their momentum;
- loses momentum to the air that returns along a closed room, which raises the pressure before the opening.

What of it enters the opening is in `ventplan.physics.jet_capture`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ventplan.physics.jet import ROUND_JET_SPREAD, mixing_half_width, smeared_density

Floats = NDArray[np.float64]

EDGE = 1.5
"""Distance of the edge of a round jet from its axis, in half-widths; inside the edge it covers an opening [-].

Fitted once, with `EDGE_POWER`, `RETURN_LENGTH` and `DRAG`, to the simulated cases in ``tests/outside/data`` together;
docs/model.md shows how flat the fit is.
"""

EDGE_POWER = 0.4
"""Exponent in edge = EDGE (k / 0.115)^EDGE_POWER: the edge of a broad, strongly turbulent jet lies farther out [-]."""

ATTACH = 1.2
"""Half-widths between axis and wall from which a jet spreads as a wall jet [-]; its speed at the wall is a quarter."""

RETURN_LENGTH = 2.8
"""Length over which a fan's jet loses all but 1/e of its momentum in a closed room, in sqrt(room cross-section) [-]."""

DRAG = 0.16
"""Share of the momentum of a jet that drags along the air beside it in an opening, per excess of the spread rate over
`ROUND_JET_SPREAD` as a share of that [-]. Calm jets have thin edges; those of household fans are strongly turbulent."""

OUTSIDE_SHARE = 0.17
"""Share of its air that a fan in the plane of an opening draws round its rim from the far side [-].

From the axisymmetric simulation (0.063 of 0.361 m3/s), where it falls as exp(-setback / radius of the blades).
"""

WALL_JET_SIDEWAYS = 2.77
WALL_JET_NORMAL = 0.51
"""Spread of a wall jet along the wall and away from it, over that of a free round jet [-].

Half-velocity growth 0.26 and 0.048 (Launder & Rodi 1983, Annu. Rev. Fluid Mech. 15:429, from memory) over 0.094.
"""

LEAST_MIXING_M = 1e-4
"""Half-width of mixing at the source, where it has no meaning yet [m]."""
LEAST_SHARE_OF_MIXING = 0.2
"""Least width of an oblique jet beside its axis, over its width on the axis [-]."""


@dataclass(frozen=True)
class JetSource:
    """Where a jet starts.

    Attributes
    ----------
    thrust_n
        Momentum flux [N].
    width_m, height_m
        Sides of the rectangle that the jet leaves evenly [m].
    spread
        Spread rate [-].
    radius_m
        Radius of the blades of a fan [m]; 0 for air that enters through an opening. The air of a fan is turbulent from
        the blades on and entrains at the full rate; that of an opening is calm and starts to mix at its edges.
    """

    thrust_n: float
    width_m: float
    height_m: float
    spread: float
    radius_m: float = 0.0

    @property
    def start_half_width_m(self) -> float:
        """Half-width of the Gaussian jet of the same flow and momentum, sqrt(width height / (2 pi)) [m]."""
        return math.sqrt(self.width_m * self.height_m / (2.0 * math.pi))


@dataclass(frozen=True)
class JetPath:
    """The axis of a jet up to the plane of an opening; y runs along the wall, z up.

    Attributes
    ----------
    setback_m
        Distance of the source from the plane [m].
    y_m, z_m
        Position of the source from the middle of the opening [m].
    y_slope, z_slope
        Rise of the axis in y and z per distance towards the plane [-].
    y_walls_m, z_walls_m
        Lowest and highest y and z of the room, from the middle of the opening [m]; infinite outdoors.
    """

    setback_m: float
    y_m: float = 0.0
    z_m: float = 0.0
    y_slope: float = 0.0
    z_slope: float = 0.0
    y_walls_m: tuple[float, float] = (-math.inf, math.inf)
    z_walls_m: tuple[float, float] = (-math.inf, math.inf)

    @property
    def room_area_m2(self) -> float:
        """Cross-section of the room that the jet travels through [m2]; infinite outdoors."""
        return (self.y_walls_m[1] - self.y_walls_m[0]) * (self.z_walls_m[1] - self.z_walls_m[0])

    @property
    def cosine(self) -> float:
        """Cosine of the angle between the axis and the normal of the plane [-]."""
        return 1.0 / math.sqrt(1.0 + self.y_slope**2 + self.z_slope**2)


@dataclass(frozen=True)
class JetAtPlane:
    """A jet as it crosses the plane of an opening.

    Attributes
    ----------
    momentum_n
        Momentum flux through the whole plane along its normal [N].
    y_m, z_m
        Where its axis crosses, from the middle of the opening [m].
    y_half_width_m, z_half_width_m
        Half-widths across its axis there, of the Gaussian jet of the same flow [m].
    y_edge_m, z_edge_m
        Lowest and highest y and z of its edge in the plane, from the axis [m].
    width_m, height_m
        Sides of its source [m].
    y_mixing_m, z_mixing_m
        Half-widths of the smearing there [m].
    spread, y_slope, z_slope
        Of its source and its path.
    y_images_m, z_images_m
        Where its mirror images cross, from the middle of the opening [m].
    pressure_rise_pa
        Pressure before the opening above that in the rest of the room [Pa].
    outside_share
        Share of the air through the blades that comes from the far side of the plane [-].
    """

    momentum_n: float
    y_m: float
    z_m: float
    y_half_width_m: float
    z_half_width_m: float
    y_edge_m: tuple[float, float]
    z_edge_m: tuple[float, float]
    width_m: float = 0.0
    height_m: float = 0.0
    y_mixing_m: float = 0.0
    z_mixing_m: float = 0.0
    spread: float = ROUND_JET_SPREAD
    y_slope: float = 0.0
    z_slope: float = 0.0
    y_images_m: tuple[float, ...] = ()
    z_images_m: tuple[float, ...] = ()
    pressure_rise_pa: float = 0.0
    outside_share: float = 0.0


def edge_ratio(*, spread: float) -> float:
    """Distance of the edge of a jet from its axis in half-widths, EDGE (k / 0.115)^EDGE_POWER.

    Parameters
    ----------
    spread
        Spread rate k [-].

    Returns
    -------
    float
        Edge over half-width [-].
    """
    ratio: float = EDGE * (spread / ROUND_JET_SPREAD) ** EDGE_POWER
    return ratio


def drag_share(*, spread: float) -> float:
    """Share of the momentum of a jet that drags along the air beside it, DRAG (k / 0.115 - 1), at least 0.

    Parameters
    ----------
    spread
        Spread rate k [-].

    Returns
    -------
    float
        Share [-].
    """
    return DRAG * max(spread / ROUND_JET_SPREAD - 1.0, 0.0)


def _growth(*, touches_y: float, touches_z: float, length_m: float) -> tuple[float, float]:
    """Travel that counts for the spread in y and in z [m], of a jet that touches walls from these distances on."""
    first, last = sorted((min(touches_y, length_m), min(touches_z, length_m)))
    along_wall = last - first
    free_and_corner = length_m - along_wall
    sideways, away = WALL_JET_SIDEWAYS * along_wall, WALL_JET_NORMAL * along_wall
    y_part, z_part = (away, sideways) if touches_y < touches_z else (sideways, away)
    return free_and_corner + y_part, free_and_corner + z_part


def _nearest_image(centre_m: float, walls_m: tuple[float, float]) -> tuple[float, ...]:
    return tuple(2.0 * wall - centre_m for wall in walls_m if math.isfinite(wall))


def _edges(*, half_width_m: float, slope: float, spread: float, edge: float, radius_m: float) -> tuple[float, float]:
    """Where the edge of a jet crosses the plane, below and above its axis [m]: a cone cut at an angle.

    A point at y from the axis in the plane lies y cos away from it and y sin farther along it, so the edge is where
    |y| cos = e (b + k y sin).
    """
    cosine = 1.0 / math.sqrt(1.0 + slope * slope)
    lean = edge * spread * slope
    far = max(edge * half_width_m, radius_m) / cosine
    return -far / (1.0 + lean), far / max(1.0 - lean, 0.1)


def jet_at_plane(*, source: JetSource, path: JetPath, closed: bool = True) -> JetAtPlane:
    """Carry a jet to the plane of an opening.

    Parameters
    ----------
    source
        Where the jet starts.
    path
        Its axis up to the opening.
    closed
        False for air that enters through one opening and leaves through the next: none of it returns along the room,
        so it keeps its momentum.

    Returns
    -------
    JetAtPlane
        The jet in the plane.

    Notes
    -----
    A jet touches a wall once `ATTACH` half-widths reach it; from there it spreads `WALL_JET_SIDEWAYS` times as fast
    along it and `WALL_JET_NORMAL` times as fast away from it; in a corner, or where it fills the room, as a free jet.
    In a closed room of cross-section A the momentum falls as exp(-s / (RETURN_LENGTH sqrt(A))), and the loss raises the
    pressure before the opening by (T - M) / A, since nothing else takes up the thrust. The momentum along the normal of
    the plane is that along the axis times the cosine of the angle between both.
    """
    length = path.setback_m / path.cosine
    y_end = path.y_m + path.setback_m * path.y_slope
    z_end = path.z_m + path.setback_m * path.z_slope
    start = source.start_half_width_m

    def touches(middle: float, walls: tuple[float, float]) -> float:
        distance = max(min(middle - walls[0], walls[1] - middle), 0.0)
        return max((distance / ATTACH - start) / source.spread, 0.0)

    y_travel, z_travel = _growth(
        touches_y=touches((path.y_m + y_end) / 2.0, path.y_walls_m),
        touches_z=touches((path.z_m + z_end) / 2.0, path.z_walls_m),
        length_m=length,
    )
    y_half, z_half = start + source.spread * y_travel, start + source.spread * z_travel
    if source.radius_m > 0.0:
        y_mixing = mixing_half_width(growth=y_half / start, side_m=source.width_m)
        z_mixing = mixing_half_width(growth=z_half / start, side_m=source.height_m)
    else:
        y_mixing, z_mixing = source.spread * y_travel, source.spread * z_travel
    area = path.room_area_m2
    kept = math.exp(-length / (RETURN_LENGTH * math.sqrt(area))) if closed and math.isfinite(area) else 1.0
    edge = {"edge": edge_ratio(spread=source.spread), "spread": source.spread, "radius_m": source.radius_m}
    near = math.exp(-path.setback_m / source.radius_m) if source.radius_m > 0.0 else 0.0
    return JetAtPlane(
        momentum_n=source.thrust_n * kept * path.cosine,
        y_m=y_end,
        z_m=z_end,
        y_half_width_m=y_half,
        z_half_width_m=z_half,
        y_edge_m=_edges(half_width_m=y_half, slope=path.y_slope, **edge),
        z_edge_m=_edges(half_width_m=z_half, slope=path.z_slope, **edge),
        width_m=source.width_m,
        height_m=source.height_m,
        y_mixing_m=max(y_mixing, LEAST_MIXING_M),
        z_mixing_m=max(z_mixing, LEAST_MIXING_M),
        spread=source.spread,
        y_slope=path.y_slope,
        z_slope=path.z_slope,
        y_images_m=_nearest_image(y_end, path.y_walls_m),
        z_images_m=_nearest_image(z_end, path.z_walls_m),
        pressure_rise_pa=source.thrust_n * (1.0 - kept) * path.cosine / area,
        outside_share=OUTSIDE_SHARE * near,
    )


def axis_speed(*, jet: JetAtPlane, density: float) -> float:
    """Speed on the axis of a jet where it crosses the plane, without its mirror images.

    Parameters
    ----------
    jet
        The jet in the plane.
    density
        Air density [kg/m3].

    Returns
    -------
    float
        Speed [m/s].
    """
    cosine = 1.0 / math.sqrt(1.0 + jet.y_slope**2 + jet.z_slope**2)
    along_y = smeared_density(0.0, side_m=jet.width_m, mixing_m=jet.y_mixing_m)
    along_z = smeared_density(0.0, side_m=jet.height_m, mixing_m=jet.z_mixing_m)
    return math.sqrt(float(jet.momentum_n / cosine * along_y * along_z) / density)


def momentum_density(*, jet: JetAtPlane, y_m: Floats, z_m: Floats) -> Floats:
    """Momentum flux density of a jet, with its mirror images, on a grid of the plane that it crosses.

    Parameters
    ----------
    jet
        The jet in the plane.
    y_m, z_m
        Grid lines from the middle of the opening, shapes (ys,) and (zs,) [m].

    Returns
    -------
    ndarray
        rho u^2 along the normal, shape (ys, zs) [Pa].

    Notes
    -----
    m = M F(y) F(z), where F is the source smeared by the mixing (`smeared_density`). An oblique jet reaches a point
    beside its axis before or after the axis crosses the plane, and is narrower or wider there: a point at y from the
    axis lies y cos away from it, and y sin farther along it.
    """
    y_places, z_places = (jet.y_m, *jet.y_images_m), (jet.z_m, *jet.z_images_m)
    if jet.y_slope == 0.0 and jet.z_slope == 0.0:
        along_y = sum(smeared_density(y_m - c, side_m=jet.width_m, mixing_m=jet.y_mixing_m) for c in y_places)
        along_z = sum(smeared_density(z_m - c, side_m=jet.height_m, mixing_m=jet.z_mixing_m) for c in z_places)
        return np.asarray(jet.momentum_n * np.outer(along_y, along_z))
    found = np.zeros((y_m.size, z_m.size))
    for i, y_place in enumerate(y_places):
        for j, z_place in enumerate(z_places):
            y_slope, z_slope = jet.y_slope * (-1.0 if i else 1.0), jet.z_slope * (-1.0 if j else 1.0)
            found += _oblique_density(jet, y_m[:, None] - y_place, z_m[None, :] - z_place, y_slope, z_slope)
    return found


def _oblique_density(jet: JetAtPlane, y_m: Floats, z_m: Floats, y_slope: float, z_slope: float) -> Floats:
    """Momentum flux density along the normal of an oblique jet, at points of the plane counted from its axis [Pa]."""
    cosine = 1.0 / math.sqrt(1.0 + y_slope**2 + z_slope**2)
    level = 1.0 / math.sqrt(1.0 + y_slope**2)
    # A slope of 0 leaves its direction out, so that a jet that is only tilted is smeared along one grid line upwards.
    over_y, over_z = (y_m * y_slope if y_slope else 0.0), (z_m * z_slope if z_slope else 0.0)
    farther = (over_y + over_z) * cosine
    aside = y_m * level
    above = z_m * math.sqrt(1.0 - (z_slope * cosine) ** 2) - over_y * level * z_slope * cosine
    y_mixing = np.maximum(jet.y_mixing_m + jet.spread * farther, LEAST_SHARE_OF_MIXING * jet.y_mixing_m)
    z_mixing = np.maximum(jet.z_mixing_m + jet.spread * farther, LEAST_SHARE_OF_MIXING * jet.z_mixing_m)
    along_axis = smeared_density(aside, side_m=jet.width_m, mixing_m=y_mixing)
    along_axis = along_axis * smeared_density(above, side_m=jet.height_m, mixing_m=z_mixing)
    return np.asarray(jet.momentum_n * cosine * along_axis)
