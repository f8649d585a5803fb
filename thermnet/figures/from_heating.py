"""From a case's sky and absorbed heat to what the figures draw."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.figure import Figure

from thermnet import __version__
from thermnet.figures.beta_plot import BetaHistory, beta_figure
from thermnet.figures.heat_plot import HeatPanel, heat_figures
from thermnet.figures.style import Stamp
from thermnet.heating import SurfaceHeat
from thermnet.model.model import Model
from thermnet.model.plan import Plan
from thermnet.network.parts import History
from thermnet.network.primitives import Floats
from thermnet.studies.beta_range import beta_history, course


def heat_plot(model: Model, how: Plan, heat: Sequence[SurfaceHeat]) -> list[Figure]:
    """Absorbed heat by surface and cause over the period of a case, with shadow; none without."""
    period = (how.sky.period if how.sky is not None else None) or how.span
    shown = [each for each in heat if each.heat]
    if not shown or period <= 0.0:
        return []
    panels = [
        HeatPanel(
            name=each.name,
            area=each.area,
            heat={
                cause.replace("_", " "): _over(history, period)
                for cause, history in each.heat.items()
            },
            mean={cause.replace("_", " "): watts for cause, watts in each.mean.items()},
            sink=None
            if each.sink is None
            else (each.sink.mean, each.sink.lowest, each.sink.highest),
        )
        for each in shown
    ]
    title = f"{model.name}: {how.title}, absorbed heat"
    return heat_figures(panels, stamp(model, how), title=title, shadow=how.shadows(period))


def beta_plot(model: Model, how: Plan) -> Figure | None:
    """The beta angle of a case's orbit through a year, and its shadow; None without a date."""
    if how.sky is None or how.sky.beta is None or not course(model, how.name).dated:
        return None
    found = beta_history(model, how.name)
    history = BetaHistory(
        days=found.days,
        first=found.first,
        beta=found.beta,
        shadow=found.shadow,
        critical=found.critical,
        marks=((f"case {how.name}", how.sky.beta),),
    )
    title = f"{model.name}: {how.title}, beta angle through a year"
    return beta_figure(history, stamp(model, how), title=title)


def stamp(model: Model, how: Plan) -> Stamp:
    """What the corner of a figure says."""
    return Stamp(model=model.name, case=how.name, hash=model.hash(), version=__version__)


def _over(history: History, period: float) -> tuple[Floats, Floats]:
    """Instants and heat from 0 to the period, also of a constant."""
    if len(history.time) > 1:
        return history.time, history.value
    return np.array([0.0, period]), np.repeat(history.value, 2)
