"""One time step of a lattice Boltzmann large-eddy simulation, for a GPU and for processor cores from the same source.

The lattice has 19 velocities (D3Q19). Populations are stored less their value at rest, which keeps digits in single
precision. Collisions are regularised (Latt & Chopard 2006, Math. Comput. Simul. 72:165; from memory), eddies smaller
than a cell follow Smagorinsky's model solved in closed form (Hou et al. 1996, Fields Inst. Comm. 6:151; from memory),
and forces enter as in Guo, Zheng & Shi 2002 (Phys. Rev. E 65:046308; from memory). Walls and the ground are half-way
bounce-back. The outer faces let air in at the speed of the wind, behind a sponge that absorbs sound.

Lattice units throughout: length in cells, time in steps, density 1.
"""

from __future__ import annotations

import functools
import math
import types
from collections.abc import Callable
from typing import Any

import numba
import numpy as np

from .unroll import unrolled

AIR, WALL, FAN, SCREEN_ACROSS_X, SCREEN_ACROSS_Y, AIR_INDOORS = range(6)
"""Kinds of cell. Air indoors starts at rest, all other air at the speed of the wind."""

Q = 19
CX = (0, 1, -1, 0, 0, 0, 0, 1, -1, 1, -1, 1, -1, 1, -1, 0, 0, 0, 0)
CY = (0, 0, 0, 1, -1, 0, 0, 1, -1, -1, 1, 0, 0, 0, 0, 1, -1, 1, -1)
CZ = (0, 0, 0, 0, 0, 1, -1, 0, 0, 0, 0, 1, -1, -1, 1, 1, -1, -1, 1)
OPPOSITE = (0, 2, 1, 4, 3, 6, 5, 8, 7, 10, 9, 12, 11, 14, 13, 16, 15, 18, 17)
W = (1 / 3, *[1 / 18] * 6, *[1 / 36] * 12)
F = np.float32

FIGURES = (
    *("tau", "smagorinsky", "push", "noise", "swirl", "fan_y", "fan_z", "fan_radius", "aim_x", "aim_y", "aim_z"),
    *("eddy", "eddy_time", "screen_linear", "screen_quadratic", "wind_x", "wind_y", "sponge"),
)
"""Names of the figures that every cell is given, in the order in which `_step` takes them from its array."""


def _mix(value):  # type: ignore[no-untyped-def]
    """Scramble 32 bits."""
    value = ((value ^ (value >> 16)) * 0x7FEB352D) & 0xFFFFFFFF
    value = ((value ^ (value >> 15)) * 0x846CA68B) & 0xFFFFFFFF
    return value ^ (value >> 16)


def _noise(a, b, c, seed):  # type: ignore[no-untyped-def]
    """Smooth random field between -1 and 1: values on a grid of spacing 1, joined by cubic steps."""
    i, j, k = math.floor(a), math.floor(b), math.floor(c)
    x, y, z = a - i, b - j, c - k
    x, y, z = x * x * (3 - 2 * x), y * y * (3 - 2 * y), z * z * (3 - 2 * z)
    total = 0.0
    for corner in range(8):
        di, dj, dk = corner & 1, (corner >> 1) & 1, corner >> 2
        key = _mix((int(i) + di + seed) & 0xFFFFFFFF)
        key = _mix((key + (int(j) + dj) * 7919) & 0xFFFFFFFF)
        key = _mix(_mix((key + (int(k) + dk) * 104729) & 0xFFFFFFFF))
        value = (key & 0xFFFFFF) / 8388608.0 - 1.0
        total += (x if di else 1 - x) * (y if dj else 1 - y) * (z if dk else 1 - z) * value
    return total


def _arriving(f, kinds, nx, ny, nz, cell, x, y, z, direction, opposite, outer):  # type: ignore[no-untyped-def]
    """The population that streams into a cell from (x, y, z): turned back at walls and the ground, fixed outside."""
    cells = nx * ny * nz
    if x < 0 or x >= nx or y < 0 or y >= ny or z >= nz:
        return outer
    if z < 0:
        return f[opposite * cells + cell]
    there = (z * ny + y) * nx + x
    if kinds[there] == WALL:
        return f[opposite * cells + cell]
    return f[direction * cells + there]


