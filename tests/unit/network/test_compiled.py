"""The compiled engine's cache: kept, checked, healed, and never the end of a command."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.unit.network.houses import as_table, random_options
from ventplan.network import compiled, solver
from ventplan.network.choices import BulkFlow

pytest.importorskip("numba")


@pytest.fixture
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty cache and no engine loaded."""
    monkeypatch.setenv("VENTPLAN_CACHE_DIR", str(tmp_path / "cache"))
    monkeypatch.setattr(compiled, "_kept", {})
    return tmp_path / "cache"


@pytest.fixture(scope="module")
def machine_code(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """What a good cache file holds."""
    assert compiled.load() is not None
    return compiled._cache_file().read_bytes()


def test_machine_code_from_the_cache_agrees_with_numpy(cache: Path, machine_code: bytes) -> None:
    path = compiled._cache_file()
    path.parent.mkdir()
    path.write_bytes(machine_code)
    engine, table = compiled.load(compiling=False), as_table(random_options(7, 5, 12))
    assert engine is not None
    choices = np.random.default_rng(0).integers(0, 3, (50, 12))
    ours, arrays = BulkFlow.room_for(table, 50), BulkFlow.room_for(table, 50)
    assert compiled.CompiledStates(engine, table)(choices, ours) == solver.solve_states(table, choices, arrays) == -1
    for found, expected in zip(ours.arrays, arrays.arrays, strict=True):
        assert found == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize(
    "spoil",
    [
        lambda code: b"",
        lambda code: code[: len(code) // 2],
        lambda code: code[:1000] + bytes([code[1000] ^ 1]) + code[1001:],
        lambda code: b"not machine code",
        lambda code: code[32:],
    ],
    ids=["empty", "truncated", "one bit", "text", "no checksum"],
)
def test_a_bad_file_is_removed_and_made_again(
    spoil: Any, cache: Path, machine_code: bytes, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    path = compiled._cache_file()
    path.parent.mkdir()
    path.write_bytes(spoil(machine_code))
    assert compiled.load(compiling=False) is None
    assert not path.exists()

    def compile_quickly(path: Path) -> Any:
        compiled._keep(path, machine_code[32:])
        return compiled._from_cache(path)

    monkeypatch.setattr(compiled, "_compile", compile_quickly)
    assert compiled.load() is not None
    assert path.read_bytes() == machine_code
    assert capsys.readouterr().err == ""


def test_a_folder_that_cannot_be_written_costs_one_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "file").write_text("")
    compiled._keep(tmp_path / "file" / "newton-1.bin", b"name\ncode")
    told = capsys.readouterr().err
    assert told.count("\n") == 1
    assert "VENTPLAN_CACHE_DIR" in told


def test_code_of_other_versions_is_removed(tmp_path: Path) -> None:
    (tmp_path / "newton-0.bin").write_bytes(b"old")
    compiled._keep(tmp_path / "newton-1.bin", b"name\ncode")
    assert [path.name for path in tmp_path.iterdir()] == ["newton-1.bin"]


def test_if_compiling_fails_numpy_solves_and_one_line_says_so(
    cache: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def fail(path: Path) -> Any:
        raise RuntimeError("no compiler here")

    monkeypatch.setattr(compiled, "_compile", fail)
    monkeypatch.setattr(solver, "WORTH_COMPILING", 0)
    monkeypatch.setattr(solver, "WORTH_LOADING", 0)
    table, choices = as_table(random_options(7, 5, 12)), np.zeros((3, 12), dtype=int)
    for _ in range(2):
        assert np.max(solver.solve_choices(table, choices).imbalance_kg_s) < 1e-9
    told = capsys.readouterr().err
    assert told.count("\n") == 1
    assert "numpy" in told
    assert "no compiler here" in told


def test_without_a_home_folder_numpy_solves(cache: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def nowhere() -> Path:
        raise RuntimeError("could not determine home directory")

    monkeypatch.delenv("VENTPLAN_CACHE_DIR")
    monkeypatch.delenv("XDG_CACHE_HOME", raising=False)
    monkeypatch.setattr(Path, "home", nowhere)
    assert compiled.load(compiling=False) is None


def test_arrays_that_are_not_contiguous_are_refused() -> None:
    engine = compiled.load()
    assert engine is not None
    table = as_table(random_options(1, 2, 4))
    into = BulkFlow.room_for(table, 4)
    with pytest.raises(ValueError, match="contiguous"):
        compiled.CompiledStates(engine, table)(np.zeros((2, 4), dtype=int), into.part(slice(0, 4, 2)))
