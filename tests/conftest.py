"""What every test run has in common."""

from __future__ import annotations

import os

# Two workers share the machine: one thread each for dense linear algebra. Set before numpy loads.
for _variable in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_variable, "1")

from collections.abc import Generator  # noqa: E402

import pytest  # noqa: E402
from hypothesis import settings  # noqa: E402

# Wall time on a shared machine says nothing about a property: no deadline.
settings.register_profile("local", deadline=None)
settings.register_profile("ci", deadline=None, derandomize=True, print_blob=True)
settings.load_profile("ci" if os.environ.get("CI") else "local")

# In the full check nothing may be left out because a tool is missing.
NO_SKIPS = bool(os.environ.get("THERMNET_FULL"))


def _fail_if_skipped(report: pytest.TestReport | pytest.CollectReport) -> None:
    if NO_SKIPS and report.skipped and not hasattr(report, "wasxfail"):
        report.outcome = "failed"
        report.longrepr = f"skipped, but THERMNET_FULL allows no skips: {report.longrepr}"


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport() -> Generator[None, pytest.TestReport, pytest.TestReport]:
    report: pytest.TestReport = yield
    _fail_if_skipped(report)
    return report


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report() -> Generator[None, pytest.CollectReport, pytest.CollectReport]:
    report: pytest.CollectReport = yield
    _fail_if_skipped(report)
    return report