def _screen_force(u, a, b):  # type: ignore[no-untyped-def]
    """Force of a screen on the air of one cell, ``-(a u + b u |u|)`` at the speed that it leaves."""
    speed, lead = abs(u), F(1.0) + F(0.5) * a
    left = F(2.0) * speed / (lead + math.sqrt(lead * lead + F(2.0) * b * speed))
    force = a * left + b * left * left
    return -force if u > F(0.0) else force


def _step(f, g, kinds, nx, ny, nz, figures, step, cell):  # type: ignore[no-untyped-def]
    """Stream into one cell, collide, and write its new populations."""
    kind = kinds[cell]
    if kind == WALL:
        return
    cells = nx * ny * nz
    x, y, z = cell % nx, (cell // nx) % ny, cell // (nx * ny)
    wx, wy = figures[15], figures[16]
    w2 = F(1.5) * (wx * wx + wy * wy)

    h = np.empty(Q)
    density, mx, my, mz = F(0.0), F(0.0), F(0.0), F(0.0)
    for i in range(Q):
        along = F(3.0) * (CX[i] * wx + CY[i] * wy)
        outer = W[i] * (along + F(0.5) * along * along - w2)
        h[i] = _arriving(f, kinds, nx, ny, nz, cell, x - CX[i], y - CY[i], z - CZ[i], i, OPPOSITE[i], outer)
        density += h[i]
        mx += CX[i] * h[i]
        my += CY[i] * h[i]
        mz += CZ[i] * h[i]
    rho = F(1.0) + density

    fx, fy, fz = F(0.0), F(0.0), F(0.0)
    if kind == FAN:
        push, noise, swirl = figures[2], figures[3], figures[4]
        a, b, c = y / figures[11], z / figures[11], step / figures[12]
        along_axis = push * (F(1.0) + noise * F(_noise(a, b, c, 1)))
        ry, rz = (F(y) - figures[5]) / figures[7], (F(z) - figures[6]) / figures[7]
        fx = rho * along_axis * figures[8]
        fy = rho * (along_axis * figures[9] + push * noise * F(_noise(a, b, c, 77777)) - swirl * push * rz)
        fz = rho * (along_axis * figures[10] + push * noise * F(_noise(a, b, c, 333333)) + swirl * push * ry)
    elif kind == SCREEN_ACROSS_X:
        fx = rho * _screen_force(mx / rho, figures[13], figures[14])
    elif kind == SCREEN_ACROSS_Y:
        fy = rho * _screen_force(my / rho, figures[13], figures[14])
    ux, uy, uz = (mx + F(0.5) * fx) / rho, (my + F(0.5) * fy) / rho, (mz + F(0.5) * fz) / rho

    # Stress beyond equilibrium; its size gives the viscosity of the eddies that the grid does not show.
    third = density * F(1 / 3)
    pxx, pyy, pzz = fx * ux - third - rho * ux * ux, fy * uy - third - rho * uy * uy, fz * uz - third - rho * uz * uz
    pxy = F(0.5) * (fx * uy + fy * ux) - rho * ux * uy
    pxz = F(0.5) * (fx * uz + fz * ux) - rho * ux * uz
    pyz = F(0.5) * (fy * uz + fz * uy) - rho * uy * uz
    for i in range(Q):
        pxx += CX[i] * CX[i] * h[i]
        pyy += CY[i] * CY[i] * h[i]
        pzz += CZ[i] * CZ[i] * h[i]
        pxy += CX[i] * CY[i] * h[i]
        pxz += CX[i] * CZ[i] * h[i]
        pyz += CY[i] * CZ[i] * h[i]
    size = math.sqrt(pxx * pxx + pyy * pyy + pzz * pzz + F(2.0) * (pxy * pxy + pxz * pxz + pyz * pyz))
    tau, smagorinsky = figures[0], figures[1]
    rate = F(2.0) / (tau + math.sqrt(tau * tau + F(18.0 * math.sqrt(2.0)) * smagorinsky * smagorinsky * size / rho))

    depth, sponge = min(x, nx - 1 - x, y, ny - 1 - y, nz - 1 - z), figures[17]
    absorbed = F(0.0)
    if depth < sponge:
        absorbed = F(0.25) * ((sponge - F(depth)) / sponge) ** 2
    u2 = F(1.5) * (ux * ux + uy * uy + uz * uz)
    trace = (pxx + pyy + pzz) * F(1 / 3)
    forcing = F(3.0) * (F(1.0) - F(0.5) * rate)
    fu = fx * ux + fy * uy + fz * uz
    for i in range(Q):
        cu = F(3.0) * (CX[i] * ux + CY[i] * uy + CZ[i] * uz)
        cf = CX[i] * fx + CY[i] * fy + CZ[i] * fz
        stress = CX[i] * CX[i] * pxx + CY[i] * CY[i] * pyy + CZ[i] * CZ[i] * pzz - trace
        stress += F(2.0) * (CX[i] * CY[i] * pxy + CX[i] * CZ[i] * pxz + CY[i] * CZ[i] * pyz)
        after = W[i] * (density + rho * (cu + F(0.5) * cu * cu - u2))
        after += (F(1.0) - rate) * F(4.5) * W[i] * stress
        after += W[i] * (F(1.5) * cf + forcing * (cu * cf - fu))
        along = F(3.0) * (CX[i] * wx + CY[i] * wy)
        outer = W[i] * (along + F(0.5) * along * along - w2)
        g[i * cells + cell] = after + absorbed * (outer - after)


def _start(f, kinds, nx, ny, nz, figures, cell):  # type: ignore[no-untyped-def]
    """Air at the speed of the wind outdoors, at rest indoors."""
    cells = nx * ny * nz
    wx, wy = figures[15], figures[16]
    share = F(0.0) if kinds[cell] in (WALL, AIR_INDOORS) else F(1.0)
    for i in range(Q):
        along = F(3.0) * (CX[i] * wx + CY[i] * wy)
        f[i * cells + cell] = share * W[i] * (along + F(0.5) * along * along - F(1.5) * (wx * wx + wy * wy))


def _average(f, kinds, nx, ny, nz, sums, cell):  # type: ignore[no-untyped-def]
    """Add the velocity and the excess density of one cell to the sums over time."""
    if kinds[cell] == WALL:
        return
    cells = nx * ny * nz
    density, mx, my, mz = F(0.0), F(0.0), F(0.0), F(0.0)
    for i in range(Q):
        value = f[i * cells + cell]
        density += value
        mx += CX[i] * value
        my += CY[i] * value
        mz += CZ[i] * value
    sums[cell] += mx / (F(1.0) + density)
    sums[cells + cell] += my / (F(1.0) + density)
    sums[2 * cells + cell] += mz / (F(1.0) + density)
    sums[3 * cells + cell] += density


def _written_out(function: Callable[..., Any]) -> Callable[..., Any]:
    tables = {"CX": CX, "CY": CY, "CZ": CZ, "OPPOSITE": OPPOSITE, "W": W}
    return unrolled(function, {"Q": Q}, tables)


def _compiled(functions: dict[str, Callable[..., Any]], compiler: Callable[..., Any]) -> dict[str, Any]:
    """Compile functions that call one another: each sees the compiled form of those before it."""
    scope: dict[str, Any] = dict(globals())
    for name, function in functions.items():
        scope[name] = compiler(types.FunctionType(function.__code__, scope, name, function.__defaults__))
    return scope


_HELPERS = {"_mix": _mix, "_noise": _noise, "_arriving": _arriving, "_screen_force": _screen_force}
_KERNELS = {"_start": _start, "_step": _step, "_average": _average}


def _functions() -> dict[str, Callable[..., Any]]:
    return _HELPERS | {name: _written_out(function) for name, function in _KERNELS.items()}


SMALL_CELLS = 200_000
"""Up to this many cells one processor core is faster than several."""


@functools.cache
def _core_kernels(several: bool) -> dict[str, Callable[..., Any]]:
    """The kernels over all cells, compiled for one processor core or for several."""
    inner = _compiled(_functions(), numba.njit(fastmath=True, error_model="numpy"))
    return {name: _over_cells(inner[name], several) for name in _KERNELS}


def _over_cells(kernel: Callable[..., Any], several: bool) -> Callable[..., Any]:
    @numba.njit(parallel=several, fastmath=True)
    def every_cell(cells, arguments):  # type: ignore[no-untyped-def]
        for cell in numba.prange(cells):
            kernel(*arguments, cell)

    return every_cell


class Cores:
    """The simulation on processor cores.

    Parameters
    ----------
    kinds
        Kind of every cell, shape (nz, ny, nx), 8-bit.
    figures
        One 32-bit float for each name in `FIGURES`.
    """

    def __init__(self, kinds: np.ndarray, figures: np.ndarray) -> None:
        kernels = _core_kernels(kinds.size > SMALL_CELLS)
        self._start, self._step, self._average = kernels["_start"], kernels["_step"], kernels["_average"]
        self.kinds, self.figures = kinds, figures
        self.f = np.zeros(Q * kinds.size, np.float32)
        self.g = np.zeros_like(self.f)
        self.sums = np.zeros(4 * kinds.size, np.float32)
        self.shape = kinds.shape[::-1]
        self.averaged = 0
        for field in (self.f, self.g):
            self._start(kinds.size, (field, kinds.ravel(), *self.shape, figures))

    def advance(self, step: int) -> None:
        """Make time step number ``step``."""
        self._step(self.kinds.size, (self.f, self.g, self.kinds.ravel(), *self.shape, self.figures, step))
        self.f, self.g = self.g, self.f

    def sample(self) -> None:
        """Add the present state to the averages."""
        self._average(self.kinds.size, (self.f, self.kinds.ravel(), *self.shape, self.sums))
        self.averaged += 1

    def means(self) -> np.ndarray:
        """Mean velocity and excess density, shape (4, nz, ny, nx), in lattice units."""
        return (self.sums / max(self.averaged, 1)).reshape(4, *self.kinds.shape)


class Graphics(Cores):
    """The simulation on a CUDA GPU, with the same methods."""

    def __init__(self, kinds: np.ndarray, figures: np.ndarray) -> None:
        from numba import cuda

        inner = _compiled(_functions(), cuda.jit(device=True, fastmath=True))
        self._kernels = {name: _over_threads(inner[name]) for name in _KERNELS}
        self.cells, self.grid_shape, self.shape, self.averaged = kinds.size, kinds.shape, kinds.shape[::-1], 0
        self.kinds, self.figures = cuda.to_device(kinds.ravel()), cuda.to_device(figures)
        self.f, self.g = (cuda.device_array(Q * kinds.size, np.float32) for _ in range(2))
        self.sums = cuda.to_device(np.zeros(4 * kinds.size, np.float32))
        for field in (self.f, self.g):
            self._launch("_start", field, self.kinds, *self.shape, self.figures)

    def _launch(self, name: str, *arguments: Any) -> None:
        threads = 128
        self._kernels[name][(self.cells + threads - 1) // threads, threads](self.cells, *arguments)

    def advance(self, step: int) -> None:
        self._launch("_step", self.f, self.g, self.kinds, *self.shape, self.figures, step)
        self.f, self.g = self.g, self.f

    def sample(self) -> None:
        self._launch("_average", self.f, self.kinds, *self.shape, self.sums)
        self.averaged += 1

    def means(self) -> np.ndarray:
        result: np.ndarray = self.sums.copy_to_host().reshape(4, *self.grid_shape) / max(self.averaged, 1)
        return result


def _over_threads(kernel: Callable[..., Any]) -> Any:
    from numba import cuda

    takes = kernel.py_func.__code__.co_argcount
    names = ", ".join(f"a{n}" for n in range(takes - 1))
    scope: dict[str, Any] = {"kernel": kernel, "cuda": cuda}
    exec(
        f"def every_cell(cells, {names}):\n"
        f"    cell = cuda.grid(1)\n"
        f"    if cell < cells:\n"
        f"        kernel({names}, cell)\n",
        scope,
    )
    return cuda.jit(scope["every_cell"], fastmath=True)


def simulation(kinds: np.ndarray, figures: dict[str, float], *, gpu: bool | None = None) -> Cores:
    """The simulation of a grid, on a GPU where there is one.

    Parameters
    ----------
    kinds
        Kind of every cell, shape (nz, ny, nx).
    figures
        Value of every name in `FIGURES`.
    gpu
        Whether to use a CUDA GPU; by default if numba finds one.
    """
    from numba import cuda

    values = np.array([figures[name] for name in FIGURES], np.float32)
    use = cuda.is_available() if gpu is None else gpu
    return (Graphics if use else Cores)(np.ascontiguousarray(kinds, np.uint8), values)
