"""The repository keeps its own rules: style, types, import direction, size, shape, current docs."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from assistant.job.diagram import mermaid
from tests.real_parts import require

ROOT = Path(__file__).parents[1]
LONGEST_MODULE = 400
TOP_LEVEL = {
    "README.md",
    "DEVELOPERS.md",
    "LICENSE",
    "pyproject.toml",
    "requirements.lock",
    "assistant",
    "checklists",
    "tests",
    "audio_fixtures",
}


@pytest.mark.parametrize(
    "command",
    [
        ("ruff", "check", "."),
        ("ruff", "format", "--check", "."),
        ("mypy",),
        ("lint-imports",),
    ],
    ids=" ".join,
)
def test_a_checker_finds_nothing(command: tuple[str, ...]) -> None:
    """Linter, formatter, type checker and the contract of the rooms are all content."""
    program = shutil.which(command[0], path=str(Path(sys.executable).parent))
    require(program, f"{command[0]} is not installed; it comes with the extra [test]")
    assert program is not None
    ran = subprocess.run(
        [program, *command[1:]], cwd=ROOT, capture_output=True, text=True, check=False, timeout=300
    )
    assert ran.returncode == 0, (ran.stdout + ran.stderr)[-4000:]


def tracked() -> list[str]:
    """Files under version control."""
    require(
        shutil.which("git") and (ROOT / ".git").exists(), "git, or this is no working copy of it"
    )
    listed = subprocess.run(
        ["git", "-c", f"safe.directory={ROOT}", "ls-files", "-z"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
    )
    return [name for name in listed.stdout.split("\0") if name]


def test_the_top_level_holds_what_belongs_there() -> None:
    """Nothing but the agreed files and folders, and dot-files, lies at the top."""
    top = {name.split("/")[0] for name in tracked()}
    assert {name for name in top if not name.startswith(".")} == TOP_LEVEL


def test_nothing_built_is_under_version_control() -> None:
    """No cache, no byte code, no record of a job, no virtual environment is committed."""
    built = (".pyc", ".egg-info", "journal.jsonl", ".mypy_cache", ".venv", ".hypothesis")
    assert [name for name in tracked() if any(part in name for part in built)] == []


def test_no_module_is_too_long() -> None:
    """Modules stay short enough to be read in one sitting."""
    lengths = {
        str(path.relative_to(ROOT)): len(path.read_text(encoding="utf-8").splitlines())
        for path in (ROOT / "assistant").rglob("*.py")
        if "bundled" not in path.parts
    }
    assert len(lengths) > 100
    assert {name: lines for name, lines in lengths.items() if lines > LONGEST_MODULE} == {}


def test_the_developers_guide_shows_the_dialogue_as_it_is() -> None:
    """The diagram in DEVELOPERS.md is the one that the transition table gives today."""
    guide = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert f"```mermaid\n{mermaid().strip()}\n```" in guide


def test_the_readme_s_commands_are_there_to_be_run() -> None:
    """Both one-line commands stand in README.md as .ci/run and a new user take them."""
    readme = (ROOT / "README.md").read_text(encoding="utf-8").splitlines()
    install = "python3 -m venv .venv && .venv/bin/pip install -q -c requirements.lock "
    commands = [line for line in readme if line.startswith("python3 -m venv")]
    assert len(commands) == 2
    assert all(line.startswith(install) for line in commands)
    assert commands[0].endswith("gloveson rehearse")
    assert "-m pytest" in commands[1]
