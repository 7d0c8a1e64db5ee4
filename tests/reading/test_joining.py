"""The whole cloth and a close-up of it become one reading."""

from dataclasses import replace

import numpy as np
import pytest

from settscan.cloth.model import ColourSequence, SequenceKind, Yarn
from settscan.measured import Measured, Origin
from settscan.photo.flat import Scale
from settscan.reading.colours import to_lab
from settscan.reading.joining import (
    find_places,
    groups_of,
    is_another_cloth,
    joined,
    joined_axis,
    matching_yarns,
    runs_of,
    table_of,
)
from settscan.reading.model import AxisRead, ClothRead, RepeatRead, StripeRead, WeaveRead

NO_SCALE = Scale(px_per_mm_x=None, px_per_mm_y=None, source="none")
SAME = ({"A": 0, "B": 1, "C": 2},) * 2


def stripe(yarn, threads, chance=0.98, cut=False):
    """A stripe; what is not certain lies one thread to either side."""
    rest = (1 - chance) / 2
    reach = 0 if chance > 0.9 else 1
    return StripeRead(
        yarn=yarn, threads=threads, low=threads - reach, high=threads + reach, chance=chance,
        others=((threads - 1, rest), (threads + 1, rest)), cut=cut, start_px=0.0, end_px=1.0,
    )  # fmt: skip


def axis(*stripes, **more):
    """An axis whose repeat is not known yet."""
    repeat = RepeatRead(
        kind=SequenceKind.PARTIAL, sequence=ColourSequence(SequenceKind.PARTIAL, ()),
        threads=None, members=(), chance=0.0,
    )  # fmt: skip
    known = {"bands": (), "pitch_px": None, "density": None, "counted_by": "density"} | more
    return AxisRead(stripes=stripes, repeat=repeat, **known)


def sett(*pairs, chance=0.98):
    """Stripes of which the frame cuts the first and the last."""
    last = len(pairs) - 1
    return tuple(stripe(y, n, chance, cut=i in (0, last)) for i, (y, n) in enumerate(pairs))


TRUE = [("A", 9), ("B", 4), ("A", 24), ("C", 2), ("A", 24), ("B", 4), ("A", 40)]
WRONG = [("A", 9), ("B", 4), ("A", 23), ("C", 2), ("A", 24), ("B", 4), ("A", 40)]
CLOSE = [("B", 3), ("A", 24), ("C", 2), ("A", 24), ("B", 1)]


def counts(read):
    return [s.threads for s in read.stripes]


def test_a_doubtful_count_is_taken_from_the_close_up():
    whole = axis(*sett(*WRONG, chance=0.6))
    read = joined_axis(whole, axis(*sett(*CLOSE)), SAME, "columns")
    assert counts(read)[2:5] == [24, 2, 24]
    assert read.stripes[2].chance > 0.95
    assert counts(read)[0] == 9 and read.stripes[0].cut
    assert "close-up-differs" not in [d.name for d in read.doubts]


def test_what_the_close_up_does_not_show_keeps_its_doubt():
    whole = axis(*sett(*WRONG, chance=0.6))
    read = joined_axis(whole, axis(*sett(*CLOSE)), SAME, "columns")
    assert [d.name for d in read.doubts].count("uncertain-counts") == 1
    assert read.stripes[1].chance < 0.9


def test_partners_in_the_repeat_learn_from_one_stripe():
    """Of a cloth that turns back, the close-up shows one half; the other half is mirrored."""
    half = [("A", 30), ("B", 4), ("A", 24), ("C", 6), ("A", 24), ("B", 4), ("A", 30)]
    pairs = half + half[1:]
    blurred = [(y, n + (n == 24)) for y, n in pairs]  # every 24 is taken for a 25
    shown = [("A", 5), ("B", 4), ("A", 24), ("C", 3)]
    read = joined_axis(axis(*sett(*blurred, chance=0.55)), axis(*sett(*shown)), SAME, "rows")
    assert [n for (y, m), n in zip(pairs, counts(read), strict=True) if m == 24] == [24] * 4
    assert read.repeat.kind is SequenceKind.SYMMETRIC
    assert {s.threads for s in read.repeat.sequence.stripes if s.yarn == "A"} == {30, 24}


