"""The cloth drawn from the counts, thread by thread: SVG text and PNG bytes.

Drawn from what will be woven, never from the photo, so that the two can be laid side by side.
Plain Python: no image library is needed to draw the cloth, and the same cloth gives the same
bytes everywhere. Colours that fall together in one pixel are mixed in linear light.
"""

from __future__ import annotations

import struct
import zlib
from base64 import b64encode
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from xml.sax.saxutils import escape

from settscan.cloth.model import Stripe
from settscan.errors import BadInput

Lift = tuple[tuple[bool, ...], ...]  # rows are picks, columns ends; True: the warp is on top
Rgb = tuple[float, float, float]

_MOST_PIXELS = 60_000_000  # a picture beyond this helps nobody and fills the memory
_STEPS = 4095  # of linear light; finer than an 8-bit sRGB value even in the shadows
_EFFORT = 3  # of zlib, 0 to 9: half the time of the usual 6, a tenth more bytes
_EDGE = 0.72  # light at the edge of a thread, as a share of that on its crown


@dataclass(frozen=True, kw_only=True)  # no slots: its sums are kept once they are made
class ClothPicture:
    """What is needed to draw a cloth, or a part of it.

    Attributes:
        warp: stripes from left to right.
        weft: stripes from top to bottom, as the cloth is looked at.
        colours: sRGB "#rrggbb" by yarn key.
        lift: the weave, repeated over the cloth; row 0 is the top pick, column 0 the left end.
        end_mm, pick_mm: distance between neighbouring threads in the finished cloth.
        caption: one line that says what is shown.
    """

    warp: tuple[Stripe, ...]
    weft: tuple[Stripe, ...]
    colours: dict[str, str]
    lift: Lift
    end_mm: float
    pick_mm: float
    caption: str = ""

    @cached_property
    def ends(self) -> int:
        """Threads across."""
        return sum(stripe.threads for stripe in self.warp)

    @cached_property
    def picks(self) -> int:
        """Threads down."""
        return sum(stripe.threads for stripe in self.weft)

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height of what is drawn, as finished cloth."""
        return self.ends * self.end_mm, self.picks * self.pick_mm


def _runs(row: Sequence[bool], wanted: bool) -> Iterator[tuple[int, int]]:
    """Start and length of each run of `wanted`."""
    start = None
    for position, value in enumerate([*row, not wanted]):
        if value is wanted and start is None:
            start = position
        elif value is not wanted and start is not None:
            yield start, position - start
            start = None


def _weave_cells(lift: Lift) -> str:
    """One weave repeat's weft floats, as path data in thread units."""
    return "".join(
        f"M{x} {y}h{length}v1h-{length}z"
        for y, row in enumerate(lift)
        for x, length in _runs(row, False)
    )


def _weave_shade(lift: Lift) -> str:
    """Fine lines between threads: upright where the warp is on top, level where the weft is."""
    parts = []
    for y, row in enumerate(lift):
        parts += [f"M{x} {y}h{length}" for x, length in _runs(row, False)]
        parts += [f"M{x} {y}v1" for x, on_top in enumerate(row) if on_top]
    return "".join(parts)


def _stripe_rects(picture: ClothPicture) -> Iterator[str]:
    """The warp stripes, then the weft stripes over them, in thread units."""
    at = 0
    for stripe in picture.warp:
        fill = picture.colours[stripe.yarn]
        yield (f'<rect x="{at}" width="{stripe.threads}" height="{picture.picks}" fill="{fill}"/>')
        at += stripe.threads
    names = {key: f"w{number}" for number, key in enumerate(picture.colours)}
    at = 0
    for stripe in picture.weft:
        yield (
            f'<rect y="{at}" width="{picture.ends}" height="{stripe.threads}"'
            f' fill="url(#{names[stripe.yarn]})"/>'
        )
        at += stripe.threads


def _patterns(picture: ClothPicture) -> Iterator[str]:
    """A pattern for each weft colour, and one that shades the weave."""
    lift = picture.lift
    head = f'width="{len(lift[0])}" height="{len(lift)}" patternUnits="userSpaceOnUse"'
    cells = _weave_cells(lift)
    used = {stripe.yarn for stripe in picture.weft}
    for number, (key, fill) in enumerate(picture.colours.items()):
        if key in used:
            yield f'<pattern id="w{number}" {head}><path d="{cells}" fill="{fill}"/></pattern>'
    yield (
        f'<pattern id="shade" {head}><path d="{_weave_shade(lift)}" fill="none"'
        ' stroke="#000" stroke-opacity=".22" stroke-width=".14"/></pattern>'
    )


