"""The fixed parts of plans as numbers: ``python -m tests.golden.plan_symbols`` writes them anew."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from ventplan.house import read_house
from ventplan.show.plan_storeys import fixed_parts, storeys_of

ROOT = Path(__file__).parents[2]
DATA = Path(__file__).parent / "plan_symbols.json"
CASES = (("one_room_flat", "evening"), ("two_storey", "night"))


def symbols(name: str, scenario: str) -> list[dict[str, Any]]:
    """Openings of a house as they are drawn, storey by storey: no solver, geometry alone."""
    house = read_house(ROOT / f"house_examples/{name}.yaml")
    plain = dict.fromkeys(house.rooms, "floor")
    storeys = []
    for storey in storeys_of(house, "si"):
        areas, lines, walls = fixed_parts(house, house.scenarios[scenario], storey, plain)
        storeys.append(
            {
                "title": storey.title,
                "floors": [area.what for area in areas if area.layer == "floor"],
                "wall area": round(walls.area, 3),
                "lines": {
                    f"{i}: {line.what}": [
                        [round(x, 3) + 0.0, round(y, 3) + 0.0] for x, y in (line.points[0], line.points[-1])
                    ]
                    for i, line in enumerate(lines)
                },
            }
        )
    return storeys


def main() -> None:
    """Write the data file."""
    data = {name: symbols(name, scenario) for name, scenario in CASES}
    DATA.write_text(json.dumps(data, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
