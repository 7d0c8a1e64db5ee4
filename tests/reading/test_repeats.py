"""Repeat and pivots, on setts that are made up and cut at random."""

import time

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from settscan.cloth.model import SequenceKind
from settscan.reading.counts import Count
from settscan.reading.repeats import (
    Seen,
    find_pattern,
    owning_unlike_partners,
    write_sequence,
)

SYMMETRIC, REPEATING, PARTIAL = (
    SequenceKind.SYMMETRIC,
    SequenceKind.REPEATING,
    SequenceKind.PARTIAL,
)


def sure(number):
    """A count as a good photo gives it."""
    return Count(((number, 0.996), (number + 1, 0.002), (number + 2, 0.002)))


def seen(text, cut=(True, True)):
    """Stripes of "A8 B4 ..." with sure counts, cut by the frame at the ends."""
    words = text.split()
    last = len(words) - 1
    return tuple(
        Seen(
            yarn=word[0],
            count=sure(int(word[1:])),
            cut=(k == 0 and cut[0]) or (k == last and cut[1]),
        )
        for k, word in enumerate(words)
    )


def written(stripes):
    """The pattern, and its sequence as text."""
    pattern = find_pattern(stripes)
    sequence = write_sequence(pattern, stripes, tuple(s.count.threads for s in stripes))
    return pattern, " ".join(f"{s.yarn}{s.threads}" for s in sequence.stripes)


def expanded(sequence, first, last, number):
    """Yarn and threads of `number` stripes, of which those from `first` to `last` are written."""
    stripes = sequence.stripes
    out = []
    for position in range(number):
        k = position - first
        if sequence.kind is SYMMETRIC:
            period = 2 * (len(stripes) - 1)
            k = k % period
            k = min(k, period - k)
        elif sequence.kind is REPEATING:
            k = k % len(stripes)
        out.append((stripes[k].yarn, stripes[k].threads))
    return out


def unfolded(stripes, symmetric):
    """One whole repeat."""
    return stripes + stripes[-2:0:-1] if symmetric else stripes


@st.composite
def setts(draw):
    """(stripes of one half or one repeat, whether it is symmetric), neighbours of two yarns."""
    symmetric = draw(st.booleans())
    number = draw(st.integers(3, 7))
    yarns = [draw(st.sampled_from("ABCD"))]
    while len(yarns) < number:
        yarns.append(draw(st.sampled_from([y for y in "ABCD" if y != yarns[-1]])))
    if not symmetric:
        assume(yarns[0] != yarns[-1])
    # All different, or a shorter repeat with a weaving mistake in it might explain it better.
    counts = draw(st.lists(st.integers(1, 40), min_size=number, max_size=number, unique=True))
    return list(zip(yarns, counts, strict=True)), symmetric


def cut_from(sett, symmetric, start, length):
    """What a frame shows of an endless cloth: threads `start` to `start + length`."""
    repeat = unfolded(sett, symmetric)
    threads = [(k, y) for k, (y, n) in enumerate(repeat) for _ in range(n)]
    shown = [threads[(start + i) % len(threads)] for i in range(length)]
    stripes = []
    for k, (place, yarn) in enumerate(shown):
        if k and place == shown[k - 1][0]:
            stripes[-1][1] += 1
        else:
            stripes.append([yarn, 1])
    return " ".join(f"{y}{n}" for y, n in stripes)


@settings(max_examples=120)
@given(setts(), st.data())
def test_a_repeat_that_shows_is_found_and_gives_back_what_was_seen(made, data):
    sett, symmetric = made
    size = sum(n for _, n in unfolded(sett, symmetric))
    start = data.draw(st.integers(0, size - 1))
    length = data.draw(st.integers(int(1.3 * size) + 1, 4 * size))
    text = cut_from(sett, symmetric, start, length)
    stripes = seen(text)
    # Beside the two that are cut, at least two stripes of the repeat must have come twice.
    assume(len(stripes) - 2 >= len(unfolded(sett, symmetric)) + 2)
    pattern = find_pattern(stripes)
    assert pattern.kind is not PARTIAL
    assert pattern.breaks == ()
    sequence = write_sequence(pattern, stripes, tuple(s.count.threads for s in stripes))
    assert len(sequence.one_repeat()) <= len(unfolded(sett, symmetric))
    explained = expanded(sequence, pattern.first, pattern.last, len(stripes))
    for one, (yarn, threads) in zip(stripes, explained, strict=True):
        assert one.yarn == yarn
        assert one.count.threads <= threads if one.cut else one.count.threads == threads


