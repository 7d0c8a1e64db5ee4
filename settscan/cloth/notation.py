"""The colour sequence as one line of text, both ways.

`A/24 B4 A8 C/2` is symmetric: a slash after the key marks the first and the last stripe as
pivots, each full and shared by the two halves that meet in it. `A24 B4 C2` is repeating. A
stripe is a yarn key (one or two letters) and its threads. `3x(A4 B4)` or `(A4 B4)x3` writes a
group three times over. Commas and any blanks separate; small letters count as capitals, except
that a small `x` always means "times".
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from functools import lru_cache
from typing import NamedTuple, NoReturn

from settscan.cloth.model import ColourSequence, SequenceKind, Stripe
from settscan.errors import BadSequence

MOST_THREADS = 1_000_000
"""Threads that one written sequence may hold; a loom carries some thousands."""

_TOKEN = re.compile(
    r"""(?P<gap>[\s,]+)
      | (?P<open>(?:(?P<before>[0-9]+)\s*[x×]?\s*)?\()
      | (?P<close>\)(?:\s*[x×]\s*(?P<after>[0-9]+))?)
      | (?P<stripe>(?P<key>[A-Za-z]+)\s*(?P<pivot>/?)\s*(?P<count>[0-9]+))
      | (?P<wrong>[^\s,()]+|.)""",
    re.VERBOSE,
)
_ALPHABET = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
_EXAMPLE = 'Write stripes as in "A24 B4 C2", or "A/24 B4 C/2" when it turns back at both ends.'


class _Written(NamedTuple):
    """A stripe as typed: where it stands (from 1) and whether it carries a pivot's slash."""

    stripe: Stripe
    pivot: bool
    place: int


@dataclass(slots=True)
class _Group:
    """The stripes of one bracket (or of the whole line) while it is being read."""

    place: int
    times: int | None = None
    stripes: list[_Written] = field(default_factory=list)
    threads: int = 0


@lru_cache(maxsize=16)  # a project names its few sequences many times
def parse_sequence(text: str, partial: bool = False) -> ColourSequence:
    """The colour sequence that a line of text means.

    Args:
        text: such as "A/24 B4 A8 C/2" or "A24 3x(B4 C2)".
        partial: whether it is less than one repeat (used once); then it has no pivots.

    Raises:
        BadSequence: naming the place in the line (counted from 1) and what to write instead.
    """
    written = _read(text)
    if not written:
        raise BadSequence("The colour sequence is empty.", _EXAMPLE)
    _refuse_neighbours(written)
    kind = _kind(written, partial)
    return ColourSequence(kind, tuple(one.stripe for one in written))


def format_sequence(sequence: ColourSequence) -> str:
    """The line of text for a sequence; `parse_sequence` reads it back.

    A partial sequence looks like a repeating one. A symmetric sequence of a single stripe is
    written without slashes, since a plain colour has no halves.
    """
    last = len(sequence.stripes) - 1
    slashed = sequence.kind is SequenceKind.SYMMETRIC and last > 0
    return " ".join(
        f"{stripe.yarn}{'/' if slashed and place in (0, last) else ''}{stripe.threads}"
        for place, stripe in enumerate(sequence.stripes)
    )


