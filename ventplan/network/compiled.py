"""The compiled engine: machine code of `numba_engine`, cached between runs and loaded without numba.

numba takes a third of a second to import, and as long again to load what it compiled before. Its machine code is
therefore kept in the user's cache directory, with a checksum, under a name that depends on the sources, the version of
llvmlite and the processor. Later runs load it with llvmlite in some milliseconds. A file that does not match its
checksum is removed and made again. If the code cannot be loaded, numpy does the work, and one line on standard error
says so.
"""

from __future__ import annotations

import ctypes
import hashlib
import importlib.util
import os
import platform
import sys
import tempfile
from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from ventplan.network import newton
from ventplan.network.graphs import elimination_order
from ventplan.network.newton import Blocks

if TYPE_CHECKING:
    from ventplan.network.choices import BulkFlow, ChoiceTable
    from ventplan.network.links import FlowNetwork

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SOURCES = (
    "network/compiled.py",
    "network/numba_engine.py",
    "network/graphs.py",
    "network/newton.py",
    "network/links.py",
    "physics/buoyancy.py",
    "physics/orifice.py",
)
"""Files that the machine code depends on."""
OUTSIDE = ("pow", "sqrt")
"""Functions of the C library that the machine code may ask for."""
NEVER_CALLED = "NRT_MemInfo_call_dtor"
"""Destructor of arrays: named in the machine code, which makes no arrays."""
_ARGUMENTS = (ctypes.c_void_p,) * 17

_kept: dict[str, Any] = {}


class CompiledEngine:
    """The machine code, ready to call.

    Parameters
    ----------
    address
        Of `numba_engine.entry`.
    owner
        Object that keeps the code in memory.
    """

    def __init__(self, address: int, owner: Any) -> None:
        self._call, self._owner = ctypes.CFUNCTYPE(ctypes.c_int, *_ARGUMENTS)(address), owner

    def solve(self, blocks: Blocks, choices: Ints, outputs: Sequence[Floats]) -> int:
        """Solve states into arrays of zeros; returns a state that does not balance, or -1."""
        found, error = ctypes.c_int64(), ctypes.c_void_p()
        arrays = (*blocks, np.ascontiguousarray(choices), *outputs)
        if not all(array.flags.c_contiguous for array in arrays):
            raise ValueError("the compiled engine takes contiguous arrays")
        addresses = [array.ctypes.data for array in arrays]
        status = self._call(ctypes.addressof(found), ctypes.addressof(error), *addresses)
        if status != 0:
            raise RuntimeError(f"the compiled engine ended with status {status}")
        return int(found.value)


class CompiledStates:
    """The compiled solver of one house.

    Parameters
    ----------
    engine
        The machine code.
    table
        The house and what each of its openings can be.
    """

    def __init__(self, engine: CompiledEngine, table: ChoiceTable) -> None:
        self._engine = engine
        self._blocks = _laid_out(
            rooms=len(table.nodes),
            starts=table.first,
            columns=np.stack([table.a, table.b, table.opening]),
            strips=table.strips,
            figures=table.figures,
            pairs=np.array([pair[:4] for pair in table.couplings], dtype=np.int64).reshape(-1, 4),
            signs=np.array([(pair[4].sign, pair[4].share) for pair in table.couplings], dtype=float).reshape(-1, 2),
        )

    def __call__(self, choices: Ints, into: BulkFlow) -> int:
        """Solve some states into arrays of zeros; returns a state that does not balance, or -1."""
        blocks = Blocks(*(block.copy() for block in self._blocks))  # Each thread has its own state.
        blocks.sizes[[newton.STATES, newton.OPENINGS]] = choices.shape
        return self._engine.solve(blocks, choices, into.arrays)


