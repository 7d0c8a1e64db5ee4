"""What lies on the cloth in a photo, and the cloth straightened without it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from settscan.errors import Refusal

if TYPE_CHECKING:
    from settscan.photo.flat import CardFound, FlatCloth, Photo, RulerFound
    from settscan.reading.hidden import Glance

Straightened = tuple["Things", "FlatCloth", "Glance | None"]

_STILL_SHOWN = 0.85  # of the cloth beside a thing, when the thing and a rim are left out
_BEYOND = 0.25, 1.0  # of what shows of a thing, by which it may reach beyond the picture


@dataclass(frozen=True, slots=True, kw_only=True)
class Things:
    """What lies in a photo: the card, else rulers, else the outlines of bars with no scale."""

    rulers: tuple[RulerFound, ...] = ()
    card: CardFound | None = None
    bars: tuple[Any, ...] = ()

    @classmethod
    def seen_in(cls, photo: Photo) -> Things:
        """Look for the card, without one for rulers, and without any for bars."""
        from settscan.photo.bars import find_bars
        from settscan.photo.card import find_card
        from settscan.photo.ruler import see_rulers
        from settscan.photo.ruler_ends import at_its_ends

        card = find_card(photo)
        if card is not None:
            return cls(card=card)
        seen = see_rulers(photo)
        bars = () if seen.rulers else (*seen.bodies, *find_bars(photo))
        rulers = tuple(at_its_ends(photo, ruler) for ruler in seen.rulers)
        return cls(rulers=rulers, bars=bars)

    @property
    def outlines(self) -> list[Any]:
        """(4, 2) corners of each, in photo pixels."""
        card = [self.card.outline_px] if self.card else []
        return [ruler.outline_px for ruler in self.rulers] + card + list(self.bars)

    def drawn_in(self, flat: FlatCloth, seen: Glance, size: tuple[int, int]) -> Things:
        """These things, masked no farther than the weave is hidden; themselves if nothing is won.

        Args:
            flat: the straightened cloth.
            seen: a glance at it.
            size: (width, height) of the photo.
        """
        from settscan.reading.bare import without_bare

        old = (*(ruler.outline_px for ruler in self.rulers), *self.bars)
        new = without_bare(flat, seen, old, size)
        if all(one is other for one, other in zip(old, new, strict=True)):
            return self
        rulers = zip(self.rulers, new, strict=False)
        return replace(
            self,
            rulers=tuple(replace(ruler, outline_px=outline) for ruler, outline in rulers),
            bars=new[len(self.rulers) :],
        )


def straightened_best(
    photo: Photo, things: Things, straightened: Callable[[Things], FlatCloth]
) -> Straightened:
    """The flat cloth, straightened anew if the weave shows that more or less lies on it.

    What was not masked had a say in how the cloth lies and where it ends. How far a thing goes
    on beyond the picture that it spoilt is not known: what shows the most cloth is taken.

    Returns:
        What lies in the photo, the flat cloth, and a glance at it if one was taken already.
    """
    from settscan.reading.hidden import glance_at, things_on

    flat, glance = straightened(things), None
    tried: list[tuple[float, Things, FlatCloth, Glance | None]] = []
    with suppress(Refusal), solvable("read"):
        glance = glance_at(flat)
        less = things.drawn_in(flat, glance, (photo.width, photo.height))
        if less is not things:
            anew = straightened(less)
            if _shown(anew) > _shown(flat):
                things, flat, glance = less, anew, glance_at(anew)
        for hidden in _different(things_on(flat, glance, beyond) for beyond in _BEYOND):
            more = replace(things, bars=(*things.bars, *hidden))
            anew = straightened(more)
            tried.append((_shown(anew), more, anew, None))
    seen = _shown(flat, None if glance is None else glance.hidden)
    tried.append((_STILL_SHOWN * seen, things, flat, glance))
    return max(tried, key=lambda one: one[0])[1:]


def _different(outlines: Iterable[tuple[Any, ...]]) -> list[tuple[Any, ...]]:
    """Outlines of things, if there are any, without those that came before."""
    several: list[tuple[Any, ...]] = []
    for some in outlines:
        known = ([one.tolist() for one in before] for before in several)
        if some and [one.tolist() for one in some] not in known:
            several.append(some)
    return several


def _shown(flat: FlatCloth, hidden: Any = None) -> float:
    """How much cloth shows, in photo pixels; what is `hidden` is no cloth."""
    pixels = float(flat.mask.sum()) - (0.0 if hidden is None else float(hidden.sum()))
    return pixels / flat.sampling**2


@contextmanager
def solvable(done: str) -> Iterator[None]:
    """Equations without a solution mean that the picture does not show what they speak of."""
    from numpy.linalg import LinAlgError

    try:
        yield
    except (LinAlgError, ArithmeticError) as error:
        raise Refusal(
            f"The picture could not be {done}: it shows too few stripes or threads.",
            "Photograph the cloth from above so that it fills the frame, sharp and in even light.",
        ) from error
