"""The reading's JSON keeps to its schema, and the schema to JSON Schema, draft 2020-12."""

import copy
import json
from pathlib import Path

import numpy as np
import pytest
from jsonschema import Draft202012Validator
from PIL import Image

import settscan as package
from settscan.cloth.notation import parse_sequence
from settscan.doubts import known_names

DOCS = Path(package.__file__).parent / "docs"
SCHEMA = json.loads((DOCS / "reading.schema.json").read_text("utf-8"))


@pytest.fixture(scope="module")
def reading(demo_run):
    return json.loads((demo_run.folder / "swatch.reading.json").read_text("utf-8"))


@pytest.fixture(scope="module")
def refused(settscan, tmp_path_factory):
    """The reading of a plain grey picture."""
    folder = tmp_path_factory.mktemp("refused")
    Image.new("RGB", (400, 300), (120, 120, 120)).save(folder / "grey.png")
    done = settscan("scan", "grey.png", "-o", "grey.toml", "--json", "grey.json", cwd=folder)
    assert done.returncode == 1, done.stderr
    return json.loads((folder / "grey.json").read_text("utf-8"))


def strict(schema):
    """The schema with every object closed, so that a field that is not described is found."""
    closed = copy.deepcopy(schema)
    for part in (closed, *closed["$defs"].values()):
        _close(part)
    return closed


def _close(part):
    if not isinstance(part, dict):
        return
    for name, value in part.items():
        if name in ("properties", "patternProperties"):
            for inner in value.values():
                _close(inner)
        elif name == "items":
            _close(value)
    # Definitions that others build upon are closed where they are used.
    if "properties" in part and not part.get("$base"):
        part["unevaluatedProperties"] = False


def closed_schema():
    schema = copy.deepcopy(SCHEMA)
    for base in ("band", "axis"):
        schema["$defs"][base]["$base"] = True
    schema["$defs"]["axis"]["properties"]["bands"]["items"] = {
        "allOf": [{"$ref": "#/$defs/band"}],
        "unevaluatedProperties": False,
    }
    return strict(schema)


def test_the_schema_is_one():
    Draft202012Validator.check_schema(SCHEMA)
    Draft202012Validator.check_schema(closed_schema())


def test_a_real_reading_keeps_to_it(reading):
    Draft202012Validator(SCHEMA).validate(reading)


def test_a_refusal_keeps_to_it(refused):
    assert refused["status"] == "refused"
    Draft202012Validator(SCHEMA).validate(refused)


def test_no_field_is_written_that_is_not_described(reading, refused):
    for data in (reading, refused):
        Draft202012Validator(closed_schema()).validate(data)
    surprise = copy.deepcopy(reading)
    surprise["warp"]["stripes"][0]["surprise"] = 1
    assert not Draft202012Validator(closed_schema()).is_valid(surprise)
    assert Draft202012Validator(SCHEMA).is_valid(surprise)  # others may add within a version


@pytest.mark.parametrize(
    "spoil",
    [
        lambda d: d.pop("status"),
        lambda d: d.update(version=2),
        lambda d: d.update(status="perhaps"),
        lambda d: d["photo"].update(sha256="0"),
        lambda d: d["scale"].update(source="guess"),
        lambda d: d["yarns"][0].update(srgb="red"),
        lambda d: d["yarns"][0].update(lab=[1, 2]),
        lambda d: d["warp"].pop("epi"),
        lambda d: d["weft"]["ppi"].pop("low"),
        lambda d: d["warp"]["stripes"][0].update(threads=0),
        lambda d: d["warp"]["stripes"][0].update(threads=2.5),
        lambda d: d["warp"]["stripes"][0].update(chance=1.5),
        lambda d: d["warp"]["stripes"][0].pop("cut"),
        lambda d: d["warp"]["repeat"].update(kind="mirrored"),
        lambda d: d.update(status="refused"),
        lambda d: [d[axis].update(stripes=[]) for axis in ("warp", "weft")],
    ],
)
def test_what_is_wrong_is_found(reading, spoil):
    data = copy.deepcopy(reading)
    spoil(data)
    assert not Draft202012Validator(SCHEMA).is_valid(data)


@pytest.mark.parametrize("axis", ["warp", "weft"])
def test_what_a_schema_cannot_say(reading, axis):
    keys = [yarn["key"] for yarn in reading["yarns"]]
    assert len(set(keys)) == len(keys)
    stripes = reading[axis]["stripes"]
    for stripe in stripes:
        assert stripe["low"] <= stripe["threads"] <= stripe["high"]
        assert stripe["yarn"] in keys
        assert stripe["chance"] + sum(chance for _, chance in stripe["others"]) <= 1.001
        assert stripe["threads"] not in [number for number, _ in stripe["others"]]
        assert stripe["start_mm"] < stripe["end_mm"]
    for one, following in zip(stripes, stripes[1:], strict=False):
        assert one["end_mm"] == following["start_mm"]
        assert one["yarn"] != following["yarn"]
    density = reading[axis]["epi" if axis == "warp" else "ppi"]
    for each in (density, reading[axis]["per_10cm"]):
        assert each["low"] <= each["value"] <= each["high"]
    assert reading[axis]["per_10cm"]["value"] == pytest.approx(density["value"] / 0.254, rel=1e-3)
    repeat = reading[axis]["repeat"]
    partial = repeat["kind"] == "partial"
    sequence = parse_sequence(repeat["sequence"], partial=partial)
    assert sequence.kind.value == repeat["kind"]
    assert repeat["threads"] == (None if partial else sequence.threads)
    named = {d["name"] for d in reading["doubts"] + reading[axis]["doubts"]}
    assert named <= set(known_names())


def test_the_photo_is_the_one_that_was_read(reading):
    import hashlib

    photo = Path(__file__).parent.parent / "sample_images" / "close_swatch.jpg"
    assert reading["photo"]["sha256"] == hashlib.sha256(photo.read_bytes()).hexdigest()
    with Image.open(photo) as picture:
        assert picture.size == (reading["photo"]["width"], reading["photo"]["height"])


def test_the_page_describes_every_field(reading):
    page = (DOCS / "reading.md").read_text("utf-8")

    def fields(value):
        if isinstance(value, dict):
            for key, inner in value.items():
                yield key
                yield from fields(inner)
        elif isinstance(value, list):
            for inner in value:
                yield from fields(inner)

    for name in set(fields(reading)):
        assert f"`{name}`" in page or f'"{name}"' in page, name


def test_numbers_are_plain(reading):
    assert "NaN" not in json.dumps(reading)
    assert np.isfinite(reading["scale"]["relative_error"])
