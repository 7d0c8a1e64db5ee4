"""How far a batch is, and how long it still takes."""

from __future__ import annotations

import time
from collections.abc import Callable

_EVERY_S = 5.0


def in_words(seconds: float) -> str:
    """A time span as people say it: "about 2 h 10 min"."""
    if seconds < 90:
        return f"about {max(1, round(seconds))} s"
    minutes = round(seconds / 60)
    if minutes < 90:
        return f"about {minutes} min"
    hours, minutes = divmod(minutes, 60)
    if hours < 48:
        return f"about {hours} h {minutes:02d} min"
    return f"about {round(hours / 24)} days"


class Progress:
    """Counts what is done and says so now and then.

    Args:
        total: photos in the batch.
        before: of them done by an earlier run.
        say: takes a line.
        clock: seconds from any start.
    """

    def __init__(
        self,
        total: int,
        before: int,
        say: Callable[[str], None],
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._total, self._before, self._say, self._clock = total, before, say, clock
        self._start = clock()
        self._said = self._start - _EVERY_S
        self._now = 0
        self._failed = 0

    def one_more(self, failed: bool) -> None:
        """A photo is done."""
        self._now += 1
        self._failed += failed
        last = self._before + self._now == self._total
        if last or self._clock() - self._said >= _EVERY_S:
            self._said = self._clock()
            self._say(self.line())

    def line(self) -> str:
        """Such as "412 of 10,000 photos (4 %), 3 failed, about 2 h 10 min left"."""
        done = self._before + self._now
        text = f"{done:,} of {self._total:,} photos ({100 * done // max(1, self._total)} %)"
        if self._failed:
            text += f", {self._failed:,} failed"
        left = self._total - done
        if left and self._now:
            text += f", {in_words(self.seconds_left())} left"
        return text

    def seconds_left(self) -> float:
        """By the pace of this run so far."""
        done = self._before + self._now
        return (self._clock() - self._start) / max(1, self._now) * (self._total - done)
