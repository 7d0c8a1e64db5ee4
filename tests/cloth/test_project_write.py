"""Writing the project file, and updating it around what a hand has changed."""

import dataclasses
import json
import re
import tomllib
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from settscan.cloth import project_literals as literals
from settscan.cloth import project_values as values
from settscan.cloth.alike import weft_as_warp
from settscan.cloth.model import (
    Cloth,
    ColourSequence,
    SequenceKind,
    Stripe,
    StripeDoubt,
    ThreadSet,
    Yarn,
)
from settscan.cloth.notation import format_sequence, parse_sequence
from settscan.cloth.project import (
    PhotoRecord,
    new_text,
    parse_project,
    read_project,
    save_text,
    update_project,
    write_project,
)
from settscan.cloth.project_update import update_text
from settscan.cloth.wishes import Edges, Frame, Loom, Piece, Wishes, YarnStock
from settscan.errors import BadFile, BadProject
from settscan.measured import Measured, Origin
from settscan.quantities import parse_density, parse_reed

INCH = Fraction(254, 10)
YARNS = (
    Yarn(key="A", name="navy", colour="#1b2654"),
    Yarn(key="B", name="red", colour="#aa2222"),
    Yarn(key="C", name="cream", colour="#eeeecc"),
)
PHOTO = PhotoRecord(
    file="chest.jpg",
    sha256="ab" * 32,
    width=4000,
    height=3000,
    scale_source="ruler",
    px_per_mm_x=10.12346,
    px_per_mm_y=10.2,
    relative_error=0.0012,
)


def per_inch(value, low, high, origin=Origin.READ):
    return Measured(value / 25.4, low / 25.4, high / 25.4, origin)


def a_reading(
    warp="A/24 B4 A8 C/2", weft="A24 B6", epi=(24.3, 24.1, 24.5), doubts=(2,), yarns=YARNS, **more
):
    sequence = parse_sequence(warp)
    doubted = tuple(
        StripeDoubt(position=place, low=7, high=9, chance=0.72, note="worn") for place in doubts
    )
    density = per_inch(*epi) if epi else None
    return Cloth(
        name="Blanket",
        yarns=yarns,
        warp=ThreadSet(sequence=sequence, density=density, origin=Origin.READ, doubts=doubted),
        weft=ThreadSet(sequence=parse_sequence(weft), origin=Origin.READ),
        **{"weave": "2/2 twill", "twill_direction": "Z", "notes": ("The light falls off.",)} | more,
    )


def fresh(**more):
    return new_text(a_reading(**more), Wishes(), PHOTO)


def remarks(text):
    return [line for line in text.splitlines() if line.lstrip().startswith("#")]


def without_remarks_beside(text):
    return re.sub(r"(?m)(?<=\S) +# .*$", "", text)


def test_what_is_written_is_read_back():
    cloth, wishes, photo = parse_project(fresh())
    reading = a_reading()
    assert photo == PHOTO
    assert wishes == Wishes()._replace(stock=tuple(YarnStock(key=key) for key in "ABC"))
    assert cloth.warp.sequence == reading.warp.sequence
    assert cloth.warp.doubts == reading.warp.doubts
    assert cloth.warp.origin is cloth.warp.density.origin is Origin.READ
    assert float(cloth.warp.density.value) * 25.4 == pytest.approx(24.3, abs=1e-9)
    assert cloth.weft.density is None
    assert cloth.yarns == YARNS
    assert (cloth.weave, cloth.twill_direction) == ("2/2 twill", "Z")
    assert cloth.notes == reading.notes


def test_all_wishes_are_written_exactly():
    wishes = Wishes(
        piece=Piece(
            width_mm=54 * INCH,
            weft_repeats=3,
            fringe_mm=Fraction(1, 3),
            spare=Fraction(1, 3),
            edges=Edges.HALF,
            border=(Stripe("A", 12), Stripe("B", 4)),
            selvedge_ends=4,
            selvedge_yarn="B",
            panels=2,
        ),
        loom=Loom(reeds=(parse_reed("60 Stockport"), parse_reed("48/10cm")), shafts=8),
        frame=Frame(circumference_mm=Fraction(2743), seconds_per_pass=Fraction("7.5")),
        stock=(
            YarnStock(
                key="A",
                size="2/8 worsted",
                tex=values.yarn_size("2/8 worsted")[1],
                package_g=Fraction(100),
                in_stash_g=Fraction("28.5"),
                core_g=Fraction(20),
                price=Fraction("6.5"),
                wraps_per_mm=Fraction(16) / INCH,
            ),
            YarnStock(key="B", package_length_mm=Fraction(500_000)),
            YarnStock(key="C"),
        ),
    )
    for units in ("inch", "metric"):
        wanted = wishes._replace(units=units)
        assert parse_project(new_text(a_reading(), wanted))[1] == wanted


