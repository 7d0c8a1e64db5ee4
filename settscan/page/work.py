"""What lies on the table while a reading is corrected: yarns, written stripes, and where they show.

Plain frozen data. A written stripe (`Line`) is what the project file holds; a `Shown` stripe is one
place of it in the picture. Counts live in the lines, places in the picture never decide a count by
themselves.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

from settscan.cloth.model import ColourSequence, SequenceKind, Stripe, StripeDoubt, Yarn
from settscan.errors import BadInput
from settscan.measured import Measured

WARP, WEFT = "warp", "weft"


@dataclass(frozen=True, slots=True)
class Line:
    """One written stripe.

    Attributes:
        yarn: key of its yarn.
        threads: its count.
        certain: whether a hand has said so.
        doubt: what the reading was not sure of; its `position` says nothing here.
    """

    yarn: str
    threads: int
    certain: bool = False
    doubt: StripeDoubt | None = None

    @property
    def doubtful(self) -> bool:
        """Whether it still has to be looked at."""
        return self.doubt is not None and not self.certain


@dataclass(frozen=True, slots=True)
class Shown:
    """One stripe in the picture.

    Attributes:
        of: index of its written stripe.
        threads: as many as show there; fewer than written where the picture cuts it.
        start, end: share of the picture's width (or height), 0 to 1.
        cut: whether the picture's edge cuts it.
    """

    of: int
    threads: int
    start: float
    end: float
    cut: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """The warp or the weft.

    Attributes:
        name: "warp" or "weft".
        kind: how the written stripes go on.
        lines: the written stripes.
        shown: the stripes in the picture in its order; empty where they are not known.
        density: threads per mm of finished cloth.
        exact: whether the places were read, and not only worked out from the counts.
    """

    name: str
    kind: SequenceKind
    lines: tuple[Line, ...]
    shown: tuple[Shown, ...] = ()
    density: Measured | None = None
    exact: bool = False

    @property
    def sequence(self) -> ColourSequence:
        """The colour sequence that the lines write."""
        kind = self.kind
        if kind is SequenceKind.SYMMETRIC and len(self.lines) < 2:
            kind = SequenceKind.REPEATING
        return ColourSequence(kind, tuple(Stripe(one.yarn, one.threads) for one in self.lines))

    def line(self, index: int) -> Line:
        """The written stripe with this index.

        Raises:
            BadInput: if there is none.
        """
        if not 0 <= index < len(self.lines):
            raise BadInput(
                f"The {self.name} has no stripe {index + 1}.", f"It has {len(self.lines)} stripes."
            )
        return self.lines[index]


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """The cloth on the table.

    Attributes:
        yarns: in the order of the file.
        warp, weft: see `Side`.
        like_warp: whether the weft takes the sequence of the warp.
        weave, direction: as the file writes them.
        warp_runs: "down" or "across" the picture; "" without a photo.
    """

    yarns: tuple[Yarn, ...]
    warp: Side
    weft: Side
    like_warp: bool = False
    weave: str = "plain"
    direction: str = ""
    warp_runs: str = ""
    extra: dict[str, Any] = field(default_factory=dict)

    def side(self, name: str) -> Side:
        """The warp or the weft.

        Raises:
            BadInput: for another name.
        """
        if name not in (WARP, WEFT):
            raise BadInput(f'There is no side "{name[:20]}".', 'Say "warp" or "weft".')
        return self.warp if name == WARP else self.weft

    def with_side(self, side: Side) -> Work:
        """The same with this warp or weft; a weft that is like the warp follows it."""
        if side.name == WEFT:
            return replace(self, weft=side)
        if not self.like_warp:
            return replace(self, warp=side)
        return replace(self, warp=side, weft=following(self.weft, side))

    def yarn(self, key: str) -> Yarn:
        """The yarn with this key.

        Raises:
            BadInput: if there is none.
        """
        for yarn in self.yarns:
            if yarn.key == key:
                return yarn
        raise BadInput(f'There is no yarn "{key[:10]}".', "Choose one from the list.")


def following(weft: Side, warp: Side) -> Side:
    """The weft with the written stripes of the warp, without doubts of its own."""
    from settscan.page.laying import laid

    lines = tuple(replace(line, doubt=None) for line in warp.lines)
    weft = replace(weft, kind=warp.kind, lines=lines)
    return laid(weft, tuple((None, one) for one in weft.shown))
