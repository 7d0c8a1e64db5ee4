"""What a command says: results on standard output, everything else on standard error."""

from __future__ import annotations

import functools
import sys
import textwrap
from collections.abc import Callable, Iterable
from typing import Any, NamedTuple, TypeVar

import click

Command = TypeVar("Command", bound=Callable[..., Any])


class Console(NamedTuple):
    """How much is said: a quiet console keeps to results and errors, a verbose one tells more."""

    quiet: bool = False
    verbose: bool = False

    def say(self, lines: str | Iterable[str]) -> None:
        """A result; a terminal that lacks a letter gets a question mark in its place."""
        for line in (lines,) if isinstance(lines, str) else lines:
            encoding = getattr(sys.stdout, "encoding", None) or "utf-8"
            click.echo(line.encode(encoding, "replace").decode(encoding))

    def note(self, line: str) -> None:
        """What is going on, or where to look next."""
        if not self.quiet:
            encoding = getattr(sys.stderr, "encoding", None) or "utf-8"
            click.echo(line.encode(encoding, "replace").decode(encoding), err=True)

    def paragraph(self, sentences: str, mark: str = "") -> None:
        """A note of several sentences, in lines of a width that can be read."""
        wrapped = textwrap.wrap(
            sentences,
            width=80,
            initial_indent=mark,
            subsequent_indent=" " * len(mark),
            break_long_words=False,
            break_on_hyphens=False,
        )
        for line in wrapped:
            self.note(line)

    def detail(self, line: str) -> None:
        """What only a curious person wants to know."""
        if self.verbose:
            self.note(line)


def with_console(command: Command) -> Command:
    """Adds --quiet and --verbose to a command and gives it a `console`."""

    @click.option("-q", "--quiet", is_flag=True, help="Say only results and errors.")
    @click.option("-v", "--verbose", is_flag=True, help="Say more about the work.")
    @functools.wraps(command)
    def wrapped(*args: Any, quiet: bool, verbose: bool, **options: Any) -> Any:
        if quiet and verbose:
            raise click.UsageError("--quiet and --verbose exclude each other.")
        return command(*args, console=Console(quiet, verbose), **options)

    return wrapped  # type: ignore[return-value]
