"""Reading the project file: everything that people write, and a sentence for each mistake."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from settscan.cloth import project_fields as fields
from settscan.cloth import wishes as wishes_module
from settscan.cloth.model import CUT_BY_EDGE, Cloth, SequenceKind, StripeDoubt, ThreadSet, Yarn
from settscan.cloth.notation import parse_sequence
from settscan.cloth.project import new_text, parse_project, read_project
from settscan.cloth.weaves import weave_name
from settscan.cloth.wishes import CrossEnd, FrameKind, Losses, Piece, Wishes
from settscan.errors import BadFile, BadInput, BadProject
from settscan.measured import Measured, Origin

INCH = Fraction(254, 10)

SMALL = """
[yarns.A]
name = "navy"
colour = "#1b2654"

[yarns.B]
name = "red"
colour = "#aa2222"

[warp]
sequence = "A/24 B/4"

[weft]
like_warp = true
"""

FULL = """\
settscan = 1
name = "Kitchen curtain"
units = "metric"
notes = ["for the north window"]

[yarns.A]
name = "navy"
colour = "#1B2654"
size = "2/8 worsted"
put_up = "100 g"
stash = "1 lb"
price = 6.50

[yarns.B]
name = "undyed"
colour = "#eeeecc"
put_up = "500 m"

[warp]
sequence = "a24, b4"
epi = "24.3 epi, 24.1 to 24.5"

[weft]
sequence = "B12 A2"
partial = true
ppi = "48/10cm"

[weave]
name = "2/2 Twill"
direction = "s"

[piece]
width = "1.4 m"
weft_repeats = 7
pieces = 2
hem = 0
fringe = "10 cm"
spare = "12 %"
close_on_pivot = false

[losses]
draw_in = "8 %, 6 to 10"
take_up = "10 %"

[loom]
waste = "90 cm"
shafts = 8
reeds = ["10 dpi", "48/10cm"]

