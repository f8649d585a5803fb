"""The kernels: what is compiled, once for the types of its arguments, and kept on disk.

Their arguments are of plain types alone, since what is kept on disk must stay readable.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import NamedTuple

import numpy as np

from thermnet.network.primitives import Floats
from thermnet.solve.compiled_jit import kernel, part, text_number
from thermnet.solve.compiled_march import record
from thermnet.solve.compiled_slots import COUNT, TEXT, Flat, Places


class Kernels(NamedTuple):
    """See the functions of these names in the `compiled_*` modules.

    A network is given as number, place and at of `Flat`, its sizes, and the method's diagonal.
    """

    record: Callable[..., tuple[int, int]]


def arguments(flat: Flat) -> tuple[Floats, Places, Places, Places, float]:
    """A network as kernels take it."""
    sizes = (flat.nodes, flat.free, flat.massless, flat.histories, flat.varied, flat.waits)
    return flat.number, flat.place, flat.at, np.array([*sizes, flat.order]), flat.diagonal


@part
def flat_of(number: Floats, place: Places, at: Places, sizes: Places, diagonal: float) -> Flat:
    return Flat(
        number,
        place,
        at,
        sizes[0],
        sizes[1],
        sizes[2],
        sizes[3],
        sizes[4],
        sizes[5],
        sizes[6],
        diagonal,
    )


@cache
def kernels() -> Kernels:
    """All kernels; each is compiled, or fetched from disk, when it is first called."""
    text = text_number()

    def recorded(  # noqa: PLR0917 -- plain arguments
        number: Floats,
        place: Places,
        at: Places,
        sizes: Places,
        diagonal: float,
        ruled: bool,
        rows: Floats,
        temperature: Floats,
    ) -> tuple[int, int]:
        place[at[COUNT] + TEXT] = text
        return record(flat_of(number, place, at, sizes, diagonal), ruled, rows, temperature)

    return Kernels(record=kernel(recorded))