def preview_svg(
    picture: ClothPicture, *, true_size: bool = False, photo: bytes | None = None
) -> str:
    """The cloth as SVG: one rectangle for each stripe, the weave as a pattern.

    Args:
        picture: what to draw.
        true_size: give width and height in millimetres of finished cloth; otherwise the
            drawing fits whatever holds it.
        photo: a rectified photo (PNG or JPEG) to set beside it at the same height.

    Returns:
        A whole SVG document that refers to nothing outside itself.

    Raises:
        BadInput: for a photo that is neither PNG nor JPEG.
    """
    width, height = picture.size_mm
    beside = _photo_element(photo, width, height) if photo else ""
    whole = width * 2.04 if photo else width
    size = f' width="{whole:.2f}mm" height="{height:.2f}mm"' if true_size else ""
    body = "".join(_stripe_rects(picture))
    shade = f'<rect width="{picture.ends}" height="{picture.picks}" fill="url(#shade)"/>'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg"{size} viewBox="0 0 {whole:.2f} {height:.2f}"'
        f' role="img"><title>{escape(picture.caption or "Cloth preview")}</title>'
        f"<defs>{''.join(_patterns(picture))}</defs>"
        f'<g transform="scale({picture.end_mm:.5f} {picture.pick_mm:.5f})"'
        f' shape-rendering="auto">{body}{shade}</g>{beside}</svg>\n'
    )


def photo_kind(photo: bytes) -> str:
    """Which of "png" and "jpeg" the file is, from its first bytes.

    Raises:
        BadInput: for anything else.
    """
    if photo.startswith(b"\x89PNG\r\n\x1a\n"):
        return "png"
    if photo.startswith(b"\xff\xd8\xff"):
        return "jpeg"
    raise BadInput(
        "The picture for the sheets is neither PNG nor JPEG.", "Give it in one of these two forms."
    )


def data_uri(photo: bytes) -> str:
    """A PNG or JPEG file as a data URI, so that a page needs no second file."""
    return f"data:image/{photo_kind(photo)};base64,{b64encode(photo).decode('ascii')}"


def _photo_element(photo: bytes, width: float, height: float) -> str:
    return (
        f'<image x="{width * 1.04:.2f}" width="{width:.2f}" height="{height:.2f}"'
        f' preserveAspectRatio="xMidYMid meet" href="{data_uri(photo)}"/>'
    )


# --- PNG -------------------------------------------------------------------------------------


@cache
def linear_rgb(colour: str) -> Rgb:
    """Linear light of an sRGB "#rrggbb" colour, 0 to 1 (IEC 61966-2-1)."""
    red, green, blue = (int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5))
    return _linear(red), _linear(green), _linear(blue)


def _linear(value: float) -> float:
    linear: float = value / 12.92 if value <= 0.04045 else ((value + 0.055) / 1.055) ** 2.4
    return linear


@cache
def _encoding() -> bytes:
    """8-bit sRGB for linear light in steps of 1/4095 (IEC 61966-2-1)."""
    values = []
    for step in range(_STEPS + 1):
        light = step / _STEPS
        coded = light * 12.92 if light <= 0.0031308 else 1.055 * light ** (1 / 2.4) - 0.055
        values.append(round(coded * 255))
    return bytes(values)


def _encode(colour: Rgb, share: float = 1.0) -> bytes:
    table = _encoding()
    return bytes(table[round(value * share * _STEPS)] for value in colour)


