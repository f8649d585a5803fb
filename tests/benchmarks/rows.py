"""Every benchmark by name, in the order of the table."""

from __future__ import annotations

from collections.abc import Callable

from tests.benchmarks import (
    rows_exchange,
    rows_files,
    rows_heat,
    rows_orbit,
    rows_steady,
    rows_studies,
    rows_transient,
)
from tests.benchmarks.measure import Bench, Row

ROWS: dict[str, Callable[[Bench], Row]] = {
    "steady-starts": rows_steady.steady_starts,
    "steady-enclosure": rows_steady.steady_enclosure,
    "steady-long-range": rows_steady.steady_long_range,
    "steady-root": rows_steady.steady_root,
    "steady-thermostats": rows_steady.steady_thermostats,
    "transient-mesh": rows_transient.transient_mesh,
    "transient-long-range": rows_transient.transient_long_range,
    "small-switching": rows_transient.small_switching,
    "switching-mesh": rows_transient.switching_mesh,
    "agreement": rows_transient.agreement,
    "orbit-slow-node": rows_orbit.orbit_slow_node,
    "orbit-thermostats": rows_orbit.orbit_thermostats,
    "orbit-microsatellite": rows_orbit.orbit_microsatellite,
    "orbit-large": rows_files.orbit_large,
    "orbit-enclosure": rows_files.orbit_enclosure,
    "orbit-heat": rows_heat.orbit_heat,
    "growth": rows_orbit.growth,
    "sweeps": rows_studies.sweeps,
    "gradients": rows_studies.gradients,
    "exchange-areas": rows_exchange.exchange_areas,
    "loading": rows_files.loading,
    "start-up": rows_files.start_up,
}
