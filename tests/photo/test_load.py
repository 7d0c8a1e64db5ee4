"""A file becomes an upright photo in sRGB, or one clear sentence."""

import base64
import io
import struct
import sys

import cv2
import numpy as np
import pytest
from PIL import Image

from settscan.errors import BadImage, BadInput
from settscan.photo import load as load_module
from settscan.photo.given import GivenScale
from settscan.photo.load import encode, linear, load_photo

# A 96 x 72 picture: left half red (200, 40, 40), right half blue (40, 60, 180), and a light
# square (230, 230, 230) of 20 px at the top left; HEVC in HEIF, made for this test.
SMALL_HEIC = base64.b64decode(
    "AAAAHGZ0eXBoZWljAAAAAG1pZjFoZWljbWlhZgAAAVZtZXRhAAAAAAAAACFoZGxyAAAAAAAAAABwaWN0AAAAAAAA"
    "AAAAAAAAAAAAACJpbG9jAAAAAERAAAEAAQAAAAABegABAAAAAAAAAN8AAAAjaWluZgAAAAAAAQAAABVpbmZlAgAA"
    "AAABAABodmMxAAAAAA5waXRtAAAAAAABAAAA1mlwcnAAAAC3aXBjbwAAAHhodmNDAQNwAAAAkAAAAAAAHvAA/P34"
    "+AAADwNgAAEAGEABDAH//wNwAAADAJAAAAMAAAMAHroCQGEAAQArQgEBA3AAAAMAkAAAAwAAAwAeoDCBJZbqSSmu"
    "bgIaDAgAAAMAyAAAAwAIQGIAAQAHRAHBcrAiQAAAABNjb2xybmNseAABAA0ABoAAAAAUaXNwZQAAAAAAAABgAAAA"
    "SAAAABBwaXhpAAAAAAMICAgAAAAXaXBtYQAAAAAAAAABAAEEgQIDBAAAAOdtZGF0AAAA2ygBrwngzMH/IkPTnlN0"
    "vuoLheqNVzZF5Rad5G0K0HlxE+imEChP7l/c8n6VczSTvU1SjiAhKxh2NNhn1EYLdtCwj4wBIWHhB22UxhB0u0t4"
    "28mHEhzYv4txQXV//hc4X9v3E/47nNL/MypvfxrNhxKZEN1Fir4XkQpEmMqhIYGE6OkjbG2TN23zcCXMU5A3goKD"
    "njj6ZdHrHXiUUFhHZBxhd1hsLKQk2gnj/LfLwV8oqIS3bDMiU43FkHlnAgAAAwAI2Zoh2fVMqSrdEL2S/spEMgMt"
    "USIgoADGgA=="
)


def letter_f(height=80, width=100):
    """A picture without symmetry: dark F-like marks on light."""
    pixels = np.full((height, width, 3), 220, np.uint8)
    pixels[8:72, 16:32] = 20
    pixels[8:24, 16:80] = 20
    pixels[40:48, 16:56] = (160, 30, 30)
    return pixels


def write(path, pixels, exif=None, **options):
    image = Image.fromarray(pixels)
    if exif is not None:
        options["exif"] = exif
    image.save(path, **options)
    return path


def as_stored(upright, tag):
    """What a camera with this tag stores, by the definition of the tag.

    EXIF 2.32, tag 274: where the stored 0th row and 0th column lie in the upright picture:
    1 top/left, 2 top/right, 3 bottom/right, 4 bottom/left, 5 left/top, 6 right/top,
    7 right/bottom, 8 left/bottom.
    """
    row_at = ["top", "top", "bottom", "bottom", "left", "right", "right", "left"][tag - 1]
    column_at = ["left", "right", "right", "left", "top", "top", "bottom", "bottom"][tag - 1]
    height, width = upright.shape[:2]
    rows_are_columns = row_at in ("left", "right")
    size = (width, height) if rows_are_columns else (height, width)
    stored = np.empty((*size, 3), np.uint8)
    for r in range(size[0]):
        for c in range(size[1]):
            across, along = (r, c) if rows_are_columns else (c, r)
            x_flip = "right" in (row_at, column_at)
            y_flip = "bottom" in (row_at, column_at)
            x = width - 1 - across if x_flip else across
            y = height - 1 - along if y_flip else along
            stored[r, c] = upright[y, x]
    return stored