def test_stripes_as_found_can_be_copied_with_a_weaving_mistake():
    """Photo A24 B4 A23 B4 A24: the sequence mends the 23, the file says how to have it back."""
    shown = dataclasses.replace(PHOTO, shows_warp="A24 B4 A23 B4 A24", shows_weft="A24 B4")
    text = new_text(a_reading(), Wishes(), shown)
    told = text.index("as found"), text.index("with partial = true"), text.index("shows_warp")
    assert text.index("[photo]") < told[0] < told[1] < told[2] < text.index("[yarns.A]")
    copied = re.sub(r'(?m)^sequence = ".*"$', 'sequence = "A24 B4 A23 B4 A24"', text, count=1)
    cloth, _, photo = parse_project(copied.replace("partial = false", "partial = true", 1))
    assert photo == shown
    assert format_sequence(cloth.warp.sequence) == "A24 B4 A23 B4 A24"
    assert cloth.warp.sequence.kind is SequenceKind.PARTIAL


def test_remarks_fit_in_a_window():
    assert max(len(line) for line in fresh().splitlines() if "#" in line) <= 100


@given(st.fractions(min_value=Fraction(1, 1000), max_value=10_000, max_denominator=10_000))
def test_lengths_and_masses_are_written_exactly(amount):
    for units in ("inch", "metric"):
        assert values.length(json.loads(literals.length(amount, units))) == amount
        assert values.length(json.loads(literals.size(amount, units))) == amount
    assert values.mass(json.loads(literals.mass(amount))) == amount


@given(st.floats(4, 200), st.floats(0, 0.2), st.sampled_from(["inch", "metric"]))
def test_a_density_keeps_its_value_within_its_interval(epi, relative, units):
    read = per_inch(epi, epi * (1 - relative), epi * (1 + relative))
    again = values.density("epi")(json.loads(literals.density(read, "epi", units)))
    width = max(float(read.high - read.low), 1e-5)
    for name in ("value", "low", "high"):
        assert abs(float(getattr(again, name)) - getattr(read, name)) <= 0.06 * width


def test_names_cannot_break_the_file():
    odd = 'na"vy\n[piece]\u2028\ud800 \\'
    yarns = (Yarn(key="A", name=odd, colour="#1b2654"), *YARNS[1:])
    cloth = dataclasses.replace(a_reading(yarns=yarns), name=odd, notes=(odd,))
    photo = dataclasses.replace(PHOTO, file=odd)
    read, _, record = parse_project(new_text(cloth, Wishes(), photo))
    assert read.yarn("A").name == 'na"vy [piece] ? \\'
    assert read.warp.origin is Origin.READ
    assert record.file == read.name == read.notes[0] == 'na"vy [piece] ? \\'


ONE_SETT = "A/24 B4 A8 C/2"


def one_sett(weft=ONE_SETT, **more):
    """A reading whose weft is the warp's sett, written from its other pivot if so asked."""
    return weft_as_warp(a_reading(weft=weft, **more))


def test_one_sett_is_written_once_whichever_way_round_it_was_read():
    for weft in (ONE_SETT, "C/2 A8 B4 A/24"):
        text = new_text(one_sett(weft), Wishes(), PHOTO)
        assert tomllib.loads(text)["weft"]["like_warp"] is True
        cloth = parse_project(text)[0]
        assert cloth.weft.sequence == cloth.warp.sequence == parse_sequence(ONE_SETT)
        assert cloth.weft.origin is Origin.READ


def test_another_sett_and_one_that_only_repeats_stay_as_they_are():
    for weft in ("C/4 A8 B4 A/24", "A/24 B4 A8 B/2"):
        reading = a_reading(weft=weft)
        assert weft_as_warp(reading) is reading
    repeating = a_reading(warp="A24 B4 C2", weft="C2 B4 A24")
    assert weft_as_warp(repeating) is repeating


