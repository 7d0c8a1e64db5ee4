"""Every failure: what was seen, why it stops, what to do, and the exit code.

A message is one clear sentence for the person at the loom. The command line turns these
exceptions into one line on standard error and the exit code; a library caller catches them.
"""


class SettscanError(Exception):
    """A failure with a sentence for the user.

    Args:
        message: What was seen and why the work stops, as one sentence.
        advice: What to do about it, as one sentence; may be empty.
    """

    exit_code = 2

    def __init__(self, message: str, advice: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.advice = advice

    def __str__(self) -> str:
        return f"{self.message} {self.advice}".strip()


class BadInput(SettscanError):
    """Something given to the program cannot be used as it is (exit code 2)."""


class BadQuantity(BadInput):
    """A typed quantity ("54 in", "12 epi", "2/8 worsted") cannot be understood."""


class BadSequence(BadInput):
    """A typed colour sequence ("A/24 B4 C/2") cannot be understood."""


class BadProject(BadInput):
    """A project file is wrong; the message names the file and the line."""


class BadImage(BadInput):
    """A file is not a picture that can be read safely."""


class BadFile(BadInput):
    """A file or folder cannot be read or written, or would be overwritten."""


class Refusal(SettscanError):
    """An analysis declines to answer, because any answer would be invented (exit code 1)."""

    exit_code = 1
