"""Coverage-guided fuzzing of the parsers: `python -m tests.fuzz --seconds 60`.

Needs the extra `fuzz` (atheris, a libFuzzer for Python). Each target runs in a process of its own;
what makes one fail is kept in a file, and the command to see it again is printed.
"""

from __future__ import annotations

import argparse
import re
import subprocess
import sys
from pathlib import Path

from tests.benchmark.table import markdown
from tests.fuzz.targets import TARGETS, run, seeds

WORDS = {
    "sequence": ["A/", "x(", ")x", "3x(", "A1", "B/2", ",", "\u00d7", "1000000", "AA"],
    "quantities": ["in", "yd", "epi", "/10cm", "per", "2/8", "worsted", "tex", "Nm", "Ne", "dpi",
                   "%", "1/2", "\u00bd", "+-", " to ", "oz", "lb"],
    "project": ["[warp]", "[weft]", "[yarns.A]", "sequence", "density", "like_warp = true",
                "[[", "]]", "\"\"\"", "'''", "[piece]", "[losses]", "[frame]", "[loom]", "nan",
                "inf", "-0.0", "1e400", "partial = true", "from = \"read\""],
    "wif": ["[WIF]", "[WARP]", "[WEFT]", "[THREADING]", "[TIEUP]", "[TREADLING]", "[LIFTPLAN]",
            "[COLOR TABLE]", "[COLOR PALETTE]", "[WARP COLORS]", "Threads=", "Entries=", "Range=",
            "Units=Inches", "Spacing=", "Shafts=", "Treadles=", "1=1,2"],
}  # fmt: skip


def parser() -> argparse.ArgumentParser:
    """The options."""
    out = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    out.add_argument("targets", nargs="*", metavar="TARGET", help=f"of {', '.join(TARGETS)}")
    out.add_argument("--seconds", type=int, default=60, help="for each target (default 60)")
    out.add_argument("--keep", type=Path, default=Path("fuzz-findings"), metavar="FOLDER")
    out.add_argument("--show", type=Path, metavar="FILE", help="run one input, with its fault")
    out.add_argument("--inside", action="store_true", help=argparse.SUPPRESS)
    return out


def fuzz(name: str, arguments: list[str]) -> None:
    """Fuzz one target in this process; never returns."""
    import atheris

    with atheris.instrument_imports(include=["settscan"]):
        import settscan.cloth.project_update
        import settscan.cloth.project_write
        import settscan.sheets.wif_reading  # noqa: F401
    for module in list(sys.modules.values()):
        if getattr(module, "__name__", "").startswith("settscan"):
            _instrument(module, atheris)

    def one(data: bytes) -> None:
        run(name, data.decode("utf-8", "surrogateescape" if name == "wif" else "replace"))

    atheris.Setup([sys.argv[0], *arguments], one)
    atheris.Fuzz()


def _instrument(module: object, atheris: object) -> None:
    """Watch the branches of a module that was loaded before."""
    for value in list(vars(module).values()):
        own = getattr(value, "__module__", "") == module.__name__
        if own and hasattr(value, "__code__"):
            atheris.instrument_func(value)


def one_target(name: str, seconds: int, keep: Path) -> list[str]:
    """Fuzz a target in a process of its own; its row of the table."""
    corpus = keep / name
    corpus.mkdir(parents=True, exist_ok=True)
    for n, text in enumerate(seeds(name)):
        (corpus / f"seed{n}").write_text(text, "utf-8")
    words = keep / f"{name}.words"
    words.write_text("".join(f'"{_escaped(word)}"\n' for word in WORDS[name]))
    command = [
        sys.executable, "-m", "tests.fuzz", name, "--inside", "--", f"-max_total_time={seconds}",
        f"-dict={words}", f"-artifact_prefix={keep / name}-", "-max_len=6000", "-timeout=30",
        "-rss_limit_mb=3000", str(corpus),
    ]  # fmt: skip
    done = subprocess.run(command, capture_output=True, check=False)
    told = (done.stderr + done.stdout).decode("utf-8", "replace")
    runs = re.findall(r"^#(\d+)", told, re.M)
    covered = re.findall(r"cov: (\d+)", told)
    found = "nothing" if done.returncode == 0 else "A FAULT"
    if done.returncode:
        print(told[-3000:], file=sys.stderr)
    return [name, f"{int(runs[-1]) if runs else 0:,}", covered[-1] if covered else "?", found]


def _escaped(word: str) -> str:
    return "".join(f"\\x{b:02x}" for b in word.encode())


def main() -> None:
    """Fuzz, and print how many inputs were tried."""
    given, rest = parser().parse_known_args()
    if given.show is not None:
        for name in given.targets or TARGETS:
            run(name, given.show.read_bytes().decode("utf-8", "replace"))
        return
    if given.inside:
        fuzz(given.targets[0], [word for word in rest + given.targets[1:] if word != "--"])
    try:
        import atheris  # noqa: F401
    except ImportError:
        sys.exit('Install the fuzzer first: pip install -e ".[fuzz]" (Python 3.11 to 3.13, Linux).')
    rows = [one_target(n, given.seconds, given.keep) for n in given.targets or TARGETS]
    print(markdown(["target", "inputs tried", "branches seen", "found"], rows))
    if any(row[-1] != "nothing" for row in rows):
        sys.exit(1)


if __name__ == "__main__":
    main()