def test_the_doubts_of_a_turned_weft_turn_with_it():
    reading = a_reading(weft="C/2 A8 B4 A/24")
    doubt = StripeDoubt(position=1, low=7, high=9, chance=0.6)
    reading = dataclasses.replace(reading, weft=dataclasses.replace(reading.weft, doubts=(doubt,)))
    turned = weft_as_warp(reading).weft
    assert turned.sequence.stripes[turned.doubts[0].position] == Stripe("A", 8)
    text = new_text(weft_as_warp(reading), Wishes(), PHOTO)
    assert tomllib.loads(text)["weft"]["like_warp"] is False  # its doubts need a line to stand by


def test_a_weft_that_follows_the_warp_takes_the_next_reading_with_it():
    text = new_text(one_sett(), Wishes(), PHOTO)
    again = "A/26 B4 A8 C/2"
    updated = update_text(text, one_sett(again, warp=again), PHOTO, "b.toml")
    cloth = parse_project(updated.text)[0]
    assert cloth.warp.sequence == cloth.weft.sequence == parse_sequence(again)
    assert tomllib.loads(updated.text)["weft"]["like_warp"] is True
    assert not updated.kept


def test_a_weft_that_no_longer_follows_gets_a_line_of_its_own():
    text = new_text(one_sett(), Wishes(), PHOTO)
    updated = update_text(text, one_sett("A24 B6"), PHOTO, "b.toml")
    assert tomllib.loads(updated.text)["weft"]["like_warp"] is False
    assert parse_project(updated.text)[0].weft.sequence == parse_sequence("A24 B6")


def test_a_warp_that_a_hand_changed_leads_a_weft_that_follows_it():
    text = new_text(one_sett(), Wishes(), PHOTO).replace(
        f'sequence = "{ONE_SETT}"', 'sequence = "A/22 B4 A8 C/2"'
    )
    updated = update_text(text, one_sett(), PHOTO, "b.toml")
    cloth = parse_project(updated.text)[0]
    assert cloth.warp.sequence == cloth.weft.sequence == parse_sequence("A/22 B4 A8 C/2")


def test_an_update_without_edits_takes_the_new_reading_and_nothing_else_moves():
    text = fresh().replace("reeds = []", 'reeds = ["12 dpi"]   # from my aunt')
    later = a_reading(warp="A/24 B6 A8 C/2", epi=(24.4, 24.3, 24.5), doubts=(), weave="plain")
    updated = update_text(text, later, PHOTO, "b.toml")
    cloth, wishes, _ = parse_project(updated.text)
    assert cloth.warp.sequence == later.warp.sequence
    assert cloth.warp.doubts == ()
    assert cloth.weave == "plain"
    assert cloth.warp.origin is Origin.READ
    assert wishes.loom.reeds[0].label == "12 dpi"
    assert remarks(updated.text) == remarks(text)
    assert "# from my aunt" in updated.text
    differing = [a for a, b in zip(text.splitlines(), updated.text.splitlines(), strict=False)]
    assert len(differing) > 50
    assert updated.kept == ()
    # A second update with the same reading changes nothing at all.
    assert update_text(updated.text, later, PHOTO, "b.toml").text == updated.text


def change(text, old, new):
    assert old in text
    return text.replace(old, new, 1)


LATER = a_reading(
    warp="A/26 B6 A10 C/4",
    weft="A20 B8",
    epi=(30.0, 29.0, 31.0),
    doubts=(1,),
    weave="plain",
    twill_direction=None,
    yarns=(
        Yarn(key="A", name="blue", colour="#1c2755"),
        Yarn(key="B", name="brick", colour="#ab2323"),
        Yarn(key="C", name="ecru", colour="#ededcb"),
    ),
    notes=("Other light.",),
)


ONE = ("warp", "sequence")
SAME = "A/24 B4 A8 C/2"
WEAVE = ("weave", "name")
YARN_A = ("yarns", "A", "name")