def solve_network(engine: CompiledEngine, network: FlowNetwork, start_pa: Floats | None) -> tuple[Floats, bool]:
    """Solve one network without isolated rooms.

    Parameters
    ----------
    engine
        The machine code.
    network
        The house as arrays.
    start_pa
        Where to start, shape (rooms,) [Pa].

    Returns
    -------
    tuple
        Pressures of the rooms [Pa], and True if they do not balance.
    """
    rooms, links, couplings = len(network.nodes), network.links, network.couplings
    at_first = np.zeros_like(couplings.source)
    blocks = _laid_out(
        rooms=rooms,
        starts=np.arange(links),
        columns=np.stack([network.a, network.b, np.ones(links, dtype=np.int64)]),
        strips=network.laws.strips,
        figures=network.laws.figures,
        pairs=np.stack([couplings.source, at_first, couplings.target, at_first], axis=1),
        signs=np.stack([couplings.sign, couplings.share], axis=1),
    )
    blocks.sizes[[newton.STATES, newton.OPENINGS, newton.STARTED]] = 1, 1, start_pa is not None
    pressure = np.zeros((1, rooms)) if start_pa is None else np.array(start_pa, dtype=float).reshape(1, rooms)
    flows = np.zeros((4, 1, 1))
    failed = engine.solve(blocks, np.zeros((1, 1), dtype=np.int64), (pressure, *flows))
    return pressure[0], failed >= 0


def _laid_out(
    *, rooms: int, starts: Ints, columns: Ints, strips: int, figures: Floats, pairs: Ints, signs: Floats
) -> Blocks:
    """The blocks of a house, filled."""
    a, b = columns[0], columns[1]
    if pairs.size:
        source, target = pairs[:, 0], pairs[:, 2]
        a = np.concatenate([a, *(end[target] for end in columns[:2] for _ in range(2))])
        b = np.concatenate([b, *(end[source] for _ in range(2) for end in columns[:2])])
    order, first, later = _pattern(rooms, a.tobytes(), b.tobytes())
    columns_count, nodes, count = starts.size, rooms + 1, pairs.shape[0]
    sizes = np.zeros(newton.SIZES, dtype=np.int64)
    sizes[:9] = 0, 0, 0, strips, columns_count, figures.shape[1], nodes, later.size, count
    blocks = Blocks(
        sizes,
        np.ascontiguousarray(figures.T),
        later,
        np.zeros((newton.LINK_INTS, columns_count), dtype=np.int64),
        np.zeros((newton.NODE_INTS, nodes), dtype=np.int64),
        np.zeros((newton.PAIR_INTS, count), dtype=np.int64),
        np.zeros((newton.LINK_FLOATS, columns_count)),
        np.zeros((newton.NODE_FLOATS + nodes, nodes)),
        np.zeros((newton.PAIR_FLOATS, count)),
    )
    blocks.link_ints[newton.FIRST_ROW], blocks.link_ints[newton.COLUMN_A : newton.COLUMN_OPENING + 1] = starts, columns
    blocks.node_ints[newton.ORDER, :rooms], blocks.node_ints[newton.FIRST_LATER] = order, first
    blocks.pair_ints[: newton.TARGET_CHOICE + 1], blocks.pairs[: newton.PAIR_SHARE + 1] = pairs.T, signs.T
    return blocks


@lru_cache(maxsize=256)
def _pattern(rooms: int, a: bytes, b: bytes) -> tuple[Ints, Ints, Ints]:
    """The order of elimination, shared by networks that differ only in figures."""
    return elimination_order(rooms, np.frombuffer(a, dtype=np.int64), np.frombuffer(b, dtype=np.int64))


def loaded() -> CompiledEngine | None:
    """The engine, if `load` has loaded it before."""
    return _kept.get("engine")


def load(*, compiling: bool = True) -> CompiledEngine | None:
    """The engine, from the cache or compiled now.

    Parameters
    ----------
    compiling
        Compile it if it is not in the cache, which takes some seconds once.

    Returns
    -------
    CompiledEngine or None
        None without numba, if it fails, or if it would have to be compiled first.
    """
    if "engine" not in _kept and (compiling or "absent" not in _kept):
        found = _load(compiling) if importlib.util.find_spec("numba") is not None else None
        _kept["engine" if found is not None or compiling else "absent"] = found
    return loaded()


def _load(compiling: bool) -> CompiledEngine | None:
    try:
        path = _cache_file()
        found = _from_cache(path)
        return _compile(path) if found is None and compiling else found
    except Exception as error:
        sys.stderr.write(f"ventplan: the compiled engine cannot be used, so numpy does its work ({error})\n")
        return None


