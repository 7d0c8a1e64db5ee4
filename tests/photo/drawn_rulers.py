"""Plain drawings of rulers on cloth, for the tests of the ruler finder.

Independent of tests/render and of the finder: a ruler is drawn in millimetres with Pillow, laid
on a made-up cloth by a homography, and blurred, lit and noised. The scene returns the truth.
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont

from settscan.photo.flat import Photo
from settscan.photo.load import encode

INCH = 25.4

# number of ticks per major division, tick lengths in mm by divisor (first that divides wins)
SCALES = {
    "mm": (1.0, 10, ((10, 6.5), (5, 4.8), (1, 3.2))),
    "half-mm": (0.5, 20, ((20, 6.5), (10, 5.0), (2, 3.6), (1, 2.4))),
    "inch16": (INCH / 16, 16, ((16, 8.0), (8, 6.2), (4, 5.0), (2, 3.8), (1, 2.6))),
    "inch8": (INCH / 8, 8, ((8, 8.0), (4, 6.2), (2, 4.6), (1, 3.2))),
    "inch32": (INCH / 32, 32, ((32, 8), (16, 6.6), (8, 5.4), (4, 4.4), (2, 3.4), (1, 2.4))),
    "cm": (5.0, 2, ((2, 6.0), (1, 4.0))),
}


@dataclass(frozen=True, kw_only=True)
class Drawn:
    """What to draw; lengths in mm, greys in sRGB codes."""

    scale: str = "mm"
    other: str | None = None  # scale on the far edge
    length: float = 300.0
    width: float = 28.0
    body: int = 225
    ink: int = 30
    tick_width: float = 0.25
    inset: float = 0.0  # from the edge to the feet of the ticks
    numeral_gap: float = 1.0
    numeral_size: float = 4.0
    material: str = "plastic"  # plastic | wood | steel | clear
    margin: float = 6.0  # from the end of the body to the first tick
    ticks: bool = True
    numerals: bool = True
    first: int = 0  # numeral at the first tick
    by: int = 1  # what numerals count up by
    tick_factor: float = 1.0
    flat_top: bool = False  # half and whole units as long as each other


def ruler_picture(what, px, rng):
    """(grey linear, cover) of the ruler alone at `px` pixels per mm."""
    size = (int(what.length * px), int(what.width * px))
    ink = Image.new("L", size, 0)
    draw = ImageDraw.Draw(ink)
    _draw_scale(draw, what, what.scale, px, near=True)
    if what.other:
        _draw_scale(draw, what, what.other, px, near=False)
    y, x = np.mgrid[: size[1], : size[0]].astype(np.float32) / px
    body = np.full((size[1], size[0]), (what.body / 255) ** 2.2, np.float32)
    if what.material == "wood":
        coarse = rng.normal(0, 1, (60, 24)).astype(np.float32)
        grain = cv2.resize(coarse, size, interpolation=cv2.INTER_CUBIC)
        fine = cv2.resize(rng.normal(0, 1, (size[1] // 4, 12)).astype(np.float32), size)
        body *= np.exp(0.08 * grain + 0.06 * fine)
    if what.material == "steel":
        at = rng.uniform(0.2, 0.8) * what.length
        body *= 0.55 + 1.2 * np.exp(-(((x - at) / 40) ** 2))
        brushed = rng.normal(0, 0.06, (size[1], 1)).astype(np.float32)
        body *= 1 + brushed
    ink = np.asarray(ink, np.float32) / 255
    light = body * (1 - ink) + (what.ink / 255) ** 2.2 * ink
    cover = np.ones_like(light)
    if what.material == "clear":
        cover = 0.12 + 0.88 * ink
    return light, cover


def _draw_scale(draw, what, scale, px, near):
    step, major, lengths = SCALES[scale]
    count = int((what.length - 2 * what.margin) / step)
    labels = what.first + what.by * np.arange(count // major + 1)
    font = ImageFont.load_default(what.numeral_size * px)
    for n in range(count + 1):
        long = next(length for k, length in lengths if n % k == 0) * what.tick_factor
        if what.flat_top and n % (major // 2) == 0:
            long = lengths[0][1] * what.tick_factor
        x = what.margin + n * step
        w = what.tick_width
        y0 = what.inset if near else what.width - what.inset - long
        box = [(x - w / 2) * px, y0 * px, (x + w / 2) * px - 1, (y0 + long) * px - 1]
        if what.ticks:
            draw.rectangle(box, fill=255)
        if what.numerals and n % major == 0:
            gap = what.numeral_gap
            top = y0 + long + gap if near else y0 - gap - what.numeral_size
            draw.text((x * px, top * px), str(labels[n // major]), fill=255, font=font, anchor="ma")


def cloth(height, width, rng, pitch=4.3, sett=60, angle=0.0, colour=True):
    """A checked plain or twill cloth in linear light (H, W, 3)."""
    y, x = np.mgrid[:height, :width].astype(np.float32)
    c, s = np.cos(angle), np.sin(angle)
    x, y = c * x + s * y, -s * x + c * y
    wander = 0.04 * pitch * np.cumsum(rng.normal(0, 0.05, 8000)).astype(np.float32)
    px = x / pitch + np.interp(x, np.arange(8000) - 2000, wander) / pitch
    py = y / pitch
    twill = rng.random() < 0.5
    over = ((np.floor(px) + np.floor(py)) % (4 if twill else 2)) < (2 if twill else 1)
    shade_x = 0.75 + 0.25 * np.sin(np.pi * (px % 1))
    shade_y = 0.75 + 0.25 * np.sin(np.pi * (py % 1))
    palette = rng.uniform(0.02, 0.6, (4, 3))
    if not colour:
        palette[:, 1:] = palette[:, :1]
    warp = palette[rng.integers(0, 4, 200)[(np.abs(x) // sett).astype(int) % 200]]
    weft = palette[rng.integers(0, 4, 200)[(np.abs(y) // sett).astype(int) % 200]]
    warp, weft = warp * shade_x[:, :, None], weft * shade_y[:, :, None]
    return np.where(over[:, :, None], warp, weft).astype(np.float32)


@dataclass(frozen=True, kw_only=True)
class Scene:
    """A drawn photo with its truth."""

    photo: Photo
    to_photo: np.ndarray  # mm of the ruler (x along, y across from the near edge) to photo px
    what: Drawn

    def true_points(self, t):
        """Photo pixels of ticks `t` mm after the first one, on the near feet line."""
        x = self.what.margin + np.asarray(t, float)
        p = np.c_[x, np.full(len(x), self.what.inset), np.ones(len(x))] @ self.to_photo.T
        return p[:, :2] / p[:, 2:]


def placed(px, angle, at, tilt_x=0.0, tilt_y=0.0, centre=(0, 0), focal=1.2, width=1600):
    """Homography from ruler mm to photo pixels for a camera tilted by degrees about its axes."""
    c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
    place = np.array([[c, -s, 0], [s, c, 0], [0, 0, 1.0]])
    place = place @ np.array([[1, 0, -at[0]], [0, 1, -at[1]], [0, 0, 1.0]])
    f = focal * width
    distance = f / px
    ax, ay = np.radians([tilt_x, tilt_y])
    rx = np.array([[1, 0, 0], [0, np.cos(ax), -np.sin(ax)], [0, np.sin(ax), np.cos(ax)]])
    ry = np.array([[np.cos(ay), 0, np.sin(ay)], [0, 1, 0], [-np.sin(ay), 0, np.cos(ay)]])
    r = rx @ ry
    plane = np.column_stack([r[:, 0], r[:, 1], [0, 0, distance]])
    camera = np.array([[f, 0, centre[0]], [0, f, centre[1]], [0, 0, 1.0]])
    return camera @ plane @ place


def scene(
    what=None,
    *,
    size=(900, 1200),
    px=6.0,
    angle=0.0,
    at=None,
    shift=(0.0, 0.0),
    tilt=(0.0, 0.0),
    seed=0,
    blur=0.8,
    noise=0.012,
    light=1.0,
    hidden=(),
    cloth_options=None,
    jpeg=None,
):
    """A photo; `hidden` are spans (t0, t1) in mm along the ruler that a cloth fold covers."""
    what = what or Drawn()
    rng = np.random.default_rng(seed)
    height, width = size
    at = at or (what.length / 2, what.width / 2)
    centre = (width / 2 + shift[0], height / 2 + shift[1])
    to_photo = placed(px, angle, at, *tilt, centre=centre, width=width)
    fine_px = 4 * px
    ruler, cover = ruler_picture(what, fine_px, rng)
    for t0, t1 in hidden:
        cover[:, int(t0 * fine_px) : int(t1 * fine_px)] = 0
    smooth = cv2.GaussianBlur(ruler, None, 0.8)
    fine = np.diag([2.0, 2.0, 1.0])
    fine[:2, 2] = 0.5
    mm = np.array([[1 / fine_px, 0, 0.5 / fine_px], [0, 1 / fine_px, 0.5 / fine_px], [0, 0, 1]])
    m = fine @ to_photo @ mm
    big = (2 * width, 2 * height)
    warped = (cv2.warpPerspective(p, m, big) for p in (smooth, cover))
    drawn, c = (cv2.resize(p, size[::-1], interpolation=cv2.INTER_AREA) for p in warped)
    if what.material != "clear":
        drawn = np.where(c > 1e-3, drawn / np.maximum(c, 1e-3) * c, 0)
    else:
        drawn = drawn * c
    picture = cloth(height, width, rng, **(cloth_options or {})) * (1 - c[:, :, None])
    picture = picture + drawn[:, :, None] * np.array([1.0, 0.97, 0.9], np.float32)
    picture = cv2.GaussianBlur(picture, None, blur) * light
    gain = 1 / max(light, 0.05) if light < 0.3 else 1.0
    shot = noise * np.sqrt(np.clip(picture, 0, 1) + 0.002)
    picture = picture + rng.normal(0, 1, picture.shape) * shot
    encoded = encode(picture * min(gain, 3.0))
    if jpeg:
        data = cv2.imencode(".jpg", encoded[:, :, ::-1], [cv2.IMWRITE_JPEG_QUALITY, jpeg])[1]
        encoded = np.ascontiguousarray(cv2.imdecode(data, cv2.IMREAD_COLOR)[:, :, ::-1])
    photo = Photo(encoded=encoded, file="drawn.png", sha256="")
    return Scene(photo=photo, to_photo=to_photo, what=what)


def scale_error(found, drawn):
    """Relative error of the found length of its own span, against the truth.

    The span found is laid on the true tick line: the nearest true position to either end.
    """
    c, a, length = found.c, found.a, found.length_mm
    s = a * length / (1 + c * length)
    ends = np.array([found.origin_px, found.origin_px + found.direction * s])
    back = np.c_[ends, np.ones(2)] @ np.linalg.inv(drawn.to_photo).T
    true = back[:, :2] / back[:, 2:]
    return length / np.hypot(*(true[1] - true[0])) - 1


def random_scene(seed, **fixed):
    """A scene from the wide spread of rulers and views that people might send."""
    rng = np.random.default_rng(seed)
    dark = rng.random() < 0.2
    scale = rng.choice(["mm", "mm", "mm", "half-mm", "inch16", "inch8", "inch32"])
    other = rng.choice([None, "mm", "inch16"]) if rng.random() < 0.6 else None
    px = float(np.exp(rng.uniform(np.log(3.0), np.log(14))))
    if scale in ("half-mm", "inch32"):
        px = max(px, 6.0)
    what = Drawn(
        scale=str(scale),
        other=None if other is None else str(other),
        length=float(rng.choice([150, 200, 300, 320])),
        width=float(rng.uniform(20, 36)),
        body=int(rng.uniform(30, 70) if dark else rng.uniform(150, 245)),
        ink=int(rng.uniform(180, 240) if dark else rng.uniform(10, 70)),
        tick_width=float(rng.uniform(0.15, 0.4)),
        inset=float(rng.choice([0, 0, 0.3, 1.0])),
        numeral_gap=float(rng.uniform(-0.3, 1.5)),
        numeral_size=float(rng.uniform(2.5, 5)),
        material=str(rng.choice(["plastic", "wood", "steel"])),
        margin=float(rng.uniform(0.5, 10)),
        tick_factor=float(rng.uniform(0.8, 1.3)),
    )
    angle = float(rng.choice([0, 90, rng.uniform(0, 360)]) + rng.normal(0, 1))
    if what.other:  # numerals of the two scales must not run into each other
        numerals = max(what.numeral_gap, 0) + what.numeral_size
        room = 2 * (8 * what.tick_factor + what.inset + numerals)
        what = replace(what, width=max(what.width, room + 1))
    options = dict(
        size=(1500, 2000),
        px=px,
        angle=angle,
        seed=seed,
        shift=(rng.normal(0, 150), rng.normal(0, 150)),
        tilt=(rng.uniform(-15, 15), rng.uniform(-15, 15)),
        blur=float(rng.uniform(0.5, 1.0)),
        noise=float(rng.uniform(0.003, 0.02)),
        light=float(rng.choice([1.0, 0.8, 0.25])),
        cloth_options=dict(
            pitch=float(rng.uniform(3, 12)),
            sett=float(rng.uniform(15, 150)),
            angle=float(rng.choice([0, rng.normal(0, 0.3)])),
        ),
        jpeg=int(rng.choice([80, 92, 97])),
    )
    options.update(fixed)
    return scene(what, **options)


def without(what, **changes):
    """A copy of a drawing with changes."""
    return replace(what, **changes)
