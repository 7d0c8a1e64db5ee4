"""The printable scale card: draw it as PDF or picture, and find it in a photo."""

from __future__ import annotations

import io
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from settscan.errors import BadInput
from settscan.photo import card_layout as layout
from settscan.photo.flat import CardFound, FloatImage, Photo
from settscan.photo.load import encode, linear
from settscan.settings import CARD

_PAPERS = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}  # mm: ISO 216; ANSI/ASME Y14.1 A


def card_pdf(paper: str = "A4") -> bytes:
    """One page with the card at true size, as vector drawing, and a line to check the print.

    Args:
        paper: "A4" or "Letter".

    Raises:
        BadInput: for another paper.
    """
    if paper not in _PAPERS:
        raise BadInput(f'There is no paper "{paper}" for the card.', "Choose A4 or Letter.")
    from reportlab.lib.units import mm
    from reportlab.pdfgen import canvas

    width, height = _PAPERS[paper]
    left, top = (width - layout.CARD_WIDTH) / 2, 40.0
    out = io.BytesIO()
    page = canvas.Canvas(out, pagesize=(width * mm, height * mm), invariant=1)
    page.setTitle("Scale and grey card")

    def at(x: float, y: float) -> tuple[float, float]:
        return (left + x) * mm, (height - top - y) * mm

    for shape in layout.shapes():
        if isinstance(shape, layout.Box):
            page.setFillGray(shape.grey / 255)
            x, y = at(shape.x, shape.y + shape.height)
            page.rect(x, y, shape.width * mm, shape.height * mm, stroke=0, fill=1)
        else:
            page.setFillGray(0)
            page.setFont("Helvetica", shape.size * mm)
            page.drawCentredString(*at(shape.x, shape.y), shape.text)
    lines = [
        "Print at 100 % (actual size), not fitted to the page, on matt white paper.",
        "Check with a good ruler: this line is 100 mm long.",
    ]
    page.setFont("Helvetica", 4 * mm)
    page.drawCentredString(*at(75, -20), lines[0])
    page.drawCentredString(*at(75, 112), lines[1])
    for x0, y0, x1, y1 in ((25, 117, 125, 117), (25, 115, 25, 119), (125, 115, 125, 119)):
        page.setLineWidth(0.2 * mm)
        page.line(*at(x0, y0), *at(x1, y1))
    page.setFont("Helvetica", 3.4 * mm)
    page.drawCentredString(
        *at(75, 128), "Cut the card out along its thin line and glue it on thin card."
    )
    page.save()
    return out.getvalue()


def card_image(px_per_mm: float) -> NDArray[np.uint8]:
    """The card alone as an sRGB picture (H, W, 3), each pixel the mean light of its area.

    A card point (x, y) in mm lies at pixel (x * px_per_mm - 0.5, y * px_per_mm - 0.5).
    """
    size = (round(layout.CARD_HEIGHT * px_per_mm), round(layout.CARD_WIDTH * px_per_mm))
    light = np.ones(size, dtype=np.float32)
    for shape in layout.shapes():
        if isinstance(shape, layout.Box):
            _paint_box(light, shape, px_per_mm)
        else:
            _paint_label(light, shape, px_per_mm)
    return np.repeat(encode(light)[:, :, None], 3, axis=2)


def _paint_box(light: FloatImage, box: layout.Box, px_per_mm: float) -> None:
    value = linear(np.uint8(box.grey))

    def cover(start: float, length: float, pixels: int) -> FloatImage:
        edges = np.arange(pixels + 1) / px_per_mm
        inside = np.clip(edges, start, start + length)
        return (np.diff(inside) * px_per_mm).astype(np.float32)

    rows = cover(box.y, box.height, light.shape[0])
    columns = cover(box.x, box.width, light.shape[1])
    y, x = np.flatnonzero(rows), np.flatnonzero(columns)
    if len(x) and len(y):
        part = light[y[0] : y[-1] + 1, x[0] : x[-1] + 1]
        part += np.outer(rows[y], columns[x]) * (value - part)


def _paint_label(light: FloatImage, label: layout.Label, px_per_mm: float) -> None:
    from PIL import Image, ImageDraw, ImageFont

    font = ImageFont.load_default(max(1.0, label.size * px_per_mm))
    ink = Image.new("L", light.shape[::-1])
    where = (label.x * px_per_mm, label.y * px_per_mm)
    ImageDraw.Draw(ink).text(where, label.text, fill=255, font=font, anchor="ms")
    light *= 1 - np.asarray(ink, dtype=np.float32) / 255


def find_card(photo: Photo) -> CardFound | None:
    """The card in the photo, or None where fewer than two of its marks agree.

    The homography is a least-squares fit through all corners of all marks, which are found to
    a fraction of a pixel in linear light at full resolution.
    """
    marks = _detected(photo)
    corners = {number: _refined(photo, found) for number, found in marks.items()}
    while len(corners) >= CARD.least_marks:
        fit, apart = _fitted(corners)
        worst = max(apart, key=lambda number: apart[number])
        side = float(np.linalg.norm(corners[worst][0] - corners[worst][2])) / np.sqrt(2)
        if apart[worst] <= CARD.largest_misfit * side:
            return _card(photo, fit, corners, apart)
        del corners[worst]
    return None


@cache
def _detector() -> cv2.aruco.ArucoDetector:
    return cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(layout.DICTIONARY))


