"""What is wrong with a command line, as one sentence and where to look."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from settscan.errors import BadInput

if TYPE_CHECKING:
    _Choice = click.Choice[str]
else:
    _Choice = click.Choice


class OneOf(_Choice):
    """One of a few words.

    Raises:
        BadInput: for any other, naming them.
    """

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """The word as it is listed."""
        try:
            return super().convert(value, param, ctx)
        except click.BadParameter:
            *others, last = map(str, self.choices)
            known = f"{', '.join(others)} or {last}"
            raise BadInput(f"{_named(param)} cannot be {value!r}.", f"Give {known}.") from None


class Whole(click.IntRange):
    """A whole number between two bounds.

    Raises:
        BadInput: for anything else, naming the bounds.
    """

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """The number."""
        try:
            return super().convert(value, param, ctx)
        except click.BadParameter:
            upto = f"{self.min} or more" if self.max is None else f"{self.min} to {self.max}"
            raise BadInput(
                f"{_named(param)} cannot be {value!r}.", f"Give a whole number, {upto}."
            ) from None


def sentence_of(error: click.ClickException) -> str:
    """An error of the command line as the sentences of all other errors."""
    context = getattr(error, "ctx", None)
    where = f"See {context.command_path} --help." if context is not None else ""
    return f"{_wrong(error)} {where}".strip()


def _wrong(error: click.ClickException) -> str:
    """What is wrong."""
    if isinstance(error, click.MissingParameter) and error.param is not None:
        return f"{_named(error.param)} is missing."
    if isinstance(error, click.NoSuchOption):
        perhaps = " or ".join(error.possibilities or ())
        meant = f" Did you mean {perhaps}?" if perhaps else ""
        return f"There is no option {error.option_name}.{meant}"
    return error.format_message().removesuffix(".") + "."


def _named(param: click.Parameter | None) -> str:
    """How people write it: "--port", "FILE.toml"."""
    if param is None:
        return "It"
    if isinstance(param, click.Argument):
        return param.metavar or param.human_readable_name
    longest = max(param.opts, key=len)
    return f"{longest} {param.metavar}" if param.required and param.metavar else longest