@given(setts(), st.data())
def test_less_than_a_repeat_is_never_made_longer(made, data):
    """Colours all different: nothing can match, so the stripes are written as they are."""
    sett, _ = made
    yarns = "ABCDEFGH"[: len(sett)]
    text = " ".join(f"{y}{n}" for y, (_, n) in zip(yarns, sett, strict=True))
    pattern, again = written(seen(text, cut=(data.draw(st.booleans()), data.draw(st.booleans()))))
    assert pattern.kind is PARTIAL
    assert again == text


@given(setts(), st.data())
def test_groups_hold_each_stripe_once_and_one_yarn_each(made, data):
    sett, symmetric = made
    size = sum(n for _, n in unfolded(sett, symmetric))
    length = data.draw(st.integers(2, 3 * size))
    stripes = seen(cut_from(sett, symmetric, data.draw(st.integers(0, size - 1)), length))
    pattern = find_pattern(stripes)
    held = [g for group in pattern.groups for g in group]
    assert sorted([*held, *pattern.rim]) == list(range(len(stripes)))
    for group in pattern.groups:
        assert len({stripes[g].yarn for g in group}) == 1


@pytest.mark.parametrize(
    ("text", "kind", "sequences"),
    [
        ("A5 B4 C8 B4 A12 B4 C8 B4 A7", SYMMETRIC, {"A12 B4 C8", "C8 B4 A12"}),
        ("C3 B4 A12 B4 C8 B4 A12 B4 C5", SYMMETRIC, {"A12 B4 C8", "C8 B4 A12"}),
        ("A3 B4 C8 A12 B4 C8 A12 B4 C8 A2", REPEATING, {"B4 C8 A12", "C8 A12 B4", "A12 B4 C8"}),
        ("A5 B4 C8 D2 B1", PARTIAL, {"A5 B4 C8 D2 B1"}),
    ],
)
def test_setts_by_hand(text, kind, sequences):
    pattern, again = written(seen(text))
    assert pattern.kind is kind
    assert again in sequences


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("A50 B14 C32 D6 E14 A52 B14 C25", REPEATING),  # three yarns come again, one count
        ("A9 B14 C32 D6 E14 A52 B8", REPEATING),  # two yarns of five, both cut
        ("A50 B14 C32 D6 E14 A52 B13 C25", PARTIAL),  # another count: it does not come again
        ("A60 B14 C32 D6 E14 A52 B14 C25", PARTIAL),  # a cut stripe that is larger
        ("A78 B82 A100 B26", PARTIAL),  # two yarns must come in turn, so that tells nothing
        ("A42 B20 A34 B20 A100 B12", PARTIAL),  # a mirror is found by chance as soon
    ],
)
def test_little_more_than_one_repeat_is_weighed_by_chance(text, kind):
    assert find_pattern(seen(text)).kind is kind


def test_a_rim_that_is_read_wrongly_does_not_hide_a_plain_repeat():
    core = "B4 C8 D5 A12 B4 C8 D5 A12 B4 C8 D5 A12"
    pattern, again = written(seen(f"C3 D7 {core} B2"))
    assert pattern.kind is REPEATING
    assert pattern.rim == (0, 1)
    assert again in ("B4 C8 D5 A12", "C8 D5 A12 B4", "D5 A12 B4 C8", "A12 B4 C8 D5")
    assert find_pattern(seen("C3 D7 B4 C8 D5 A12 B4")).kind is PARTIAL


def test_two_stripes_in_turn():
    pattern, again = written(seen("A9 B16 A16 B16 A16 B3"))
    assert pattern.kind in (SYMMETRIC, REPEATING)  # with two stripes both say the same
    assert again in ("A16 B16", "B16 A16")


