"""`python -m tests.benchmarks [names ...] [--quick]`: how fast, beside what else there is.

Every row is measured in one process, its subjects in turns, in CPU time, with BLAS on one thread.
Exit status: 0 when every row is met or listed with its reason under "Speed goals not reached" in
docs/limits.md, 1 otherwise, 2 for a wrong command. A quick look judges nothing.
"""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path

ONE_THREAD = dict.fromkeys(
    ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS", "BLIS_NUM_THREADS"), "1"
)


def say(text: str) -> None:
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()


def main() -> int:
    if any(os.environ.get(name) != value for name, value in ONE_THREAD.items()):
        # They count only before numpy is first imported, whoever imports it.
        again = [sys.executable, "-m", "tests.benchmarks", *sys.argv[1:]]
        os.execve(sys.executable, again, os.environ | ONE_THREAD)
    from tests.benchmarks.measure import Bench, Row, machine
    from tests.benchmarks.report import LIMITS, excused, figure, markdown, plainly, verdict
    from tests.benchmarks.rows import ROWS

    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__)
    parser.add_argument("names", nargs="*", metavar="NAME", help="only these rows")
    parser.add_argument("--list", action="store_true", help="print the names of all rows")
    parser.add_argument("--quick", action="store_true", help="small models; judge nothing")
    parser.add_argument("--markdown", action="store_true", help="print the documentation's tables")
    parser.add_argument("--figure", type=Path, metavar="PATH", help="draw row `growth` as PNG")
    asked = parser.parse_args()
    unknown = sorted(set(asked.names) - ROWS.keys())
    if unknown:
        parser.error(f"no row is called {', '.join(unknown)}; --list names them")
    if asked.list:
        say("\n".join(ROWS))
        return 0

    bench, excuses = Bench(quick=asked.quick), excused(LIMITS.read_text(encoding="utf-8"))
    say(f"{machine()}\n")
    found: list[Row] = []
    for name, run in ROWS.items():
        if asked.names and name not in asked.names:
            continue
        try:
            row = run(bench)
        except Exception as error:  # noqa: BLE001 -- the other rows are wanted all the same
            row = Row(name=name, workload="", note=f"failed: {type(error).__name__}: {error}")
        found.append(row)
        say(plainly(row, "" if asked.quick and row.goals else verdict(row, excuses)) + "\n")
        if name == "growth" and asked.figure and row.goals:
            figure(row, asked.figure)
    if asked.markdown:
        say(markdown(found))
    if asked.quick:
        say("a quick look: small models, nothing judged")
        return int(any(not row.goals for row in found))
    unmet = [row.name for row in found if not row.met and row.name not in excuses]
    say(f"{sum(row.met for row in found)} of {len(found)} met")
    if unmet:
        say(f"not met, and not listed in docs/limits.md: {', '.join(unmet)}")
    return int(bool(unmet))


if __name__ == "__main__":
    sys.exit(main())
