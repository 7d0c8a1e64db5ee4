"""The colour sequence as a line of text. The notation is ours; pivots as in the tartan trade."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from settscan.cloth.model import ColourSequence, SequenceKind, Stripe
from settscan.cloth.notation import (
    MOST_THREADS,
    format_sequence,
    is_yarn_key,
    parse_sequence,
    yarn_key,
)
from settscan.errors import BadSequence


def stripes(text, partial=False):
    return [(s.yarn, s.threads) for s in parse_sequence(text, partial).stripes]


def test_symmetric_marks_both_pivots():
    sequence = parse_sequence("A/24 B4 A8 C/2")
    assert sequence.kind is SequenceKind.SYMMETRIC
    assert stripes("A/24 B4 A8 C/2") == [("A", 24), ("B", 4), ("A", 8), ("C", 2)]
    # Out and back, each pivot once: 24 + 4 + 8 + 2 + 8 + 4.
    assert sequence.threads == 50


def test_repeating_and_partial():
    assert parse_sequence("A24 B4 C2").kind is SequenceKind.REPEATING
    assert parse_sequence("A24 B4 C2").threads == 30
    assert parse_sequence("A24 B4 C2", partial=True).kind is SequenceKind.PARTIAL


@pytest.mark.parametrize(
    "text",
    [
        "A/24, B4, C/2",
        "  A/24   B4\tC/2 ",
        "a/24 b4 c/2",
        "A / 24 B 4 C / 2",
        "A/24,B4,C/2,",
        "A/024 B4\nC/2",
        "A/24B4C/2",
    ],
)
def test_ways_of_typing_the_same(text):
    assert format_sequence(parse_sequence(text)) == "A/24 B4 C/2"


@pytest.mark.parametrize(
    ("text", "same"),
    [
        ("3x(A4 B4)", "A4 B4 A4 B4 A4 B4"),
        ("(A4 B4)x3", "A4 B4 A4 B4 A4 B4"),
        ("3 x (A4 B4)", "A4 B4 A4 B4 A4 B4"),
        ("3(A4 B4)", "A4 B4 A4 B4 A4 B4"),
        ("3×(A4 B4)", "A4 B4 A4 B4 A4 B4"),
        ("(A4 B4) C2", "A4 B4 C2"),
        ("(A4 B4) X3", "A4 B4 X3"),
        ("(A4 B4) x2", "A4 B4 A4 B4"),
        ("C/10 2x(A2 B2) D/6", "C/10 A2 B2 A2 B2 D/6"),
        ("A 24 2x(B4 C2)", "A24 B4 C2 B4 C2"),
        ("2x(A4 2x(B1 C1))", "A4 B1 C1 B1 C1 A4 B1 C1 B1 C1"),
    ],
)
def test_brackets(text, same):
    assert parse_sequence(text) == parse_sequence(same)


@pytest.mark.parametrize(
    ("text", "place", "hint"),
    [
        ("A24 B0", 5, "at least 1"),
        ("A24 B-4", 5, "whole number"),
        ("A24 B4.5", 7, "whole number"),
        ("A24 B", 5, '"B4"'),
        ("A24 4B", 5, 'Write "B4"'),
        ("A24 4", 5, "without its yarn"),
        ("A24 navy4", 5, "one or two letters"),
        ("A/24 B4 C2", 1, 'as "C/2"'),
        ("A24 B4 C/2", 8, 'as "A/24"'),
        ("A24 B/4 C2", 5, "beginning or the end"),
        ("A/24 B/4 C/2", 6, "beginning or the end"),
        ("A/24", 1, 'Write "A24"'),
        ("A24/ B4", 4, "between key and count"),
        ("A24 A4", 5, '"A28"'),
        ("2x(A4 B2 A4)", 10, "where the brackets repeat"),
        ("A24 x3", 5, 'Write "X3"'),
        ("3x(A4 B4", 1, "never closed"),
        ("A4 B4)x3", 6, "never opened"),
        ("3x()", 1, "no stripes"),
        ("0x(A4 B4)", 1, "at least 1"),
        ("2x(A4 B4)x3", 9, "both sides"),
        ("2x(A/4 B/4)", 4, "inside brackets"),
        ("A24 B4;C2", 7, "not a stripe"),
        ("A9999999999 B4", 1, "too large"),
        ("A２4", 1, "not a stripe"),
    ],
)
def test_errors_name_the_place_and_the_way_out(text, place, hint):
    with pytest.raises(BadSequence) as caught:
        parse_sequence(text)
    assert f"place {place}," in str(caught.value)
    assert hint in str(caught.value)


def test_empty_and_partial_with_pivot():
    for text in ("", "  ,, "):
        with pytest.raises(BadSequence, match="empty"):
            parse_sequence(text)
    with pytest.raises(BadSequence, match="partial sequence has no pivots"):
        parse_sequence("A/24 B/4", partial=True)


@pytest.mark.parametrize(
    "text",
    [
        f"A{MOST_THREADS} B1",
        "1000x(1000x(1000x(A1 B1)))",
        "1000000x(A1 B1)",
    ],
)
def test_a_huge_total_is_refused_before_it_is_written_out(text):
    with pytest.raises(BadSequence, match="more than 1,000,000 threads"):
        parse_sequence(text)


def test_deep_brackets_do_no_harm():
    assert stripes("(" * 5000 + "A4" + ")" * 5000) == [("A", 4)]
    with pytest.raises(BadSequence, match="never closed"):
        parse_sequence("(" * 100_000)


def test_yarn_keys():
    assert [yarn_key(i) for i in (0, 25, 26, 27, 51, 52, 701)] == [
        "A",
        "Z",
        "AA",
        "AB",
        "AZ",
        "BA",
        "ZZ",
    ]
    keys = [yarn_key(i) for i in range(702)]
    assert len(set(keys)) == 702
    assert all(is_yarn_key(key) for key in keys)
    assert not any(is_yarn_key(key) for key in ("", "a", "ABC", "A1", "É"))
    for index in (-1, 702):
        with pytest.raises(ValueError, match="no yarn key"):
            yarn_key(index)


@st.composite
def sequences(draw):
    count = draw(st.integers(1, 30))
    keys = draw(st.lists(st.integers(0, 701).map(yarn_key), min_size=count, max_size=count))
    threads = draw(st.lists(st.integers(1, 500), min_size=count, max_size=count))
    found = []
    for key, number in zip(keys, threads, strict=True):
        if not found or found[-1].yarn != key:
            found.append(Stripe(key, number))
    kind = draw(st.sampled_from(SequenceKind))
    if kind is SequenceKind.SYMMETRIC and len(found) == 1:
        kind = SequenceKind.REPEATING
    return ColourSequence(kind, tuple(found))


@given(sequences())
def test_round_trip(sequence):
    text = format_sequence(sequence)
    assert parse_sequence(text, partial=sequence.kind is SequenceKind.PARTIAL) == sequence


@given(sequences(), st.integers(1, 20))
def test_brackets_are_the_same_as_writing_out(sequence, times):
    once = format_sequence(ColourSequence(SequenceKind.REPEATING, sequence.stripes))
    if times > 1 and sequence.stripes[0].yarn == sequence.stripes[-1].yarn:
        with pytest.raises(BadSequence):
            parse_sequence(f"{times}x({once})")
    else:
        assert parse_sequence(f"{times}x({once})").stripes == sequence.stripes * times


@given(st.one_of(st.text(), st.text(alphabet="AaBbxX×/()0123 ,.-", max_size=40)))
def test_any_text_is_understood_or_refused_in_a_sentence(text):
    try:
        sequence = parse_sequence(text)
    except BadSequence as error:
        assert str(error).endswith(".")
    else:
        assert sum(s.threads for s in sequence.stripes) <= MOST_THREADS
        assert parse_sequence(format_sequence(sequence)) == sequence


def test_single_symmetric_stripe_is_written_plain():
    assert format_sequence(ColourSequence(SequenceKind.SYMMETRIC, (Stripe("A", 9),))) == "A9"
