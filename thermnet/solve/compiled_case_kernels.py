"""The kernels that run over many cases; apart from the others, since few need them."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import NamedTuple

from thermnet.network.primitives import Floats
from thermnet.solve.compiled_cases import cyclic_case, set_case, steady_case
from thermnet.solve.compiled_jit import kernel, part, text_number
from thermnet.solve.compiled_kernels import flat_of
from thermnet.solve.compiled_slots import (
    CAPACITY,
    COUNT,
    NODE,
    OWN_CAPACITY,
    SAMPLE,
    TEMPERATURE,
    TEXT,
    Flat,
    Places,
    copy_nodes,
)


class CaseKernels(NamedTuple):
    """Each runs over the cases from `first` to before `last`.

    A network is given as `compiled_kernels.arguments` does, what changes as `compiled_cases` says.
    """

    steady: Callable[..., None]
    cyclic: Callable[..., None]


@part
def _store(flat: Flat, source: int, into: Floats, case: int) -> None:
    """Put temperatures into the row of a case, nodes as in `Network.names`."""
    for i in range(flat.nodes):
        into[case, flat.place[flat.at[NODE] + i]] = flat.number[source + i]


@cache
def case_kernels() -> CaseKernels:
    """Both kernels; each is compiled, or fetched from disk, when it is first called."""
    text = text_number()

    def steady(  # noqa: PLR0917 -- plain arguments
        number: Floats,
        place: Places,
        at: Places,
        sizes: Places,
        diagonal: float,
        strength: Floats,
        amplitude: Floats,
        capacity: Floats,
        boundary: Floats,
        power: Floats,
        first: int,
        last: int,
        temperature: Floats,
        found: Places,
    ) -> None:
        place[at[COUNT] + TEXT] = text
        flat = flat_of(number, place, at, sizes, diagonal)
        for case in range(first, last):
            set_case(flat, strength, amplitude, capacity, boundary, power, case)
            copy_nodes(flat, at[CAPACITY], at[OWN_CAPACITY])
            found[case] = 1 if steady_case(flat) else 0
            _store(flat, at[TEMPERATURE], temperature, case)

    def cyclic(  # noqa: PLR0917 -- plain arguments
        number: Floats,
        place: Places,
        at: Places,
        sizes: Places,
        diagonal: float,
        strength: Floats,
        amplitude: Floats,
        capacity: Floats,
        boundary: Floats,
        power: Floats,
        first: int,
        last: int,
        period: float,
        accuracy: float,
        memory: Floats,
        room: Floats,
        sums: Floats,
        temperature: Floats,
        ranges: Floats,
        passes: Places,
        estimate: Floats,
    ) -> None:
        place[at[COUNT] + TEXT] = text
        flat = flat_of(number, place, at, sizes, diagonal)
        for case in range(first, last):
            set_case(flat, strength, amplitude, capacity, boundary, power, case)
            copy_nodes(flat, at[CAPACITY], at[OWN_CAPACITY])
            done = cyclic_case(flat, period, accuracy, room, sums, memory)
            passes[case], estimate[case] = done
            _store(flat, at[SAMPLE], temperature, case)
            for k in range(3):
                for i in range(flat.nodes):
                    ranges[case, k, i] = sums[k, i]

    return CaseKernels(steady=kernel(steady), cyclic=kernel(cyclic))
