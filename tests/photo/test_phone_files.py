"""What phones and scanners write: HEIC turned and in wide colours, 16 bits, CMYK, alpha."""

import struct

import cv2
import numpy as np
import pytest
from PIL import Image, ImageCms

from settscan.photo.load import load_photo
from settscan.photo.srgb import linear
from tests.photo.test_load import SMALL_HEIC, letter_f, p3_profile, write

pytest.importorskip("pi_heif")


def box(name, body):
    """A box of the ISO base media file format (ISO/IEC 14496-12, 4.2)."""
    return struct.pack(">I", 8 + len(body)) + name + body


def with_properties(*boxes):
    """The small HEIC photo with more item properties, all of them essential (ISO/IEC 23008-12)."""
    out = bytearray(SMALL_HEIC)
    at = out.index(b"ipma") - 4
    count = out[at + 18]
    for k in range(len(boxes)):
        out.insert(at + 19 + count + k, 0x80 | (count + 1 + k))
    out[at + 18] = count + len(boxes)
    new = b"".join(boxes)
    end = out.index(b"ipco") - 4
    end += struct.unpack(">I", out[end : end + 4])[0]
    out[end:end] = new
    more = len(new) + len(boxes)
    for name, grown in ((b"ipma", len(boxes)), (b"ipco", len(new)), (b"iprp", more),
                        (b"meta", more)):  # fmt: skip
        size = out.index(name) - 4
        (old,) = struct.unpack(">I", out[size : size + 4])
        out[size : size + 4] = struct.pack(">I", old + grown)
    place = out.index(struct.pack(">I", 0x17A))  # where the item's data begin
    out[place : place + 4] = struct.pack(">I", 0x17A + more)
    return bytes(out)


def in_colours(primaries, curve):
    """The small HEIC photo with other numbers in its `nclx` (ITU-T H.273, tables 2 and 3)."""
    old = b"nclx" + struct.pack(">HH", 1, 13)
    assert old in SMALL_HEIC
    return SMALL_HEIC.replace(old, b"nclx" + struct.pack(">HH", primaries, curve))


def loaded(tmp_path, data):
    path = tmp_path / "photo.heic"
    path.write_bytes(data)
    return load_photo(path)


@pytest.mark.parametrize("quarter", [0, 1, 2, 3])
@pytest.mark.parametrize("mirror", [None, 0, 1])
def test_heic_is_turned_and_mirrored_as_its_file_asks(tmp_path, quarter, mirror):
    """All eight orientations; `irot` counts quarters anticlockwise (ISO/IEC 23008-12, 6.5.10)."""
    boxes = [box(b"irot", bytes([quarter]))] if quarter else []
    if mirror is not None:
        boxes.append(box(b"imir", bytes([mirror])))
    plain = loaded(tmp_path, SMALL_HEIC).encoded.astype(int)
    photo = loaded(tmp_path, with_properties(*boxes))
    upright = np.rot90(plain, quarter)
    flips = [upright] if mirror is None else [upright[::-1], upright[:, ::-1]]
    assert min(np.abs(photo.encoded.astype(int) - f).mean() for f in flips) < 1
    assert photo.mirrored == (mirror is not None)
    assert [d.name for d in photo.doubts] == (["mirrored"] if photo.mirrored else [])


# Linear Display P3 to linear sRGB, as colour-science 0.4.7 carries the constants of IEC 61966-2-1
# and SMPTE EG 432-1 (four digits).
P3_TO_SRGB = np.array(
    [[1.2248, -0.2249, -0.0001], [-0.0420, 1.0420, 0.0000], [-0.0196, -0.0786, 1.0983]]
)


def in_p3(codes):
    """Codes in Display P3 as codes in sRGB, by the published matrix and curve."""
    light = np.clip(linear(np.asarray(codes, np.uint8)) @ P3_TO_SRGB.T, 0, 1)
    curve = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    return 255 * curve


@pytest.mark.parametrize("how", ["icc", "nclx"])
def test_heic_in_display_p3(tmp_path, how):
    plain = loaded(tmp_path, SMALL_HEIC).encoded
    if how == "icc":
        photo = loaded(tmp_path, with_properties(box(b"colr", b"prof" + p3_profile())))
    else:
        photo = loaded(tmp_path, in_colours(12, 13))
    for y, x in ((60, 20), (60, 80), (5, 5)):
        np.testing.assert_allclose(photo.encoded[y, x], in_p3(plain[y, x]), atol=2)
    assert photo.encoded[60, 20, 0] > plain[60, 20, 0]  # red is redder
    assert photo.doubts == ()


def test_colours_that_take_more_than_a_matrix_are_a_doubt(tmp_path):
    for primaries, curve in ((9, 16), (9, 18)):  # BT.2020 with the curves PQ and HLG
        photo = loaded(tmp_path, in_colours(primaries, curve))
        assert [d.name for d in photo.doubts] == ["profile-ignored"]
    assert loaded(tmp_path, in_colours(2, 2)).doubts == ()


def test_sixteen_bits_in_display_p3(tmp_path):
    """Another profile than sRGB takes a photo to 8 bits, in the right colours."""
    colours = np.array([[200, 120, 80], [60, 120, 200], [128, 128, 128]])
    deep = np.repeat(colours, 30, axis=0)[:, None].repeat(80, axis=1).astype(np.uint16) * 257
    path = tmp_path / "deep.tif"
    assert cv2.imwrite(str(path), deep[:, :, ::-1])
    with Image.open(path) as image:
        image.save(tmp_path / "p3.png", icc_profile=p3_profile())
    photo = load_photo(tmp_path / "p3.png")
    np.testing.assert_allclose(photo.encoded[15::30, 40], in_p3(colours), atol=1.5)


