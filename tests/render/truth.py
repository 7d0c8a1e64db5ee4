"""The truth about a picture, worked out from the threads and not from the pixels.

Pixels are (x, y) with the centre of the top-left pixel at (0, 0). "Material" mm are those of the
cloth lying flat; plane mm those of the table; both have their origin in the middle of the picture.

- yarns: key, name, srgb and linear colour of the fibre; apparent_srgb, apparent_linear: mean
  colour of a block of that yarn crossing itself, at exposure 1 in even neutral light.
- weave, twill_direction (as the photo shows it), warp_across.
- warp, weft: kind, sequence (half a sett from pivot to pivot, or one repeat), notation,
  repeat_threads (of a whole repeat, pivots once), border; runs ("down" or "across" in the photo);
  epi: threads per inch, mean of the part that shows; threads that show; px_per_thread; stripes, in
  order left to right or top to bottom: index in the cloth (a missing one is hidden), yarn, threads
  whose centreline shows somewhere, full_threads (of the whole stripe, shown or not), cut (whether
  it nowhere shows from edge to edge), start_mm, end_mm (material), start_line_px, end_line_px:
  photo points along the edges, where the whole threads on both their sides show; start_shown_px,
  end_shown_px: how much of the edges shows so, in photo pixels, less what a ruler hides.
- column_share: of the light of a block, from the threads that run down; mean_shade: apparent over
  fibre colour.
- px_per_mm: along plane x and y in the middle; homography_mm_to_px: plane mm to pixels without
  the lens; lens: photo = centre + (q - centre)(1 + k1 |q - centre|^2 / unit^2).
- rulers: unit, tick_mm, ticks_px and ends_px (feet of the ticks, with the lens), ticks_seen (in
  the frame and not hidden), above_mm (height of both ends above the plane), outline_px;
  ruler: the first of them; card: size_mm, outline_px; corners_px of a cloth that lies in the frame.
"""

from __future__ import annotations

import json

import numpy as np

from tests.render import camera as cam
from tests.render import cloth as weave
from tests.render import ruler as rule
from tests.render import things
from tests.render.bend import to_plane
from tests.render.specs import Scene, linear_from_srgb, srgb_from_linear
from tests.render.weaves import twill_direction

# Places along a thread at which it is asked whether it shows; fewer when there are many threads.
LOOKS, ALL_LOOKS = 500, 200_000


def facts(scene: Scene, laid: weave.LaidCloth, rng) -> dict:
    """The truth as a dictionary ready for JSON (see the head of this module)."""
    columns, rows = _axis(scene, laid, True), _axis(scene, laid, False)
    warp, weft = (rows, columns) if scene.cloth.warp_across else (columns, rows)
    for part, name in ((warp, "warp"), (weft, "weft")):
        stripes = scene.cloth.warp if name == "warp" else scene.cloth.weft
        kind = scene.cloth.warp_kind if name == "warp" else scene.cloth.weft_kind
        part["kind"] = kind
        part["sequence"] = [list(s) for s in stripes]
        part["notation"] = notation(stripes, kind)
        part["repeat_threads"] = sum(n for _, n in weave.unfold(stripes, kind))
        border = scene.cloth.warp_border if name == "warp" else scene.cloth.weft_border
        part["border"] = [list(s) for s in border]
    at = _scale(scene)
    shade, column_share = weave.mean_shade(laid, scene.light, rng)
    return {
        "yarns": [_yarn(y, shade) for y in scene.cloth.yarns],
        "weave": scene.cloth.weave,
        "twill_direction": twill_direction(scene.cloth.weave, scene.cloth.warp_across),
        "warp_across": scene.cloth.warp_across,
        "warp": warp,
        "weft": weft,
        "column_share": round(column_share, 4),
        "mean_shade": round(shade, 4),
        "px_per_thread": {
            "warp": warp["px_per_thread"],
            "weft": weft["px_per_thread"],
        },
        "px_per_mm": {"x": at[0], "y": at[1]},
        "rulers": [_ruler(scene, r) for r in scene.rulers],
        "ruler": _ruler(scene, scene.rulers[0]) if scene.rulers else None,
        "homography_mm_to_px": cam.homography(scene.camera).tolist(),
        "lens_k1": scene.camera.k1,
        "lens": {
            "k1": scene.camera.k1,
            "centre_px": list(cam.centre_px(scene.camera)),
            "unit_px": cam.half_diagonal(scene.camera),
        },
        "card": _card(scene),
        "corners_px": _corners(scene, laid),
        "size_px": [scene.camera.width, scene.camera.height],
        "exposure": scene.light.exposure,
        "cast": list(scene.light.cast),
    }


