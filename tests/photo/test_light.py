"""Illumination told from the cloth, on cloth made of known sums."""

from __future__ import annotations

import numpy as np
import pytest

from settscan.photo.flat import CardFound
from settscan.photo.light import even_out, find_light, neutral_gains, strangers

HEIGHT, WIDTH = 480, 640


def cloth(rng, across: bool = True) -> np.ndarray:
    """(H, W, 3) half columns, half rows; four yarns, stripes of 10 to 50 pixels, recurring."""
    yarns = np.array([[0.05, 0.1, 0.3], [0.6, 0.5, 0.4], [0.4, 0.05, 0.05], [0.1, 0.3, 0.1]])

    def part(length: int) -> np.ndarray:
        half = [(int(rng.integers(4)), int(rng.integers(10, 50))) for _ in range(5)]
        order = np.concatenate([np.full(n, y) for y, n in half + half[::-1]])
        return yarns[np.resize(order, length)]

    columns = part(WIDTH)
    rows = part(HEIGHT) if across else np.tile(yarns[:1], (HEIGHT, 1))
    light = 0.5 * columns[None] + 0.5 * rows[:, None]
    return light * rng.normal(1, 0.03, (HEIGHT, WIDTH, 1))


def lamp(kind: str) -> np.ndarray:
    y, x = np.mgrid[-1 : 1 : HEIGHT * 1j, -1 : 1 : WIDTH * 1j]
    fields = {
        "none": np.ones_like(x),
        "oblique": 1 + 0.25 * x + 0.2 * y,
        "vignette": 1 - 0.3 * (x**2 + y**2) / 2,
        "shadow": 1 - 0.4 / (1 + np.exp(-(x + y - 0.5) / 0.12)),
        "sideways": 1 + 0.3 * x,
    }
    return fields[kind]


def left_over(kind: str, seed: int) -> tuple[float, float]:
    """Standard deviation of log illumination before and after."""
    rng = np.random.default_rng(seed)
    true = lamp(kind)
    light = (cloth(rng) * true[..., None]).astype(np.float32)
    usable = np.ones((HEIGHT, WIDTH), dtype=bool)
    field = find_light(light, usable)
    share_x, share_y = np.arange(WIDTH) / (WIDTH - 1), np.arange(HEIGHT) / (HEIGHT - 1)
    found = field.at(share_x, share_y)
    return float(np.log(true).std()), float((np.log(true) - np.log(found)).std())


@pytest.mark.parametrize("kind", ["oblique", "vignette", "shadow", "sideways"])
@pytest.mark.parametrize("seed", [1, 2])
def test_most_of_the_unevenness_goes(kind, seed):
    before, after = left_over(kind, seed)
    assert after < 0.05
    assert after < before / 2


def test_even_light_is_left_alone():
    assert left_over("none", 3)[1] < 0.02


def test_where_nothing_tells_nothing_is_changed():
    rng = np.random.default_rng(4)
    yarns = np.linspace(0.1, 0.6, WIDTH)[None, :, None] * np.ones((HEIGHT, 1, 3))
    # colours that drift along x and never come back may be the weaver's own
    light = (yarns * rng.normal(1, 0.02, (HEIGHT, WIDTH, 1))).astype(np.float32)
    field = find_light(light, np.ones((HEIGHT, WIDTH), dtype=bool))
    assert field.spread() < 1.25


def test_the_division_follows_the_field():
    rng = np.random.default_rng(5)
    light = (cloth(rng) * lamp("oblique")[..., None]).astype(np.float32)
    field = find_light(light, np.ones((HEIGHT, WIDTH), dtype=bool))
    even = light.copy()
    even_out(even, field)
    gain = field.at(np.array([0.25]), np.array([0.5]))[0, 0]
    y, x = round(0.5 * (HEIGHT - 1)), round(0.25 * (WIDTH - 1))
    assert even[y, x] == pytest.approx(light[y, x] / gain, rel=0.005)


def strangers_in(light: np.ndarray) -> np.ndarray:
    usable = np.ones((HEIGHT, WIDTH), dtype=bool)
    return strangers(light, usable, find_light(light, usable))


def test_a_blot_is_a_stranger_and_the_check_is_not():
    rng = np.random.default_rng(6)
    light = cloth(rng).astype(np.float32)
    light[200:260, 300:380] = (0.9, 0.9, 0.1)
    strange = strangers_in(light)
    assert strange[210:250, 310:370].mean() > 0.95
    strange[190:270, 290:390] = False
    assert strange.mean() < 0.01


def test_the_soft_rim_of_a_stain_is_a_part_of_it():
    """It fades out: where it takes a fifth of the light it would still pass for a yarn."""
    rng = np.random.default_rng(6)
    light = cloth(rng)
    y, x = np.mgrid[0:HEIGHT, 0:WIDTH]
    dark = 0.75 * np.exp(-0.5 * (((x - 330) / 30) ** 2 + ((y - 220) / 30) ** 2))
    found = strangers_in((light * (1 - dark[..., None])).astype(np.float32))
    assert found[dark > 0.2].mean() > 0.95
    assert found[dark < 0.01].mean() < 0.01


