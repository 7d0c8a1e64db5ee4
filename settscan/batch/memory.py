"""How much memory a photo takes, how many fit beside each other, and a limit that holds."""

from __future__ import annotations

import contextlib
import re
from collections.abc import Iterator
from pathlib import Path

from settscan.errors import BadInput

# Measured with `python -m tests.benchmark --speed-only`: peak 340 MB for 2 megapixels, 967 MB for
# 12 and 1070 MB for 48 (beyond 24 the photo is sampled coarser), of it 152 MB libraries.
LEAST_BYTES = 400_000_000
_BYTES_PER_PIXEL = 65
_SAMPLED_PIXELS = 12_000_000
_BYTES_PER_MORE = 8  # pixels beyond that are decoded, turned and reduced, not worked on
ORDINARY_BYTES = 1_200_000_000
"""For a photo of an ordinary phone, 12 megapixels; so much is planned for each worker."""

_UNITS = {"": 1_000_000, "m": 1_000_000, "mb": 1_000_000, "g": 1_000_000_000, "gb": 1_000_000_000}


def parse_memory(text: str) -> int:
    """Bytes from "4 GB", "1500 MB" or a bare number of megabytes.

    Raises:
        BadInput: if it is no such thing, or too little to read any photo.
    """
    match = re.fullmatch(r"\s*([0-9]{1,9}(?:\.[0-9]{1,3})?)\s*([A-Za-z]{0,2})\s*", text)
    if not match or match[2].lower() not in _UNITS:
        raise BadInput(f"{text!r} is no amount of memory.", 'Write it as "4 GB" or "1500 MB".')
    value = int(float(match[1]) * _UNITS[match[2].lower()])
    if value < LEAST_BYTES:
        raise BadInput(
            f"{text} of memory is too little to read a photo.",
            f"Give at least {LEAST_BYTES // 1_000_000} MB.",
        )
    return value


def machine_bytes() -> int:
    """Three quarters of the memory that is free on this machine now; 4 GB where it tells not."""
    try:
        lines = Path("/proc/meminfo").read_text().splitlines()
        free = next(int(line.split()[1]) for line in lines if line.startswith("MemAvailable"))
    except (OSError, StopIteration, ValueError, IndexError):
        return 4_000_000_000
    return max(LEAST_BYTES, free * 1024 * 3 // 4)


def share_out(memory: int, jobs: int) -> tuple[int, int]:
    """How many workers fit into so much memory, at most `jobs`, and the share of each."""
    workers = max(1, min(jobs, memory // ORDINARY_BYTES))
    return workers, memory // workers


def bytes_needed(path: Path) -> int:
    """About how much memory reading this photo takes, told by its header alone.

    A file whose header cannot be read needs little: the reader refuses it.
    """
    pixels = _pixels(path)
    ordinary, more = min(pixels, _SAMPLED_PIXELS), max(0, pixels - _SAMPLED_PIXELS)
    file = path.stat().st_size
    return LEAST_BYTES + ordinary * _BYTES_PER_PIXEL + more * _BYTES_PER_MORE + 2 * file


def _pixels(path: Path) -> int:
    from settscan.photo.header import read_header

    try:
        header = read_header(path)
    except BadInput:
        return 0
    return header.width * header.height


@contextlib.contextmanager
def limited(most_bytes: int) -> Iterator[None]:
    """No more private memory than this, where the system can hold to it; then MemoryError."""
    try:
        import resource
    except ImportError:  # pragma: no cover - Windows
        most_bytes = 0
    if not most_bytes or not hasattr(resource, "RLIMIT_DATA"):
        yield
        return
    before = resource.getrlimit(resource.RLIMIT_DATA)
    hard = before[1]
    room = most_bytes if hard == resource.RLIM_INFINITY else min(most_bytes, hard)
    resource.setrlimit(resource.RLIMIT_DATA, (room, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_DATA, before)