@pytest.mark.parametrize("tag", range(1, 9))
@pytest.mark.parametrize("kind", ["png", "tif", "jpg"])
def test_every_orientation_is_undone(tmp_path, tag, kind):
    upright = letter_f()
    exif = Image.Exif()
    exif[0x0112] = tag
    path = tmp_path / f"f.{kind}"
    options = {"quality": 100, "subsampling": 0} if kind == "jpg" else {}
    write(path, as_stored(upright, tag), exif, **options)
    photo = load_photo(path)
    assert np.abs(photo.encoded.astype(int) - upright).max() <= (40 if kind == "jpg" else 0)
    assert photo.mirrored == (tag in (2, 4, 5, 7))
    assert [d.name for d in photo.doubts] == (["mirrored"] if photo.mirrored else [])


@pytest.mark.parametrize("tag", range(1, 9))
def test_deep_files_keep_their_bits_and_are_turned_too(tmp_path, tag):
    upright = letter_f()
    stored = as_stored(upright, tag).astype(np.uint16) * 257 + 3
    path = tmp_path / "deep.png"
    assert cv2.imwrite(str(path), stored[:, :, ::-1])
    with_orientation(path, tag)
    photo = load_photo(path)
    assert photo.encoded.dtype == np.uint16
    np.testing.assert_array_equal(photo.encoded, upright.astype(np.uint16) * 257 + 3)


def with_orientation(path, tag):
    """Adds an eXIf chunk to a PNG file."""
    import zlib

    exif = Image.Exif()
    exif[0x0112] = tag
    body = exif.tobytes().removeprefix(b"Exif\x00\x00")
    chunk = struct.pack(">I", len(body)) + b"eXIf" + body
    chunk += struct.pack(">I", zlib.crc32(b"eXIf" + body))
    data = path.read_bytes()
    path.write_bytes(data[:33] + chunk + data[33:])  # behind the signature and IHDR


def test_deep_tiff_and_deep_alpha(tmp_path):
    rng = np.random.default_rng(1)
    deep = rng.integers(0, 65536, (70, 90, 3), dtype=np.uint16)
    assert cv2.imwrite(str(tmp_path / "a.tif"), deep)
    np.testing.assert_array_equal(load_photo(tmp_path / "a.tif").encoded, deep[:, :, ::-1])
    clear = np.dstack([deep, np.zeros((70, 90), np.uint16)])
    assert cv2.imwrite(str(tmp_path / "b.png"), clear)
    assert (load_photo(tmp_path / "b.png").encoded == 65535).all()


def test_grey_alpha_palette_cmyk_and_one_bit(tmp_path):
    grey = np.tile(np.linspace(0, 255, 100).astype(np.uint8), (80, 1))
    seen = load_photo(write(tmp_path / "grey.png", grey)).encoded
    np.testing.assert_array_equal(seen, np.repeat(grey[:, :, None], 3, axis=2))

    deep = grey.astype(np.uint16) * 257
    assert cv2.imwrite(str(tmp_path / "deep-grey.png"), deep)
    assert (load_photo(tmp_path / "deep-grey.png").encoded[:, :, 1] == deep).all()

    rgba = np.dstack([letter_f(), np.full((80, 100), 128, np.uint8)])
    seen = load_photo(write(tmp_path / "half.png", rgba)).encoded.astype(float)
    expected = letter_f() * (128 / 255) + 255 * (127 / 255)
    assert np.abs(seen - expected).max() <= 1

    Image.fromarray(letter_f()).quantize(8).save(tmp_path / "palette.png")
    assert np.abs(load_photo(tmp_path / "palette.png").encoded.astype(int) - letter_f()).max() < 6

    Image.fromarray(letter_f()).convert("CMYK").save(tmp_path / "ink.tif")
    photo = load_photo(tmp_path / "ink.tif")
    assert [d.name for d in photo.doubts] == ["profile-missing"]
    assert np.abs(photo.encoded.astype(int) - letter_f()).max() <= 2

    Image.fromarray(grey).convert("1").save(tmp_path / "bits.png")
    assert set(np.unique(load_photo(tmp_path / "bits.png").encoded)) == {0, 255}


# Display P3 in an ICC profile: colorants adapted to D50 and the sRGB curve (Apple's published
# Display P3 profile carries these five-digit numbers).
P3_COLORANTS = {
    b"rXYZ": (0.51512, 0.24120, -0.00105),
    b"gXYZ": (0.29198, 0.69225, 0.04189),
    b"bXYZ": (0.15710, 0.06657, 0.78407),
    b"wtpt": (0.96420, 1.0, 0.82491),
}


