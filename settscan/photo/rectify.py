"""A photo becomes a flat cloth: one thread direction along x, the other along y, evenly spaced.

The steps, on a reduced picture: which ways the threads run (`lines`), the plane and the lens
(`planefit`), where the cloth is (`outline`), the smooth rest (`drape`, `register`). Then the photo
itself is resampled once, through all of it together.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from settscan.doubts import Doubt, doubt
from settscan.errors import Refusal
from settscan.photo.drape import slope_field
from settscan.photo.evenness import Marks, marks_of
from settscan.photo.field import rebased
from settscan.photo.flat import CardFound, FlatCloth, FloatImage, Mask, Photo, RulerFound, Scale
from settscan.photo.given import GivenScale
from settscan.photo.light import LightField, even_out, find_light, neutral_gains, strangers
from settscan.photo.lines import find_families, start_plane, tile_votes
from settscan.photo.noticed import clipping_doubts, is_blurred
from settscan.photo.outline import Extent, cloth_extent, fringe_of, refined_extent
from settscan.photo.plane import Plane
from settscan.photo.planefit import refine_plane, share_with_plane
from settscan.photo.register import register
from settscan.photo.resample import SHIFT_STEP, flat_grid, grown_mask, pull
from settscan.photo.sizes import (
    card_stretches,
    find_scale,
    focal_square,
    given_stretch,
    ruler_stretch,
    tilt_degrees,
)
from settscan.photo.source import reduced, within, without
from settscan.photo.view import Box, Small, View, around, look, photo_box, shrunk
from settscan.settings import FLATTEN, LIGHT, SCALE, FlattenSettings

Array = NDArray[np.float64]
Sides = tuple[int, int, int, int]  # left, top, right, bottom


def flatten(
    photo: Photo,
    *,
    rulers: tuple[RulerFound, ...] = (),
    card: CardFound | None = None,
    bars: tuple[Array, ...] = (),
    given: tuple[GivenScale, ...] = (),
    corners: Array | None = None,
    settings: FlattenSettings = FLATTEN,
) -> FlatCloth:
    """The cloth in a photo as if scanned.

    Args:
        photo: as loaded.
        rulers: found in the photo; masked, and used for the scale.
        card: the printed card, if found; masked too, and its grey balances the colours.
        bars: (4, 2) outlines of what else lies on the cloth, masked too.
        given: distances that the person typed.
        corners: (4, 2) photo pixels around the cloth to be read, in order; None to search.
        settings: see `FlattenSettings`.

    Raises:
        Refusal: when nothing straight or woven is to be seen.
    """
    hidden = (*(thing.outline_px for thing in (*rulers, card) if thing is not None), *bars)
    small = without(reduced(photo, settings.small_pixels), hidden)
    if corners is not None:
        corners = np.asarray(corners, dtype=np.float64).reshape(-1, 2)
        small = within(small, corners)
    marks = tuple(marks_of(ruler, photo.half_diagonal) for ruler in rulers)
    view, reaches, margin = find_view(photo, small, corners, marks, settings)
    light, field, cloth = _lit(small, view, margin)
    factor = math.ceil(math.sqrt(view.box.width * view.box.height / settings.most_pixels))
    sampling = 1 / factor
    matrix, shift, size = flat_grid(view, sampling)
    pixels, inside = pull(photo, matrix, shift, size, factor)
    even_out(pixels, field)
    if card is not None:
        pixels *= neutral_gains(card).astype(np.float32)
    scale, doubts = _scale_and_doubts(photo, view.plane, rulers, card, given, sampling)
    mask = inside & grown_mask(cloth, size)
    if field.spread() > LIGHT.uneven:
        doubts.append(doubt("uneven-light"))
    everywhere = replace(small, usable=np.ones_like(small.usable))
    doubts.extend(clipping_doubts(light, look(everywhere, view)[1]))
    if is_blurred(pixels, mask):
        doubts.append(doubt("blurred"))
    return FlatCloth(
        pixels=pixels,
        mask=mask,
        to_photo=matrix,
        scale=scale,
        sampling=sampling,
        shift=shift,
        shift_step=SHIFT_STEP,
        neutral=card is not None,
        reaches_edge=reaches,
        margin=_on_grid(margin, view, size),
        doubts=tuple(doubts),
    )


def _on_grid(margin: Sides, view: View, size: tuple[int, int]) -> Sides:
    """Pixels of the small flat picture as those of a flat picture of this size (w, h)."""
    factors = [large / small for large, small in zip(size, view.size, strict=True)]
    left, top, right, bottom = (math.ceil(n * factors[way % 2]) for way, n in enumerate(margin))
    return left, top, right, bottom


def _lit(small: Small, view: View, margin: Sides) -> tuple[FloatImage, LightField, Mask]:
    """The small flat picture's light, its illumination, and where it shows cloth."""
    picture, usable = look(small, view)
    height, width = usable.shape
    left, top, right, bottom = margin
    inner = Extent(
        left=left, top=top, right=width - right, bottom=height - bottom, seen=(False,) * 4
    )
    usable &= inner.mask(usable.shape)
    light = np.square(picture)
    field = find_light(light, usable)
    return light, field, usable & ~strangers(light, usable, field)


