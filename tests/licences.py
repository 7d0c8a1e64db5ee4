"""What is shipped, and what it stands on, with licences: `python -m tests.licences`.

Prints settscan/docs/licences.md anew, from the metadata of the installed packages.
"""

from __future__ import annotations

import re
from importlib.metadata import PackageNotFoundError, distribution
from pathlib import Path
from typing import Any

import settscan

HEAD = """\
# What is shipped, and its licences

Made by `python -m tests.licences` from the metadata of the installed packages; a test compares
this page with them. Versions that are tested together stand in `.ci/lock.txt`.

settscan itself is under the MIT licence. Its wheel holds, besides its own code and documents:

| file | licence |
| --- | --- |
"""
NEEDS = """
## What it stands on

Installed beside it, each from its own package and under its own licence; none of their code is in
the wheel. "for" says which extra wants it; what has none is always installed.

| package | licence as its metadata tells | for |
| --- | --- | --- |
"""
NOTES = """
Some wheels hold libraries of others, under licences that lie beside them in the installed package:
opencv-python-headless holds FFmpeg (LGPL-2.1), pi_heif holds libheif and libde265 (LGPL-3.0),
numpy and scipy hold OpenBLAS (BSD-3-Clause) and the GCC runtime (GPL-3.0 with its exception).
"""
EXTRAS = ("heic", "parquet", "dask")
MARKS = {  # SPDX, for packages that tell their licence in words only
    "MIT License": "MIT",
    "MIT": "MIT",
    "BSD": "BSD-3-Clause",
    "BSD License": "BSD-3-Clause",
    "3-Clause BSD License": "BSD-3-Clause",
    "Apache Software License": "Apache-2.0",
    "Apache 2.0": "Apache-2.0",
}


def name_of(requirement: str) -> str:
    """The package of a requirement such as "numpy>=2.0; extra == 'x'", as registries write it."""
    found = re.match(r"[A-Za-z0-9._-]+", requirement)
    assert found
    return re.sub(r"[-_.]+", "-", found[0]).lower()


def wanted_by(package: str, extra: str | None = None) -> list[str]:
    """What a package needs always, or with an extra; on this system and Python."""
    from packaging.requirements import Requirement

    names = []
    for text in distribution(package).requires or ():
        requirement = Requirement(text)
        marker = requirement.marker
        if extra is None:
            if marker is None or marker.evaluate({"extra": ""}):
                names.append((requirement.name, requirement.extras))
        elif marker is not None and _only_with(marker, extra):
            names.append((requirement.name, requirement.extras))
    out = []
    for name, extras in names:
        out.append(name_of(name))
        for more in extras:
            out += wanted_by(name, more)
    return out


def _only_with(marker: Any, extra: str) -> bool:
    return marker.evaluate({"extra": extra}) and not marker.evaluate({"extra": ""})


def closure(names: list[str]) -> set[str]:
    """These packages and all that they need."""
    found: set[str] = set()
    waiting = list(names)
    while waiting:
        name = waiting.pop()
        if name in found:
            continue
        try:
            needs = wanted_by(name)
        except PackageNotFoundError:
            continue
        found.add(name)
        waiting += needs
    return found


def licence_of(name: str) -> str:
    """SPDX expression of an installed package, as far as its metadata tells."""
    data = distribution(name).metadata
    told = data.get("License-Expression")
    if told:
        return str(told)
    classes = [
        c.split(" :: ")[-1] for c in data.get_all("Classifier") or () if c.startswith("License ::")
    ]
    words = [w for w in classes if w != "OSI Approved"] or [(data.get("License") or "").strip()]
    words = [MARKS.get(w, w) for w in words if w and len(w) < 60]
    return " AND ".join(dict.fromkeys(words)) or "see the package"


def needs() -> dict[str, tuple[str, str]]:
    """Licence of each package, and the extras that want it."""
    base = closure(wanted_by("settscan"))
    table = {name: (licence_of(name), "") for name in base}
    for extra in EXTRAS:
        for name in closure(wanted_by("settscan", extra)) - base:
            licence, wanted = table.get(name, (licence_of(name), ""))
            table[name] = (licence, f"{wanted}, {extra}".lstrip(", "))
    return dict(sorted(table.items()))


def fonts() -> dict[str, str]:
    """Licence of each font in the wheel, by the licence file that lies beside it."""
    folder = Path(settscan.__file__).parent / "sheets" / "fonts"
    licences = {}
    for path in sorted(folder.glob("*.ttf")):
        (beside,) = folder.glob(f"LICENSE-{path.stem.split('-')[0]}*")
        text = beside.read_text("utf-8")
        licences[path.name] = "Apache-2.0" if "Apache License" in text else "OFL-1.1"
    return licences


def page() -> str:
    """The whole page."""
    shipped = [f"| `settscan/sheets/fonts/{n}` | {lic} |" for n, lic in fonts().items()]
    rows = [f"| {name} | {lic} | {extra} |" for name, (lic, extra) in needs().items()]
    return HEAD + "\n".join(shipped) + "\n" + NEEDS + "\n".join(rows) + "\n" + NOTES


if __name__ == "__main__":
    print(page(), end="")