@pytest.mark.parametrize(
    ("old", "new", "path", "value"),
    [
        ('e = "A/24 B4 A8 C/2"', 'e = "A/24 B5 A8 C/2"', ONE, "A/24 B5 A8 C/2"),
        ("confirmed = false", "confirmed = true", ONE, SAME),
        ("doubts = [\n    {", "doubts = [\n    # {", ONE, SAME),
        ('sequence_from = "read"', 'sequence_from = "pinned"', ONE, SAME),
        ('sequence_from = "read"', 'sequence_from = "typed"', ONE, SAME),
        ('sequence_from = "read"\n', "", ONE, SAME),
        ('"A24 B6"\npartial = false', '"A24 B6"\npartial = true', ("weft", "partial"), True),
        ('epi = "24.30 epi, 24.10 to 24.50"', 'epi = "25"', ("warp", "epi"), "25"),
        ("24.10 to 24.50", "24.20 to 24.5", ("warp", "epi"), "24.30 epi, 24.20 to 24.5"),
        ('epi_from = "read"', 'epi_from = "pinned"', ("warp", "epi_from"), "pinned"),
        ('name = "2/2 twill"', 'name = "2/1 twill"', WEAVE, "2/1 twill"),
        ('direction = "Z"', 'direction = "S"', ("weave", "direction"), "S"),
        ('direction = "Z"', 'direction = "S"', WEAVE, "2/2 twill"),
        ('weave_from = "read"', 'weave_from = "typed"', WEAVE, "2/2 twill"),
        ('name = "navy"', 'name = "midnight"', ("yarns", "A", "name"), "midnight"),
        ('"#1b2654"', '"#1b2655"', ("yarns", "A", "colour"), "#1b2655"),
        ('"#1b2654"', '"#1b2655"', ("yarns", "A", "name"), "navy"),
        ('"The light falls off."', '"Washed."', ("notes",), ["Washed."]),
        ('name = "Blanket"', 'name = "Shawl"', ("name",), "Shawl"),
    ],
)
def test_an_edit_is_never_overwritten(old, new, path, value):
    text = change(fresh(), old, new)
    parse_project(text)
    # Nor by a third photo, which sees what the first one saw, nor by a fourth.
    for reading in (LATER, a_reading(), LATER):
        text = update_text(text, reading, PHOTO, "b.toml").text
        found = tomllib.loads(text)
        for key in path:
            found = found[key]
        assert found == value


@pytest.mark.parametrize(
    ("old", "new", "path"),
    [
        ('e = "A/24 B4 A8 C/2"', 'e = "A/26 B6 A10 C/4"', ONE),
        ('epi = "24.30 epi, 24.10 to 24.50"', 'epi = "30.0 epi, 29.0 to 31.0"', ("warp", "epi")),
        ('name = "2/2 twill"\ndirection = "Z"', 'name = "plain"\ndirection = ""', WEAVE),
        ('name = "navy"\ncolour = "#1b2654"', 'name = "blue"\ncolour = "#1c2755"', YARN_A),
        ('"The light falls off."', '"Other light."', ("notes",)),
    ],
)
def test_an_edit_that_the_next_reading_agrees_with_stays_an_edit(old, new, path):
    text = change(without_remarks_beside(fresh()), old, new)
    wanted = tomllib.loads(text)
    for reading in (LATER, a_reading()):
        text = update_text(text, reading, PHOTO, "b.toml").text
    found = tomllib.loads(text)
    for key in path:
        found, wanted = found[key], wanted[key]
    assert found == wanted


def test_what_is_kept_is_told_and_marked():
    edited = change(fresh(), 'sequence = "A/24 B4', 'sequence = "A/24 B5')
    updated = update_text(edited, LATER, PHOTO, "b.toml")
    assert "the warp sequence is yours and stays" in updated.kept
    assert tomllib.loads(updated.text)["warp"]["sequence_from"] == "typed"
    assert tomllib.loads(updated.text)["weft"]["sequence_from"] == "read"
    assert "the weft sequence is now A20 B8" in updated.changed


def test_the_same_sequence_typed_otherwise_is_still_the_cameras():
    edited = change(fresh(), '"A/24 B4 A8 C/2"', '"a/24, b4,  a8, c/2"')
    assert parse_project(edited)[0].warp.origin is Origin.READ
    updated = update_text(edited, LATER, PHOTO, "b.toml")
    assert parse_project(updated.text)[0].warp.sequence == LATER.warp.sequence


def test_a_word_replaced_throughout_the_file_is_an_edit():
    edited = fresh().replace("A/24 B4 A8 C/2", "A/24 B5 A8 C/2").replace("navy", "midnight")
    updated = update_text(edited, LATER, PHOTO, "b.toml")
    cloth = parse_project(updated.text)[0]
    assert cloth.warp.sequence.stripes[1].threads == 5
    assert cloth.yarn("A").name == "midnight"