def to_text(truth: dict) -> str:
    """The truth as JSON, one line for each entry and each stripe."""
    lines = []
    for key, value in truth.items():
        if key in ("warp", "weft"):
            inner = ",\n  ".join(
                f"{json.dumps(k)}: {json.dumps(v)}" for k, v in value.items() if k != "stripes"
            )
            stripes = ",\n   ".join(json.dumps(s) for s in value["stripes"])
            text = f'{{\n  {inner},\n  "stripes": [\n   {stripes}]}}'
        else:
            text = json.dumps(value)
        lines.append(f" {json.dumps(key)}: {text}")
    return "{\n" + ",\n".join(lines) + "\n}\n"


def notation(stripes, kind: str) -> str:
    """The sequence as text: pivots of a symmetric one are marked with a slash."""
    if kind != "symmetric":
        return " ".join(f"{y}{n}" for y, n in stripes)
    last = len(stripes) - 1
    return " ".join(f"{y}/{n}" if k in (0, last) else f"{y}{n}" for k, (y, n) in enumerate(stripes))


def _yarn(yarn, shade: float) -> dict:
    linear = linear_from_srgb(yarn.srgb)
    return {
        "key": yarn.key,
        "name": yarn.name,
        "srgb": list(yarn.srgb),
        "linear": [round(float(c), 6) for c in linear],
        "apparent_linear": [round(float(c), 6) for c in linear * shade],
        "apparent_srgb": [round(float(c), 1) for c in srgb_from_linear(linear * shade)],
    }


def shows(scene: Scene, mm: np.ndarray) -> np.ndarray:
    """Whether plane points (N, 2) are in the frame with nothing laid over them."""
    px = cam.to_photo(scene.camera, mm)
    out = (px[:, 0] > -0.5) & (px[:, 0] < scene.camera.width - 0.5)
    out &= (px[:, 1] > -0.5) & (px[:, 1] < scene.camera.height - 0.5)
    for spec, (w, h) in _flat_things(scene):
        p, q = things.local(spec, (w, h), scene.camera, mm[:, 0], mm[:, 1])
        out &= ~((p > 0) & (p < w) & (q > 0) & (q < h))
    return out


def _flat_things(scene: Scene):
    for r in scene.rulers:
        yield r, (r.length_mm, r.width_mm)
    if scene.card is not None:
        h, w = scene.card.image.shape[:2]
        yield scene.card, (w / scene.card.px_per_mm, h / scene.card.px_per_mm)


def _visible(scene: Scene, laid: weave.LaidCloth, column: bool, at: np.ndarray):
    """(N, looks) whether lines at material mm `at` (N,) show; and their plane points."""
    other = laid.rows if column else laid.columns
    looks = int(
        np.clip(ALL_LOOKS / len((laid.columns if column else laid.rows).position), 100, LOOKS)
    )
    along = np.linspace(other.position[0], other.position[-1], looks)
    p, q = np.meshgrid(at, along, indexing="ij")
    u, v = (p, q) if column else (q, p)
    mm = to_plane(laid, u.ravel(), v.ravel())
    return shows(scene, mm).reshape(p.shape), mm.reshape(*p.shape, 2)


def edges_of(axis: weave.Axis) -> np.ndarray:
    """(stripes + 1,) material mm of stripe edges: half-way between neighbouring threads."""
    starts = [s for _, s, _ in axis.stripes[1:]]
    inner = [(axis.position[s - 1] + axis.position[s]) / 2 for s in starts]
    half = axis.pitch / 2
    return np.array([axis.position[0] - half, *inner, axis.position[-1] + half])


def _axis(scene: Scene, laid: weave.LaidCloth, column: bool) -> dict:
    """Stripes, density and size of one direction."""
    axis = laid.columns if column else laid.rows
    seen, mm = _visible(scene, laid, column, axis.position)
    edges = edges_of(axis)
    edge_seen, edge_mm = _visible(scene, laid, column, edges)
    # Nothing tells an edge where the frame cuts off the thread beyond it.
    told = edge_seen.copy()
    for side in (-axis.pitch, axis.pitch):
        told &= _visible(scene, laid, column, edges + side)[0]
    shown = seen.any(axis=1)
    stripes = []
    for k, (yarn, first, n) in enumerate(axis.stripes):
        count = int(shown[first : first + n].sum())
        if not count:
            continue
        whole = seen[first : first + n].all(axis=0) & edge_seen[k] & edge_seen[k + 1]
        stripes.append({
            "index": k,
            "yarn": scene.cloth.yarns[yarn].key,
            "threads": count,
            "full_threads": axis.full[k],
            "cut": not bool(whole.any()),
            "start_mm": round(float(edges[k]), 4),
            "end_mm": round(float(edges[k + 1]), 4),
            "start_line_px": _line(scene, told[k], edge_mm[k]),
            "end_line_px": _line(scene, told[k + 1], edge_mm[k + 1]),
            "start_shown_px": _shown(scene, told[k], edge_mm[k]),
            "end_shown_px": _shown(scene, told[k + 1], edge_mm[k + 1]),
        })  # fmt: skip
    inside = np.flatnonzero(shown)
    a, b = int(inside[0]), int(inside[-1])
    pitch = float((axis.position[b] - axis.position[a]) / max(1, b - a))
    px = _px_per_thread(scene, seen, mm, a, b)
    return {
        "runs": "down" if column else "across",
        "epi": round(25.4 / pitch, 4),
        "threads_per_mm": round(1 / pitch, 6),
        "threads": int(shown.sum()),
        "px_per_thread": round(px, 4),
        "stripes": stripes,
    }


