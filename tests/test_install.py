"""What is installed: bounds, the locked set, the licences, and that the wheel can be built from it.

The versions themselves are tested by running all tests with them: `.ci/run` installs the locked
set, `.ci/matrix` the lowest and the newest, on each Python that is given to it.
"""

import re
import sys
import tomllib
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

import pytest
from packaging.requirements import Requirement

import settscan
from tests import licences

TOP = Path(__file__).parents[1]
PYPROJECT = tomllib.loads((TOP / "pyproject.toml").read_text("utf-8"))
PROJECT, BUILD = PYPROJECT["project"], PYPROJECT["build-system"]


def pins(name):
    """Package -> the versions that a set holds (more than one where they hang on the Python)."""
    found = {}
    for line in (TOP / ".ci" / name).read_text("utf-8").splitlines():
        requirement = Requirement(line)
        (only,) = requirement.specifier
        assert only.operator == "=="
        marker = requirement.marker
        if marker is None or marker.evaluate():
            found[licences.name_of(requirement.name)] = only.version
    return found


def requirements():
    """All that pyproject asks for, but settscan's own extras and the fuzzer."""
    extras = PROJECT["optional-dependencies"]
    every = [
        *PROJECT["dependencies"],
        *(r for name in extras if name != "fuzz" for r in extras[name]),
    ]
    return [Requirement(r) for r in every if not r.startswith("settscan")]


def build_requirements():
    return [Requirement(r) for r in BUILD["requires"]]


@pytest.mark.parametrize("requirement", [*requirements(), *build_requirements()], ids=str)
def test_the_locked_and_the_lowest_set_are_those_of_the_project(requirement):
    """If this fails, a dependency has changed: run .ci/lock."""
    name = licences.name_of(requirement.name)
    locked, lowest = pins("lock.txt"), pins("lowest.txt")
    assert requirement.specifier.contains(locked[name])
    assert requirement.specifier.contains(lowest[name])
    (bound,) = [s.version for s in requirement.specifier if s.operator == ">="]
    # the lowest set is the bound itself, or the first release that is not below it
    assert lowest[name].startswith(bound) or name in ("opencv-python-headless", "pillow", "dask")


def test_every_requirement_has_a_lower_bound():
    every = [*requirements(), *build_requirements()]
    assert all(any(s.operator == ">=" for s in r.specifier) for r in every)
    assert PROJECT["requires-python"] == ">=3.11"
    assert sys.version_info >= (3, 11)


def test_the_sets_name_no_place():
    for name in ("lock.txt", "lowest.txt"):
        text = (TOP / ".ci" / name).read_text("utf-8")
        assert "://" not in text and "/" not in text.replace("sys_platform", "")


def locked_here():
    """Whether this environment holds the locked set of what settscan needs."""
    locked = pins("lock.txt")
    try:
        return all(version(r.name) == locked[licences.name_of(r.name)] for r in requirements())
    except PackageNotFoundError:
        return False


@pytest.mark.skipif(not locked_here(), reason="other versions than the locked ones are installed")
def test_the_page_of_licences_is_that_of_the_locked_set():
    page = (Path(settscan.__file__).parent / "docs" / "licences.md").read_text("utf-8")
    lock = (TOP / ".ci" / "lock.txt").read_text("utf-8")
    for name in re.findall(r"^\| ([a-z0-9-]*[a-z][a-z0-9-]*) \|", page, re.M):
        assert name in ("package", "file") or f"\n{name}==" in f"\n{lock}"
    # what hangs on the Python or the system is listed, but may not be installed here
    mine = licences.needs()
    for name, (licence, extra) in mine.items():
        assert f"| {name} | {licence} | {extra} |" in page, f"run python -m tests.licences ({name})"
    for name, licence in licences.fonts().items():
        assert f"| `settscan/sheets/fonts/{name}` | {licence} |" in page


def test_no_licence_asks_for_more_than_ours_gives():
    """Nothing that is always installed is under a licence that would bind settscan itself."""
    for name, (licence, extra) in licences.needs().items():
        assert licence != "see the package", name
        if not extra:
            assert "GPL" not in licence, (name, licence)
