"""The command line: `settscan scan`, `plan` and the others; every failure is a sentence."""

from __future__ import annotations

import gc
import sys
from collections.abc import Sequence
from importlib import import_module

import click

from settscan import __version__
from settscan.errors import SettscanError

BAD_INPUT = 2
FAULT = 3
STOPPED = 130


# In the order of the work. Each stands in a module of its name, which is read when it is called:
# to work out a plan at once, nothing else need be there.
COMMANDS = ("page", "scan", "plan", "new", "resize", "batch", "card", "demo")
# Over in a second or two, and they leave little garbage: a plan of 18,000 ends with all its sheets
# takes 7 MB more if nobody looks for it, and a twentieth less time.
BRIEF = ("plan", "new", "resize", "card")


def command(name: str) -> click.Command:
    """One of the `COMMANDS`."""
    found: click.Command = getattr(import_module(f"settscan.commands.{name}"), name)
    return found


class _WhenCalled(click.Group):
    """Lists the commands in the order of the work, and imports one when it is called."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """The names."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command of a name, None if there is none."""
        return command(cmd_name) if cmd_name in COMMANDS else None


@click.group(
    cls=_WhenCalled,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    epilog="""\b
A photo of a cloth becomes a plan to wind its warp:
  settscan scan blanket.jpg -o blanket.toml
  settscan plan blanket.toml -o blanket-sheets
Between the two, look at the evidence picture and change blanket.toml as you like.
""",
)
@click.version_option(__version__, prog_name="settscan")
def cli() -> None:
    """From a photo of a handwoven cloth to a warp that can be wound again, thread for thread."""


def run(arguments: Sequence[str] | None = None) -> int:
    """Run a command line.

    Args:
        arguments: without the program's name; those of the process if None.

    Returns:
        The exit code: 0; 1 for a refusal; 2 for bad input; 3 for a fault of settscan's own; 130 if
        it was interrupted.
    """
    given = list(sys.argv[1:] if arguments is None else arguments)
    try:
        return int(cli.main(given, prog_name="settscan", standalone_mode=False) or 0)
    except SettscanError as error:
        _complain(str(error))
        return error.exit_code
    except click.ClickException as error:
        if not given:  # this shows the help
            error.show()
            return error.exit_code
        from settscan.commands.usage import sentence_of

        _complain(sentence_of(error))
        return error.exit_code
    except (KeyboardInterrupt, click.Abort):
        _complain("Stopped. No file was left half-written.")
        return STOPPED
    except SystemExit:
        # How click ends when the reader of a pipe has gone, as `head` does: no fault of anybody's.
        return 0
    except OSError as error:
        from settscan.files import os_problem

        _complain(str(os_problem(error, "use", error.filename or "a file")))
        return BAD_INPUT
    except MemoryError:
        _complain("There is not enough memory for this. Use a smaller photo.")
        return BAD_INPUT
    except Exception as error:
        if "-v" in given or "--verbose" in given:
            import traceback

            traceback.print_exc()
            _complain("This is a fault of settscan's own.")
            return FAULT
        told = f"{type(error).__name__}: {error}".rstrip(". :")
        _complain(f"Something went wrong inside settscan ({told}). Run it again with --verbose.")
        return FAULT


def _complain(sentence: str) -> None:
    encoding = getattr(sys.stderr, "encoding", None) or "utf-8"
    click.echo(f"settscan: {sentence}".encode(encoding, "replace").decode(encoding), err=True)


def main() -> None:
    """Entry point of the program."""
    if sys.argv[1:] and sys.argv[1] in BRIEF:
        gc.disable()
    sys.exit(run())


if __name__ == "__main__":
    main()
