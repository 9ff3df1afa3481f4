"""Flow through an opening: where to hold the probe, and the flow from the speeds read at one place or in a traverse."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ventplan.airing import Note, NoteCode
from ventplan.errors import NoAnswerError
from ventplan.house.units import UnitError, parse_quantity
from ventplan.measure.anemometer import Calibration
from ventplan.measure.uncertainty import Array, Estimate, Share, Source, effective_degrees, propagate, single
from ventplan.physics.orifice import reading_over_mean

Rule = Literal["equal area", "log-Tchebycheff"]

LOG_TCHEBYCHEFF: dict[int, tuple[float, ...]] = {
    5: (0.074, 0.288, 0.500, 0.712, 0.926),
    6: (0.061, 0.235, 0.437, 0.563, 0.765, 0.939),
    7: (0.053, 0.203, 0.366, 0.500, 0.634, 0.797, 0.947),
}
"""Shares of the side of a rectangular duct (ISO 3966; ASHRAE Handbook Fundamentals, measurement chapter).

They assume the boundary layer of a duct's walls. In the plane of a window, which has none, equal areas are
right."""


def parse_size(text: str) -> tuple[float, float]:
    """Width and height as typed, such as ``1.0 m x 1.1 m`` or ``50 x 50 cm`` [m]; raises UnitError for others."""
    parts = [part.strip() for part in text.replace("×", "x").split("x")]
    if len(parts) == 2 and parts[0][-1:].isdigit():
        parts[0] += parts[1].lstrip("0123456789.,")  # 100 x 110 cm
    if len(parts) != 2:
        raise UnitError(f'"{text}"', "width x height, such as 1.0 m x 1.1 m")
    width, height = (parse_quantity(part, "length") for part in parts)
    if not (0.01 <= width <= 20.0 and 0.01 <= height <= 20.0):
        raise UnitError(f'"{text}"', "two sides from 0.01 m to 20 m")
    return width, height


def shares_of_side(*, count: int, rule: Rule = "equal area") -> tuple[float, ...]:
    """Places along one side as shares of its length.

    Raises
    ------
    ValueError
        For log-Tchebycheff with other than 5, 6 or 7 places, or fewer than one place.
    """
    if rule == "log-Tchebycheff":
        if count not in LOG_TCHEBYCHEFF:
            raise ValueError("the log-Tchebycheff rule has 5, 6 or 7 places along a side")
        return LOG_TCHEBYCHEFF[count]
    if count < 1:
        raise ValueError("a traverse needs at least one place along a side")
    return tuple((index + 0.5) / count for index in range(count))


def positions(
    *, width_m: float, height_m: float, rule: Rule = "equal area", spacing_m: float = 0.2
) -> tuple[tuple[float, float], ...]:
    """Where to hold the probe: (across, up) from the left edge and the bottom, row by row from the top [m].

    Parameters
    ----------
    width_m, height_m
        Clear size of the opening [m].
    rule
        ``equal area`` for windows, doors and boxes; ``log-Tchebycheff`` inside a duct.
    spacing_m
        Largest distance between neighbours [m]; at least 3 places a side (equal area) or 5 (log-Tchebycheff).
    """
    sides = []
    for length in (width_m, height_m):
        count = max(math.ceil(length / spacing_m - 1e-9), 3)
        if rule == "log-Tchebycheff":
            count = min(max(count, 5), 7)
        sides.append([share * length for share in shares_of_side(count=count, rule=rule)])
    return tuple((across, up) for up in reversed(sides[1]) for across in sides[0])


def place_weights(
    *, across_m: ArrayLike, up_m: ArrayLike, width_m: float, height_m: float, rule: Rule = "equal area"
) -> Array:
    """Share of the area that each place stands for, shape (n,); they add up to 1.

    On a full grid of places, each stands for the cell that reaches halfway to its neighbours; at equal-area centres
    these cells are equal. Places off a grid, and log-Tchebycheff places by their rule, count alike.

    Parameters
    ----------
    across_m, up_m
        Places, shape (n,) [m]; nan where not noted.
    width_m, height_m
        Clear size [m].
    rule
        How the places were chosen.
    """
    x, y = np.asarray(across_m, dtype=float), np.asarray(up_m, dtype=float)
    alike = np.full(x.size, 1.0 / x.size)
    if rule == "log-Tchebycheff" or np.isnan(x).any() or np.isnan(y).any():
        return alike
    columns, rows = np.unique(np.round(x, 3)), np.unique(np.round(y, 3))
    if columns.size * rows.size != x.size:
        return alike
    share_x = _cell_shares(columns, width_m)[np.searchsorted(columns, np.round(x, 3))]
    share_y = _cell_shares(rows, height_m)[np.searchsorted(rows, np.round(y, 3))]
    return np.asarray(share_x * share_y)


def _cell_shares(places: Array, length: float) -> Array:
    edges = np.concatenate([[0.0], (places[1:] + places[:-1]) / 2.0, [length]])
    return np.asarray(np.diff(edges) / length)


def _sampling_uncertainty(x: Array, y: Array, speed: Array) -> tuple[float, float]:
    """Standard uncertainty of the mean of a traverse from having read a few places only [m/s], and its degrees of
    freedom [-] (half the number of pairs, which share their ends).

    Each place stands for the cell around it. The scatter inside a cell is not seen, but neighbours differ by at least
    as much when the profile is smooth: s_cell^2 = mean of (difference of neighbours)^2 / 2, and u = s_cell / sqrt(n).
    """
    squares = np.concatenate([_neighbour_squares(x, y, speed), _neighbour_squares(y, x, speed)])
    if squares.size == 0:
        return math.inf, 1.0
    return float(math.sqrt(squares.mean() / 2.0 / speed.size)), max(squares.size / 2.0, 1.0)


def _neighbour_squares(along: Array, row: Array, speed: Array) -> Array:
    """Squared differences of neighbours along each row of places."""
    parts = [np.empty(0)]
    for level in np.unique(np.round(row, 3)):
        inside = np.abs(row - level) < 1e-3
        parts.append(np.diff(speed[inside][np.argsort(along[inside])]) ** 2)
    return np.concatenate(parts)


PLAIN_DISCHARGE = 0.62
"""Discharge coefficient of the opening that a reading behind it is corrected for [-]."""

ONE_PLACE_ERROR = {"bare": 0.10, "screened": 0.05}
"""Relative standard uncertainty of one reading as the mean of an opening [-] (a judgement): a screen
evens the stream."""

TAPE_ERROR_M = 0.002
"""Standard uncertainty of a length by tape measure [m] (common practice)."""


@dataclass(frozen=True)
class PlaceReading:
    """What the anemometer showed at one place.

    Attributes
    ----------
    indicated, standard, degrees
        Mean indication, with 0 where the vane did not turn, its standard uncertainty from its own scatter [m/s or Hz],
        and degrees of freedom [-].
    across_m, up_m
        Distance from the left edge and from the bottom [m]; nan where not noted.
    still_share
        Share of the readings here in which the vane did not turn [-].
    """

    indicated: float
    standard: float = 0.0
    degrees: float = math.inf
    across_m: float = math.nan
    up_m: float = math.nan
    still_share: float = 0.0


@dataclass(frozen=True)
class OpeningResult:
    """Flow through an opening.

    Attributes
    ----------
    flow
        Volume flow [m3/s].
    mean_speed
        Mean over the free area [m/s].
    reading_m_s
        Mean of the corrected readings in the stream [m/s], nan where the vane did not turn everywhere.
    free_area
        Area left free [m2].
    method
        ``traverse`` or ``one place``.
    places, censored
        Number of places, and of those where the vane did not turn or the speed was below start-up.
    beyond
        Number of places with a speed above the calibrated range.
    notes
        What the reader should know.
    """

    flow: Estimate
    mean_speed: Estimate
    reading_m_s: float
    free_area: Estimate
    method: str
    places: int
    censored: int
    beyond: int
    notes: tuple[Note, ...]


def flow_through(
    *,
    readings: Sequence[PlaceReading],
    width_m: float,
    height_m: float,
    calibration: Calibration,
    obstructed_m2: float = 0.0,
    downstream_m: float = 0.0,
    screened: bool = False,
    rule: Rule = "equal area",
) -> OpeningResult:
    """Flow = mean speed x (area - obstructed area), with the budget of its uncertainty.

    Parameters
    ----------
    readings
        One for each place.
    width_m, height_m
        Clear size [m].
    calibration
        What the anemometer's readings mean; its error is common to all places.
    obstructed_m2
        Area that the probe, the hand or bars take away [m2]; known to a fifth.
    downstream_m
        Distance of the probe behind the plane [m]; for one place only, corrected by
        `ventplan.physics.orifice.reading_over_mean`.
    screened
        True with a screen in place.
    rule
        How the places of the traverse were chosen.

    Raises
    ------
    ValueError
        For a place outside the opening.
    NoAnswerError
        Where the vane did not turn at every place: then only an upper limit is known, and the message gives
        it.
    """
    indicated = np.array([reading.indicated for reading in readings])
    limit = calibration.start_up_m_s
    stood = np.array([reading.still_share for reading in readings])
    # Speed while it turned; 0 / 0 where it never did.
    running = indicated / np.where(stood < 1.0, 1.0 - stood, 1.0)
    still = ~(calibration.speed(running) >= limit)
    stood = np.where(still, 1.0, stood)
    speeds = np.where(still, limit / 2.0, (1.0 - stood) * calibration.speed(running) + stood * limit / 2.0)
    area = width_m * height_m - obstructed_m2
    if still.all():
        raise NoAnswerError(
            "The vane did not turn, or turned below its start-up speed, at every place: the mean speed is "
            f"below {limit:.2f} m/s and the flow below {limit * area:.3f} m3/s. These readings give no more than that."
        )
    across = np.array([reading.across_m for reading in readings])
    up = np.array([reading.up_m for reading in readings])
    outside = np.flatnonzero((across > width_m) | (up > height_m))
    if outside.size:
        x, y = across[outside[0]], up[outside[0]]
        raise ValueError(
            f"the place {x:.2f} m across, {y:.2f} m up lies outside the opening of {width_m:.2f} m x {height_m:.2f} m: "
            "look at the unit in the heading, and whether width or height comes first"
        )
    weights = place_weights(across_m=across, up_m=up, width_m=width_m, height_m=height_m, rule=rule)
    many = len(readings) > 1
    behind = float(
        reading_over_mean(
            distance_m=downstream_m, area_m2=width_m * height_m, discharge=PLAIN_DISCHARGE, screened=False
        )
    )
    factor = 1.0 if many or screened else behind
    sources = (
        _scatter(readings, weights, still, calibration),
        calibration.source(),
        # The speed where the vane did not turn: anywhere from nothing to start-up, and alike at all such
        # places.
        single("speeds below start-up", mean=limit / 2.0, standard=limit / math.sqrt(12.0)),
        _sampling(across, up, speeds, screened=screened, factor=factor),
        single("width by tape", mean=width_m, standard=TAPE_ERROR_M),
        single("height by tape", mean=height_m, standard=TAPE_ERROR_M),
        single("obstructed area", mean=obstructed_m2, standard=0.2 * obstructed_m2),
    )
    turning, shown = float(weights @ (1.0 - stood)), float(weights[~still] @ indicated[~still])
    resting = float(weights @ stood)

    def mean_speed(noise: float, a: float, b: float, slow: float, places: float, *_: float) -> float:
        return (turning * a + b * shown + noise + resting * slow + places) / factor

    def free_area(*values: float) -> float:
        width, height, taken = values[-3:]
        return width * height - taken

    return OpeningResult(
        flow=propagate(lambda *v: mean_speed(*v) * free_area(*v), sources, unit="m3/s"),
        mean_speed=propagate(mean_speed, sources, unit="m/s"),
        reading_m_s=float(np.mean(speeds[~still])),
        free_area=propagate(free_area, sources[-3:], unit="m2"),
        method="traverse" if many else "one place",
        places=len(readings),
        censored=int(still.sum()),
        beyond=int((speeds[~still] > 1.1 * calibration.highest_m_s).sum()),
        notes=(
            *_one_line_notes(across, up, speeds),
            *((Note(NoteCode.DOWNSTREAM_UNUSED),) if many and behind != 1.0 else ()),
            *_notes(many=many, screened=screened, factor=factor, resting=resting, limit=limit),
        ),
    )


def _scatter(
    readings: Sequence[PlaceReading], weights: Array, still: NDArray[np.bool_], calibration: Calibration
) -> Source:
    """Scatter of the places' own means; where a place was read once, that of the calibration."""
    own = np.array([reading.standard for reading in readings]) * calibration.slope
    parts = np.where(still, 0.0, weights * np.where(own > 0.0, own, calibration.scatter_m_s))
    shares = [Share("", float(part), one.degrees) for part, one in zip(parts, readings, strict=True)]
    standard = math.sqrt(float((parts**2).sum()))
    return single("scatter of the readings", mean=0.0, standard=standard, degrees=effective_degrees(shares))