def test_a_deleted_line_is_filled_in_by_the_next_reading():
    edited = change(fresh(), 'epi = "24.30 epi, 24.10 to 24.50"\nepi_from = "read"\n', "")
    edited = change(edited, 'sequence = "A/24 B4 A8 C/2"\n', "")
    cloth = parse_project(update_text(edited, LATER, PHOTO, "b.toml").text)[0]
    assert cloth.warp.sequence == LATER.warp.sequence
    assert float(cloth.warp.density.value) * 25.4 == pytest.approx(30)


def test_a_density_given_along_with_the_photo_is_pinned():
    pinned = Measured.exact(parse_density("48/10cm"), Origin.PINNED)
    reading = a_reading()
    reading = dataclasses.replace(reading, warp=dataclasses.replace(reading.warp, density=pinned))
    text = new_text(reading, Wishes())
    density = parse_project(text)[0].warp.density
    assert (density.value, density.origin) == (Fraction(48, 100), Origin.PINNED)
    updated = update_text(text, LATER, PHOTO, "b.toml")
    assert parse_project(updated.text)[0].warp.density == density
    over = update_text(fresh(), reading, PHOTO, "b.toml")
    assert parse_project(over.text)[0].warp.density == density


def test_a_density_that_helped_the_reading_comes_back_without_touching_the_file():
    edited = change(fresh(), "24.30 epi, 24.10 to 24.50", "1000/41 epi")
    for typed in ("25 epi, 24 to 26", "9.5/cm", "1000/41 epi"):
        text = change(edited, 'epi = "1000/41 epi"', f'epi = "{typed}"  # counted')
        value = parse_project(text)[0].warp.density.value
        pinned = Measured.exact(value, Origin.PINNED)
        helped = dataclasses.replace(LATER.warp, density=pinned)
        helped = dataclasses.replace(LATER, warp=helped)
        updated = update_text(text, helped, PHOTO, "b.toml").text
        assert f'epi = "{typed}"  # counted\nepi_from = "typed"' in updated
        again = update_text(updated, a_reading(), PHOTO, "b.toml").text
        assert f'epi = "{typed}"  # counted\nepi_from = "typed"' in again


def test_a_reading_without_density_keeps_the_one_before():
    text = update_text(fresh(), a_reading(epi=None), PHOTO, "b").text
    cloth = parse_project(text)[0]
    assert float(cloth.warp.density.value) * 25.4 == pytest.approx(24.3)
    assert cloth.warp.density.origin is Origin.READ
    later = parse_project(update_text(text, LATER, PHOTO, "b").text)[0]
    assert float(later.warp.density.value) * 25.4 == pytest.approx(30)


def borrowed(reading):
    """A reading in which the weft could not be counted: its sequence is that of the warp."""
    weft = ThreadSet(sequence=reading.warp.sequence, origin=Origin.ASSUMED)
    return dataclasses.replace(reading, weft=weft, weave="unknown", twill_direction=None)


def test_what_was_assumed_gives_way_to_what_is_read_and_not_the_other_way():
    text = new_text(borrowed(a_reading()), Wishes(), PHOTO)
    assert parse_project(text)[0].weft.origin is Origin.ASSUMED
    later = update_text(text, a_reading(), PHOTO, "b.toml").text
    cloth = parse_project(later)[0]
    assert (cloth.weft.sequence, cloth.weft.origin) == (parse_sequence("A24 B6"), Origin.READ)
    assert cloth.weave == "2/2 twill"
    again = update_text(later, borrowed(LATER), PHOTO, "b.toml")
    cloth = parse_project(again.text)[0]
    assert (cloth.weft.sequence, cloth.weft.origin) == (parse_sequence("A24 B6"), Origin.READ)
    assert cloth.weave == "2/2 twill"
    assert "the weft could not be counted this time; what was read stays" in again.kept
    third = parse_project(update_text(again.text, LATER, PHOTO, "b.toml").text)[0]
    assert (third.weft.sequence, third.weave) == (parse_sequence("A20 B8"), "plain")


