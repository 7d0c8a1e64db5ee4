"""What is imported, told by looking at it: help and plan need no image library and no numpy."""

import json
import subprocess
import sys

import pytest

HEAVY = ("numpy", "cv2", "PIL", "skimage", "sklearn", "scipy", "reportlab")

PROGRAM = """
import json, sys
from settscan.cli import run
code = run(sys.argv[1:])
print(json.dumps([code, sorted(sys.modules)]), file=sys.stderr)
"""


def modules_of(folder, *arguments):
    """Exit code and the top-level names of all modules that a command line imports."""
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM, *arguments], cwd=folder, capture_output=True, text=True
    )
    code, modules = json.loads(done.stderr.splitlines()[-1])
    return code, {name.split(".")[0] for name in modules}, set(modules)


@pytest.mark.parametrize(
    "arguments",
    [
        ["--help"],
        ["scan", "--help"],
        ["plan", "--help"],
        ["new", "b.toml"],
        ["scan", "none.jpg", "-o", "x.txt"],
    ],
)
def test_help_and_new_import_nothing_heavy(tmp_path, arguments):
    _, tops, _ = modules_of(tmp_path, *arguments)
    assert not tops & set(HEAVY)


def test_a_plan_imports_nothing_heavy_until_sheets_are_drawn(tmp_path):
    assert modules_of(tmp_path, "new", "b.toml")[0] == 0
    code, tops, modules = modules_of(tmp_path, "plan", "b.toml")
    assert code == 0
    assert not tops & {*HEAVY, "jinja2", "tomlkit"}
    assert "settscan.winding.plan" in modules
    code, tops, _ = modules_of(tmp_path, "plan", "b.toml", "-o", "sheets")
    assert code == 0
    assert "reportlab" in tops
    assert not tops & {"numpy", "cv2", "skimage", "sklearn", "scipy"}


def test_the_eye_does_not_load_the_slow_library_at_once(tmp_path):
    done = subprocess.run(
        [sys.executable, "-c", "import settscan.scan, sys; print('sklearn' in sys.modules)"],
        cwd=tmp_path, capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert done.stdout.strip() == "False"
