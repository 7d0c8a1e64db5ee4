"""A Dask cluster whose workers can do the work: the same version, and the same folder in sight."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator
from pathlib import Path

from settscan import __version__
from settscan.batch.pool import Cluster
from settscan.errors import BadInput
from settscan.files import replace_file


@contextlib.contextmanager
def connected(address: str, out: Path) -> Iterator[Cluster]:
    """A connection to a scheduler whose workers were asked whether they can do the work.

    Raises:
        BadInput: if it does not answer, has no workers, or these cannot do the work.
    """
    there = Cluster(address)
    try:
        token = os.urandom(16).hex()
        proof = out / "state" / "cluster"
        replace_file(proof, token.encode())
        _check(there.ask_workers(answer_of, str(proof.resolve())), token)
        yield there
    finally:
        there.close()


def answer_of(proof: str) -> tuple[str, str]:
    """What a worker says of itself: its version, and what it reads in the folder of the batch."""
    try:
        return __version__, Path(proof).read_text()
    except OSError as error:
        return __version__, f"! {error.strerror}"


def _check(answers: dict[str, object], token: str) -> None:
    """Raise if a worker cannot take part."""
    if not answers:
        raise BadInput("The Dask scheduler has no workers.", "Start some, then run this again.")
    for worker, answer in sorted(answers.items()):
        if not isinstance(answer, tuple | list):
            raise BadInput(
                f"The worker {worker} has no settscan ({answer}).",
                f"Install settscan {__version__} beside every worker.",
            )
        version, seen = answer
        if version != __version__:
            raise BadInput(
                f"The worker {worker} has settscan {version}, this is {__version__}.",
                "Install the same version beside every worker.",
            )
        if seen != token:
            raise BadInput(
                f"The worker {worker} does not see the folder of the batch.",
                "Give a folder, and photos, that all machines reach by the same path.",
            )