def _scale_and_doubts(
    photo: Photo,
    plane: Plane,
    rulers: tuple[RulerFound, ...],
    card: CardFound | None,
    given: tuple[GivenScale, ...],
    sampling: float,
) -> tuple[Scale, list[Doubt]]:
    """The scale of the flat picture, from the person if told, else from card and rulers."""
    focal = focal_square(plane, photo.focal_35mm)
    doubts = []
    tilt = tilt_degrees(plane, float(focal.value))
    if tilt > SCALE.steep_degrees:
        doubts.append(doubt("steep", degrees=tilt))
    if given:
        stretches, source = tuple(given_stretch(g, plane) for g in given), "given"
    elif card is not None:
        stretches, source = card_stretches(card, plane), "card"
    else:
        stretches, source = tuple(ruler_stretch(r, plane) for r in rulers[:2]), "ruler"
    if not stretches:
        doubts.append(doubt("ruler-missing"))
        return Scale(px_per_mm_x=None, px_per_mm_y=None, source="none"), doubts
    if any(abs(k.uneven) > SCALE.off_plane * k.uneven_error for k in stretches if k.uneven_error):
        doubts.append(doubt("ruler-off-plane"))
    scale, single = find_scale(stretches, plane, focal, source, sampling)
    if single:
        doubts.append(doubt("one-scale"))
    return scale, doubts


class _Sight(NamedTuple):
    """The way to look at the cloth.

    Attributes:
        view: of all of it, and a little of what lies beyond.
        reaches: (left, top, right, bottom) whether it goes on beyond the view.
        margin: pixels of the small flat picture there that are not surely cloth.
    """

    view: View
    reaches: tuple[bool, bool, bool, bool]
    margin: Sides


def find_view(
    photo: Photo,
    small: Small,
    corners: Array | None,
    marks: tuple[Marks, ...],
    s: FlattenSettings,
) -> _Sight:
    """The way to look at the cloth, at all of it or at what lies within corners (4, 2).

    `marks` are those of the rulers that lie on it.
    """
    plane, single = _first_plane(photo, small, s)
    coarse, c = shrunk(small, s.coarse), s.coarser()
    zoom = math.sqrt(coarse.zoom[0] * coarse.zoom[1])
    view = View(plane=plane, box=photo_box(plane, photo.width, photo.height), zoom=zoom)
    view = refine_plane(coarse, view, s.plane_rounds, marks, c)
    view = replace(view, box=photo_box(view.plane, photo.width, photo.height))
    view = slope_field(coarse, view, c)
    if corners is None:
        picture, usable = look(coarse, view)
        view = cropped(view, cloth_extent(picture, usable, c))
    else:
        view = replace(view, box=around(view.plane.to_flat(corners)))
    view = refine_plane(coarse, replace(view, field=None), s.plane_rounds, marks, c)
    view = slope_field(coarse, view, c)
    for _ in range(s.shares):
        view = register(coarse, view, c.register_blurs_px[0], c)
        view = share_with_plane(coarse, view, c.register_blurs_px[0][-1], c)
    reaches = (True, True, True, True)
    if corners is None:
        for _ in range(s.recrops):
            before = view.box
            view, reaches = _recropped(photo, coarse, view, c)
            if view.box.width * view.box.height < s.grown * before.width * before.height:
                break
    view = slope_field(coarse, view, c)
    view = register(coarse, view, c.register_blurs_px[0], c)
    view = replace(view, zoom=math.sqrt(small.zoom[0] * small.zoom[1]))
    view = register(small, view, s.register_blurs_px[1], s)
    view = share_with_plane(small, view, s.register_blurs_px[1][-1], s)
    view = register(small, view, s.register_blurs_px[1], s)
    if corners is not None:
        return _Sight(view, reaches, (0, 0, 0, 0))
    return _trimmed(small, view, reaches, s)


