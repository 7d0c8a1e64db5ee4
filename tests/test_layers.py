"""Imports run one way; the table is the design, and this reads the source against it."""

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "settscan"

# What each part may import. The halves `photo, reading` and `warping, winding` never see each
# other: they meet at `cloth`.
BASE = {"errors", "measured", "doubts", "numerals", "numbering", "quantities", "files", "png_notes"}
SCAN = {"scan", "scan_model"}
MAY_IMPORT = {
    "errors": set(),
    "measured": set(),
    "doubts": set(),
    "numerals": {"errors"},
    "numbering": {"errors", "numerals"},
    "quantities": {"errors", "measured", "numerals", "numbering"},
    "files": {"errors"},
    "png_notes": set(),
    "settings": set(),
    "cloth": BASE,
    "warping": BASE | {"cloth"},
    "winding": BASE | {"cloth", "warping"},
    "sheets": BASE | {"cloth", "warping", "winding"},
    "photo": BASE | {"cloth", "settings"},
    "reading": BASE | {"cloth", "settings", "photo"},
    "scanned": BASE | {"cloth", "scan_model", "reading"},
    "pages": BASE | {"cloth", "settings", "photo", "reading", "things", "scan", "scan_model"},
    "things": BASE | {"settings", "photo", "reading"},
    "scan_model": BASE | {"cloth", "photo", "reading"},
    "scan_result": BASE | {"cloth", "photo", "reading", "scan_model"},
    "scan": BASE | {"cloth", "settings", "photo", "reading", "things", "scan_model", "scan_result"},
    "batch": BASE | {"cloth", "settings", *SCAN, "scanned", "pages", "photo"},
    "page": BASE | {"cloth", *SCAN, "scanned", "sheets", "warping", "winding", "photo"},
    "commands": BASE
    | {"cloth", *SCAN, "scanned", "sheets", "warping", "winding", "photo", "page", "batch"},
    "cli": {"commands", "errors", "files"},
}
PIXEL_LIBRARIES = {"numpy", "cv2", "PIL", "skimage", "sklearn", "scipy", "pi_heif"}
MAY_SEE_PIXELS = {"photo", "reading", "things", "scan", "scan_result"}
STANDARD_LIBRARY_ONLY = {"warping", "winding", *BASE}


def part_of(path):
    """The part that a file belongs to: `settscan/winding/ties.py` -> "winding"."""
    first = path.relative_to(PACKAGE).parts[0]
    return first.removesuffix(".py")


def imports_of(path):
    """(line, dotted module, whether it is imported as soon as the module is) of a source file."""
    found = []

    def walk(node, at_once):
        for child in ast.iter_child_nodes(node):
            if isinstance(child, ast.If) and "TYPE_CHECKING" in ast.dump(child.test):
                continue
            if isinstance(child, ast.Import):
                found.extend((child.lineno, alias.name, at_once) for alias in child.names)
            elif isinstance(child, ast.ImportFrom):
                package = "settscan." if child.level else ""
                module = package + (child.module or "")
                found.append((child.lineno, module, at_once))
                if module == "settscan":
                    names = [f"settscan.{alias.name}" for alias in child.names]
                    found.extend((child.lineno, name, at_once) for name in names)
            inside = isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda)
            walk(child, at_once and not inside)

    walk(ast.parse(path.read_text("utf-8")), at_once=True)
    return found


def sources():
    return [path for path in sorted(PACKAGE.rglob("*.py")) if path != PACKAGE / "__init__.py"]


def test_every_part_is_in_the_table():
    assert {part_of(path) for path in sources()} <= set(MAY_IMPORT)


def test_the_table_itself_has_no_circle():
    seen = set()
    while len(seen) < len(MAY_IMPORT):
        ready = {part for part, others in MAY_IMPORT.items() if others <= seen} - seen
        assert ready
        seen |= ready


@pytest.mark.parametrize("path", sources(), ids=lambda path: str(path.relative_to(PACKAGE)))
def test_imports_run_one_way(path):
    part = part_of(path)
    wrong = []
    for line, module, at_once in imports_of(path):
        top, *rest = module.split(".")
        if top == "settscan":
            other = rest[0] if rest else ""
            allowed = {*MAY_IMPORT[part], part, "", "__version__"}
            if other not in allowed:
                wrong.append(f"line {line}: {part} may not import settscan.{other}")
        elif top in PIXEL_LIBRARIES and at_once and part not in MAY_SEE_PIXELS:
            wrong.append(f"line {line}: {part} may not import {top} as it starts")
        elif top == "sklearn" and at_once:
            wrong.append(f"line {line}: import sklearn in the function that needs it")
    assert not wrong


@pytest.mark.parametrize("part", sorted(STANDARD_LIBRARY_ONLY))
def test_the_calculation_needs_only_the_standard_library(part):
    import sys

    for path in sources():
        if part_of(path) != part:
            continue
        foreign = {
            module
            for _, module, _ in imports_of(path)
            if module.split(".")[0] not in {*sys.stdlib_module_names, "settscan"}
        }
        assert not foreign, f"{path.name} imports {foreign}"


def test_the_package_never_imports_the_tests():
    for path in sources():
        assert not any(module.split(".")[0] == "tests" for _, module, _ in imports_of(path))