def test_an_edited_assumption_is_an_edit():
    text = change(
        new_text(borrowed(a_reading()), Wishes(), PHOTO),
        '"A/24 B4 A8 C/2"\npartial = false                     # true: less than one repeat, used'
        ' once\nsequence_from = "assumed"',
        '"A2 B2"\npartial = false\nsequence_from = "assumed"',
    )
    assert parse_project(text)[0].weft.origin is Origin.TYPED
    for reading in (LATER, borrowed(LATER), a_reading()):
        text = update_text(text, reading, PHOTO, "b.toml").text
        assert parse_project(text)[0].weft.sequence == parse_sequence("A2 B2")


def test_yarns_keep_their_keys_by_colour_and_new_ones_are_added():
    yarns = (
        Yarn(key="A", name="cream", colour="#eeeecc"),
        Yarn(key="B", name="green", colour="#225522"),
        Yarn(key="C", name="navy", colour="#1b2654"),
    )
    later = a_reading(warp="C/24 A4 B/8", weft="A4 B4", yarns=yarns, doubts=())
    updated = update_text(fresh(), later, PHOTO, "b.toml")
    cloth = parse_project(updated.text)[0]
    assert [(yarn.key, yarn.name) for yarn in cloth.yarns] == [
        ("A", "navy"),
        ("B", "red"),
        ("C", "cream"),
        ("D", "green"),
    ]
    assert cloth.warp.sequence == parse_sequence("A/24 C4 D/8")
    assert "yarn D is new: green" in updated.changed
    assert updated.text.index("[yarns.D]") < updated.text.index("[warp]")


def test_a_file_typed_from_nothing_can_take_a_reading():
    typed = (
        '# mine\n[yarns.A]\nname = "dark"\ncolour = "#1b2654"\n\n[warp]\n'
        'sequence = "A24 B4"  # counted\n\n# the weft\n[weft]\nlike_warp = true\n\n'
        '[yarns.B]\nname = "red"\ncolour = "#aa2222"\n'
    )
    updated = update_text(typed, a_reading(doubts=()), PHOTO, "b.toml")
    cloth, _, photo = parse_project(updated.text)
    assert cloth.warp.sequence == parse_sequence("A24 B4")
    assert cloth.weft.sequence == cloth.warp.sequence
    assert cloth.yarn("A").name == "dark"
    assert cloth.yarn("C").name == "cream"
    assert float(cloth.warp.density.value) * 25.4 == pytest.approx(24.3)
    assert photo == PHOTO
    # The remark before [weft] still stands right before it.
    assert "# the weft\n[weft]" in updated.text
    assert "  # counted" in updated.text


@pytest.mark.parametrize(
    "text",
    [
        'warp.sequence = "A24 B4"\nweft.like_warp = true\nyarns.A.colour = "#1b2654"\n'
        'yarns.B = {colour="#aa2222", name="red"} # r\n',
        'yarns = {A={colour="#1b2654"}, B={colour="#aa2222"}}\nwarp = {sequence="A24 B4"}\n'
        "weft = {like_warp=true}\n",
        '[warp]\nsequence="A24 B4"\n[yarns]\nA = {colour="#1b2654"}\nB.colour="#aa2222"\n'
        "[weft]\nlike_warp=true\n",
        '[yarns]\n[yarns.A]\ncolour="#1b2654"\n[warp]\nsequence="A24 B4"\n[yarns.B]\n'
        'colour="#aa2222"\n[weft]\nlike_warp=true\n\n# end',
        '[weft]\nlike_warp=true\n[warp]\nsequence="A24 B4"\n[yarns.A]\ncolour="#1b2654"\n'
        '[yarns.B]\ncolour="#aa2222"\n[reading]\n',
        "",
    ],
)
def test_an_unusual_layout_is_updated_rightly_or_refused(text):
    try:
        updated = update_text(text, a_reading(doubts=()), PHOTO, "b.toml").text
    except BadProject as error:
        assert "nothing was written" in str(error)
        return
    cloth, _, photo = parse_project(updated)
    assert photo == PHOTO
    assert cloth.warp.sequence == parse_sequence("A24 B4" if text else "A/24 B4 A8 C/2")
    assert cloth.yarn("C").name == "cream"
    assert remarks(text) == [line for line in remarks(updated) if line in remarks(text)]