def _png(width: int, height: int, rows: Iterable[bytes], dpi: float | None) -> bytes:
    """An 8-bit RGB PNG (ISO/IEC 15948) from rows of width x 3 bytes."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return (
            struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
        )

    packer = zlib.compressobj(_EFFORT)
    packed, above, same = [], b"", b"\2" + bytes(3 * width)  # filter 2: the difference from above
    for row in rows:
        packed.append(packer.compress(same if row == above else b"\0" + row))
        above = row
    packed.append(packer.flush())
    parts = [chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0))]
    parts.append(chunk(b"sRGB", b"\0"))
    if dpi:
        per_metre = round(dpi / 0.0254)
        parts.append(chunk(b"pHYs", struct.pack(">IIB", per_metre, per_metre, 1)))
    parts += [chunk(b"IDAT", b"".join(packed)), chunk(b"IEND", b"")]
    return b"\x89PNG\r\n\x1a\n" + b"".join(parts)


def _edges(threads: int, pixels: int) -> list[int]:
    """Pixel at which each thread begins, and the last one's end."""
    return [at * pixels // threads for at in range(threads + 1)]


def _threads(stripes: Iterable[Stripe]) -> list[str]:
    return [stripe.yarn for stripe in stripes for _ in range(stripe.threads)]


def _profile(colour: Rgb, width: int) -> bytes:
    """Pixels across one thread: light on the crown, darker at both edges."""
    if width < 3:
        return _encode(colour) * width
    return _encode(colour, _EDGE) + _encode(colour) * (width - 2) + _encode(colour, _EDGE)


def _thread_rows(picture: ClothPicture, width: int, height: int) -> Iterator[bytes]:
    """Rows of a picture in which each thread has two pixels or more."""
    colours = {key: linear_rgb(value) for key, value in picture.colours.items()}
    warp = _threads(picture.warp)
    edges = _edges(len(warp), width)
    columns = [(key, edges[at + 1] - edges[at]) for at, key in enumerate(warp)]
    warp_cell = cache(lambda key, wide: _profile(colours[key], wide))
    weft_cell = cache(lambda key, wide, share: _encode(colours[key], share) * wide)
    period = len(picture.lift[0])

    @cache
    def row(key: str, pick: int, share: float) -> bytes:
        lifted = picture.lift[pick]
        return b"".join(
            warp_cell(end_key, wide) if lifted[end % period] else weft_cell(key, wide, share)
            for end, (end_key, wide) in enumerate(columns)
        )

    down = _edges(picture.picks, height)
    for pick, key in enumerate(_threads(picture.weft)):
        tall = down[pick + 1] - down[pick]
        for line in range(tall):
            edge = tall >= 3 and line in (0, tall - 1)
            yield row(key, pick % len(picture.lift), _EDGE if edge else 1.0)


def _mixed(threads: list[Rgb], pixels: int) -> list[Rgb]:
    """Mean colour of the threads under each pixel, in linear light."""
    sums = [(0.0, 0.0, 0.0)]
    for colour in threads:
        last = sums[-1]
        sums.append((last[0] + colour[0], last[1] + colour[1], last[2] + colour[2]))

    def upto(place: float) -> list[float]:
        whole = min(int(place), len(threads) - 1)
        part = place - whole
        return [sums[whole][c] + part * threads[whole][c] for c in range(3)]

    marks = [upto(at * len(threads) / pixels) for at in range(pixels + 1)]
    share = pixels / len(threads)
    return [
        (
            (after[0] - before[0]) * share,
            (after[1] - before[1]) * share,
            (after[2] - before[2]) * share,
        )
        for before, after in zip(marks, marks[1:], strict=False)
    ]


def blended(colours: Sequence[str], cells: int) -> list[str]:
    """Threads of these colours seen from afar: the mean colour of each of so many like parts."""
    means = _mixed([linear_rgb(colour) for colour in colours], cells)
    return [f"#{_encode(mean).hex()}" for mean in means]


def _mixed_rows(picture: ClothPicture, width: int, height: int) -> Iterator[bytes]:
    """Rows of a picture too small for threads: pixel = k warp + (1 - k) weft."""
    cells = [on_top for row in picture.lift for on_top in row]
    k = sum(cells) / len(cells)
    warp = _mixed([linear_rgb(picture.colours[key]) for key in _threads(picture.warp)], width)
    weft = _mixed([linear_rgb(picture.colours[key]) for key in _threads(picture.weft)], height)
    scaled = [tuple(round(k * value * _STEPS) for value in colour) for colour in warp]
    distinct = list(dict.fromkeys(scaled))
    places = {colour: place for place, colour in enumerate(distinct)}
    columns = [places[colour] for colour in scaled]
    table = _encoding() + _encoding()[-1:]  # two rounded parts may be one step more than white

    @cache
    def row(red: int, green: int, blue: int) -> bytes:
        cells = [bytes((table[r + red], table[g + green], table[b + blue])) for r, g, b in distinct]
        return b"".join([cells[place] for place in columns])

    for colour in weft:
        red, green, blue = (round((1 - k) * value * _STEPS) for value in colour)
        yield row(red, green, blue)


def preview_png(
    picture: ClothPicture,
    *,
    dpi: float | None = None,
    fit: tuple[int, int] = (1600, 1600),
) -> bytes:
    """The cloth as a PNG file.

    Where a thread has two pixels or more the drawing is true to each crossing; below that the
    colours under a pixel are mixed in linear light, so that no false stripes appear.

    Args:
        picture: what to draw.
        dpi: draw at the true size of the finished cloth for this many pixels in an inch.
        fit: otherwise, the largest width and height in pixels, the proportions kept.

    Raises:
        BadInput: if the picture would be larger than 60 megapixels.
    """
    wide, high = picture.size_mm
    scale = dpi / 25.4 if dpi else min(fit[0] / wide, fit[1] / high)
    width, height = max(1, round(wide * scale)), max(1, round(high * scale))
    if width * height > _MOST_PIXELS:
        raise BadInput(
            f"The preview would be {width} by {height} pixels.",
            "Ask for fewer dots per inch, or for a fitted size.",
        )
    fine = width >= 2 * picture.ends and height >= 2 * picture.picks
    rows = _thread_rows if fine else _mixed_rows
    return _png(width, height, rows(picture, width, height), dpi)


def beside_photo_png(picture: ClothPicture, photo: bytes, *, fit_height: int = 1200) -> bytes:
    """The cloth drawn from the counts at the left of the rectified photo, as one PNG.

    Needs Pillow, which reads the photo.

    Raises:
        BadInput: for a photo that is neither PNG nor JPEG.
    """
    from io import BytesIO

    from PIL import Image

    photo_kind(photo)
    wide, high = picture.size_mm
    drawn = preview_png(picture, fit=(round(fit_height * wide / high) + 1, fit_height))
    out = BytesIO()
    with Image.open(BytesIO(drawn)) as left, Image.open(BytesIO(photo)) as right:
        wide_right = max(1, right.width * left.height // right.height)
        scaled = right.convert("RGB").resize((wide_right, left.height))
        gap = left.height // 30
        sheet = Image.new("RGB", (left.width + gap + scaled.width, left.height), "white")
        sheet.paste(left, (0, 0))
        sheet.paste(scaled, (left.width + gap, 0))
        sheet.save(out, "PNG")
    return out.getvalue()
