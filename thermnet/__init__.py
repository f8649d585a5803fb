"""Thermal networks of spacecraft: from a described model to margins.

The names below are the public interface. Each is fetched from its module when it is first used,
so that `import thermnet` brings in nothing heavy.
"""

from __future__ import annotations

import sys
from importlib import import_module
from types import ModuleType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from thermnet.account import Account, account
    from thermnet.blankets import (
        BlanketRow,
        BlanketTotal,
        OverPressure,
        blanket_table,
        blanket_totals,
        over_pressure,
    )
    from thermnet.couplings import CouplingRow, coupling_table
    from thermnet.enclosures import EnclosureTable, enclosure_table
    from thermnet.energy import Energy, energy
    from thermnet.errors import InputError
    from thermnet.heaters import HeaterRow, HeatersTogether, heater_table, heaters_together
    from thermnet.heating import SurfaceHeat, surface_heat
    from thermnet.interfaces import InterfaceRow, interface_table
    from thermnet.margins import Margin, governing, margins
    from thermnet.model.model import Model
    from thermnet.model.paths import vary
    from thermnet.model.read import load
    from thermnet.radiators import RadiatorRow, radiator_table
    from thermnet.results import Result, solve, solve_cases
    from thermnet.saved import open_result, save
    from thermnet.solve.adjoint import Output, gradients, of_node
    from thermnet.solve.adjoint_sums import Gradient, by_origin
    from thermnet.solve.cyclic import cyclic
    from thermnet.solve.many import cyclic_many, steady_many
    from thermnet.solve.solution import Options, Solution
    from thermnet.solve.steady import steady
    from thermnet.solve.transient import transient
    from thermnet.solve.variants import Variants
    from thermnet.studies.failures import FailureRow, failures
    from thermnet.studies.trade import Trade, trade
    from thermnet.used import rows_used

__version__ = "0.1.0"

__all__ = [
    "Account",
    "BlanketRow",
    "BlanketTotal",
    "CouplingRow",
    "EnclosureTable",
    "Energy",
    "FailureRow",
    "Gradient",
    "HeaterRow",
    "HeatersTogether",
    "InputError",
    "InterfaceRow",
    "Margin",
    "Model",
    "Options",
    "Output",
    "OverPressure",
    "RadiatorRow",
    "Result",
    "Solution",
    "SurfaceHeat",
    "Trade",
    "Variants",
    "__version__",
    "account",
    "blanket_table",
    "blanket_totals",
    "by_origin",
    "coupling_table",
    "cyclic",
    "cyclic_many",
    "enclosure_table",
    "energy",
    "failures",
    "governing",
    "gradients",
    "heater_table",
    "heaters_together",
    "interface_table",
    "load",
    "margins",
    "of_node",
    "open_result",
    "over_pressure",
    "radiator_table",
    "rows_used",
    "save",
    "solve",
    "solve_cases",
    "steady",
    "steady_many",
    "surface_heat",
    "trade",
    "transient",
    "vary",
]

_HOME = {
    "rows_used": "thermnet.used",
    "radiator_table": "thermnet.radiators",
    "RadiatorRow": "thermnet.radiators",
    "enclosure_table": "thermnet.enclosures",
    "EnclosureTable": "thermnet.enclosures",
    "coupling_table": "thermnet.couplings",
    "CouplingRow": "thermnet.couplings",
    "trade": "thermnet.studies.trade",
    "Trade": "thermnet.studies.trade",
    "over_pressure": "thermnet.blankets",
    "OverPressure": "thermnet.blankets",
    "blanket_totals": "thermnet.blankets",
    "blanket_table": "thermnet.blankets",
    "BlanketTotal": "thermnet.blankets",
    "BlanketRow": "thermnet.blankets",
    "Account": "thermnet.account",
    "Energy": "thermnet.energy",
    "FailureRow": "thermnet.studies.failures",
    "Gradient": "thermnet.solve.adjoint_sums",
    "HeaterRow": "thermnet.heaters",
    "HeatersTogether": "thermnet.heaters",
    "InputError": "thermnet.errors",
    "InterfaceRow": "thermnet.interfaces",
    "Margin": "thermnet.margins",
    "Model": "thermnet.model.model",
    "Options": "thermnet.solve.solution",
    "Output": "thermnet.solve.adjoint",
    "Result": "thermnet.results",
    "Solution": "thermnet.solve.solution",
    "SurfaceHeat": "thermnet.heating",
    "Variants": "thermnet.solve.variants",
    "account": "thermnet.account",
    "by_origin": "thermnet.solve.adjoint_sums",
    "cyclic": "thermnet.solve.cyclic",
    "cyclic_many": "thermnet.solve.many",
    "energy": "thermnet.energy",
    "failures": "thermnet.studies.failures",
    "governing": "thermnet.margins",
    "gradients": "thermnet.solve.adjoint",
    "heater_table": "thermnet.heaters",
    "heaters_together": "thermnet.heaters",
    "interface_table": "thermnet.interfaces",
    "load": "thermnet.model.read",
    "margins": "thermnet.margins",
    "of_node": "thermnet.solve.adjoint",
    "open_result": "thermnet.saved",
    "save": "thermnet.saved",
    "solve": "thermnet.results",
    "solve_cases": "thermnet.results",
    "steady": "thermnet.solve.steady",
    "steady_many": "thermnet.solve.many",
    "surface_heat": "thermnet.heating",
    "transient": "thermnet.solve.transient",
    "vary": "thermnet.model.paths",
}


if not TYPE_CHECKING:  # a type checker that saw this would accept any name

    def __getattr__(name: str) -> object:
        if name not in _HOME:
            raise AttributeError(f"thermnet has no public name '{name}'")
        return getattr(import_module(_HOME[name]), name)


def __dir__() -> list[str]:
    return list(__all__)


class _Package(ModuleType):
    """Keeps `thermnet.margins` the function.

    On its first import Python binds a module to its package, and `margins`, `account` and `solve`
    name a module or room as well as a function. The function wins; modules are imported by
    `from thermnet.margins import ...`, which does not look here.
    """

    def __setattr__(self, name: str, value: object) -> None:
        if not (name in _HOME and isinstance(value, ModuleType)):
            super().__setattr__(name, value)


sys.modules[__name__].__class__ = _Package