def test_a_sure_count_that_disagrees_is_shown():
    whole = axis(*sett(*WRONG, chance=0.95))
    read = joined_axis(whole, axis(*sett(*CLOSE, chance=0.998)), SAME, "columns")
    differing = [d for d in read.doubts if d.name == "close-up-differs"]
    assert len(differing) == 1
    assert "stripe 3 has 23" in differing[0].sentence and "24" in differing[0].sentence
    assert counts(read)[2] == 24


def test_another_cloth_is_not_joined():
    whole = axis(*sett(*TRUE))
    other = axis(*sett(("B", 3), ("C", 8), ("A", 4), ("B", 9)))
    read = joined_axis(whole, other, SAME, "rows")
    assert counts(read) == counts(whole)
    assert [d.name for d in read.doubts] == ["close-up-unmatched"]
    far = axis(*sett(("B", 3), ("A", 60), ("C", 30), ("A", 60), ("B", 1)))  # same order of yarns
    assert joined_axis(whole, far, SAME, "rows").doubts[-1].name == "close-up-unmatched"


def test_a_close_up_that_was_not_counted_changes_nothing():
    whole = axis(*sett(*TRUE))
    assert joined_axis(whole, axis(), SAME, "rows") is whole


def places(whole, close):
    return find_places(runs_of(whole, SAME[0]), runs_of(close, SAME[1]))


def test_places_in_a_cloth_that_repeats_share_the_weight():
    whole = sett(*([("A", 8), ("B", 6)] * 4), chance=0.9)
    there = places(whole, sett(("A", 2), ("B", 6), ("A", 8), ("B", 3)))
    assert [p.first for p in there] == [0, 2, 4]
    assert sum(p.weight for p in there) == pytest.approx(1)
    turned = sett(("A", 2), ("C", 6), ("A", 8), ("B", 3))
    assert places(whole, turned) == ()


def test_ends_that_fit_anything_do_not_make_a_place():
    whole = sett(("A", 30), ("B", 4), ("A", 24), ("B", 4), ("A", 30))
    assert places(whole, sett(("A", 9), ("B", 4), ("A", 40), ("B", 12), ("A", 9))) == ()


def test_counts_decide_between_places():
    whole = sett(("B", 5), ("A", 8), ("B", 6), ("A", 20), ("B", 6), ("A", 3))
    there = places(whole, sett(("B", 2), ("A", 20), ("B", 2)))
    assert max(there, key=lambda p: p.weight).first == 2
    assert max(p.weight for p in there) > 0.99


def test_what_is_not_listed_is_spread_over_the_interval():
    wide = replace(stripe("A", 50, 0.3), low=47, high=53, others=((49, 0.2), (51, 0.2)))
    table = table_of(wide)
    assert sum(table.values()) == pytest.approx(1)
    assert set(table) == set(range(46, 55))


def yarns(*hexes):
    found = []
    for key, code in zip("ABCDEF", hexes, strict=False):
        encoded = np.array([int(code[i : i + 2], 16) for i in (0, 2, 4)]) / 255
        light = np.where(encoded <= 0.04045, encoded / 12.92, ((encoded + 0.055) / 1.055) ** 2.4)
        found.append(Yarn(key=key, name=key, colour="#" + code, lab=tuple(to_lab(light))))
    return tuple(found)


def test_yarns_are_matched_as_a_whole():
    """In warmer light each yarn alone may lie nearer another; together they do not."""
    whole = yarns("26543a", "1e2856", "e2d6b8")
    close = yarns("d8c8a0", "2c5030", "242850")
    assert matching_yarns(whole, close) == {"A": "C", "B": "A", "C": "B"}
    assert matching_yarns(whole, yarns("ff00ff")) == {}
    assert matching_yarns((), close) == {}