def _sampling(across: Array, up: Array, speeds: Array, *, screened: bool, factor: float) -> Source:
    """How well the places stand for the whole opening."""
    if speeds.size == 1:
        relative = ONE_PLACE_ERROR["screened" if screened else "bare"]
        # A correction is known to about half of itself: it was computed for another opening.
        relative = math.hypot(relative, 0.5 * (factor - 1.0) / factor)
        return single("one place for all", mean=0.0, standard=relative * float(speeds[0]))
    if np.isnan(across).any() or np.isnan(up).any():
        standard = float(speeds.std(ddof=1)) / math.sqrt(speeds.size)
        return single("places between the probe's", mean=0.0, standard=standard, degrees=speeds.size - 1.0)
    standard, degrees = _sampling_uncertainty(across, up, speeds)
    if _in_one_line(across, up):
        # As peaked across the line as along it, or not peaked at all: anything between is as likely (rectangular).
        unseen = math.hypot(ONE_PLACE_ERROR["bare"], _one_line_bias(speeds) / math.sqrt(3.0))
        standard, degrees = math.hypot(standard, unseen * float(speeds.mean())), math.inf
    return single("places between the probe's", mean=0.0, standard=standard, degrees=degrees)


def _one_line_bias(speeds: Array) -> float:
    """By how much the mean along one line overstates that of the opening, if the stream is as peaked across it [-].

    For a profile that is a product u = U f(x) g(y) with f and g alike, the mean over the area is mean^2 / peak of the
    line through the middle: the share 1 - mean / peak is missing. A parabola gives 1 / 3, a sine 0.36.
    """
    return float(1.0 - speeds.mean() / speeds.max())


def _one_line_notes(across: Array, up: Array, speeds: Array) -> tuple[Note, ...]:
    if not _in_one_line(across, up):
        return ()
    bias = _one_line_bias(speeds)
    if bias < 0.02:
        return (Note(NoteCode.ONE_LINE_EVEN, numbers={"allowed": ONE_PLACE_ERROR["bare"]}),)
    return (Note(NoteCode.ONE_LINE_PEAKED, numbers={"too_high": bias / (1.0 - bias)}),)


def _in_one_line(across: Array, up: Array) -> bool:
    """Whether all places are along one line, so that the speeds beside it are not known."""
    return across.size > 1 and 1 in (np.unique(across.round(3)).size, np.unique(up.round(3)).size)


def _notes(*, many: bool, screened: bool, factor: float, resting: float, limit: float) -> tuple[Note, ...]:
    notes = []
    if not many and not screened:
        notes.append(Note(NoteCode.ONE_PLACE))
    if factor != 1.0:
        notes.append(Note(NoteCode.STREAM_CONTRACTS, numbers={"divided_by": factor}))
    if resting > 0.0:
        notes.append(Note(NoteCode.BELOW_START_UP, numbers={"area": resting, "start_up_m_s": limit}))
    return tuple(notes)