def cache_directory() -> Path:
    """Directory of the machine code: ``VENTPLAN_CACHE_DIR``, or a folder in the user's cache directory."""
    own = os.environ.get("VENTPLAN_CACHE_DIR")
    if own:
        return Path(own)
    usual = Path(os.environ["LOCALAPPDATA"]) if os.name == "nt" and "LOCALAPPDATA" in os.environ else None
    return (usual or Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")) / "ventplan"


def _cache_file() -> Path:
    import llvmlite
    from llvmlite import binding as llvm

    package = Path(__file__).parents[1]
    parts = [llvmlite.__version__, platform.system(), platform.machine(), llvm.get_host_cpu_name()]
    key = hashlib.sha256("\n".join([*parts, llvm.get_host_cpu_features().flatten()]).encode())
    for name in SOURCES:
        key.update((package / name).read_bytes())
    return cache_directory() / f"newton-{key.hexdigest()[:20]}.bin"


def _from_cache(path: Path) -> CompiledEngine | None:
    """The engine from a file that matches its checksum; removes one that does not."""
    try:
        whole = path.read_bytes()
    except OSError:
        return None
    digest, code = whole[:32], whole[32:]
    name, _, machine_code = code.partition(b"\n")
    if hashlib.sha256(code).digest() == digest and machine_code:
        return _ready(name.decode("ascii"), machine_code)
    path.unlink(missing_ok=True)
    return None


def _ready(name: str, machine_code: bytes) -> CompiledEngine:
    from llvmlite import binding as llvm

    llvm.initialize_native_target()
    llvm.initialize_native_asmprinter()
    here = ctypes.CDLL(None) if os.name != "nt" else ctypes.CDLL("ucrtbase")
    for symbol, function in (*((each, each) for each in OUTSIDE), (NEVER_CALLED, "abort")):
        llvm.add_symbol(symbol, ctypes.cast(getattr(here, function), ctypes.c_void_p).value)
    machine = llvm.Target.from_default_triple().create_target_machine(codemodel="jitdefault", jit=True)
    engine = llvm.create_mcjit_compiler(llvm.parse_assembly(""), machine)
    engine.add_object_file(llvm.ObjectFileRef.from_data(machine_code))
    engine.finalize_object()
    address = engine.get_function_address(name)
    if not address:
        raise RuntimeError(f"no function {name}")
    return CompiledEngine(address, engine)


def _compile(path: Path) -> CompiledEngine:
    """Compile with numba, and keep the machine code."""
    from llvmlite import binding as llvm

    from ventplan.network import numba_engine

    (found,) = numba_engine.entry.overloads.values()
    module, name = found.library._final_module, found.fndesc.llvm_func_name
    strange = {each.name for each in module.functions if each.is_declaration and not each.name.startswith("llvm.")} - {
        *OUTSIDE,
        NEVER_CALLED,
    }
    if strange:
        raise RuntimeError(f"it asks for {', '.join(sorted(strange))}")
    machine = llvm.Target.from_default_triple().create_target_machine(
        cpu=llvm.get_host_cpu_name(),
        features=llvm.get_host_cpu_features().flatten(),
        opt=3,
        codemodel="jitdefault",
        jit=True,
    )
    machine_code = machine.emit_object(module)
    _keep(path, name.encode("ascii") + b"\n" + machine_code)
    return _ready(name, machine_code)


def _keep(path: Path, code: bytes) -> None:
    """Write the file as a whole or not at all, and remove those of other versions."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=path.parent) as folder:
            whole = Path(folder) / path.name
            whole.write_bytes(hashlib.sha256(code).digest() + code)
            whole.replace(path)
        for other in path.parent.glob("newton-*.bin"):
            if other != path:
                other.unlink(missing_ok=True)
    except OSError as error:
        sys.stderr.write(
            f"ventplan: compiled code cannot be kept in {path.parent} ({error.strerror}), so every run compiles again; "
            "set VENTPLAN_CACHE_DIR to a folder that can be written\n"
        )
