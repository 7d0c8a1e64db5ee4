"""The scenes by name, each as it differs from the common one. All setts are invented."""

from __future__ import annotations

# sRGB 0..255 of shades as natural dyes give them on wool, linen and cotton.
DYES = {
    "madder": (150, 52, 40),
    "weld": (206, 174, 64),
    "indigo": (44, 58, 98),
    "pale_indigo": (112, 140, 168),
    "walnut": (92, 64, 46),
    "natural": (218, 206, 178),
    "fleece_grey": (136, 128, 120),
    "fleece_brown": (78, 60, 50),
    "cochineal": (138, 34, 68),
    "green": (84, 104, 58),
    "olive": (112, 104, 56),
    "rust": (168, 88, 46),
    "black": (38, 35, 36),
    "navy": (34, 40, 66),
    "rose": (196, 134, 124),
    "white": (236, 230, 216),
    "bottle": (36, 64, 52),
    "lichen": (162, 118, 150),
    "onion": (198, 140, 72),
    "sky": (148, 178, 196),
    "bluegrey": (96, 112, 124),
    "moss": (120, 124, 76),
    "plum": (84, 46, 66),
    "straw": (216, 196, 142),
}


def yarn(name: str, **more) -> dict:
    """A yarn of a dye.

    Args:
        name: of the dye.
        more: `alt`, a second dye; `how` both are mixed, "melange" (with its `amount`, 0..1) or
            "marl" (a ply of each); `size` beside the common yarn.
    """
    if "alt" in more:
        more["alt"] = DYES[more["alt"]]
    return {"srgb": DYES[name], **more}


def rule(design: str, x: float, y: float, angle: float = 0.0, on_cloth: bool = True) -> dict:
    """A ruler whose upper left corner lies at shares x, y of the photo, turned by degrees."""
    return {"design": design, "x": x, "y": y, "angle": angle, "on_cloth": on_cloth}


