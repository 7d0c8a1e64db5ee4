"""What a scene is made of: the common one, which each scene changes a little."""

from __future__ import annotations

import zlib

import numpy as np

from .scene_list import SCENES

SETT = {
    "warp": "",  # stripes, as "A24 B6"
    "weft": None,  # None: as the warp
    "warp_kind": "repeating",  # or symmetric
    "weft_kind": None,
    "weave": "plain",  # or "2/2 twill Z", "2/2 herringbone", "2/2 hopsack" and the like
    "turn": 12,  # ends from turn to turn of a herringbone
    "flaws": 0.0,  # share of crossings woven wrongly
    "epi": 20,  # ends per inch
    "ppi": None,  # picks per inch; None: a little fewer than ends
}
YARN = {
    "plies": 2,
    "twist": 3.2,  # pitches along the yarn for one turn
    "ply_twist": "S",  # or Z
    "groove": 0.35,  # depth between the plies, share of the radius
    "stripe": 0.1,  # how much darker the groove is
    "slub": 0.06,  # spread of the thickness along the yarn, share
    "thread_size": 0.06,  # and from thread to thread
    "rough": 0.06,  # and from point to point
    "dye_along": 0.05,  # spread of the colour along the yarn, share
    "dye_thread": 0.04,  # and from thread to thread
    "lustre": 0.0,  # 0 matt to 1
    "fibres": 20000,  # loose ones, in all
    "fibre_mm": 1.2,  # their length
    "fibre_r": 0.018,  # their radius in mm
    "stand": 0.9,  # how far they stand off, share of their length
    "nap": None,  # the way they lie, in degrees; None: every way
    "rings": 5,  # samples of a tube from crossing to crossing
    "sides": 10,  # of a tube
}
CLOTH = {
    "fill": 0.98,  # width of an end, share of the pitch
    "weft_fill": 0.98,  # and of a pick
    "flat": 0.7,  # height of a yarn over its width
    "crimp": 0.5,  # the warp's share in going up and down
    "uneven": 0.05,  # drift of the spacing, share
    "uneven_reach": 25,  # threads over which it drifts
    "jitter": 0.06,  # spread of each thread's place, in pitches
    "sway": 0.6,  # sideways wander shared by neighbours, in pitches
    "wander": 0.12,  # and each thread's own
    "bow": 0.5,  # pitches by which picks sag at both sides
    "skew": 0.0,  # mm that picks climb per mm
    "wave": 0.0,  # height of soft waves in mm
    "wave_mm": 150,  # their length
    "crease": None,  # (height in mm, angle in radians, place in widths of the photo, reach in mm)
    "edges": {},  # left, right, top, bottom: selvedge, fringe or cut
    "edge_share": 0.1,  # of the photo, from its side to the cloth's edge
    "fringe_mm": 12,
    "hem_mm": 0.0,  # width of a hem at the bottom
    "hem_srgb": (200, 190, 170),  # its sewing thread
}
CAMERA = {
    "size": (1600, 1200),  # pixels
    "px_per_thread": 6.0,  # of the warp
    "tilt": 4,  # degrees from straight above
    "towards": 90,  # to which side, degrees
    "roll": 2,  # degrees
    "field": 55,  # angle of view along the longer side, degrees
    "bend": 0.01,  # lens distortion at the corners, share
    "pupil": 0.0,  # radius of the lens opening in mm
    "misfocus": 0.0,  # share of the distance
}
LIGHT = {
    "table": "wood",  # or its sRGB colour
    "table_turn": 8,  # degrees
    "room": 0.35,  # radiance of the room
    "window": 9.0,  # and of the window
    "window_from": 130,  # degrees around
    "window_high": 50,  # and above the table
    "window_size": 500,  # half its width in mm, at 1500 mm
    "lamp": 0.0,  # radiance
    "lamp_from": 20,  # degrees
    "lamp_off": 350,  # mm beside the middle
    "phone": False,  # whether the phone stands in the light
    "shade": None,  # (x, y, radius) in widths of the photo of a ball that throws a shadow
    "rulers": (),
    "depth": 4,  # bounces of light
    "samples": 24,  # a pixel
}
PHONE = {
    "exposure": 0.0,  # stops
    "cast": (1.0, 1.0, 1.0),  # gains of red, green and blue
    "blur": 0.5,  # pixels
    "vignette": 0.06,  # share lost in the corners
    "noise": 0.0006,  # variance of full light
    "mosaic": True,  # whether each pixel sees one colour only
    "colour_smooth": 1.2,  # pixels over which colours are smoothed
    "contrast": 0.25,  # of the tone curve, 0..1
    "sharpen": 0.5,
    "sharpen_reach": 1.2,  # pixels
    "jpeg": 90,  # quality
}
COMMON = {**SETT, **YARN, **CLOTH, **CAMERA, **LIGHT, **PHONE, "group": "traced"}


def spec_of(name: str) -> dict:
    """All parameters of a scene."""
    own = SCENES[name]
    unknown = own.keys() - COMMON.keys() - {"yarns"}
    if unknown:
        raise KeyError(f"{name}: {unknown}")
    spec = {**COMMON, **own, "seed": zlib.crc32(name.encode())}
    spec["ppi"] = spec["ppi"] or spec["epi"] * 0.96
    spec["weft"] = spec["weft"] or spec["warp"]
    spec["weft_kind"] = spec["weft_kind"] or spec["warp_kind"]
    for key in ("warp_phase", "weft_phase"):  # the thread of the repeat that the cloth begins with
        rng = np.random.default_rng(spec["seed"] + len(key))
        spec[key] = int(rng.integers(0, 200))
    return spec