def test_a_crossing_that_is_off_everywhere_is_no_stranger():
    """Two dark stripes cross darker than their sum, wherever they cross; a blot is but once."""
    rng = np.random.default_rng(6)
    light = cloth(rng).astype(np.float32)
    dark = np.zeros((HEIGHT, WIDTH), bool)
    for y in range(0, HEIGHT, 120):
        for x in range(0, WIDTH, 120):
            dark[y + 30 : y + 70, x + 30 : x + 70] = True
    light[:, [x for x in range(WIDTH) if 30 <= x % 120 < 70]] = 0.35
    light[[y for y in range(HEIGHT) if 30 <= y % 120 < 70]] = 0.35
    light[dark] = 0.1
    assert strangers_in(light).mean() < 0.01
    light[200:260, 310:380] = (0.9, 0.1, 0.1)
    found = strangers_in(light)
    assert found[210:250, 320:370].mean() > 0.95
    found[180:280, 290:400] = False
    assert found.mean() < 0.02


def test_a_bright_line_a_little_aside_is_no_stranger():
    """A white line of three pixels among black ones that wanders by two pixels."""
    rng = np.random.default_rng(7)
    light = np.full((HEIGHT, WIDTH, 3), 0.02) * rng.normal(1, 0.03, (HEIGHT, WIDTH, 1))
    light[:, 60:120] = light[:, 400:460] = (0.1, 0.02, 0.02)
    for y in range(HEIGHT):
        aside = round(2 * np.sin(y / 60))
        for x in (200, 300, 520):
            light[y, x + aside : x + aside + 3] = 0.6
    assert strangers_in(light.astype(np.float32)).mean() < 0.005


def test_the_card_turns_a_yellow_lamp_neutral():
    grey = np.array([0.05, 0.2, 0.5, 0.8])
    card = CardFound(
        mm_to_photo=np.eye(3),
        outline_px=np.zeros((4, 2)),
        relative_error=0.001,
        grey_linear=grey[:, None] * np.array([0.9, 0.8, 0.5]),
        grey_reflectance=grey,
    )
    assert neutral_gains(card) == pytest.approx(1 / np.array([0.9, 0.8, 0.5]), rel=1e-6)


def few_stripes(rng) -> np.ndarray:
    """(H, W, 3) two yarns in wide stripes, an uneven share, cut anywhere."""
    yarns = np.array([[0.7, 0.5, 0.05], [0.08, 0.07, 0.03]])

    def part(length: int) -> np.ndarray:
        order = np.concatenate([np.full(rng.integers(120, 260), k % 2) for k in range(12)])
        return yarns[order[rng.integers(100) :][:length]]

    share = rng.uniform(0.4, 0.6)
    return share * part(WIDTH)[None] + (1 - share) * part(HEIGHT)[:, None]


def left_by(kind: str, seed: int) -> float:
    """Standard deviation of the log illumination left on few stripes behind a ruler."""
    rng = np.random.default_rng(seed)
    true = lamp(kind)
    light = few_stripes(rng) * true[..., None] * rng.normal(1, 0.05, (HEIGHT, WIDTH, 1))
    y, x = np.mgrid[:HEIGHT, :WIDTH]
    usable = (y > 0.1 * (WIDTH - x)) & (x > 0.1 * y) & (x < WIDTH - 0.1 * (HEIGHT - y))
    usable[200:400, 60 + 40 * seed : 180 + 40 * seed] = False
    field = find_light(light.astype(np.float32), usable)
    found = field.at(np.arange(WIDTH) / (WIDTH - 1), np.arange(HEIGHT) / (HEIGHT - 1))
    return float((np.log(true) - np.log(found))[usable].std())


@pytest.mark.parametrize(
    ("kind", "most"), [("none", 0.005), ("oblique", 0.015), ("sideways", 0.015)]
)
def test_a_ruler_and_a_turned_frame_pass_for_no_light(kind, most):
    """They hide other stripes at each place, so that plain means step without any lamp."""
    assert np.mean([left_by(kind, seed) for seed in range(4)]) < most


def shadowed(kind: str, seed: int) -> tuple[float, float]:
    """Scatter of log illumination before and after, where a shadow ends along the threads."""
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[-1 : 1 : HEIGHT * 1j, -1 : 1 : WIDTH * 1j]
    true = {
        "hard": 1 - 0.35 / (1 + np.exp(-(y - 0.1) / 0.02)),
        "soft": 1 - 0.35 / (1 + np.exp(-(x + 0.15) / 0.04)),
        "with a lamp": (1 + 0.2 * y) * (1 - 0.35 / (1 + np.exp(-(x + 0.15) / 0.02))),
    }[kind]
    weave = cloth(rng) if seed % 2 else few_stripes(rng)
    light = weave * true[..., None] * rng.normal(1, 0.03, (HEIGHT, WIDTH, 1))
    field = find_light(light.astype(np.float32), np.ones((HEIGHT, WIDTH), bool))
    found = field.at(np.arange(WIDTH) / (WIDTH - 1), np.arange(HEIGHT) / (HEIGHT - 1))
    return float(np.log(true).std()), float((np.log(true) - np.log(found)).std())


@pytest.mark.parametrize("kind", ["hard", "soft", "with a lamp"])
def test_the_edge_of_a_shadow_along_the_threads_goes(kind):
    """In most cloths; where stripes are narrower than its edge, nothing tells."""
    shares = [after / before for before, after in (shadowed(kind, seed) for seed in range(6))]
    assert np.median(shares) < 0.35


@pytest.mark.parametrize("seed", range(4))
def test_no_shadow_is_seen_where_none_is(seed):
    rng = np.random.default_rng(seed)
    for kind in ("none", "oblique", "vignette"):
        weave = cloth(rng) if seed % 2 else few_stripes(rng)
        light = weave * lamp(kind)[..., None] * rng.normal(1, 0.03, (HEIGHT, WIDTH, 1))
        field = find_light(light.astype(np.float32), np.ones((HEIGHT, WIDTH), bool))
        assert field.edges == ((), ())
