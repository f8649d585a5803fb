"""Every code block of the documentation runs, and what a page shows as output is compared.

A page is played from top to bottom in a directory of its own, with `cases/` beside it:

- `yaml` blocks that begin with `# file: NAME` are written to that file; others must be readable.
- `console` blocks hold `$ thermnet ...` (or `$ echo $?`, `$ ls ...`, `$ cat ...`) and below it what
  is printed, where a line `...` stands for any lines. Without output shown, any output passes, but
  the exit status must be 0 unless `$ echo $?` follows.
- `python` blocks share one namespace; what they print is compared with a `text` block that follows.
- `sh` blocks make an environment: `.ci/run` runs those of the README.
"""

from __future__ import annotations

import contextlib
import io
import os
import re
import shlex
import shutil
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import zip_longest
from pathlib import Path

import pytest

from tests.full import only_in_full
from thermnet.text import tree

ROOT = Path(__file__).parents[1]
PAGES = [
    ROOT / "README.md",
    ROOT / "DEVELOPERS.md",
    *sorted((ROOT / "docs").rglob("*.md")),
    *sorted((ROOT / "cases").rglob("*.md")),
]
LANGUAGES = {"console", "python", "sh", "text", "yaml"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """A fenced block: its language, text and first line in the page."""

    language: str
    text: str
    line: int


def blocks(page: str) -> Iterator[Block]:
    """The fenced blocks of a page, in order."""
    for match in re.finditer(r"^```(\S*)\n(.*?)^```$", page, re.MULTILINE | re.DOTALL):
        line = page.count("\n", 0, match.start()) + 2
        yield Block(language=match[1], text=match[2], line=line)


def commands(block: Block) -> Iterator[tuple[str, str]]:
    """The commands of a console block, each with the output shown below it."""
    for part in re.split(r"^\$ ", block.text, flags=re.MULTILINE)[1:]:
        command, _, shown = part.partition("\n")
        yield command, shown


ROUNDING = re.compile(r"[ +-]?\b\d\.\d+e-[1-9]\d\b|[ +-]?\b0\.0e\+00\b")
"""A number below 1e-9, which is another one on another machine."""


def agrees(shown: str, printed: str) -> bool:
    """Whether the output is what the page shows; a line `...` stands for any lines.

    Numbers that are rounding alone stand for each other.
    """
    shown, printed = (ROUNDING.sub(" tiny", text) for text in (shown, printed))
    pieces = [re.escape(line.rstrip()) for line in shown.strip("\n").splitlines()]
    pattern = "".join("(?:.*\n)*?" if piece == r"\.\.\." else piece + "\n" for piece in pieces)
    lines = [line.rstrip() for line in printed.strip("\n").splitlines()]
    return re.fullmatch(pattern, "".join(f"{line}\n" for line in lines)) is not None


def run_console(block: Block, folder: Path) -> None:
    """Run the commands of a block in turn; raises AssertionError on another output or status."""
    turns = list(commands(block))
    assert turns, "a console block has commands after `$ `"
    status = 0
    for (command, shown), following in zip_longest(turns, turns[1:]):
        if command == "echo $?":
            assert shown.strip() == str(status), f"exit status {status}"
            continue
        program, *arguments = shlex.split(command)
        assert program in ("thermnet", "ls", "cat"), f"no page should ask for {program}"
        start = [sys.executable, "-m", "thermnet"] if program == "thermnet" else [program]
        run = subprocess.run(
            [*start, *arguments],
            cwd=folder,
            env=os.environ | {"PYTHONPATH": str(ROOT), "COLUMNS": "100"},
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            timeout=120,
            check=False,
        )
        status, printed = run.returncode, run.stdout
        asked = following is not None and following[0] == "echo $?"
        assert asked or status == 0, f"`{command}` ended with {status}:\n{printed}"
        assert not shown.strip() or agrees(shown, printed), f"`{command}` printed:\n{printed}"


def run_python(block: Block, names: dict[str, object]) -> str:
    """Run a block with the names of the blocks before it, and return what it printed."""
    printed = io.StringIO()
    with contextlib.redirect_stdout(printed):
        exec(compile("\n" * (block.line - 1) + block.text, "<page>", "exec"), names)
    return printed.getvalue()


def write_yaml(block: Block, folder: Path) -> None:
    """Write a block that names its file; check that any other can be read."""
    named = re.match(r"# file: (\S+)\n", block.text)
    if named:
        (folder / named[1]).write_text(block.text, encoding="utf-8")
    else:
        _, problems = tree.compose(block.text, "page")
        assert not problems, problems


def play(page: str, folder: Path) -> None:
    """Play a page from top to bottom."""
    names: dict[str, object] = {"__name__": "page"}
    printed = ""
    for block in blocks(page):
        try:
            assert block.language in LANGUAGES, f"no way to run '{block.language}'"
            match block.language:
                case "console":
                    run_console(block, folder)
                case "python":
                    printed = run_python(block, names)
                    continue
                case "yaml":
                    write_yaml(block, folder)
                case "text":
                    assert not printed or agrees(block.text, printed), f"printed:\n{printed}"
            printed = ""
        except Exception as error:
            error.add_note(f"in the block at line {block.line} of the page")
            raise


FIRST = {"README.md"}
"""Pages of the usual run; the others solve case after case, each in a process of its own."""


@pytest.mark.parametrize(
    "path",
    [
        pytest.param(
            path, id=str(path.relative_to(ROOT)), marks=() if path.name in FIRST else only_in_full
        )
        for path in PAGES
    ],
)
def test_every_block_of_a_page_runs(
    path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shutil.copytree(ROOT / "cases", tmp_path / "cases")
    monkeypatch.chdir(tmp_path)
    play(path.read_text(encoding="utf-8"), tmp_path)


def test_the_commands_that_make_an_environment_stand_where_the_full_check_finds_them() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    lines = [
        line
        for block in blocks(readme)
        if block.language == "sh"
        for line in block.text.splitlines()
    ]
    first, second = (line for line in lines if line.startswith("python3 -m venv "))
    assert first.endswith("thermnet margins cases/microsatellite/model.yaml --out out")
    assert second.endswith("pytest")
    assert all(line.startswith(("python3 -m venv ", "git clone ", "cd ")) for line in lines)


@pytest.mark.parametrize("path", PAGES, ids=[str(path.relative_to(ROOT)) for path in PAGES])
def test_links_inside_the_documentation_lead_somewhere(path: Path) -> None:
    text = re.sub(
        r"^```.*?^```$", "", path.read_text(encoding="utf-8"), flags=re.MULTILINE | re.DOTALL
    )
    targets = [t.split("#")[0] for t in re.findall(r"\]\(([^)]+)\)", text) if "://" not in t]
    assert [t for t in targets if t and not (path.parent / t).exists()] == []


@pytest.mark.parametrize(
    ("page", "complaint"),
    [
        ("```python\nraise AssertionError('odd')\n```\n", "odd"),
        ("```python\nprint(1)\n```\n```text\n2\n```\n", "printed"),
        ("```console\n$ thermnet --no-such-option\n```\n", "ended with 2"),
        ("```console\n$ thermnet --help\nnothing of the kind\n```\n", "printed"),
        ("```yaml\na: [1\n```\n", "page"),
        ("```fortran\n```\n", "no way to run"),
    ],
    ids=["python", "python output", "status", "output", "yaml", "language"],
)
def test_a_wrong_page_is_found(page: str, complaint: str, tmp_path: Path) -> None:
    with pytest.raises(AssertionError, match=complaint):
        play(page, tmp_path)


def test_dots_on_a_line_stand_for_any_lines() -> None:
    assert agrees("first\n...\nlast\n", "first\nmore\nmore\nlast\n")
    assert agrees("first\n...\n", "first\n")
    assert not agrees("first\nlast\n", "first\nmore\nlast\n")
    assert agrees("left +6.7e-16\n", "left -1.1e-15\n")
    assert agrees("left 0.0e+00 of it\n", "left 2.2e-16 of it\n")
    assert not agrees("left +6.7e-16\n", "left -1.1e-05\n")