[frame]
kind = "board"
cross = "start end"
ends_in_hand = 2
seconds_per_pass = 7.5
"""


def mistakes(text):
    with pytest.raises(BadProject) as caught:
        parse_project(text, "b.toml")
    return str(caught.value)


def test_a_weft_without_a_density_takes_the_warps_as_an_assumption():
    counted = SMALL.replace("[weft]", 'epi = "24 epi"\n\n[weft]')
    cloth, _, _ = parse_project(counted)
    assert cloth.warp.density == Measured.exact(24 / INCH, Origin.TYPED)
    assert cloth.weft.density == Measured.exact(24 / INCH, Origin.ASSUMED)
    cloth, _, _ = parse_project(f'{counted}ppi = "20 ppi"\n')
    assert cloth.weft.density == Measured.exact(20 / INCH, Origin.TYPED)


def test_the_smallest_file():
    cloth, wishes, photo = parse_project(SMALL)
    assert photo is None
    assert cloth.warp.sequence.kind is SequenceKind.SYMMETRIC
    assert cloth.weft.sequence == cloth.warp.sequence
    assert cloth.warp.origin is Origin.TYPED
    assert cloth.warp.density is None
    assert wishes.losses == Losses()


def test_everything_is_read_exactly():
    cloth, wishes, _ = parse_project(FULL)
    assert cloth.name == "Kitchen curtain"
    assert cloth.yarn("A").colour == "#1b2654"
    assert cloth.weft.sequence.kind is SequenceKind.PARTIAL
    assert cloth.warp.density.value == Fraction("24.3") / INCH
    assert cloth.warp.density.low == Fraction("24.1") / INCH
    assert cloth.weft.density.value == Fraction(48, 100)
    assert (cloth.weave, cloth.twill_direction) == ("2/2 twill", "S")
    stock = wishes.stock[0]
    assert stock.package_g == 100
    # The international pound is 0.45359237 kg exactly (yard and pound agreement of 1959).
    assert stock.in_stash_g == Fraction("453.59237")
    assert stock.price == Fraction("6.5")
    assert stock.size == cloth.yarn("A").size == "2/8 worsted"
    assert wishes.stock[1].package_length_mm == 500_000
    assert wishes.piece.width_mm == 1400
    assert wishes.piece.fringe_mm == 100
    assert wishes.piece.spare == Fraction(12, 100)
    assert wishes.losses.draw_in.low == Fraction(6, 100)
    assert wishes.losses.take_up.is_certain
    assert wishes.losses.width_shrinkage == Losses().width_shrinkage
    assert [reed.dents_per_mm for reed in wishes.loom.reeds] == [10 / INCH, Fraction(48, 100)]
    assert wishes.frame.kind is FrameKind.BOARD
    assert wishes.frame.cross is CrossEnd.START
    assert wishes.frame.seconds_per_pass == Fraction("7.5")
    assert wishes.units == "metric"


def test_a_bare_density_is_per_inch_and_a_range_may_be_metric():
    text = SMALL.replace('sequence = "A/24 B/4"', 'sequence = "A/24 B/4"\nepi = 24')
    assert parse_project(text)[0].warp.density.value == 24 / INCH
    text = SMALL.replace('B/4"', 'B/4"\nepi = "96/10cm, 94 to 98"')
    density = parse_project(text)[0].warp.density
    assert (density.low, density.value, density.high) == (
        Fraction(94, 100),
        Fraction(96, 100),
        Fraction(98, 100),
    )


def test_a_weft_like_the_warp_takes_its_density_too():
    text = SMALL.replace('B/4"', 'B/4"\nepi = "24"')
    cloth = parse_project(text)[0]
    assert cloth.weft.density.value == cloth.warp.density.value


@pytest.mark.parametrize(
    ("old", "new", "below", "hint"),
    [
        ('name = "Kitchen', 'nmae = 4\nname = "Kitchen', 0, 'Did you mean "name"?'),
        ("[losses]", "[looses]", 0, 'Did you mean "losses"?'),
        ("shafts = 8", "shaft = 8", 0, 'Did you mean "shafts"?'),
        ("shafts = 8", 'shafts = "8"', 0, "without quotes"),
        ("shafts = 8", "shafts = true", 0, "whole number"),
        ("shafts = 8", "shafts = 0", 0, "from 2 to 64"),
        ("shafts = 8", 'shafts = 8\nunits = "inch"', 1, "top of the file"),
        ("shafts = 8", 'shafts = 8\nfringe = "1 in"', 1, "below [piece]"),
        ('width = "1.4 m"', "width = 54", 0, '"54 in"'),
        ('width = "1.4 m"', 'width = "54"', 0, "number and a unit"),
        ('width = "1.4 m"', 'width = "1,4 m"', 0, "with a point"),
        ('width = "1.4 m"', 'width = "-3 m"', 0, "minus"),
        ("weft_repeats = 7", 'weft_repeats = 7\nlength = "2 m"', 0, "Keep one"),
        ('spare = "12 %"', "spare = 12", 0, "12 %"),
        ('draw_in = "8 %, 6 to 10"', 'draw_in = "8 %, 9 to 10"', 0, "does not hold"),
        ('draw_in = "8 %, 6 to 10"', "draw_in = nan", 0, "not a"),
        ('kind = "board"', 'kind = "wall"', 0, '"mill", "reel", "board"'),
        ('cross = "start end"', "cross = 3", 0, "far end"),
        ("seconds_per_pass = 7.5", "seconds_per_pass = inf", 0, "6.50"),
        ("ends_in_hand = 2", "ends_in_hand = 2.0", 0, "whole number"),
        ('"#eeeecc"', '"white"', 0, "hexadecimal"),
        ('"500 m"', '"500"', 0, "neither a mass nor a length"),
        ('sequence = "a24, b4"', 'sequence = "a24, b0"', 0, "place 6"),
        ('sequence = "a24, b4"', 'sequence = "A24 D4"', 0, "[yarns.D]"),
        ('sequence = "a24, b4"', "sequence = 24", 0, "double quotes"),
        ('epi = "24.3 epi, 24.1 to 24.5"', 'epi = "many"', 0, "48/10cm"),
        ('epi = "24.3 epi, 24.1 to 24.5"', 'epi = "24.3, 25 to 26"', 0, "does not hold"),
        ('epi = "24.3 epi, 24.1 to 24.5"', 'epi = ""', 0, "missing"),
        ('name = "2/2 Twill"', 'name = "2/2 twil"', 0, 'Did you mean "2/2 twill"?'),
        ('direction = "s"', 'direction = "left"', 0, '"Z"'),
        ("partial = true", "like_warp = true", 0, "Keep one"),
        ('reeds = ["10 dpi", "48/10cm"]', "reeds = [10]", 0, "no unit"),
        ("[yarns.B]", "[yarns.b]", 0, "capital"),
        ("settscan = 1", "settscan = 2", 0, "newer settscan"),
        ('units = "metric"', 'units = "cubits"', 0, '"inch"'),
        ('size = "2/8 worsted"', 'size = "thick"', 0, "thick"),
    ],
)
def test_a_mistake_names_line_and_remedy(old, new, below, hint):
    line = FULL[: FULL.index(old)].count("\n") + 1 + below
    told = mistakes(FULL.replace(old, new, 1))
    assert told.startswith("b.toml") and f"line {line}," in told
    assert hint in told


def test_all_mistakes_are_told_at_once_in_order():
    text = FULL.replace("shafts = 8", "shaft = 8").replace('"1.4 m"', "54").replace("b4", "b0")
    told = mistakes(text)
    assert "has 3 mistakes:" in told
    numbers = [int(line.split(",")[0].split()[-1]) for line in told.splitlines()[1:]]
    wanted = [text[: text.index(part)].count("\n") + 1 for part in ("b0", "= 54", "shaft = 8")]
    assert numbers == wanted


@pytest.mark.parametrize(
    ("text", "line", "hint"),
    [
        ("[piece]\nwidth = 54 in\n", 2, 'double quotes: "54 in"'),
        ("name = kitchen\n", 1, 'double quotes: "kitchen"'),
        ('name = "kitchen\n', 1, "quote is missing"),
        ('name = "a"\nname = "b"\n', 2, "twice"),
        ("[piece]\n[piece]\n", 2, "twice"),
        ("name\n", 1, "one field in a line"),
    ],
)
def test_broken_toml_is_explained(text, line, hint):
    told = mistakes(text)
    assert f"line {line}:" in told
    assert hint in told


SAYS_NOTHING = [("", "is empty"), ("\n", "is empty"), ("# none", "nothing but remarks")]


@pytest.mark.parametrize(("text", "told"), SAYS_NOTHING)
def test_a_file_that_says_nothing_is_no_project(text, told):
    said = mistakes(text)
    assert told in said and "no project file. Begin one" in said
    assert "mistakes" not in said


def test_a_missing_sequence_and_a_missing_yarn_table():
    assert "[warp]" not in mistakes("[weft]\nlike_warp = true\n")
    assert "The warp has no colour sequence" in mistakes("[weft]\nlike_warp = true\n")
    told = mistakes('[warp]\nsequence = "A4"\n[weft]\nlike_warp = true\n')
    assert "Add [yarns.A]" in told
    assert "below [warp]" in mistakes("warp = 3\n")


def test_doubts():
    doubt = '{stripe = 2, count = "B4", range = "3 to 5", chance = "72 %", note = "worn"}'
    text = SMALL.replace('B/4"', f'B/4"\ndoubts = [{doubt}]')
    (found,) = parse_project(text)[0].warp.doubts
    assert (found.position, found.low, found.high, found.chance) == (1, 3, 5, 0.72)
    confirmed = text.replace('"worn"', '"worn", confirmed = true')
    assert parse_project(confirmed)[0].warp.doubts == ()
    corrected = text.replace("B/4", "B/5")
    assert parse_project(corrected)[0].warp.doubts == ()
    assert "from 1 to 2" in mistakes(text.replace("stripe = 2", "stripe = 3"))
    assert '"3 to 5"' not in mistakes(text.replace('"3 to 5"', '"many"'))


def test_a_stripe_that_the_photo_cuts_has_a_least_count():
    text = new_text(
        a_cut_cloth := Cloth(
            name="Cut",
            yarns=(Yarn(key="A", name="navy", colour="#1b2654"),),
            warp=ThreadSet(
                sequence=parse_sequence("A4", partial=True),
                origin=Origin.READ,
                doubts=(StripeDoubt(position=0, low=4, high=4, chance=0.5, note=CUT_BY_EDGE),),
            ),
            weft=ThreadSet(sequence=parse_sequence("A4", partial=True), origin=Origin.READ),
        ),
        Wishes(piece=Piece(width_mm=INCH, length_mm=INCH)),
    )
    assert 'range = "4 or more"' in text
    assert parse_project(text, "b.toml")[0].warp.doubts == a_cut_cloth.warp.doubts


@pytest.mark.parametrize(
    ("typed", "hint"),
    [
        ("2/2 twil", 'Did you mean "2/2 twill"?'),
        ("tabbi", 'Did you mean "tabby"?'),
        ("brocade", "Write one of: plain, 2/2 twill"),
        ("1/1 twill", "No draft is known"),
    ],
)
def test_a_weave_without_a_draft(typed, hint):
    with pytest.raises(BadInput) as raised:
        weave_name(typed)
    assert hint in str(raised.value)


@pytest.mark.parametrize(
    ("typed", "name"),
    [
        ("Tabby", "plain"),
        (" 2/2  Twill", "2/2 twill"),
        ("basket", "2/2 hopsack"),
        ("4/2 twill", "4/2 twill"),
        ("liftplan 1-2, 3-4 on 1-2-3-4", "liftplan 1-2, 3-4 on 1-2-3-4"),
        ("", "unknown"),
    ],
)
def test_weaves_by_their_one_name(typed, name):
    assert weave_name(typed) == name


def test_files_that_are_no_text(tmp_path):
    path = tmp_path / "b.toml"
    path.write_bytes(b'name = "a"\nx = "\xff"\n')
    with pytest.raises(BadProject, match=r"b\.toml, line 2: this is not UTF-8"):
        read_project(path)
    path.write_bytes('name = "ä"\n'.encode("utf-16"))
    with pytest.raises(BadProject, match=r"b\.toml, line 1: this is not UTF-8"):
        read_project(path)
    path.write_bytes(b"\xff\xd8\xff\xe0\x00\x10JFIF\x00")
    with pytest.raises(BadProject, match=r"no project file.*settscan scan"):
        read_project(path)
    with pytest.raises(BadFile, match="no such file"):
        read_project(tmp_path / "none.toml")
    with pytest.raises(BadFile, match="folder"):
        read_project(tmp_path)
    path.write_bytes(b"#" * 4_000_001)
    with pytest.raises(BadFile, match="larger than 4 MB"):
        read_project(path)


def test_a_mark_and_windows_line_ends_do_no_harm(tmp_path):
    path = tmp_path / "b.toml"
    path.write_bytes(b"\xef\xbb\xbf" + FULL.replace("\n", "\r\n").encode())
    assert read_project(path).cloth.name == "Kitchen curtain"


def test_every_wish_can_be_written_in_the_file():
    for section in fields.WISHES:
        kind = {"piece": "Piece", "losses": "Losses", "loom": "Loom", "frame": "Frame"}
        kind["sample"] = "SampleRecord"
        nouns = getattr(wishes_module, kind[section.name])._fields
        assert set(nouns) == {field.attribute for field in section.fields}


@given(st.text(max_size=60))
def test_any_text_as_a_file_ends_in_a_cloth_or_a_sentence(text):
    try:
        parse_project(text)
    except BadProject as error:
        assert str(error)


@given(
    st.sampled_from([("", key) for key in fields.TOP_KEYS])
    | st.sampled_from([(s, key) for s, keys in fields.KEYS.items() for key in keys]),
    st.one_of(
        st.text(alphabet="ABab 0123456789/.,%-", max_size=12).map(lambda t: f'"{t}"'),
        st.integers(-5, 10**12).map(str),
        st.sampled_from(["true", "nan", "-inf", "1e400", "[]", "[1]", "{}", '["a"]', "[{}]"]),
        st.sampled_from(["1979-05-27", "07:32:00", '""', '[["a"]]', "{a = 1}"]),
    ),
)
def test_any_value_anywhere_ends_in_a_cloth_or_a_sentence(place, value):
    section, key = place
    header = "yarns.A" if section == "yarns" else section
    text = f"[{header}]\n{key} = {value}\n" if section else f"{key} = {value}\n"
    others = SMALL
    if f"[{header}]" in SMALL:
        others = SMALL.replace(f"[{header}]\n", text, 1)
        text = ""
    try:
        parse_project(text + others)
    except BadProject as error:
        assert "line" in str(error) or "mistakes" in str(error)


@pytest.mark.parametrize(
    ("typed", "low", "value", "high"),
    [
        ("crimp 10 %", Fraction(1, 11), Fraction(1, 11), Fraction(1, 11)),
        ("Crimp 25 %, 10 to 25", Fraction(1, 11), Fraction(1, 5), Fraction(1, 5)),
        ("10 %", Fraction(1, 10), Fraction(1, 10), Fraction(1, 10)),
    ],
)
def test_a_crimp_becomes_the_take_up_that_it_is(typed, low, value, high):
    # ASTM D3883: crimp (D - F) / F, take-up (D - F) / D; 10 % of the one is 9.09 % of the other.
    _, wishes, _ = parse_project(f'{SMALL}\n[losses]\ntake_up = "{typed}"\n', "b.toml")
    found = wishes.losses.take_up
    assert (found.low, found.value, found.high) == (low, value, high)
