"""Where the weaver is in the winding, kept on the disk: nothing is lost with the power.

The place is a number of cards that are done. With it are kept marks of the cards before it, so
that after a change of the plan it is seen whether what was wound is still the same.
"""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

from settscan.errors import BadInput
from settscan.files import read_bytes, replace_file
from settscan.page.cards import Card, mark

FORMAT = "settscan winding place"
_MOST_BYTES = 1_000_000
_LONGEST_PAUSE = 600.0
"""Seconds: a longer gap between two cards is a rest and not counted as winding."""


@dataclass(frozen=True, slots=True)
class Place:
    """How far the winding has come.

    Attributes:
        done: cards that are done; the card with this index is shown.
        before: mark of the cards before it, as they were when they were done.
        warp_total: ends wound.
        seconds: time spent on those cards, without rests.
        moved: when the last card was done, seconds since 1970.
    """

    done: int = 0
    before: str = ""
    warp_total: int = 0
    seconds: float = 0.0
    moved: float = 0.0


class Mill:
    """The winding of one project. Its methods may be called from several threads."""

    def __init__(self, folder: Path, clock: Callable[[], float] = time.time) -> None:
        self.path = folder / "winding.json"
        self.lock = threading.Lock()
        self.clock = clock

    def place(self, cards: Sequence[Card]) -> tuple[Place, str]:
        """Where the weaver is, and a question if the plan is no longer the one that was wound.

        Args:
            cards: as the plan has them now.
        """
        with self.lock:
            return self._placed(cards)

    def moved(self) -> float:
        """When the last card was done, seconds since 1970; 0 before the first."""
        with self.lock:
            return self._read().moved

    def go(self, cards: Sequence[Card], seen: int, to: int) -> Place:
        """Go to another card.

        Args:
            cards: as the plan has them now.
            seen: the card that the person saw when going on; another tab may have moved on.
            to: the card to show now.

        Raises:
            BadInput: if there is no such card, or another was seen.
        """
        with self.lock:
            place, _ = self._placed(cards)
            if seen != place.done:
                raise BadInput("Another screen has moved on meanwhile.", "This one follows now.")
            if not 0 <= to < len(cards):
                raise BadInput("There is no such step.", "Go on from the one that is shown.")
            now = self.clock()
            spent = now - place.moved
            forth = to > place.done and place.moved and 0 < spent <= _LONGEST_PAUSE
            wound = cards[to - 1]["warp_total"] if to else 0
            place = replace(
                place,
                done=to,
                before=mark(cards[:to]),
                warp_total=wound,
                seconds=place.seconds + (spent if forth else 0.0),
                moved=now,
            )
            self._write(place)
            return place

    def begin_again(self, cards: Sequence[Card]) -> Place:
        """Forget the place: a new warp is wound."""
        with self.lock:
            place = Place(before=mark(cards[:0]), moved=self.clock())
            self._write(place)
            return place

    def _placed(self, cards: Sequence[Card]) -> tuple[Place, str]:
        place = self._read()
        if place.done < len(cards) and mark(cards[: place.done]) == place.before:
            return place, ""
        if place.done == 0:
            return replace(place, before=mark(cards[:0])), ""
        near = _nearest(cards, place.warp_total)
        question = (
            f"The plan was changed after {place.warp_total} ends had been wound, and what was wound"
            " is no longer the same in it. Compare the cross with the list before going on, or"
            " begin again."
        )
        return replace(place, done=near, before=mark(cards[:near])), question

    def _read(self) -> Place:
        if not self.path.is_file():
            return Place()
        try:
            record = json.loads(read_bytes(self.path, _MOST_BYTES))
            if record.pop("format") != FORMAT:
                return Place()
            place = Place(**record)
            if place.done < 0 or place.seconds < 0:
                return Place()
        except (ValueError, KeyError, TypeError, AttributeError):
            return Place()
        return place

    def _write(self, place: Place) -> None:
        self.path.parent.mkdir(exist_ok=True)
        record: dict[str, Any] = {"format": FORMAT, **asdict(place)}
        replace_file(self.path, json.dumps(record).encode())


def _nearest(cards: Sequence[Card], wound: int) -> int:
    """The first card before which no more than so many ends are wound."""
    for index, card in enumerate(cards):
        if card["kind"] in ("wind", "section") and card["warp_total"] > wound:
            return index
    return max(len(cards) - 1, 0)