def p3_profile():
    """A version 4 matrix profile, written by the layout in ICC.1:2010."""

    def fixed(*numbers):
        return b"".join(struct.pack(">i", round(n * 65536)) for n in numbers)

    tags = {k: b"XYZ \0\0\0\0" + fixed(*v) for k, v in P3_COLORANTS.items()}
    curve = b"para\0\0\0\0" + struct.pack(">HH", 3, 0)
    curve += fixed(2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)
    tags |= dict.fromkeys((b"rTRC", b"gTRC", b"bTRC"), curve)
    name = "P3".encode("utf-16-be")
    text = b"mluc\0\0\0\0" + struct.pack(">II", 1, 12) + b"enUS"
    tags |= dict.fromkeys((b"desc", b"cprt"), text + struct.pack(">II", len(name), 28) + name)
    offset, table, body = 128 + 4 + 12 * len(tags), struct.pack(">I", len(tags)), b""
    for key, value in tags.items():
        value += b"\0" * (-len(value) % 4)
        table += key + struct.pack(">II", offset + len(body), len(value))
        body += value
    size = 128 + len(table) + len(body)
    header = struct.pack(">I4sI4s4s4s", size, b"\0" * 4, 0x04000000, b"mntr", b"RGB ", b"XYZ ")
    header += b"\0" * 12 + b"acsp" + b"\0" * 28 + fixed(0.9642, 1.0, 0.8249)
    return header.ljust(128, b"\0") + table + body


def test_display_p3_becomes_srgb(tmp_path):
    # Expected values by the primaries and white of Display P3 and of sRGB (SMPTE EG 432-1,
    # IEC 61966-2-1), through the standard construction of an RGB to XYZ matrix.
    def to_xyz(primaries):
        columns = np.array([[x / y, 1, (1 - x - y) / y] for x, y in primaries]).T
        white = np.array([0.3127 / 0.3290, 1, (1 - 0.3127 - 0.3290) / 0.3290])
        return columns * np.linalg.solve(columns, white)

    p3 = to_xyz([(0.680, 0.320), (0.265, 0.690), (0.150, 0.060)])
    srgb = to_xyz([(0.640, 0.330), (0.300, 0.600), (0.150, 0.060)])
    colours = np.array([[200, 120, 80], [60, 120, 200], [128, 128, 128], [90, 150, 100]], np.uint8)
    pixels = np.repeat(colours, 30, axis=0)[:, None].repeat(80, axis=1)
    path = write(tmp_path / "p3.png", pixels, icc_profile=p3_profile())
    photo = load_photo(path)
    light = linear(colours) @ np.linalg.solve(srgb, p3).T
    expected = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    assert np.abs(photo.encoded[15::30, 40] - 255 * expected).max() < 1.5
    assert photo.doubts == ()


def test_a_broken_profile_is_a_doubt(tmp_path):
    path = write(tmp_path / "odd.png", letter_f(), icc_profile=b"nonsense" * 40)
    photo = load_photo(path)
    assert [d.name for d in photo.doubts] == ["profile-ignored"]
    np.testing.assert_array_equal(photo.encoded, letter_f())


def test_a_grey_photo_with_a_colour_profile(tmp_path):
    path = write(tmp_path / "g.png", letter_f()[:, :, 0], icc_profile=p3_profile())
    assert load_photo(path).doubts == ()


def test_focal_length_and_broken_notes(tmp_path):
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0xA405] = 26
    assert load_photo(write(tmp_path / "a.jpg", letter_f(), exif)).focal_35mm == 26
    assert load_photo(write(tmp_path / "b.jpg", letter_f())).focal_35mm is None
    exif = Image.Exif()
    exif[0x0112] = 9
    photo = load_photo(write(tmp_path / "c.jpg", letter_f(), exif))
    assert [d.name for d in photo.doubts] == ["orientation-unreadable"]


def test_heic(tmp_path):
    pytest.importorskip("pi_heif")
    path = tmp_path / "photo.jpg"  # a wrong extension does not matter
    path.write_bytes(SMALL_HEIC)
    photo = load_photo(path)
    assert photo.encoded.shape == (72, 96, 3)
    assert np.abs(photo.encoded[60, 20].astype(int) - (200, 40, 40)).max() < 12
    assert np.abs(photo.encoded[60, 80].astype(int) - (40, 60, 180)).max() < 12
    assert not photo.encoded.flags.writeable


