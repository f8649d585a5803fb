"""What the repository holds, and what it must not hold."""

from __future__ import annotations

import re
import subprocess
import tomllib
from pathlib import Path

import pytest

from tests.plant_mistakes import MISTAKES

ROOT = Path(__file__).parents[1]
TOP_LEVEL = {
    "DEVELOPERS.md", "LICENSE", "README.md", "cases", "docs", "pyproject.toml", "tests", "thermnet",
}  # fmt: skip

LONGEST = 400
LONGER_FILES: dict[str, str] = {
    # file: why it is one thing that would be harder to read in two
}


def kept_files() -> list[Path]:
    """Files under version control, and new ones that are not ignored."""
    if not (ROOT / ".git").exists():
        pytest.skip("not a git clone")
    command = ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"]
    listed = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True).stdout
    return [ROOT / name for name in listed.split("\0") if name and (ROOT / name).is_file()]


def lines_with(pattern: str) -> list[str]:
    """Lines of text files that hold the pattern, as `file:line: text`."""
    found = []
    for path in kept_files():
        try:
            lines = path.read_text(encoding="utf-8").splitlines()
        except UnicodeDecodeError:
            continue
        found += [
            f"{path.relative_to(ROOT)}:{number}: {line.strip()}"
            for number, line in enumerate(lines, start=1)
            if re.search(pattern, line)
        ]
    return found


def project() -> dict[str, object]:
    text = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    table: dict[str, object] = tomllib.loads(text)["project"]
    return table


def test_the_top_level_holds_the_agreed_set() -> None:
    heads = {path.relative_to(ROOT).parts[0] for path in kept_files()}
    assert {head for head in heads if not head.startswith(".")} == TOP_LEVEL


def test_no_path_of_a_machine_stands_in_a_file() -> None:
    assert lines_with(r"/(work|tmp|root|home|farm|Users)/") == []


def test_no_host_of_a_package_registry_stands_in_a_file() -> None:
    assert lines_with(r"(pypi|pythonhosted|npmjs|debian|conda)[.](org|io|com)") == []


def test_no_conflict_marker_stands_in_a_file() -> None:
    assert lines_with(r"^(<{7}|>{7}) ") == []


def test_every_planted_mistake_fits_the_code() -> None:
    counts = {
        mistake.name: (ROOT / mistake.file).read_text(encoding="utf-8").count(mistake.right)
        for mistake in MISTAKES
    }
    assert set(counts.values()) == {1}, counts


def test_files_of_code_stay_short() -> None:
    long = {
        str(path.relative_to(ROOT)): count
        for path in kept_files()
        if path.suffix == ".py"
        and (count := len(path.read_text(encoding="utf-8").splitlines())) > LONGEST
    }
    assert long.keys() == LONGER_FILES.keys(), long


def test_the_first_paragraph_of_the_readme_states_the_whole_job() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    title, first = text.split("\n\n")[:2]
    assert title.startswith("# thermnet")
    for word in ("YAML", "hot and cold", "heat", "margin", "plot", "Python"):
        assert word in first


def test_the_license_names_the_authors() -> None:
    text = (ROOT / "LICENSE").read_text(encoding="utf-8")
    assert "BSD 3-Clause" in text
    assert "2026, The thermnet authors" in text


def test_every_dependency_has_a_lowest_version_that_the_full_check_can_pin() -> None:
    dependencies = project()["dependencies"]
    assert isinstance(dependencies, list)
    assert all(re.fullmatch(r"[a-z]+>=\d+(\.\d+)+", entry) for entry in dependencies)
