"""What every command reads."""

from __future__ import annotations

import pytest

from thermnet.cli.main import main

BAD_INPUT = 2  # as `thermnet --help` documents it


@pytest.mark.parametrize(
    "command",
    ["check", "solve", "modes", "heaters", "power", "failures", "times", "interfaces", "orbit"],
)
def test_saved_results_are_no_model_file(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([command, "hot.nc"]) == BAD_INPUT
    told = capsys.readouterr().err
    assert "hot.nc: these are saved results; this command needs the model file" in told