def yarn_key(index: int) -> str:
    """The key of the yarn with this 0-based index: A to Z, then AA, AB, ... up to ZZ.

    Raises:
        ValueError: for an index outside 0..701.
    """
    if 0 <= index < 26:
        return _ALPHABET[index]
    if 26 <= index < 26 * 27:
        return _ALPHABET[index // 26 - 1] + _ALPHABET[index % 26]
    raise ValueError(f"no yarn key for index {index}")


def is_yarn_key(text: str) -> bool:
    """Whether the text is a yarn key: one or two capital letters."""
    return 1 <= len(text) <= 2 and all(letter in _ALPHABET for letter in text)


def _read(text: str) -> list[_Written]:
    """All stripes with brackets written out."""
    groups = [_Group(place=1)]
    for token in _TOKEN.finditer(text):
        place = token.start() + 1
        if token["gap"]:
            continue
        if token["stripe"]:
            stripe = Stripe(_key(token, place), _number(token["count"], token[0], place))
            _add(groups[-1], [_Written(stripe, bool(token["pivot"]), place)], 1, place)
        elif token["open"]:
            before = token["before"]
            times = _number(before, token[0], place) if before is not None else None
            groups.append(_Group(place, times))
        elif token["close"]:
            _close(groups, token, place)
        else:
            _explain(token[0], place)
    if len(groups) > 1:
        _fail(groups[-1].place, "(", "this bracket is never closed", 'Add ")" after its stripes.')
    return groups[0].stripes


def _close(groups: list[_Group], token: re.Match[str], place: int) -> None:
    """End the innermost bracket and write it out into the one around it."""
    if len(groups) == 1:
        _fail(place, ")", "this bracket was never opened", 'Add "(" or remove it.')
    group = groups.pop()
    after = token["after"]
    if not group.stripes:
        _fail(group.place, "()", "the brackets hold no stripes", 'Write them as in "3x(A4 B4)".')
    if group.times is not None and after is not None:
        _fail(place, token[0], "the number of times stands on both sides", "Keep one of them.")
    times = group.times
    if after is not None:
        times = _number(after, token[0], place)
    for one in group.stripes:
        if one.pivot:
            _fail(
                one.place,
                f"{one.stripe.yarn}/{one.stripe.threads}",
                "a pivot cannot stand inside brackets",
                "Write the two pivots outside them, at the ends of the line.",
            )
    _add(groups[-1], group.stripes, 1 if times is None else times, group.place)


def _add(group: _Group, stripes: list[_Written], times: int, place: int) -> None:
    """Append stripes so many times over, unless that makes an impossible total."""
    group.threads += times * sum(one.stripe.threads for one in stripes)
    if group.threads > MOST_THREADS:
        raise BadSequence(
            f"The colour sequence holds more than {MOST_THREADS:,} threads at place {place}.",
            "Check the counts; one repeat on a loom has some hundreds.",
        )
    group.stripes.extend(stripes * times)


def _key(token: re.Match[str], place: int) -> str:
    """The yarn key of a stripe token, in capitals."""
    typed = token["key"]
    if len(typed) > 2:
        _fail(
            place,
            token[0],
            "a yarn key has one or two letters",
            "Give the yarn a key such as A and put its name in the list of yarns.",
        )
    if typed == "x":
        _fail(
            place,
            token[0],
            'a small x means "times" and follows or precedes a bracket',
            f'Write "X{token["count"]}" for yarn X, or "(A4 B4)x{token["count"]}" to repeat.',
        )
    return typed.upper()


def _number(digits: str, shown: str, place: int) -> int:
    """A positive count; `digits` are ASCII digits."""
    stripped = digits.lstrip("0")
    if not stripped:
        _fail(place, shown, "a count is at least 1", "Leave it out, or write how many there are.")
    if len(stripped) > len(str(MOST_THREADS)):
        _fail(place, shown, "that count is too large", "Check it against the cloth.")
    return int(stripped)


def _explain(wrong: str, place: int) -> NoReturn:
    """Raise the error for a piece of text that is not a stripe."""
    if re.fullmatch(r"[A-Za-z]{1,2}/?", wrong):
        key = wrong.rstrip("/").upper()
        _fail(place, wrong, "the count is missing", f'Write how many threads, as in "{key}4".')
    turned = re.match(r"([0-9]+)/?([A-Za-z]{1,2})(?![A-Za-z])", wrong)
    if turned and turned[2] != "x":
        right = f"{turned[2].upper()}{turned[1]}"
        _fail(place, wrong, "the yarn key comes before the count", f'Write "{right}".')
    if wrong[0] in "0123456789":
        _fail(place, wrong, "a count stands without its yarn", 'Write its key too, as in "A4".')
    if wrong.startswith("/"):
        _fail(
            place, wrong, "a pivot's slash stands between key and count", 'Write it as in "A/24".'
        )
    if re.match(r"[A-Za-z]{1,2}/?-", wrong) or re.match(r"\.[0-9]", wrong):
        _fail(place, wrong, "a count is a whole number, at least 1", 'Write it as in "A4".')
    _fail(place, wrong, "this is not a stripe", _EXAMPLE)


def _refuse_neighbours(written: list[_Written]) -> None:
    """Two neighbouring stripes of one yarn are one stripe, or a slip of the pen."""
    for first, second in zip(written, written[1:], strict=False):
        if first.stripe.yarn != second.stripe.yarn:
            continue
        yarn = first.stripe.yarn
        both = first.stripe.threads + second.stripe.threads
        seam = second.place <= first.place
        where = "where the brackets repeat, " if seam else ""
        _fail(
            first.place if seam else second.place,
            f"{yarn}{second.stripe.threads}",
            f"{where}two stripes of yarn {yarn} lie side by side",
            f'Write them as one, "{yarn}{both}", or correct the key.',
        )


def _kind(written: list[_Written], partial: bool) -> SequenceKind:
    """Symmetric, repeating or partial, from the slashes; refuses slashes that make no sense."""
    slashed = [index for index, one in enumerate(written) if one.pivot]
    if not slashed:
        return SequenceKind.PARTIAL if partial else SequenceKind.REPEATING
    first, last = written[0], written[-1]
    shown = f"{written[slashed[0]].stripe.yarn}/{written[slashed[0]].stripe.threads}"
    place = written[slashed[0]].place
    if partial:
        _fail(place, shown, "a partial sequence has no pivots", "Take the slash out.")
    if len(written) == 1:
        plain = shown.replace("/", "")
        _fail(place, shown, "one stripe alone has no pivots", f'Write "{plain}".')
    for index in slashed:
        if index not in (0, len(written) - 1):
            one = written[index]
            inner = f"{one.stripe.yarn}/{one.stripe.threads}"
            _fail(
                one.place,
                inner,
                "a pivot stands at the beginning or the end of the line",
                f'Write "{one.stripe.yarn}{one.stripe.threads}", or end the line here.',
            )
    if len(slashed) == 1:
        other = last if slashed[0] == 0 else first
        right = f"{other.stripe.yarn}/{other.stripe.threads}"
        _fail(
            place,
            shown,
            "only one pivot is marked",
            f'Mark the other end too, as "{right}", or take the slash out for a repeating one.',
        )
    return SequenceKind.SYMMETRIC


def _fail(place: int, shown: str, reason: str, advice: str) -> NoReturn:
    """Raise BadSequence with the place, the text found there, and the way out."""
    seen = shown if len(shown) <= 24 else shown[:23] + "…"
    raise BadSequence(f'The colour sequence is wrong at place {place}, "{seen}": {reason}.', advice)
