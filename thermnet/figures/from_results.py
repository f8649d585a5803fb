"""From solved cases to what the figures draw."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.figure import Figure

from thermnet import __version__
from thermnet.figures.diagram import network_figure
from thermnet.figures.history_plot import Extreme, Interval, Panel, history_figures
from thermnet.figures.margin_plot import Foot, margin_figures
from thermnet.figures.mode_strip import Stretch, stretches
from thermnet.figures.style import Stamp
from thermnet.heaters import heating
from thermnet.margins import Summary, summaries
from thermnet.model.kinds.component import Component
from thermnet.model.kinds.settings import Uncertainty
from thermnet.model.usable import components as judged
from thermnet.network.graph import graph
from thermnet.results import Result
from thermnet.states import holder


def margin_plot(
    results: Sequence[Result], *, compact: bool = False, by_group: bool = False
) -> list[Figure]:
    """The margin plot of several cases of one model, one figure for each page."""
    return margin_figures(summaries(results), foot(results), compact=compact, by_group=by_group)


def foot(results: Sequence[Result]) -> Foot:
    """What the margin plot states at its foot."""
    voltages: dict[float, list[str]] = {}
    for result in results:
        if result.plan.bus_voltage is not None:
            voltages.setdefault(result.plan.bus_voltage, []).append(result.case)
    return Foot(
        model=results[0].model.name,
        cases=tuple(result.plan.title for result in results),
        policy=policy_words(results[0].model.settings.uncertainty),
        bus_voltage=", ".join(
            f"{volts:g} V ({', '.join(cases)})" for volts, cases in sorted(voltages.items())
        ),
        hash=results[0].model.hash(),
        version=__version__,
    )


def policy_words(policy: Uncertainty) -> str:
    """The uncertainty policy in words."""
    tested = "balance tested" if policy.balance_tested else "not balance tested"
    words = {
        "flat": f"flat {policy.allowance or 0.0:g} K",
        "none": "no uncertainty allowance",
        "SMC-S-016": f"SMC-S-016, {tested}",
    }[policy.policy]
    return f"{words}; held items: heater duty up to {100 * policy.heater_duty:.0f} %"


def history_plot(result: Result, components: Sequence[str] = ()) -> list[Figure]:
    """Temperatures over time of some components, all by default, in one case."""
    entries = judged(result.model)
    rows = {row.component: row for row in summaries([result]) if not row.is_limit}
    names = components or list(rows)
    panels = [_panel(result, name, entries[name], rows[name]) for name in names]
    stamp = Stamp(
        model=result.model.name,
        case=result.case,
        hash=result.model.hash(),
        version=__version__,
    )
    title = f"{result.model.name}: {result.plan.title}"
    last = float(result.solution.record.time[-1])
    shadow = result.plan.shadows(last) if result.solution.kind != "steady" else ()
    return history_figures(panels, stamp, title=title, shadow=shadow, modes=_modes(result, last))


def _modes(result: Result, last: float) -> tuple[Stretch, ...]:
    """The modes of a case from 0 to `last` [s]; none without modes, nor in a steady case."""
    done = result.plan.activity
    if done is None or result.solution.kind == "steady":
        return ()
    repeats = result.plan.span if result.solution.kind == "repeating" else None
    return stretches(done, last, repeats)


def diagram(result: Result) -> Figure:
    """The network of a case as a diagram."""
    stamp = Stamp(
        model=result.model.name, case=result.case, hash=result.model.hash(), version=__version__
    )
    title = f"{result.model.name}: {len(result.network.names)} nodes"
    whole = graph(result.network)
    return network_figure(whole, stamp, title=title, groups=result.model.node_groups())


def _panel(result: Result, name: str, entry: Component, row: Summary) -> Panel:
    solution, network = result.solution, result.network
    nodes = [network.index(node) for node in entry.nodes]
    # The samples of every step show what output instants would miss.
    record = solution.record
    highest = np.argmax(solution.extremes.highest[:, nodes].max(axis=0))
    node = nodes[int(highest)]
    return Panel(
        name=name if len(nodes) == 1 else f"{name} ({network.names[node]})",
        t=record.time,
        temperature=record.temperature[:, node],
        bands=row.bands,
        lowest=_extreme(result, node, "lowest"),
        highest=_extreme(result, node, "highest"),
        heater_on=_heater_on(result, entry),
    )


def _extreme(result: Result, node: int, which: str) -> Extreme:
    extremes = result.solution.extremes
    values = getattr(extremes, which)[:, node]
    best = int(values.argmin() if which == "lowest" else values.argmax())
    instant = getattr(extremes, f"{which}_at")[best, node]
    return Extreme(instant=float(instant), temperature=float(values[best]))


def _heater_on(result: Result, entry: Component) -> tuple[Interval, ...]:
    """When the heater that holds an item, or its spare, heats."""
    held = holder(result, entry)
    if held is None:
        return ()
    return _intervals(result.solution.record.time, heating(result, held[0]))


def _intervals(time: np.ndarray, inside: np.ndarray) -> tuple[Interval, ...]:
    """The stretches of time in which a flag holds."""
    padded = np.concatenate([[False], inside, [False]])
    begins = np.flatnonzero(~padded[:-1] & padded[1:])
    ends = np.flatnonzero(padded[:-1] & ~padded[1:]) - 1
    return tuple(
        (float(time[begin]), float(time[end])) for begin, end in zip(begins, ends, strict=True)
    )
