"""Settings and fixtures shared by all tests."""

import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest
from hypothesis import settings

# Shared machines stall for moments; what must be quick is timed by tests that say so.
settings.register_profile("settscan", deadline=None)
settings.load_profile("settscan")


@dataclass(frozen=True)
class Demo:
    """What `settscan demo` left: its folder, exit code and words."""

    folder: Path
    code: int
    out: str
    err: str


@pytest.fixture(scope="session")
def settscan():
    """Runs the installed program as a person does: `settscan("plan", "x.toml", cwd=folder)`."""
    program = shutil.which("settscan", path=str(Path(sys.executable).parent))
    assert program, "settscan is not installed beside this Python"

    def run(*arguments, cwd):
        words = [program, *map(str, arguments)]
        done = subprocess.run(words, cwd=cwd, capture_output=True, encoding="utf-8", timeout=600)
        assert "Traceback" not in done.stdout + done.stderr, done.stderr
        return done

    return run


@pytest.fixture(scope="session")
def demo_run(settscan, tmp_path_factory):
    """The demo, run once for all tests that look at what it leaves."""
    home = tmp_path_factory.mktemp("demo")
    done = settscan("demo", cwd=home)
    return Demo(home / "settscan-demo", done.returncode, done.stdout, done.stderr)