def test_one_yarn_that_shading_parted_is_found_all_the_same():
    """The navy of the close-up is two yarns, of which one continues the other."""
    whole = axis(*sett(*WRONG, chance=0.6))
    parted = sett(("B", 3), ("A", 14), ("D", 10), ("C", 2), ("A", 24), ("B", 1))
    read = joined_axis(whole, axis(*parted), (SAME[0], SAME[1] | {"D": 0}), "columns")
    assert counts(read)[2] == 24


def test_groups_of_yarns_that_look_alike():
    groups = groups_of(yarns("1f2756", "27543a", "eff1d9", "1f3351", "164925"))
    assert groups["A"] == groups["D"] and groups["B"] == groups["E"]
    assert len(set(groups.values())) == 3
    assert groups_of(()) == {}


def cloth(columns, rows):
    return ClothRead(
        yarns=yarns("26543a", "1e2856", "e2d6b8"), columns=columns, rows=rows,
        weave=WeaveRead(name="plain", confidence=0.9), column_share=0.5,
    )  # fmt: skip


def test_two_densities_that_disagree_are_shown():
    px_per_mm = Measured(2.0, 1.99, 2.01, Origin.READ)
    pitch = Measured(2.0, 1.99, 2.01, Origin.READ)
    told = Measured(1.1, 1.095, 1.105, Origin.READ)
    whole = axis(*sett(*TRUE), pitch_px=pitch, density=told, counted_by="weave")
    close = axis(*sett(*CLOSE), density=told)
    scale = Scale(px_per_mm_x=px_per_mm, px_per_mm_y=px_per_mm, source="ruler")
    read = joined(cloth(whole, whole), cloth(close, close), scale)
    assert "pitch-disputed" in [d.name for d in read.columns.doubts]
    by_density = replace(whole, counted_by="density")  # then the pitch is the close-up's own
    read = joined(cloth(by_density, by_density), cloth(close, close), scale)
    assert "pitch-disputed" not in [d.name for d in read.columns.doubts]
    read = joined(cloth(whole, whole), cloth(close, close), NO_SCALE)
    assert "pitch-disputed" not in [d.name for d in read.columns.doubts]


def test_a_close_up_is_of_another_cloth_where_neither_stripes_nor_density_fit():
    px_per_mm = Measured(2.0, 1.99, 2.01, Origin.READ)
    pitch = Measured(2.0, 1.99, 2.01, Origin.READ)
    scale = Scale(px_per_mm_x=px_per_mm, px_per_mm_y=px_per_mm, source="ruler")
    whole = axis(*sett(*TRUE), pitch_px=pitch, counted_by="weave")
    far, near = (Measured(d, d - 0.005, d + 0.005, Origin.READ) for d in (1.1, 1.0))
    other = sett(("C", 9), ("B", 30), ("C", 7), ("A", 31), ("C", 20))
    for stripes, density, strange in (
        (other, far, True),
        (other, near, False),
        (sett(*CLOSE), far, False),
    ):
        close = axis(*stripes, density=density)
        read = joined(cloth(whole, whole), cloth(close, close), scale)
        assert is_another_cloth(read) is strange


def test_a_like_stripe_elsewhere_keeps_its_own_count():
    """The close-up shows the 24; the stripe of about 26 beside it is another one."""
    pairs = [("A", 5), ("B", 4), ("A", 24), ("B", 4), ("A", 26), ("B", 4), ("C", 9)]
    whole = axis(*sett(*pairs, chance=0.7))
    close = axis(*sett(("A", 2), ("B", 4), ("A", 24), ("B", 2)))
    read = joined_axis(whole, close, SAME, "columns")
    assert counts(read)[2] == 24 and read.stripes[2].chance > 0.95
    assert counts(read)[4] == 26
    near = [("A", 5), ("B", 4), ("A", 24), ("B", 4), ("A", 25), ("B", 4), ("C", 9)]
    read = joined_axis(axis(*sett(*near, chance=0.7)), close, SAME, "columns")
    assert counts(read)[2] == 24
    assert counts(read)[4] == 25 or read.stripes[4].chance < 0.9