# What each parameter means stands in `scenes.py`.
# fmt: off
SCENES = {
    "t01": dict(
        warp="A24 B6 A6 B24 C4", yarns={"A": yarn("indigo"), "B": yarn("natural"),
        "C": yarn("madder")}, epi=18, px_per_thread=7,
        rulers=[rule("plastic", 0.05, 0.82, 0.8)],
    ),
    "t02": dict(
        weave="2/2 twill Z", warp="A18 B4 C12 B4 A30 D2", warp_kind="symmetric",
        yarns={"A": yarn("bottle"), "B": yarn("weld"), "C": yarn("navy"), "D": yarn("white")},
        epi=24, ppi=23, px_per_thread=6, rulers=[rule("steel", 0.2, 0.03, -0.6)], tilt=9,
        towards=250, roll=-4, fibres=60000, table=(60, 58, 60), lamp=30, bend=-0.015,
    ),
    "t03": dict(
        weave="plain", warp="A20 B10 A4 B10", weft="A16", weft_kind="repeating",
        yarns={"A": yarn("walnut"), "B": yarn("straw")}, epi=14, ppi=13, px_per_thread=9,
        rulers=[rule("wood", 0.03, 0.8, 1.5)], fill=0.62, weft_fill=0.6, flat=0.85, plies=1,
        stripe=0.15, table="wood", pupil=1.5, misfocus=0.03, jpeg=80,
    ),
    "t04": dict(
        weave="2/2 twill S", warp="A12 B2 A2 B12 C6", weft="A16 C4 B8 C4",
        yarns={"A": yarn("fleece_grey", alt="white", how="melange", amount=0.4),
        "B": yarn("fleece_brown", alt="rust", how="melange", amount=0.25), "C": yarn("rose")},
        epi=30, ppi=28, px_per_thread=5, rulers=[rule("tape", 0.02, 0.88, -1.0)], tilt=6,
        roll=6, fibres=160000, fibre_mm=1.6, stripe=0.05, dye_along=0.08, cast=(1.1, 1, 0.82),
        lamp=60, window=4, field=48, jpeg=85,
    ),
    "t05": dict(
        weave="plain", warp="A40 B6 C3 B6", warp_kind="symmetric", weft="A1",
        weft_kind="repeating", yarns={"A": yarn("natural"), "B": yarn("indigo"),
        "C": yarn("rust")}, epi=26, ppi=24, px_per_thread=6,
        rulers=[rule("plastic_plain", 0.1, 0.86, 0.3)], plies=1, stripe=0.14, lustre=0.3,
        fibres=8000, slub=0.12, thread_size=0.1, edges={"left": "selvedge"}, edge_share=0.12,
        table=(120, 96, 80), tilt=3, roll=-2,
    ),
    "t06": dict(
        weave="2/2 herringbone", turn=16, warp="A36 B36 A4 B4 A4 B4", weft="A36 B36",
        yarns={"A": yarn("black"),
        "B": yarn("fleece_grey", alt="white", how="melange", amount=0.3)}, epi=32, ppi=30,
        px_per_thread=5.5, rulers=[rule("steel_long", 0.03, 0.04, 0.2)], tilt=5, towards=200,
        roll=1, fibres=90000, room=0.5, jpeg=92,
    ),
    "t07": dict(
        weave="2/2 hopsack", warp="A20 B8 C8 D2", weft="A20 D6 B8", yarns={"A": yarn("straw"),
        "B": yarn("moss"), "C": yarn("bluegrey"), "D": yarn("plum")}, epi=20, ppi=20,
        px_per_thread=7, rulers=[rule("wood_school", 0.08, 0.78, 2.5)], tilt=8, towards=20,
        roll=3, window_high=25, fibres=30000,
    ),
    "t08": dict(
        weave="plain", warp="A6 B1 A6 C1", weft="A10 B2 C2", yarns={"A": yarn("natural"),
        "B": yarn("madder"), "C": yarn("indigo")}, epi=16, ppi=15, px_per_thread=8.5,
        size=(2000, 1500), rulers=[rule("plastic", 0.12, 0.03, 0.0)], tilt=2, roll=-1.5,
        field=50, fibres=30000, samples=24,
    ),
    "t09": dict(
        weave="2/2 twill Z", warp="A60 B20 C8 B20", warp_kind="symmetric",
        yarns={"A": yarn("cochineal"), "B": yarn("navy"), "C": yarn("weld")}, epi=40, ppi=38,
        px_per_thread=3.4, rulers=[rule("plastic_plain", 0.1, 0.9, 0)], rings=4, sides=7,
        tilt=4, roll=2.5, fibres=60000, blur=0.35, sharpen=0.7,
    ),
    "t10": dict(
        weave="2/1 twill Z", warp="A14 B14 C4 B14 A14 D4", yarns={"A": yarn("lichen"),
        "B": yarn("olive"), "C": yarn("black"), "D": yarn("white")}, epi=28, ppi=24,
        px_per_thread=5, rulers=[rule("inch_yellow", 0.06, 0.9, -1.5)], tilt=10, towards=300,
        roll=9, fibres=40000, shade=(0.4, 0.3, 0.22), lamp=80, lamp_from=40, table=(35, 33, 34),
    ),
    "t11": dict(
        weave="plain", warp="A18 B6 A6 B18", yarns={"A": yarn("fleece_brown"),
        "B": yarn("white")}, epi=12, ppi=11, px_per_thread=9,
        rulers=[rule("tape_white", -0.03, 0.85, 0.5)], fill=1.02, weft_fill=1.02, fibres=420000,
        fibre_mm=3.0, fibre_r=0.025, stand=0.5, nap=250, plies=1, slub=0.15, groove=0.1,
        dye_along=0.08, tilt=5, roll=4, jpeg=82,
    ),
    "t12": dict(
        weave="plain", warp="A24 B24", weft="A1", weft_kind="repeating",
        yarns={"A": yarn("white"), "B": yarn("rose")}, epi=18, ppi=17, px_per_thread=8,
        rulers=[rule("black", 0.1, 0.84, 0.6)], fill=0.5, weft_fill=0.48, flat=0.95, plies=1,
        table=(58, 44, 36), tilt=3, roll=2, fibres=6000, lustre=0.4, uneven=0.08, jitter=0.12,
        wander=0.25,
    ),
    "t13": dict(
        weave="2/2 twill Z", warp="A30 B4 C4 B4 A10 C16", weft="A30 B4 C4 B4 A10 C16",
        yarns={"A": yarn("green"), "B": yarn("onion"), "C": yarn("walnut")}, epi=22, ppi=20,
        px_per_thread=6, rulers=[rule("wood", 0.1, 0.84, -2)], wave=5, wave_mm=130, tilt=7,
        towards=60, roll=-6, fibres=60000, window_high=30, pupil=1.8, misfocus=-0.02,
    ),
    "t14": dict(
        weave="plain", warp="A10 B10 C10 D10 E10", weft="A10 C10 E10 B10 D10",
        yarns={"A": yarn("madder"), "B": yarn("weld"), "C": yarn("indigo"),
        "D": yarn("natural"), "E": yarn("walnut")}, epi=20, ppi=20, px_per_thread=6,
        size=(1200, 1600), rulers=[rule("set_square", 0.25, 0.8, 0.4)], tilt=3, roll=1,
        phone=True, fibres=25000,
    ),
    "t15": dict(
        weave="3/1 twill S", warp="A28 B3 A3 B3 A3 B3", warp_kind="repeating", weft="B1",
        weft_kind="repeating", yarns={"A": yarn("indigo"), "B": yarn("white")}, epi=36, ppi=26,
        px_per_thread=4.5, rulers=[rule("steel", 0.3, 0.9, 0.0)], crimp=0.4, tilt=4, roll=-2,
        fibres=20000, plies=1, stripe=0.12, lustre=0.2,
    ),
    "t16": dict(
        weave="2/2 twill S", warp="A22 B5 C12 B5", warp_kind="symmetric",
        yarns={"A": yarn("navy"), "B": yarn("bottle"), "C": yarn("black")}, epi=18, ppi=17,
        px_per_thread=7.5, rulers=[rule("plastic", 0.05, 0.04, 0)], fibres=70000, exposure=0.3,
        tilt=3, roll=2, noise=0.0015, table=(170, 168, 160),
    ),
    "t17": dict(
        weave="plain", warp="A16 B8 A4 C8", yarns={"A": yarn("natural"),
        "B": yarn("bluegrey", size=1.3), "C": yarn("rust", size=0.8)}, epi=15, ppi=14,
        px_per_thread=7, rulers=[rule("inch", 0.04, 0.82, 0.9)], fill=0.9, weft_fill=0.9,
        tilt=5, roll=3, fibres=50000, edges={"bottom": "fringe"}, edge_share=0.15, fringe_mm=25,
    ),
    "t18": dict(
        weave="plain", warp="A48 B2 A2 B2 A2 B2", yarns={"A": yarn("sky"),
        "B": yarn("cochineal")}, epi=48, ppi=44, px_per_thread=3.0,
        rulers=[rule("plastic_plain", 0.05, 0.02, 0)], rings=4, sides=7, plies=1, fibres=10000,
        fibre_mm=0.6, fibre_r=0.01, blur=0.3, sharpen=0.8, tilt=2, roll=1, lustre=0.3,
    ),
    "t19": dict(
        weave="1/3 twill Z", warp="A32 B8 C8 B8", weft="A1", weft_kind="repeating",
        yarns={"A": yarn("pale_indigo"), "B": yarn("white"), "C": yarn("navy")}, epi=24, ppi=32,
        px_per_thread=6, rulers=[rule("tape", 0.3, 0.02, 0.4)], tilt=6, towards=180, roll=-3,
        fibres=20000,
    ),
    "t20": dict(
        weave="2/2 twill Z", warp="A17 B9 A5 C3 A5 B9",
        yarns={"A": yarn("moss", alt="olive", how="melange", amount=0.4),
        "B": yarn("plum", alt="cochineal", how="melange", amount=0.3), "C": yarn("onion")},
        epi=14, ppi=13, px_per_thread=8, rulers=[rule("wood", 0.05, 0.85, 1.0)], fibres=350000,
        fibre_mm=2.5, fibre_r=0.025, stand=0.7, fill=1.0, weft_fill=1.0, tilt=6, roll=-5,
        window_high=35, cast=(0.92, 1, 1.12),
    ),
    "t21": dict(
        weave="2/2 twill Z", warp="A20 B20", weft="A20 B20", yarns={"A": yarn("walnut"),
        "B": yarn("natural")}, epi=20, ppi=20, px_per_thread=5,
        rulers=[rule("plastic", 0.2, 0.72, 0.8)], tilt=18, towards=270, roll=15, field=50,
        fibres=40000, bend=-0.03, pupil=1.2,
    ),
    "t22": dict(
        weave="plain", warp="A26 B7 C1 B7", warp_kind="symmetric",
        yarns={"A": yarn("weld", alt="natural", how="marl"), "B": yarn("indigo"),
        "C": yarn("white")}, epi=22, ppi=20, px_per_thread=6.5,
        rulers=[rule("plastic_plain", 0.35, 0.84, 0.0)], tilt=3, roll=1, fibres=20000,
        twist=2.6, ply_twist="Z",
    ),
    "t23": dict(
        weave="2/2 twill Z", warp="A4 B4", yarns={"A": yarn("black"), "B": yarn("white")},
        epi=18, ppi=18, px_per_thread=7, rulers=[rule("steel_long", 0.02, 0.88, 0.3)], tilt=3,
        roll=-1, fibres=30000,
    ),
    "t24": dict(
        weave="2/2 twill S", warp="A34 B10 C4 D4 C4 B10", weft="B12 A30 C4",
        yarns={"A": yarn("madder"), "B": yarn("rust"), "C": yarn("weld"), "D": yarn("bottle")},
        epi=26, ppi=24, px_per_thread=5.5, rulers=[rule("tape_white", -0.05, 0.03, -0.8)],
        wave=3, wave_mm=90, crease=(2.5, 0.2, 0.1, 3.0), tilt=5, roll=-3, fibres=80000,
        window_high=28,
    ),
    "t25": dict(
        weave="plain", warp="A15 B15 C5", yarns={"A": yarn("green"), "B": yarn("straw"),
        "C": yarn("rust")}, epi=20, ppi=19, px_per_thread=6,
        rulers=[rule("plastic", 0.1, 0.05, 0)],
        edges={"right": "selvedge", "bottom": "selvedge"}, edge_share=0.14, hem_mm=14, tilt=4,
        roll=2, table="wood", fibres=25000, wave=0.5,
    ),
    "t26": dict(
        weave="2/2 twill Z", warp="A21 B7 A7 B21 C2", yarns={"A": yarn("olive"),
        "B": yarn("moss"), "C": yarn("madder")}, epi=20, ppi=19, px_per_thread=6,
        rulers=[rule("wood", 0.02, 0.03, 0.5)], tilt=5, roll=2, fibres=50000,
        shade=(-0.75, 0.75, 0.3), lamp=40, lamp_from=160, room=0.25,
    ),
    "t27": dict(
        weave="2/2 twill Z", warp="A44 B16 C6 B2 C6 B16", yarns={"A": yarn("bottle"),
        "B": yarn("cochineal"), "C": yarn("white")}, epi=24, ppi=23, px_per_thread=2.7,
        size=(1600, 1200), rulers=[rule("wood", 0.1, 0.85, 0.0)], rings=3, sides=6, tilt=4,
        roll=-2, fibres=40000, blur=0.3, sharpen=0.8,
    ),
    "t28": dict(
        weave="plain", warp="A8 B3 C5 B3 A8 D12", weft="D12 A8", yarns={"A": yarn("indigo"),
        "B": yarn("white"), "C": yarn("madder"), "D": yarn("straw")}, epi=30, ppi=18,
        px_per_thread=5, rulers=[rule("plastic", 0.05, 0.85, 0)], fill=1.0, weft_fill=0.8,
        crimp=0.7, tilt=4, roll=1, fibres=20000,
    ),
    "t29": dict(
        weave="2/2 twill S", warp="A12 B12 C12", yarns={"A": yarn("fleece_grey"),
        "B": yarn("bluegrey"), "C": yarn("natural")}, epi=16, ppi=15, px_per_thread=7,
        rulers=[rule("wood", 0.0, 0.88, 0.5)], edges={"left": "selvedge", "right": "selvedge"},
        edge_share=0.1, tilt=8, roll=5, fibres=90000, fibre_mm=1.8, jpeg=75, table=(90, 88, 84),
    ),
    "t30": dict(
        weave="plain", warp="A50 B1 A3 B1", weft="A25 B1", yarns={"A": yarn("plum"),
        "B": yarn("straw")}, epi=24, ppi=22, px_per_thread=6.5,
        rulers=[rule("black", 0.3, 0.02, -0.5)], tilt=5, roll=3, fibres=30000, flaws=0.0015,
    ),
    "t31": dict(
        weave="2/2 twill Z", warp="A16 B4 A4 B16 C8 D8", yarns={"A": yarn("navy"),
        "B": yarn("rust"), "C": yarn("sky"), "D": yarn("walnut")}, epi=22, ppi=21,
        px_per_thread=5.5, rulers=[rule("plastic", 0.03, 0.95, 90.5),
        rule("plastic_plain", 0.25, 0.87, 0.3)], tilt=3, roll=0.5, fibres=40000, bend=0.03,
        phone=True, jpeg=72,
    ),
    "t32": dict(
        weave="plain", warp="A30 B30", weft="A30 B30",
        yarns={"A": yarn("natural", alt="fleece_grey", how="melange", amount=0.3),
        "B": yarn("indigo", alt="pale_indigo", how="melange", amount=0.3)}, epi=10, ppi=9,
        px_per_thread=10, rulers=[rule("wood", 0.05, 0.85, 1.0)], plies=1, slub=0.22,
        thread_size=0.14, uneven=0.09, jitter=0.12, wander=0.2, fill=0.85, weft_fill=0.85,
        fibres=150000, fibre_mm=2.2, tilt=4, roll=-3,
    ),
    "t33": dict(
        weave="2/2 herringbone", turn=10, warp="A18 B10 C2", weft="D1", weft_kind="repeating",
        yarns={"A": yarn("walnut"), "B": yarn("onion"), "C": yarn("white"), "D": yarn("black")},
        epi=20, ppi=19, px_per_thread=7, rulers=[rule("steel", 0.2, 0.05, 0)], tilt=4, roll=1,
        fibres=40000,
    ),
    "t34": dict(
        weave="1/2 twill S", warp="A27 B6 C6 D6", weft="D30 A6", yarns={"A": yarn("rose"),
        "B": yarn("lichen"), "C": yarn("plum"), "D": yarn("natural")}, epi=26, ppi=26,
        px_per_thread=4, rulers=[rule("inch_yellow", 0.1, 0.02, 0)], rings=4, sides=8, tilt=6,
        towards=150, roll=-8, fibres=40000,
    ),
    "t35": dict(
        weave="2/2 twill Z", warp="A23 B11 C3 B11", warp_kind="symmetric",
        yarns={"A": yarn("fleece_grey"), "B": yarn("cochineal"), "C": yarn("black")}, epi=28,
        ppi=27, px_per_thread=5, rulers=[rule("tape", 0.12, 0.9, 0.6)], tilt=14, towards=45,
        roll=-18, field=60, fibres=50000, pupil=1.0, jpeg=78,
    ),
    "t36": dict(
        weave="plain", warp="A19 B2 C2 B2 A19 C14", yarns={"A": yarn("onion"),
        "B": yarn("black"), "C": yarn("pale_indigo")}, epi=22, ppi=21, px_per_thread=6,
        rulers=[], tilt=2, roll=1, fibres=30000,
    ),
    "t37": dict(
        weave="2/2 twill S", warp="A22 B4 A4 B4 A22 C8",
        yarns={"A": yarn("fleece_grey", alt="natural", how="melange", amount=0.35),
        "B": yarn("madder", alt="rust", how="melange", amount=0.3), "C": yarn("fleece_brown")},
        epi=16, ppi=15, px_per_thread=7, rulers=[rule("tape", 0.05, 0.03, 0.6)], contrast=0.1,
        fibres=900000, fibre_mm=3.5, fibre_r=0.035, stand=1.0, plies=1, groove=0.1, slub=0.12,
        fill=1.04, weft_fill=1.04, tilt=4, roll=2, depth=3,
    ),
    "t38": dict(
        weave="plain", warp="A20 B6 C6 B6", yarns={"A": yarn("natural"),
        "B": yarn("pale_indigo"), "C": yarn("indigo")}, epi=16, ppi=15, px_per_thread=7.5,
        rulers=[rule("plastic_plain", 0.1, 0.84, 0)], fill=0.74, weft_fill=0.72, flat=0.85,
        contrast=0.1, plies=1, fibres=15000, table="wood", tilt=4, roll=-2, slub=0.12,
    ),
    "t39": dict(
        weave="plain", warp="A12 B3 A3 B3", yarns={"A": yarn("bluegrey"),
        "B": yarn("white", size=1.5)}, epi=18, ppi=17, px_per_thread=7,
        rulers=[rule("steel", 0.1, 0.05, 0)], fill=0.85, weft_fill=0.85, tilt=4, roll=2,
        fibres=30000, contrast=0.1,
    ),
    "t40": dict(
        weave="2/2 twill Z", warp="A40 B12 C20 B12", warp_kind="symmetric",
        yarns={"A": yarn("moss"), "B": yarn("natural"), "C": yarn("walnut")}, epi=12, ppi=11.5,
        px_per_thread=3.2, rulers=[], contrast=0.1, rings=4, sides=7, fibres=100000, fibre_mm=3,
        fibre_r=0.03, tilt=10, towards=80, roll=-4, wave=9, wave_mm=500, field=60,
    ),
    "t41": dict(
        weave="2/2 twill Z", warp="A24 B12 A4 B12", yarns={"A": yarn("natural"),
        "B": yarn("straw")}, epi=22, ppi=21, px_per_thread=6,
        rulers=[rule("inch", 0.05, 0.84, 0)], contrast=0.1, tilt=3, roll=1, fibres=60000,
        lamp=260, lamp_from=200, lamp_off=260, window=2, room=0.12, cast=(1.12, 1, 0.8),
    ),
    "t42": dict(
        weave="plain", warp="A14 B6 C6 B6", weft="A14 C6", yarns={"A": yarn("rust"),
        "B": yarn("sky"), "C": yarn("olive")}, epi=24, ppi=22, px_per_thread=5.5,
        rulers=[rule("plastic", 0.05, 0.84, 0.5)], contrast=0.15, blur=1.3, noise=0.004,
        jpeg=72, tilt=6, roll=4, fibres=20000, exposure=-0.5,
    ),
    "t43": dict(
        weave="2/2 twill S", warp="A20 B2 A2 B2 A2 B2 A2 B2 A18 C6",
        yarns={"A": yarn("fleece_brown"), "B": yarn("natural"), "C": yarn("green")}, epi=20,
        ppi=20, px_per_thread=6, rulers=[rule("wood", 0.05, 0.03, 0)], contrast=0.1, tilt=4,
        roll=2, fibres=60000,
    ),
    "t44": dict(
        weave="plain", warp="A32 B5 C5 B5", weft="A1", weft_kind="repeating",
        yarns={"A": yarn("bluegrey"), "B": yarn("white"), "C": yarn("plum")}, epi=22, ppi=20,
        px_per_thread=7, size=(1200, 1600), rulers=[rule("plastic_plain", 0.1, 0.03, 0.3)],
        contrast=0.1, slub=0.08, plies=1, tilt=3, roll=1, fibres=15000,
    ),
    "t45": dict(
        weave="plain", warp="A20 B6 A6 B20 C2", yarns={"A": yarn("onion"), "B": yarn("lichen"),
        "C": yarn("navy")}, epi=20, ppi=19, px_per_thread=6,
        rulers=[rule("steel_long", 0.0, 0.85, 0.3, False)], contrast=0.1, phone=True,
        edges={"bottom": "cut", "left": "cut"}, edge_share=0.24, fringe_mm=3, tilt=6, roll=3,
        fibres=40000, table=(150, 140, 128),
    ),
}
# fmt: on
