"""Names of files and folders on a command line."""

from __future__ import annotations

from pathlib import Path

import click

PATH = click.Path(path_type=Path, readable=False)
"""Any name: whoever opens it says in one sentence what is wrong with it."""