def test_a_plain_colour_can_be_written():
    one = ColourSequence(SequenceKind.SYMMETRIC, (Stripe("A", 9),))
    plain = ThreadSet(sequence=one, origin=Origin.READ)
    cloth = dataclasses.replace(a_reading(), warp=plain, weft=plain)
    assert parse_project(new_text(cloth, Wishes()))[0].warp.sequence.stripes == one.stripes


EDITS = (
    ('sequence = "A/24 B4 A8 C/2"', 'sequence = "A/20 B2 C/2"', ("warp", "sequence")),
    ('sequence = "A24 B6"', 'sequence = "A2 B2"', ("weft", "sequence")),
    ('epi = "24.30 epi, 24.10 to 24.50"', "epi = 20", ("warp", "epi")),
    ('name = "red"', 'name = "rust"', ("yarns", "B", "name")),
    ('name = "2/2 twill"', 'name = "plain"', ("weave", "name")),
    ("bout_ends = 120", "bout_ends = 90", ("frame", "bout_ends")),
    ('draw_in = "5 %, 3 to 8"', 'draw_in = "6 %"', ("losses", "draw_in")),
)


@settings(max_examples=25)
@given(
    st.sets(st.sampled_from(EDITS)),
    st.lists(st.sampled_from([LATER, a_reading(), a_reading(epi=None, doubts=())]), max_size=3),
)
def test_any_edits_survive_any_readings(edits, readings):
    text = fresh()
    for old, new, _ in edits:
        text = change(text, old, new)
    wanted = tomllib.loads(text)
    for reading in readings:
        text = update_text(text, reading, PHOTO, "b.toml").text
    found = tomllib.loads(text)
    for _, _, path in edits:
        here, there = wanted, found
        for key in path:
            here, there = here[key], there[key]
        assert here == there


def test_writing_to_a_file_and_updating_it(tmp_path):
    path = tmp_path / "b.toml"
    write_project(path, a_reading(), Wishes(), PHOTO)
    with pytest.raises(BadFile, match="exists already"):
        write_project(path, a_reading(), Wishes(), PHOTO)
    before = path.read_bytes()
    updated = update_project(read_project(path), LATER, PHOTO)
    assert path.read_text(encoding="utf-8") == updated.text
    assert (tmp_path / "b.toml.previous").read_bytes() == before
    assert sorted(p.name for p in tmp_path.iterdir()) == ["b.toml", "b.toml.previous"]


def test_windows_line_ends_and_mark_stay(tmp_path):
    path = tmp_path / "b.toml"
    path.write_bytes(b"\xef\xbb\xbf" + fresh().replace("\n", "\r\n").encode())
    update_project(read_project(path), LATER, PHOTO)
    after = path.read_bytes()
    assert after.startswith(b"\xef\xbb\xbf#")
    assert after.count(b"\n") == after.count(b"\r\n") > 50
    assert read_project(path).cloth.warp.sequence == LATER.warp.sequence


def test_a_file_changed_meanwhile_is_left_alone(tmp_path):
    path = tmp_path / "b.toml"
    write_project(path, a_reading(), Wishes(), PHOTO)
    project = read_project(path)
    path.write_text(path.read_text() + "# hello\n")
    for attempt in (
        lambda: update_project(project, LATER, PHOTO),
        lambda: save_text(project, project.text + "# other\n"),
    ):
        with pytest.raises(BadFile, match="changed by somebody else"):
            attempt()
    assert path.read_text().endswith("# hello\n")


def test_edited_text_is_saved_only_if_it_is_a_project(tmp_path):
    path = tmp_path / "b.toml"
    write_project(path, a_reading(), Wishes(), PHOTO)
    project = read_project(path)
    with pytest.raises(BadProject, match="shaft"):
        save_text(project, change(project.text, "shafts = 4", "shaft = 4"))
    saved = save_text(project, change(project.text, "shafts = 4", "shafts = 8"))
    assert saved.wishes.loom.shafts == 8
    assert read_project(path) == saved


def test_a_file_with_mistakes_is_not_updated(tmp_path):
    path = tmp_path / "b.toml"
    path.write_text(change(fresh(), "shafts = 4", "shaft = 4"))
    before = path.read_bytes()
    with pytest.raises(BadProject, match='Did you mean "shafts"'):
        update_project(read_project(path), LATER, PHOTO)
    with pytest.raises(BadProject, match="table"):
        update_text("warp = 3\n", LATER, PHOTO, "b.toml")
    assert path.read_bytes() == before
