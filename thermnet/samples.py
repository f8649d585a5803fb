"""Heat of some entries of the model at every sample of a solution."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from thermnet.network.network import Network, heater_powers, sources
from thermnet.network.primitives import CONSTANT, Floats
from thermnet.network.subset import blocks, subset
from thermnet.solve.solution import Record


def heats_by_path(
    network: Network, paths: Sequence[str], record: Record, *, bent: bool = True
) -> Floats:
    """Heat [W] of each path at every sample of a record, f8[q, len(paths)].

    Without `bent` as if no heat hung on a temperature.
    """
    column = _places(network, paths)[network.heats.origin]
    few = subset(network, heats=column >= 0)
    column = column[column >= 0]
    if not bent:
        few = replace(few, heats=replace(few.heats, curve=np.full_like(few.heats.curve, CONSTANT)))
    result = np.zeros((len(record.time), len(paths)))
    for part in blocks(len(record.time), few.histories.start.shape[1]):
        given = sources(few, record.temperature[part], record.local_time[part])
        for k in range(len(paths)):
            result[part, k] = given[:, column == k].sum(axis=1)
    return result


def heater_heat(
    network: Network, names: Sequence[str], record: Record, *, full: bool = False
) -> Floats:
    """Heat f8[q] [W] of some heater circuits, all together, at every sample of a record.

    With `full` what they would give, as far as they are enabled, if they were fully on.
    """
    paths = [f"heaters.{name}" for name in names]
    chosen = _places(network, paths)[network.thermostats.origin] >= 0
    found = heats_by_path(network, paths, record, bent=not full).sum(axis=1)
    few = subset(network, thermostats=chosen)
    samples = len(record.time) if chosen.any() else 0
    for part in blocks(samples, few.histories.start.shape[1]):
        duty = record.duty[part][:, chosen]
        states = np.ones_like(duty) if full else duty
        found[part] += heater_powers(few, states, record.local_time[part]).sum(axis=1)
    return np.asarray(found)


def _places(network: Network, paths: Sequence[str]) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    """For each origin of a network its place among some paths, -1 for none."""
    place = {path: k for k, path in enumerate(paths)}
    return np.array([place.get(origin, -1) for origin in network.origins], dtype=np.int64)