def _detected(photo: Photo) -> dict[int, NDArray[np.float64]]:
    """(4, 2) rough corners in photo pixels of each mark, by number; a doubled mark is left out."""
    found: dict[int, NDArray[np.float64]] = {}
    for side in CARD.working_sides:
        shrink = max(1.0, max(photo.width, photo.height) / side)
        small = _grey_reduced(photo, shrink)
        corners, numbers, _ = _detector().detectMarkers(small)
        seen = [] if numbers is None else [int(n) for n in np.ravel(numbers)]
        for quad, number in zip(corners, seen, strict=True):
            if number in layout.MARKS and seen.count(number) == 1:
                scale = np.array([photo.width / small.shape[1], photo.height / small.shape[0]])
                found[number] = (np.asarray(quad, float).reshape(4, 2) + 0.5) * scale - 0.5
        if len(found) == len(layout.MARKS) or shrink == 1.0:
            break
    return found


def _grey_reduced(photo: Photo, shrink: float) -> NDArray[np.uint8]:
    pixels = photo.encoded
    if shrink > 1:
        size = (round(photo.width / shrink), round(photo.height / shrink))
        pixels = cv2.resize(pixels, size, interpolation=cv2.INTER_AREA)  # type: ignore[assignment]
    if pixels.dtype == np.uint16:
        pixels = (pixels // 257).astype(np.uint8)
    return np.asarray(cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY), dtype=np.uint8)


def _refined(photo: Photo, rough: NDArray[np.float64]) -> NDArray[np.float64]:
    """The corners of one mark to a fraction of a pixel, in linear light."""
    side = float(np.linalg.norm(rough - np.roll(rough, 1, axis=0), axis=1).mean())
    reach = int(np.clip(side / layout.CELLS * CARD.corner_window, 2, 12))
    low = np.maximum(np.floor(rough.min(axis=0)).astype(int) - 2 * reach - 4, 0)
    high = np.ceil(rough.max(axis=0)).astype(int) + 2 * reach + 5
    patch = linear(photo.encoded[low[1] : high[1], low[0] : high[0]]).mean(axis=2)
    points = (rough - low).astype(np.float32).reshape(-1, 1, 2)
    rule = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 60, 0.002)
    fine = cv2.cornerSubPix(np.ascontiguousarray(patch), points, (reach, reach), (-1, -1), rule)
    return np.asarray(np.reshape(fine, (4, 2)) + low, dtype=np.float64)


def _fitted(
    corners: dict[int, NDArray[np.float64]],
) -> tuple[NDArray[np.float64], dict[int, float]]:
    """The homography from mm to photo pixels, and each mark's rms distance from it in pixels."""
    card = np.concatenate([layout.mark_corners(n) for n in corners])
    seen = np.concatenate(list(corners.values()))
    fit = np.asarray(cv2.findHomography(card, seen, 0)[0], dtype=np.float64)
    distance = np.linalg.norm(_mapped(fit, card) - seen, axis=1).reshape(-1, 4)
    rms = np.sqrt((distance**2).mean(axis=1))
    return fit, {n: float(r) for n, r in zip(corners, rms, strict=True)}


def _mapped(homography: NDArray[np.float64], points: NDArray[np.float64]) -> NDArray[np.float64]:
    there = np.c_[points, np.ones(len(points))] @ homography.T
    return np.asarray(there[:, :2] / there[:, 2:])


def _card(
    photo: Photo,
    fit: NDArray[np.float64],
    corners: dict[int, NDArray[np.float64]],
    apart: dict[int, float],
) -> CardFound:
    seen = np.concatenate(list(corners.values()))
    squares = sum(4 * r**2 for r in apart.values())
    # eight numbers are fitted to two coordinates of each corner
    sigma = np.sqrt(squares / (2 * len(seen) - 8))
    # the error of a slope through points is their error over the root of their summed squares
    spread = np.sqrt(np.linalg.eigvalsh(np.cov(seen.T, bias=True))[0] * len(seen))
    boxes = layout.grey_boxes()
    return CardFound(
        mm_to_photo=fit,
        outline_px=_mapped(fit, layout.outline()),
        relative_error=float(np.hypot(sigma / spread, CARD.print_error)),
        grey_linear=np.array([_patch_light(photo, fit, box) for box in boxes]),
        grey_reflectance=linear(np.array([b.grey for b in boxes], np.uint8)).astype(np.float64),
    )


def _patch_light(photo: Photo, fit: NDArray[np.float64], box: layout.Box) -> NDArray[np.float64]:
    """Mean linear RGB of the inner part of a patch; NaN where it is hidden or out of frame."""
    inset = (1 - CARD.patch_share) / 2
    x0, x1 = box.x + inset * box.width, box.x + (1 - inset) * box.width
    y0, y1 = box.y + inset * box.height, box.y + (1 - inset) * box.height
    quad = _mapped(fit, np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]]))
    low, high = np.floor(quad.min(axis=0)).astype(int), np.ceil(quad.max(axis=0)).astype(int) + 1
    unknown = np.full(3, np.nan)
    if (low < 0).any() or high[0] > photo.width or high[1] > photo.height:
        return unknown
    light = linear(photo.encoded[low[1] : high[1], low[0] : high[0]])
    inside = np.zeros(light.shape[:2], np.uint8)
    cv2.fillConvexPoly(inside, np.rint(quad - low).astype(np.int32), 1)
    values = light[inside > 0].astype(np.float64)
    if len(values) < 4:
        return unknown
    mean = values.mean(axis=0)
    middle = np.quantile(values.mean(axis=1), [0.1, 0.9])
    even = middle[1] - middle[0] <= CARD.patch_unevenness * mean.mean() + CARD.dark_noise
    return np.asarray(mean) if even else unknown
