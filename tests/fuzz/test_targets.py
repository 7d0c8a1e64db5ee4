"""A short fuzz run with every test run: texts by grammar, spoilt texts, and any text at all.

`python -m tests.fuzz` goes on from here for as long as one likes, led by coverage.
"""

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from tests.fuzz.__main__ import WORDS
from tests.fuzz.targets import SEEDS, TARGETS, run, seeds

KEYS = st.sampled_from(["A", "B", "C", "AA", "a", "x", "Q"])
NUMBERS = st.sampled_from(["1", "2", "24", "0", "007", "999999", "1000000", "10000000000", ""])
STRIPES = st.builds("{}{}{}".format, KEYS, st.sampled_from(["", "/", " ", " / "]), NUMBERS)
GAPS = st.sampled_from([" ", ", ", ";", "", "\t", "\n"])


def in_brackets(inner):
    several = st.lists(inner, max_size=4).map(" ".join)
    return st.one_of(
        st.builds("{}x({})".format, NUMBERS, several), st.builds("({})x{}".format, several, NUMBERS)
    )


SEQUENCES = st.lists(st.recursive(STRIPES, in_brackets, max_leaves=8), max_size=6).map(" ".join)
AMOUNTS = st.one_of(
    st.integers(-5, 10**9).map(str),
    st.floats().map(str),
    st.builds("{} {}/{}".format, st.integers(0, 9), st.integers(0, 9), st.integers(0, 9)),
    st.sampled_from(["", "-0", "1e400", "NaN", "inf", "½", "1,4", "1.000,5", "٣", "1_000", "0x10"]),
)
UNITS = st.sampled_from(["in", "cm", '"', "yd", "epi", "/10cm", "per in", "tex", "Nm", "%", "kg",
                         "worsted", "dpi", "lb", "m", "dents/10cm", "",
                         "to 5 %", "+- 1 %"])  # fmt: skip


def spoilt(name):
    """A good text with pieces cut out, doubled, or replaced."""
    good = seeds(name)

    @st.composite
    def draw(draw):
        text = draw(st.sampled_from(good))
        for _ in range(draw(st.integers(1, 4))):
            start = draw(st.integers(0, len(text)))
            end = min(len(text), start + draw(st.integers(0, 60)))
            word = draw(st.one_of(st.sampled_from(WORDS[name]), st.text(max_size=8)))
            text = (
                text[:start] + draw(st.sampled_from([word, "", text[start:end] * 2])) + text[end:]
            )
        return text

    return draw()


def texts(name):
    own = {"sequence": SEQUENCES, "quantities": st.builds("{} {}".format, AMOUNTS, UNITS)}
    return st.one_of(own.get(name, spoilt(name)), spoilt(name), st.text(max_size=200))


@pytest.mark.parametrize("name", sorted(TARGETS))
def test_good_texts_are_accepted(name):
    for text in seeds(name):
        assert run(name, text), text
    assert SEEDS[name] or len(seeds(name)[0]) > 500


@settings(max_examples=300)
@given(texts("sequence"))
@example("(" * 5000)
@example("2x(" * 500 + "A1" + ")" * 500)
@example("1000x(" * 3 + "A1 B1" + ")" * 3)
@example("A1 " * 300_000)
@example("9" * 5000)
def test_sequences(text):
    run("sequence", text)


@settings(max_examples=300)
@given(texts("quantities"))
@example("1" * 100_000)
@example("1/" * 40 + "1 in")
@example("1/0 in")
@example("1e999999999 in")
def test_quantities(text):
    run("quantities", text)


@settings(max_examples=80)
@given(texts("project"))
@example("a." * 2000 + "b = 1")
@example("x = " + "[" * 5000)
@example("x = " + "9" * 5000)
@example('[warp]\nsequence = "1000000x(A1)"\n[yarns.A]\ncolour = "#000000"\n')
def test_projects(text):
    run("project", text)


@settings(max_examples=80)
@given(texts("wif"))
@example("[WIF]\n[WARP]\nThreads=1000000\n[WEFT]\nThreads=1000000\n")
@example("[WIF]\n[WARP]\nThreads=" + "9" * 5000 + "\n[WEFT]\nThreads=1\n")
@example("[WIF]\nVersion=1.1\n[WARP]\nThreads=100000\n[WEFT]\nThreads=100000\n")
@example("[" * 10_000)
def test_drafts(text):
    run("wif", text)
