"""The command `thermnet`: reads arguments, calls the library, prints, and sets the exit status."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from importlib import import_module

from thermnet.cli.status import BAD_INPUT, HOLDS

STATUSES = (
    "exit status: 0 done and all margins hold, 1 a margin fails, 2 bad input, "
    "3 a case could not be solved"
)

OF_POWER = (
    "exit status: 0 done and the power does, 1 power is lacking, the battery is empty or holds "
    "less after each period, or the energy does not close, 2 bad input, 3 a case could not be "
    "solved"
)

ELSEWHERE = {
    name: f"thermnet.cli.{name}"
    for name in (
        "orbit",
        "scan",
        "modes",
        "heaters",
        "power",
        "failures",
        "times",
        "interfaces",
        "blankets",
        "trade",
        "couplings",
        "enclosures",
        "radiators",
        "library",
    )
}
"""The modules of the commands that have one to themselves."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit status."""
    options = parser().parse_args(arguments)
    # Everything heavy is imported by the command that needs it, so that help is quick. Modules
    # stay, so that looking for garbage among them is a tenth of the start-up for nothing.
    from thermnet.text.collector import collector_paused

    with collector_paused():
        from thermnet.errors import InputError

        module = import_module(ELSEWHERE.get(options.command, "thermnet.cli.commands"))

    try:
        return int(getattr(module, options.command)(options))
    except InputError as error:
        print(error, file=sys.stderr)
        count = len(error.problems)
        print(f"{count} problem{'s' if count != 1 else ''}", file=sys.stderr)
        return BAD_INPUT
    except BrokenPipeError:  # whoever reads our output has seen enough
        sys.stderr.close()
        return HOLDS
    except OSError as error:
        print(f"{error.filename or ''}: {error.strerror or error}", file=sys.stderr)
        return BAD_INPUT
    except KeyboardInterrupt:
        print("interrupted", file=sys.stderr)
        return 130


def parser() -> argparse.ArgumentParser:
    """The parser of the command line."""
    top = argparse.ArgumentParser(
        prog="thermnet",
        description="Check a spacecraft against the temperatures its components allow.",
        epilog=STATUSES,
    )
    top.add_argument("--version", action=_Version, nargs=0, help="print the version and stop")
    commands = top.add_subparsers(dest="command", required=True, metavar="COMMAND")

    check = commands.add_parser(
        "check", help="read a model, report every problem, say what each case changes"
    )
    _model(check)
    _changes(check)

    show = commands.add_parser("show", help="show one value: where it stands and who changes it")
    _model(show)
    show.add_argument("path", metavar="PATH", help="path of the value, section.name.key")
    _changes(show)

    orbit = commands.add_parser(
        "orbit", help="show where each case flies, what its surfaces absorb, and their sinks"
    )
    _model(orbit)
    _changes(orbit)
    _output(orbit, "folder for the heat of every surface over time (CSV) and its figures")

    solve = commands.add_parser(
        "solve", help="solve the cases: temperatures, heater duty, energy account"
    )
    _model(solve)
    _changes(solve)
    _solving(solve)
    _output(solve, "folder for results (NetCDF) and temperatures (CSV)")
    solve.add_argument("--heat", metavar="NODE", help="print the heat account of one node too")

    margins = commands.add_parser(
        "margins", help="judge every component in every case, worst first", epilog=STATUSES
    )
    margins.add_argument(
        "inputs", metavar="MODEL", nargs="+", help="model file, or saved results (.nc) of one model"
    )
    _changes(margins)
    _solving(margins)
    _output(margins, "folder for the margin plot, the table (CSV) and the results")
    margins.add_argument("--all", action="store_true", help="list every band in every case")

    scan = commands.add_parser(
        "scan",
        help="find the beta angle that governs each component, worst first",
        description="Solve the cases that fly in an orbit over the beta angle, and name the angle "
        "and the case that govern each component. The season goes with a case's environment, hot "
        "or cold: scan a case of each.",
        epilog=STATUSES,
    )
    _model(scan)
    scan.add_argument(
        "--from",
        metavar="DEG",
        type=float,
        dest="low",
        help="least angle; by default that which the orbit can reach",
    )
    scan.add_argument("--to", metavar="DEG", type=float, dest="high", help="greatest angle")
    scan.add_argument(
        "--step", metavar="DEG", type=float, default=1.0, help="between angles (1 degree)"
    )
    scan.add_argument(
        "--component", metavar="NAME", action="append", default=[], help="judge only this one"
    )
    _changes(scan)
    _solving(scan)
    _output(scan, "folder for a table of every angle that was solved (CSV)")

    _operation(commands)
    _of_blankets(commands)
    _of_couplings(commands)
    plot = commands.add_parser("plot", help="draw margins, temperatures over time, the network")
    plot.add_argument(
        "inputs", metavar="MODEL", nargs="+", help="model file, or saved results (.nc) of one model"
    )
    _changes(plot)
    _solving(plot)
    plot.add_argument("--out", metavar="FOLDER", default=".", help="folder for the figures")
    plot.add_argument(
        "--figure",
        choices=("margins", "slides", "history", "network"),
        default="margins",
        help="margin plot, its slide version, temperatures over time, or the network diagram",
    )
    plot.add_argument("--format", choices=("png", "svg", "pdf"), default="png", help="file format")
    plot.add_argument("--by-group", action="store_true", help="margin plot by subsystem")
    plot.add_argument(
        "--component", metavar="NAME", action="append", default=[], help="only these histories"
    )
    return top


