"""How functions are handed to the compiler: parts of a kernel, and the kernels themselves.

Only kernels keep their compiled form on disk, and numba looks for changes in a kernel's own file
alone. So a number that stands for the text of every file a kernel is made from is bound into it:
another text is another kernel, and never is an older one run in its place.
"""

from __future__ import annotations

import zlib
from collections.abc import Callable
from functools import cache
from pathlib import Path
from types import ModuleType
from typing import Any, TypeVar

from numba import njit
from numba.extending import register_jitable

from thermnet.physics import curves, potentials
from thermnet.solve import control

Function = TypeVar("Function", bound=Callable[..., Any])

SHARED: tuple[ModuleType, ...] = (curves, potentials, control)
"""Modules of plain functions that compiled code calls."""


def part(function: Function) -> Function:
    """A function that kernels may call; called from Python it stays as it is."""
    register_jitable(function)
    return function


def kernel(function: Function) -> Function:
    """Compile a function for its first arguments, without Python's lock, and keep it on disk.

    Nothing is allocated within, so that nobody has to count who uses what.
    """
    options: dict[str, Any] = {"nogil": True, "error_model": "numpy", "_nrt": False}
    try:
        compiled: Any = njit(cache=True, **options)(function)
    except RuntimeError:  # nowhere to keep it
        compiled = njit(**options)(function)
    return compiled  # type: ignore[no-any-return]


@cache
def text_number() -> int:
    """A number for the text of all files that kernels are made from."""
    own = sorted(Path(__file__).parent.glob("compiled*.py"))
    shared = [Path(str(module.__file__)) for module in SHARED]
    number = 0
    for path in [*own, *shared]:
        number = zlib.crc32(path.read_bytes(), number)
    return number