def test_a_cut_stripe_may_be_smaller_than_its_partners_but_not_larger():
    pattern, _ = written(seen("A5 B4 C8 B4 A12 B4 C8 B4 A7"))
    assert pattern.breaks == ()
    pattern, _ = written(seen("A20 B4 C8 B4 A12 B4 C8 B4 A12 B4 C8 B4 A7"))
    assert pattern.kind is PARTIAL or 0 in pattern.breaks


@pytest.mark.parametrize("place", [4, 7, 12])
def test_a_stripe_that_breaks_the_repeat_is_named(place):
    words = ("A5 " + "B4 C8 B4 A12 " * 5 + "B4 C8 B4 A7").split()
    words[place] = words[place][0] + str(int(words[place][1:]) + 1)
    pattern, again = written(seen(" ".join(words)))
    assert pattern.kind is SYMMETRIC
    assert pattern.breaks == (place,)
    assert again in ("A12 B4 C8", "C8 B4 A12")


def test_what_comes_again_regularly_is_no_mistake():
    pattern, again = written(seen(cut_from([*[("A", 3), ("B", 5)] * 3, ("A", 4)], True, 10, 110)))
    assert pattern.breaks == ()
    assert again in ("A3 B5 A3 B5 A3 B5 A4", "A4 B5 A3 B5 A3 B5 A3")


def test_a_doubtful_count_is_no_break():
    stripes = list(seen("A5 B4 C8 B4 A12 B4 C8 B4 A12 B4 C8 B4 A7"))
    stripes[6] = Seen(yarn="C", count=Count(((9, 0.6), (8, 0.4))), cut=False)
    pattern = find_pattern(tuple(stripes))
    assert pattern.kind is SYMMETRIC
    assert pattern.breaks == ()


@pytest.mark.parametrize("text", ["A12", "A12 B3"])
def test_one_or_two_stripes_show_no_repeat(text):
    pattern, again = written(seen(text))
    assert pattern.kind is PARTIAL
    assert again == text


def seconds_for(text):
    stripes = seen(text)
    start = time.process_time()
    pattern = find_pattern(stripes)
    return time.process_time() - start, pattern


def test_three_hundred_stripes_are_searched_in_reasonable_time():
    """A sett of 30 stripes that shows ten times."""
    repeat = " ".join(f"{'ABCDE'[(k * k + k // 3) % 5]}{2 + (7 * k) % 23}" for k in range(30))
    words = (repeat + " ") * 10
    joined = [w for k, w in enumerate(words.split()) if k == 0 or w[0] != words.split()[k - 1][0]]
    took, pattern = seconds_for(" ".join(joined))
    assert pattern.kind is REPEATING
    assert took < 5


NEARLY = "C20 A46 B44 A84 B44 A46 C52 A45 B44 A82 B44 A45 C30"


def owned(stripes):
    counts = tuple(s.count for s in stripes)
    return owning_unlike_partners(counts, stripes, find_pattern(stripes))


def test_partners_that_nearly_agree_in_many_places_are_in_doubt_and_the_others_are_not():
    """A herringbone whose wave slipped on one side of the pivot."""
    stripes = seen(NEARLY)
    assert len(find_pattern(stripes).groups) == 7  # one pivot of 84, another of 82
    intervals = [count.interval(0.9) for count in owned(stripes)]
    assert intervals[1] == intervals[11] == intervals[5] == intervals[7] == (45, 46)
    assert intervals[3] == intervals[9] == (82, 84)
    assert intervals[2] == intervals[4] == intervals[8] == (44, 44)


@pytest.mark.parametrize(
    "text",
    [
        NEARLY.replace("45", "46").replace("82", "84"),  # a plain repeat
        "A46 B44 A84 B44 A46 C52 A30 B44 A20 B44 A30 C30",  # of two unlike pivots
        "A46 B44 C84 D12 A45 C30 B42 D8",  # none
        "A40 B44 A30 B20 A60 B52 A18 B9",
    ],
)
def test_where_stripes_repeat_plainly_or_not_at_all_no_count_is_doubted(text):
    stripes = seen(text)
    assert owned(stripes) == tuple(s.count for s in stripes)