def _operation(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """The commands for a spacecraft as it is operated."""
    modes = commands.add_parser(
        "modes", help="show what every unit gives in each mode, against the budget, and when"
    )
    _model(modes)
    _changes(modes)
    _output(modes, "folder for the units by mode and the steps of the timelines (CSV)")

    heaters = commands.add_parser(
        "heaters",
        help="solve the cases: power, duty, energy, switchings and margin of every heater",
        epilog=STATUSES,
    )
    _model(heaters)
    _changes(heaters)
    _solving(heaters)
    _output(heaters, "folder for the table of heaters (CSV)")

    power = commands.add_parser(
        "power",
        help="solve the cases: what solar cells give, loads take and batteries hold",
        epilog=OF_POWER,
    )
    _model(power)
    _changes(power)
    _solving(power)
    _output(power, "folder for the powers over time (CSV) and their figures")

    failures = commands.add_parser(
        "failures",
        help="solve the cases with one thing failed at a time, worst first",
        epilog=STATUSES,
    )
    _model(failures)
    failures.add_argument(
        "--failure", metavar="NAME", action="append", default=[], help="only this one (repeatable)"
    )
    _changes(failures)
    _solving(failures)
    _output(failures, "folder for the margins with every failure (CSV)")

    times = commands.add_parser(
        "times",
        help="solve transient cases: when limits are reached, and when units may be switched on",
        description="Solve transient cases and say for each component after what time it leaves "
        "its band, or may be switched on, and whether it ever does.",
    )
    _model(times)
    times.add_argument(
        "--since",
        metavar="STEP|TIME",
        default="",
        help="count from this step of the timeline or this time; by default from the last step",
    )
    times.add_argument(
        "--component",
        metavar="NAME",
        action="append",
        default=[],
        help="only this one (repeatable)",
    )
    _changes(times)
    _solving(times)
    _output(times, "folder for the table of times (CSV)")

    interfaces = commands.add_parser(
        "interfaces", help="solve the cases: temperature and heat flow at every interface"
    )
    _model(interfaces)
    _changes(interfaces)
    _solving(interfaces)
    _output(interfaces, "folder for the table of interfaces (CSV)")


def _of_blankets(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """The commands for blankets, and for what the library holds."""
    blankets = commands.add_parser(
        "blankets",
        help="solve the cases: what leads heat through every blanket, term by term, and why",
    )
    _model(blankets)
    _changes(blankets)
    _solving(blankets)
    _output(blankets, "folder for the table of terms (CSV) and the heat flow over pressure")

    trade = commands.add_parser(
        "trade",
        help="heater power that holds a component in the cold, against the quality of its blanket",
        description="For each value of a blanket: the heater power that holds a component at its "
        "lower limit in the cold case, and its margin in the hot case.",
    )
    _model(trade)
    trade.add_argument("--component", metavar="NAME", required=True, help="component to hold")
    trade.add_argument(
        "--blanket", metavar="NAME", help="blanket; by default the one over the component"
    )
    trade.add_argument(
        "--path", metavar="PATH", help="other number to change than that of the blanket's quality"
    )
    trade.add_argument("--from", metavar="X", type=float, dest="low", help="least value")
    trade.add_argument("--to", metavar="X", type=float, dest="high", help="greatest value")
    trade.add_argument(
        "--points", metavar="N", type=int, default=7, help="how many values between them (7)"
    )
    trade.add_argument("--values", metavar="X,X", help="instead: these values")
    trade.add_argument("--cold", metavar="CASE", help="cold case; by default the first of them")
    trade.add_argument("--hot", metavar="CASE", help="hot case; by default the first of them")
    trade.add_argument(
        "--at", metavar="TEMPERATURE", help="temperature to hold, instead of the lower limit"
    )
    _set(trade)
    _solving(trade)
    _output(trade, "folder for the table (CSV) and the figure")

    library = commands.add_parser(
        "library", help="list what the library knows, with the source of every number"
    )
    library.add_argument("table", metavar="TABLE", nargs="?", help="finishes, gases ...")
    library.add_argument("name", metavar="NAME", nargs="?", help="one row of the table")
    library.add_argument("--model", metavar="MODEL", help="model file that changes or adds rows")
    library.add_argument(
        "--used", action="store_true", help="only the rows that the model uses, and where"
    )
    library.add_argument("--json", action="store_true", help="print JSON for programs")


def _of_couplings(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """The commands for what joins nodes to each other and to space."""
    couplings = commands.add_parser(
        "couplings",
        help="solve the cases: heat and conductance of everything that joins nodes, and why",
    )
    _model(couplings)
    _changes(couplings)
    _solving(couplings)
    _output(couplings, "folder for the table of couplings (CSV)")

    enclosures = commands.add_parser(
        "enclosures",
        help="show how far view factors keep to reciprocity and closure, and what they make",
    )
    _model(enclosures)
    _changes(enclosures)
    _output(enclosures, "folder for the exchange areas of every enclosure (CSV)")

    radiators = commands.add_parser(
        "radiators",
        help="solve the cases: rejected heat, sink temperature and excess area of every radiator",
    )
    _model(radiators)
    _changes(radiators)
    _solving(radiators)
    _output(radiators, "folder for the table of radiators (CSV)")


class _Version(argparse.Action):
    def __call__(self, parser: argparse.ArgumentParser, *_: object) -> None:
        from thermnet import __version__

        print(f"thermnet {__version__}")
        parser.exit()


def _model(command: argparse.ArgumentParser) -> None:
    command.add_argument("model", metavar="MODEL", help="model file (YAML)")


def _changes(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--case", metavar="NAME", action="append", default=[], help="only this case (repeatable)"
    )
    _set(command)


def _set(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--set",
        metavar="PATH=VALUE",
        action="append",
        default=[],
        dest="changes",
        help="another value at a path, in SI units or with a unit (repeatable)",
    )
    command.add_argument("--json", action="store_true", help="print JSON for programs")


def _solving(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--accuracy", metavar="KELVIN", type=float, default=0.01, help="of histories (0.01 K)"
    )
    command.add_argument("--method", metavar="NAME", default="", help="integrator of histories")


def _output(command: argparse.ArgumentParser, text: str) -> None:
    command.add_argument("--out", metavar="FOLDER", help=text)
