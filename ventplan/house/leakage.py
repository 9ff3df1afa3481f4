"""What to say of a house whose file gives no leakage: only the cracks of shut openings leak in it, few houses are so
tight."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ventplan.house.records import House

USUAL = "most houses leak 3 to 10 air changes an hour at 50 Pa (common practice, no source)"
"""How leaky houses are."""

NO_LEAKAGE = (
    "no leakage of walls, only the cracks of shut openings, so that the house is very tight when all is shut; "
    f"{USUAL}: write leakage: {{ach50: 6}}, see docs/house_file.md"
)
"""What ``check`` says among what was assumed."""


def tight_notes(house: House) -> tuple[str, ...]:
    """A note for answers that rest on how leaky a shut house is; nothing where the file tells its leakage."""
    if NO_LEAKAGE not in house.defaults:
        return ()
    return (
        f"The house file gives no leakage of walls, so that what is shut is very tight here; {USUAL}. Write "
        "leakage: {ach50: 6} to see what that changes (docs/house_file.md).",
    )
