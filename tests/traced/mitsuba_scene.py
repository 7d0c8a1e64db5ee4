"""The scene as Mitsuba wants it, and the light that it traces. Only this module needs Mitsuba."""

from __future__ import annotations

import cv2
import drjit
import mitsuba as mi
import numpy as np

from . import rulers
from .camera import Camera
from .cloth import linear
from .ruler_face import face
from .tubes import Mesh

mi.set_variant("llvm_ad_rgb")
T = mi.ScalarTransform4f

PASS = 4  # samples a pixel that fit into memory at once
DAYLIGHT, ROOM_LIGHT, LAMP_LIGHT = (0.93, 0.98, 1.08), (1.0, 0.97, 0.93), (1.15, 0.97, 0.72)


def trace(
    spec: dict, meshes: dict[str, Mesh], placed: list[dict], view: Camera, table_z: float, rng
) -> np.ndarray:
    """(h, w, 3) linear light, with a margin around the photo for the lens.

    Args:
        spec: of the scene.
        meshes: all that is yarn, by name.
        placed: rulers, with `z` in mm.
        view: the camera.
        table_z: height of the table in mm.
        rng: random numbers.
    """
    things = {"type": "scene"}
    path = {"type": "path", "max_depth": spec["depth"], "hide_emitters": True}
    things["integrator"] = path
    yarn = _yarn_surface(spec)
    for name, mesh in meshes.items():
        things[name] = _mesh(name, mesh, yarn)
    width = spec["size"][0] / spec["px_per_thread"] * 25.4 / spec["epi"]
    things["table"] = _table(spec, max(2500, width), table_z, rng)
    for k, ruler in enumerate(placed):
        things[f"ruler{k}"] = _ruler(ruler, rng)
    things |= _lights(spec, view, width)
    things["sensor"] = _sensor(view, spec)
    scene = mi.load_dict(things)
    seeds = range(1, spec["samples"] + 1, PASS)
    light = sum(np.array(mi.render(scene, spp=PASS, seed=seed)) for seed in seeds) / len(seeds)
    del scene, things
    drjit.flush_malloc_cache()  # or the next scene finds the memory taken
    return light


def _rgb(values) -> dict:
    return {"type": "rgb", "value": [float(v) for v in values]}


def _bitmap(picture: np.ndarray) -> dict:
    """A texture of linear numbers."""
    data = mi.TensorXf(np.ascontiguousarray(picture.astype(np.float32)))
    return {"type": "bitmap", "data": data, "raw": True, "wrap_mode": "clamp"}


def _two_sided(inner: dict):
    return mi.load_dict({"type": "twosided", "bsdf": inner})


def _yarn_surface(spec: dict):
    """Matt wool, or a fibre with some lustre."""
    colour = {"type": "mesh_attribute", "name": "vertex_color"}
    if not spec["lustre"]:
        return _two_sided({"type": "diffuse", "reflectance": colour})
    gloss = {"roughness": 0.5, "specular": spec["lustre"], "sheen": 0.3}
    return _two_sided({"type": "principled", "base_color": colour, **gloss})


def _mesh(name: str, mesh: Mesh, surface) -> mi.Mesh:
    """A mesh with a colour at each point."""
    props = mi.Properties()
    props["bsdf"] = surface
    size = len(mesh.points), len(mesh.faces)
    shape = mi.Mesh(name, *size, has_vertex_normals=True, props=props)
    shape.add_attribute("vertex_color", 3, mesh.colours.ravel().astype(np.float32))
    params = mi.traverse(shape)
    params["vertex_positions"] = mi.Float(mesh.points.ravel().astype(np.float32))
    params["faces"] = mi.UInt32(mesh.faces.ravel().astype(np.uint32))
    params.update()
    return shape


def _ruler(ruler: dict, rng) -> mi.Mesh:
    """A ruler's body with its face as texture."""
    design = rulers.DESIGNS[ruler["design"]]
    picture, mask = face(design, rng)
    points, faces, uv = rulers.prism(design, np.array(ruler["at"]), ruler["angle"], ruler["z"])
    props = mi.Properties()
    props["bsdf"] = _two_sided(_ruler_surface(design, linear(picture * 255), mask))
    shape = mi.Mesh("ruler", len(points), len(faces), has_vertex_texcoords=True, props=props)
    params = mi.traverse(shape)
    params["vertex_positions"] = mi.Float(points.ravel().astype(np.float32))
    params["vertex_texcoords"] = mi.Float(uv.ravel().astype(np.float32))
    params["faces"] = mi.UInt32(faces.ravel().astype(np.uint32))
    params.update()
    return shape


def _ruler_surface(design: rulers.Design, colour: np.ndarray, mask: np.ndarray) -> dict:
    """Its material; `mask` is where ink lies on steel, or brass on wood."""
    matt = {"type": "diffuse", "reflectance": _bitmap(colour)}
    if design.material == "steel":
        metal = {"type": "roughconductor", "material": "Cr", "alpha": 0.3}
        dull = {"type": "diffuse", "reflectance": _rgb([0.26, 0.26, 0.255])}
        both = {"type": "blendbsdf", "weight": 0.45, "a": metal, "b": dull}
        return {"type": "blendbsdf", "weight": _bitmap(mask), "a": both, "b": matt}
    if design.material == "plastic":
        gloss = {"roughness": 0.35, "specular": 0.4}
        return {"type": "principled", "base_color": _bitmap(colour), **gloss}
    if design.brass:
        metal = {"type": "roughconductor", "material": "Cu", "alpha": 0.25}
        return {"type": "blendbsdf", "weight": _bitmap(mask), "a": matt, "b": metal}
    return matt