def test_heic_without_its_reader(tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "pi_heif", None)
    path = tmp_path / "photo.heic"
    path.write_bytes(SMALL_HEIC)
    with pytest.raises(BadImage, match=r"photo\.heic is a HEIC photo.*settscan\[heic\]"):
        load_photo(path)


def gif_bytes():
    frames = [Image.fromarray(letter_f()[:, :, i]) for i in (0, 1)]
    out = io.BytesIO()
    frames[0].save(out, "GIF", save_all=True, append_images=[frames[1].rotate(90)], duration=50)
    return out.getvalue()


def jpeg_bytes():
    out = io.BytesIO()
    Image.fromarray(letter_f()).save(out, "JPEG")
    return out.getvalue()


def png_header_of(width, height):
    """A PNG that claims a huge size and holds no pixels."""
    import zlib

    body = b"IHDR" + struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    head = b"\x89PNG\r\n\x1a\n" + struct.pack(">I", 13) + body
    empty = b"IDAT" + zlib.compress(b"")
    data = struct.pack(">I", len(empty) - 4) + empty + struct.pack(">I", zlib.crc32(empty))
    return head + struct.pack(">I", zlib.crc32(body)) + data


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (b"", "is empty"),
        (b"Dear weaver, this is a letter." * 9, "is not a picture"),
        (jpeg_bytes()[:300], "is damaged or incomplete"),
        (jpeg_bytes()[:-400], "is damaged or incomplete"),
        (SMALL_HEIC[:500], "is damaged or incomplete"),
        (gif_bytes(), "is a moving picture of 2 frames"),
        (png_header_of(20000, 20000), "more than 201 million pixels"),
        (png_header_of(30000, 30000), "more than 201 million pixels"),
        (png_header_of(3, 9000), "has only 3 x 9000 pixels"),
        (png_header_of(300, 300), "is damaged or incomplete"),
    ],
)
def test_what_cannot_be_read_is_one_sentence(tmp_path, data, sentence):
    path = tmp_path / "cloth.jpg"
    path.write_bytes(data)
    with pytest.raises(BadImage) as caught:
        load_photo(path)
    assert sentence in str(caught.value) and "cloth.jpg" in str(caught.value)
    assert "\n" not in str(caught.value) and caught.value.advice


def test_missing_file_and_folder(tmp_path):
    with pytest.raises(BadImage, match="There is no photo"):
        load_photo(tmp_path / "none.jpg")
    with pytest.raises(BadImage, match="is a folder"):
        load_photo(tmp_path)


def test_the_limit_of_the_image_library_is_put_back(tmp_path):
    before = Image.MAX_IMAGE_PIXELS
    load_photo(write(tmp_path / "a.png", letter_f()))
    assert before == Image.MAX_IMAGE_PIXELS


def test_linear_follows_the_standard():
    # IEC 61966-2-1: L = 0.0031308 is encoded as 0.0404499, 0.18 as 0.4613561, 0.5 as 0.7353570
    codes = np.rint(np.array([0.0404499, 0.4613561, 0.7353570, 1.0]) * 65535).astype(np.uint16)
    np.testing.assert_allclose(linear(codes), [0.0031308, 0.18, 0.5, 1.0], atol=2e-5)
    assert linear(codes).dtype == np.float32
    every = np.arange(256, dtype=np.uint8)
    np.testing.assert_array_equal(encode(linear(every)), every)
    assert linear(np.zeros((4, 5, 3), np.uint8)).shape == (4, 5, 3)
    np.testing.assert_array_equal(encode([-1.0, 2.0, np.nan]), [0, 255, 0])
    with pytest.raises(TypeError):
        linear(np.zeros(3))


def test_provenance(tmp_path):
    import hashlib

    path = write(tmp_path / "a.png", letter_f())
    photo = load_photo(str(path))
    assert photo.file == "a.png"
    assert photo.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert (photo.height, photo.width) == (80, 100)
    assert not photo.encoded.flags.writeable
    assert load_module.LOAD.least_side_px == 64


def test_given_scale():
    scale = GivenScale(x0=10, y0=10, x1=310, y1=410, length_mm=100)
    assert scale.length_px == 500 and scale.px_per_mm == 5
    with pytest.raises(BadInput, match="are the same"):
        GivenScale(x0=1, y0=1, x1=1, y1=1, length_mm=5)
    with pytest.raises(BadInput, match="length of -5 mm"):
        GivenScale(x0=1, y0=1, x1=9, y1=1, length_mm=-5)