# Inks by their CIELAB (D50) in print: paper, and C, M, Y, K and pairs of full inks, as ISO
# 12647-2:2004 gives them for coated paper (from memory; here they only have to be known). Paper is
# white, since a profile is relative to it (ICC.1:2010, 6.2).
INKS = {
    (0, 0, 0, 0): (100, 0, 0), (1, 0, 0, 0): (54, -36, -49), (0, 1, 0, 0): (46, 72, -5),
    (0, 0, 1, 0): (87, -6, 90), (0, 0, 0, 1): (16, 0, 0), (0, 1, 1, 0): (46, 67, 47),
    (1, 0, 1, 0): (49, -66, 24), (1, 1, 0, 0): (24, 16, -45),
}  # fmt: skip


def cmyk_profile():
    """A printer's profile with a table of the sixteen corners (ICC.1:2010, 10.10 lut8Type)."""

    def fixed(*numbers):
        return b"".join(struct.pack(">i", round(n * 65536)) for n in numbers)

    grid = b""
    for index in range(16):
        inks = tuple(index >> k & 1 for k in (3, 2, 1, 0))
        light, a, b = INKS.get(inks, (12, 0, 0))
        grid += bytes([round(light * 2.55), a + 128, b + 128])
    straight = bytes(range(256))
    table = b"mft1\0\0\0\0" + bytes([4, 3, 2, 0]) + fixed(1, 0, 0, 0, 1, 0, 0, 0, 1)
    table += straight * 4 + grid + straight * 3
    name = "Ink".encode("utf-16-be")
    text = b"mluc\0\0\0\0" + struct.pack(">II", 1, 12) + b"enUS"
    text += struct.pack(">II", len(name), 28) + name
    tags = {b"A2B0": table, b"desc": text, b"cprt": text,
            b"wtpt": b"XYZ \0\0\0\0" + fixed(0.9642, 1.0, 0.8249)}  # fmt: skip
    offset, index, body = 128 + 4 + 12 * len(tags), struct.pack(">I", len(tags)), b""
    for key, value in tags.items():
        value += b"\0" * (-len(value) % 4)
        index += key + struct.pack(">II", offset + len(body), len(value))
        body += value
    size = 128 + len(index) + len(body)
    header = struct.pack(">I4sI4s4s4s", size, b"\0" * 4, 0x04000000, b"prtr", b"CMYK", b"Lab ")
    header += b"\0" * 12 + b"acsp" + b"\0" * 28 + fixed(0.9642, 1.0, 0.8249)
    return header.ljust(128, b"\0") + index + body


def lab_in_srgb(lab):
    """CIELAB (D50) as sRGB codes: CIE 15:2004 and Bradford's matrix from D50 to D65."""
    light, a, b = lab
    y = (light + 16) / 116
    f = np.array([y + a / 500, y, y - b / 200])
    xyz = np.where(f > 6 / 29, f**3, 3 * (6 / 29) ** 2 * (f - 4 / 29))
    xyz = xyz * (0.9642957, 1, 0.8251046)
    bradford = [[0.9554734, -0.0230985, 0.0632592], [-0.0283697, 1.0099954, 0.0210414],
                [0.0123140, -0.0205076, 1.3303659]]  # fmt: skip
    matrix = [[3.2406, -1.5372, -0.4986], [-0.9689, 1.8758, 0.0415], [0.0557, -0.2040, 1.0570]]
    linear_light = np.clip(np.array(matrix) @ np.array(bradford) @ xyz, 0, 1)
    curve = np.where(
        linear_light <= 0.0031308, 12.92 * linear_light, 1.055 * linear_light ** (1 / 2.4) - 0.055
    )
    return 255 * curve


@pytest.mark.parametrize("kind", ["tif", "jpg"])
def test_printing_colours_by_their_profile(tmp_path, kind):
    """JPEG has its inks upside down, as some programs write it; the profile takes ink as ink."""
    inks = [i for i in INKS if sum(i) <= 1]
    pixels = np.repeat(np.array(inks, np.uint8) * 255, 20, axis=0)[:, None].repeat(80, axis=1)
    path = tmp_path / f"ink.{kind}"
    options = {"quality": 100, "subsampling": 0} if kind == "jpg" else {}
    Image.fromarray(pixels, "CMYK").save(path, icc_profile=cmyk_profile(), **options)
    photo = load_photo(path)
    assert photo.doubts == ()
    expected = [lab_in_srgb(INKS[i]) for i in inks]
    np.testing.assert_allclose(photo.encoded[10::20, 40], expected, atol=3)


def test_the_same_as_the_colour_management_library_alone(tmp_path):
    """A whole picture of random colours, against LittleCMS called directly through Pillow."""
    rng = np.random.default_rng(7)
    pixels = rng.integers(0, 256, (80, 90, 3), dtype=np.uint8)
    path = write(tmp_path / "p3.png", pixels, icc_profile=p3_profile())
    with Image.open(path) as image:
        profile = ImageCms.getOpenProfile(__import__("io").BytesIO(p3_profile()))
        expected = ImageCms.profileToProfile(image, profile, ImageCms.createProfile("sRGB"))
    np.testing.assert_array_equal(load_photo(path).encoded, np.asarray(expected))


def test_half_transparent_sixteen_bits_lie_on_white(tmp_path):
    deep = letter_f().astype(np.uint16) * 257
    half = np.dstack([deep[:, :, ::-1], np.full(deep.shape[:2], 32768, np.uint16)])
    assert cv2.imwrite(str(tmp_path / "h.png"), half)
    photo = load_photo(tmp_path / "h.png")
    share = 32768 / 65535
    expected = deep * share + 65535 * (1 - share)
    assert np.abs(photo.encoded - expected).max() <= 1