def _line(scene: Scene, seen: np.ndarray, mm: np.ndarray) -> list[list[float]]:
    """Up to five photo points along the part of a line that shows."""
    index = np.flatnonzero(seen)
    if not len(index):
        return []
    pick = np.unique(index[np.linspace(0, len(index) - 1, 5).astype(int)])
    return [[round(float(c), 2) for c in p] for p in cam.to_photo(scene.camera, mm[pick])]


def _shown(scene: Scene, seen: np.ndarray, mm: np.ndarray) -> float:
    """Photo pixels over which a line shows: steps between places that both show."""
    steps = np.linalg.norm(np.diff(cam.to_photo(scene.camera, mm), axis=0), axis=1)
    return round(float(steps[seen[1:] & seen[:-1]].sum()), 1)


def _px_per_thread(scene: Scene, seen, mm, a: int, b: int) -> float:
    """Mean pixels per thread along the line across the threads on which most of them show."""
    best = int(np.argmax(seen[a : b + 1].sum(axis=0)))
    index = a + np.flatnonzero(seen[a : b + 1, best])
    ends = cam.to_photo(scene.camera, mm[[index[0], index[-1]], best])
    return float(np.linalg.norm(ends[1] - ends[0]) / max(1, index[-1] - index[0]))


def _scale(scene: Scene) -> tuple[float, float]:
    """Pixels per mm along plane x and y in the middle of the picture."""
    step = 0.01
    points = np.array([[-step, 0], [step, 0], [0, -step], [0, step]])
    px = cam.to_photo(scene.camera, points)
    d = np.linalg.norm(px[1::2] - px[::2], axis=1) / (2 * step)
    return round(float(d[0]), 6), round(float(d[1]), 6)


def _ruler(scene: Scene, ruler) -> dict:
    marks = rule.ticks(ruler)
    at = np.array([m[0] for m in marks])
    feet = cam.to_photo(scene.camera, rule.plane_points(ruler, scene.camera, at, np.zeros(len(at))))
    w, h = ruler.length_mm, ruler.width_mm
    body = rule.plane_points(ruler, scene.camera, [0, w, w, 0], [0, 0, h, h])
    inside = (feet[:, 0] >= 0) & (feet[:, 0] < scene.camera.width)
    inside &= (feet[:, 1] >= 0) & (feet[:, 1] < scene.camera.height)
    inside &= rule.covered(ruler, at, np.full(len(at), 1.0)) <= 0
    return {
        "unit": ruler.unit,
        "tick_mm": float(at[1] - at[0]),
        "material": ruler.material,
        "ends_px": feet[[0, -1]].round(3).tolist(),
        "ends_apart_mm": float(at[-1] - at[0]),
        "ticks_px": feet.round(3).tolist(),
        "ticks_in_frame": int(inside.sum()),
        "ticks_seen": inside.tolist(),
        "above_mm": [ruler.height_mm, ruler.height_mm + ruler.lift_mm],
        "outline_px": cam.to_photo(scene.camera, body).round(2).tolist(),
        "angle_deg": ruler.angle_deg,
    }


def _card(scene: Scene) -> dict | None:
    if scene.card is None:
        return None
    h, w = (n / scene.card.px_per_mm for n in scene.card.image.shape[:2])
    place = rule.RulerSpec(
        x=scene.card.x, y=scene.card.y, angle_deg=scene.card.angle_deg, length_mm=w, width_mm=h
    )
    body = rule.plane_points(place, scene.camera, [0, w, w, 0], [0, 0, h, h])
    return {
        "size_mm": [w, h],
        "outline_px": cam.to_photo(scene.camera, body).round(3).tolist(),
    }


def _corners(scene: Scene, laid: weave.LaidCloth) -> list[list[float]] | None:
    """Photo places of the cloth's corners, clockwise from top left; None if it fills the frame."""
    if scene.cloth.size_mm is None:
        return None
    c, r = edges_of(laid.columns), edges_of(laid.rows)
    u = np.array([c[0], c[-1], c[-1], c[0]])
    v = np.array([r[0], r[0], r[-1], r[-1]])
    return cam.to_photo(scene.camera, to_plane(laid, u, v)).round(2).tolist()
