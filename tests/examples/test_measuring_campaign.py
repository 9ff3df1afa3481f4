"""The readings of the measuring page are what their script makes."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from ventplan.house.table import Column, read_table

CAMPAIGN = Path(__file__).parents[2] / "house_examples" / "campaign"


def _script(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(name, CAMPAIGN / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_readings_are_what_their_script_makes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    make = _script("make_readings")
    (tmp_path / "cottage.yaml").write_text((CAMPAIGN / "cottage.yaml").read_text(encoding="utf-8"), encoding="utf-8")
    monkeypatch.setattr(make, "HERE", tmp_path)
    make.main()
    for name in ("vane.csv", "box.csv", "scale.csv", "jet.csv", "typed.csv"):
        assert (tmp_path / name).read_text(encoding="utf-8") == (CAMPAIGN / name).read_text(encoding="utf-8"), name


def test_the_readings_in_the_house_are_still_near_those_of_the_solver(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # They were taken once; the solver may get better. Where it moves by more than a reading's own 10 %, make them anew.
    make = _script("make_readings")
    (tmp_path / "cottage.yaml").write_text((CAMPAIGN / "cottage.yaml").read_text(encoding="utf-8"), encoding="utf-8")
    monkeypatch.setattr(make, "HERE", tmp_path)
    make.main()
    for name in ("openings.csv", "log.csv"):
        old, new = (read_table(folder / name, [Column("speed", "speed")]) for folder in (CAMPAIGN, tmp_path))
        assert np.mean(new.numbers["speed"]) == pytest.approx(np.mean(old.numbers["speed"]), rel=0.1), name