def _table(spec: dict, size: float, z: float, rng) -> dict:
    """What the cloth lies on: wood, or one colour."""
    colour = _wood(rng) if spec["table"] == "wood" else _rgb(linear(spec["table"]))
    place = T().translate([0, 0, z]).rotate([0, 0, 1], spec["table_turn"])
    return {
        "type": "rectangle",
        "to_world": place.scale([size * 1.6, size * 1.4, 1]),
        "bsdf": {"type": "principled", "base_color": colour, "roughness": 0.45, "specular": 0.3},
    }


def _wood(rng) -> dict:
    h, w = 900, 1400
    bends = rng.standard_normal((4, 5)).astype(np.float32)
    bends = cv2.resize(bends, (w, h), interpolation=cv2.INTER_CUBIC)
    x = np.linspace(0, 60, h)[:, None] + 2.5 * bends
    rings = 0.5 + 0.5 * np.sin(x * 2.2 + np.sin(x * 0.7) * 2)
    pores = cv2.resize(rng.standard_normal((h, w // 40)).astype(np.float32), (w, h))
    tone = (0.55 + 0.35 * rings + 0.06 * pores)[..., None]
    return _bitmap(np.clip(linear(np.array([150, 104, 62])) * tone, 0.01, 0.9))


def _glow(strength: float, tint: tuple) -> dict:
    """The radiance of a light."""
    return _rgb([strength * c for c in tint])


def _lights(spec: dict, view: Camera, width: float) -> dict:
    """A window, the room, a lamp, and what stands in their way; `width` in mm of what shows."""
    a, e = np.radians(spec["window_from"]), np.radians(spec["window_high"])
    at = 1500 * np.array([np.cos(a) * np.cos(e), np.sin(a) * np.cos(e), np.sin(e)])
    pane = T().look_at(origin=at.tolist(), target=[0, 0, 0], up=[0, 0, 1])
    out = {
        "room": {"type": "constant", "radiance": _glow(spec["room"], ROOM_LIGHT)},
        "window": {
            "type": "rectangle",
            "to_world": pane.scale([spec["window_size"], spec["window_size"] * 0.8, 1]),
            "emitter": {"type": "area", "radiance": _glow(spec["window"], DAYLIGHT)},
        },
    }
    if spec["lamp"] > 0:
        b, off = np.radians(spec["lamp_from"]), spec["lamp_off"]
        bulb = {"type": "area", "radiance": _glow(spec["lamp"], LAMP_LIGHT)}
        place = [float(off * np.cos(b)), float(off * np.sin(b)), 700.0]
        out["lamp"] = {"type": "sphere", "radius": 45, "center": place, "emitter": bulb}
    if spec["phone"]:
        out["phone"] = _phone(view)
    if spec["shade"]:  # a ball out of the frame that throws its shadow in
        x, y, r = spec["shade"]
        out["shade"] = {
            "type": "sphere",
            "center": [x * width, y * width, 0.35 * width + 60],
            "radius": r * width,
            "bsdf": {"type": "diffuse", "reflectance": _rgb([0.2] * 3)},
        }
    return out


def _phone(view: Camera) -> dict:
    """The phone's own body just behind its lens, which takes light away and shows in gloss."""
    ahead, up = view.axes[2], -view.axes[1]
    back = view.eye - ahead * 6
    place = T().look_at(origin=back.tolist(), target=(back + ahead).tolist(), up=up.tolist())
    dark = {"type": "diffuse", "reflectance": _rgb([0.08] * 3)}
    return {
        "type": "rectangle",
        "to_world": place.scale([75, 38, 1]),
        "bsdf": {"type": "twosided", "bsdf": dark},
    }


def _sensor(view: Camera, spec: dict) -> dict:
    """Mitsuba's camera, with a margin for the lens distortion."""
    margin = 1 + max(0.0, view.bend) + 0.005
    w, h = (int(side * margin) // 2 * 2 for side in view.size)
    eye, ahead, up = view.eye, view.axes[2], -view.axes[1]
    kind = {"type": "perspective"}
    if spec["pupil"] > 0:
        away = float(np.linalg.norm(eye) * (1 + spec["misfocus"]))
        kind = {"type": "thinlens", "aperture_radius": spec["pupil"], "focus_distance": away}
    film = {"type": "hdrfilm", "width": w, "height": h, "pixel_format": "rgb"}
    return {
        **kind,
        "fov": float(np.degrees(2 * np.arctan(w / 2 / view.focal))),
        "fov_axis": "x",
        "near_clip": 1.0,
        "far_clip": 1e5,
        "to_world": T().look_at(origin=eye.tolist(), target=(eye + ahead).tolist(), up=up.tolist()),
        "film": {**film, "rfilter": {"type": "box"}},
        "sampler": {"type": "independent", "sample_count": 4},
    }