def _trimmed(
    small: Small, view: View, reaches: tuple[bool, bool, bool, bool], s: FlattenSettings
) -> _Sight:
    """The view with the table cut off, but for a margin, now that the cloth lies straight."""
    picture, usable = look(small, view)
    height, width = usable.shape
    margin_x, margin_y = width // 6, height // 6
    body = Extent(
        left=margin_x,
        top=margin_y,
        right=width - margin_x,
        bottom=height - margin_y,
        seen=(False, False, False, False),
    )
    extent = refined_extent(picture, usable, body, s)
    left, top, right, bottom = (
        goes_on and not seen for goes_on, seen in zip(reaches, extent.seen, strict=True)
    )
    edges = (not left, not top, not right, not bottom)
    fringe = fringe_of(picture, usable, extent, edges, s)
    more = [s.margin_strips * s.fine_strip_px * there for there in edges]
    wider = Extent(
        left=extent.left - more[0],
        top=extent.top - more[1],
        right=extent.right + more[2],
        bottom=extent.bottom + more[3],
        seen=extent.seen,
    )
    margin = [m + n for m, n in zip(more, fringe, strict=True)]
    reaches = left, top, right, bottom
    return _Sight(cropped(view, wider), reaches, (margin[0], margin[1], margin[2], margin[3]))


def _recropped(
    photo: Photo, small: Small, view: View, s: FlattenSettings
) -> tuple[View, tuple[bool, bool, bool, bool]]:
    """The view cut to the cloth's edges, and on which sides the cloth goes on beyond it."""
    whole, box = photo_box(view.plane, photo.width, photo.height), view.box
    more_x, more_y = s.look_around * box.width, s.look_around * box.height
    wide = Box(
        left=max(whole.left, box.left - more_x),
        top=max(whole.top, box.top - more_y),
        right=min(whole.right, box.right + more_x),
        bottom=min(whole.bottom, box.bottom + more_y),
    )
    wider = replace(view, box=wide)
    width, height = wider.size
    x0, y0 = (box.left - wide.left) * view.zoom, (box.top - wide.top) * view.zoom
    body = Extent(
        left=max(0, round(x0)),
        top=max(0, round(y0)),
        right=min(width, round(x0 + box.width * view.zoom)),
        bottom=min(height, round(y0 + box.height * view.zoom)),
        seen=(False, False, False, False),
    )
    picture, usable = look(small, wider)
    extent = refined_extent(picture, usable, body, s)
    left, top, right, bottom = (not seen for seen in extent.seen)
    box = cropped(wider, extent).box
    return rebased(view, box, s), (left, top, right, bottom)


def cropped(view: View, extent: Extent) -> View:
    """The view of an extent of its small flat picture."""
    across, down = (extent.left, extent.right), (extent.top, extent.bottom)
    x, y = view.flat(np.array(across) - 0.5, np.array(down) - 0.5)
    box = Box(left=float(x[0]), top=float(y[0]), right=float(x[1]), bottom=float(y[1]))
    return replace(view, box=box)


def _first_plane(photo: Photo, small: Small, s: FlattenSettings) -> tuple[Plane, bool]:
    """The plane that tiles vote for, and whether only one family of lines was seen."""
    factor = min(1.0, math.sqrt(s.vote_pixels / small.usable.size))
    seen = shrunk(small, factor)
    votes = tile_votes(seen.picture, seen.usable, s.vote_tile_px, s.vote_step_px)
    if not len(votes.centres):
        raise _nothing_woven()
    families = find_families(votes)
    if sum(family.strength for family in families if family is not None) < s.least_strength:
        raise _nothing_woven()
    return start_plane(families, photo.lens_axis, photo.half_diagonal), families[1] is None


def _nothing_woven() -> Refusal:
    return Refusal(
        "No stripes and no threads can be made out in the photo.",
        "Photograph the cloth from above so that it fills the frame, sharp and in even light.",
    )
