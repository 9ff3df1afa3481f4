"""From what the file says of places where people sit or sleep to records, with the checks of the plan."""

from __future__ import annotations

from ventplan.house.catalogue import assumptions
from ventplan.house.geometry import SLACK_M, polygon
from ventplan.house.job import Job
from ventplan.house.records import PersonAt, Room
from ventplan.house.schema import PersonAtSpec
from ventplan.house.validate import validate
from ventplan.house.yaml_text import must_be_map


def build_people(job: Job) -> None:
    """Every place where somebody sits or sleeps; what lies outside its room is a mistake."""
    section = must_be_map(job.source, ("people at",), job.spec.people_at, "a name for each place to sit or sleep")
    usual = assumptions()["people at"]
    for name, data in section.items():
        path = ("people at", name)
        spec = validate(job.source, path, data, PersonAtSpec, job.names)
        if spec is None:
            continue
        height = spec.height
        if height is None:
            height = float(usual["asleep" if spec.asleep else "seated"])
            job.assumed.note(
                f"head {height:g} m above the floor at a place to {'sleep' if spec.asleep else 'sit'}", name
            )
        room = job.rooms.get(spec.room)
        if room is None or is_inside(job, path, room, spec.at, height):
            job.people_at[name] = PersonAt(name, spec.room, spec.at, height, spec.asleep)


def is_inside(job: Job, path: tuple[str, str], room: Room, at: tuple[float, float], height_m: float) -> bool:
    """True for a head inside its room; notes what is wrong otherwise."""
    from shapely import Point

    outline, spot = polygon(room.corners), Point(at)
    if (beyond := float(outline.distance(spot))) > SLACK_M:
        left, low, right, high = outline.bounds
        job.report(
            (*path, "at"),
            f"({at[0]:.2f}, {at[1]:.2f}), {beyond:.2f} m outside {room.name}",
            f"a point inside {room.name}, which goes from ({left:.2f}, {low:.2f}) to ({right:.2f}, {high:.2f})",
        )
        return False
    if height_m > room.ceiling_m:
        job.report(
            (*path, "height"),
            f"{height_m:.2f} m above the floor",
            f"0 to {room.ceiling_m:.2f} m, the ceiling of {room.name}",
        )
        return False
    return True
