"""A reader that takes no time, to test what goes on around it; it does as the file names say.

A name that holds "refused" is refused, "slow" takes a moment, "two" shows two cloths, "deadly"
ends the process that reads it, "once" does so the first time only, "fault" raises.
"""

import contextlib
import hashlib
import io
import os
import signal
import time
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

from PIL import Image

from settscan.cloth.model import Cloth, ThreadSet, Yarn
from settscan.cloth.notation import parse_sequence
from settscan.cloth.project_model import PhotoRecord
from settscan.errors import BadImage
from settscan.measured import Measured, Origin
from settscan.pages import PieceRead
from settscan.scan import ScanResult

CALLS = "calls"  # beside the photos: a line for each photo whose reading was begun
COUNTS = (24, 4, 8, 2)


def note(folder, line):
    """Append a line in one step, so that processes do not disturb each other."""
    handle = os.open(folder / CALLS, os.O_WRONLY | os.O_APPEND | os.O_CREAT)
    os.write(handle, f"{line}\n".encode())
    os.close(handle)


def calls(folder):
    """Names of the photos whose reading was begun, in order."""
    with contextlib.suppress(FileNotFoundError):
        return (folder / CALLS).read_text().splitlines()
    return []


def reader(path, options, pieces):
    """Stands in for `read_pieces`."""
    note(path.parent, path.name)
    try:
        data = path.read_bytes()
        with Image.open(io.BytesIO(data)) as picture:
            size, colour = picture.size, picture.convert("RGB").getpixel((0, 0))
    except OSError as error:
        raise BadImage(f"{path.name} is not a picture that can be read.", "Copy it.") from error
    if "slow" in path.name:
        time.sleep(0.15)
    if "fault" in path.name:
        raise ZeroDivisionError("division by zero")
    if "deadly" in path.name or ("once" in path.name and calls(path.parent).count(path.name) == 1):
        os.kill(os.getpid(), signal.SIGKILL)
    found = result(path, hashlib.sha256(data).hexdigest(), size, colour)
    if "refused" in path.name:
        found = refused(found)
    width, height = size
    if "two" in path.name:
        other = replace(found, photo_record=replace(found.photo_record))
        half = width // 2
        return [PieceRead(result=found, box=(0, 0, half, height), photo_size=size),
                PieceRead(result=other, box=(half, 0, width, height), photo_size=size)]  # fmt: skip
    return [PieceRead(result=found, box=(0, 0, width, height), photo_size=size)]


def picture(size=(64, 48), colour=(90, 40, 30), kind="PNG"):
    """Bytes of a plain picture."""
    out = io.BytesIO()
    Image.new("RGB", size, colour).save(out, kind)
    return out.getvalue()


def result(path, sha256="00" * 32, size=(64, 48), colour=(90, 40, 30)):
    """A reading of a small check, told apart by the photo's colour."""
    photo = {"file": path.name, "sha256": sha256, "width": size[0], "height": size[1]}
    axis = axis_data(COUNTS)
    epi = {"value": 24.0, "low": 23.9, "high": 24.1}
    reading = {
        "format": "settscan reading",
        "version": 1,
        "status": "read",
        "advice": ["The scale was measured along one direction only."],
        "photo": photo,
        "scale": {"px_per_mm_x": 9.8, "px_per_mm_y": 9.9, "relative_error": 0.004,
                  "source": "ruler"},
        "yarns": [
            {"key": "A", "name": "own", "srgb": "#{:02x}{:02x}{:02x}".format(*colour),
             "lab": [16.9, 10.2, -28.0]},
            {"key": "B", "name": "red", "srgb": "#aa2222", "lab": [37.0, 52.0, 33.5]},
            {"key": "C", "name": "cream", "srgb": "#eeeecc", "lab": None},
        ],
        "weave": {"name": "2/2 twill", "confidence": 0.97, "twill_direction": "Z"},
        "warp": {**axis, "epi": epi},
        "weft": {**axis, "ppi": epi},
        "doubts": [{"name": "one-scale", "sentence": "One scale.", "check": "Look."}],
    }  # fmt: skip
    shown = (min(size[0], 64), min(size[1], 48))
    picture_bytes = picture(shown, colour)
    return ScanResult(
        status="read",
        reading_json=reading,
        photo_record=PhotoRecord(file=path.name, sha256=sha256, width=size[0], height=size[1]),
        cloth=cloth(),
        advice=tuple(reading["advice"]),
        evidence_png=picture_bytes,
        rectified_jpeg=picture(shown, colour, "JPEG"),
        lines=("read",),
    )


def axis_data(counts):
    """Warp or weft of the JSON: a whole symmetric repeat, the second stripe unsure."""
    stripes, at = [], 0.0
    for n, (yarn, threads) in enumerate(zip("ABACAB", (*counts, 8, 4), strict=True)):
        unsure = n == 1
        stripes.append({
            "yarn": yarn, "threads": threads, "low": threads - unsure, "high": threads,
            "chance": 0.8 if unsure else 0.99, "others": [[threads - 1, 0.2]] if unsure else [],
            "cut": n == 5, "start_mm": at, "end_mm": at + threads,
        })  # fmt: skip
        at += threads
    return {
        "per_10cm": None,
        "counted_by": "weave",
        "bands": [{k: s[k] for k in ("yarn", "start_mm", "end_mm")} for s in stripes],
        "stripes": stripes,
        "repeat": {"kind": "symmetric", "sequence": "A/24 B4 A8 C/2", "threads": 50,
                   "chance": 0.95},
        "doubts": [],
    }  # fmt: skip


def cloth():
    """The cloth of `result`."""
    density = Measured(Fraction(240, 254), Fraction(239, 254), Fraction(241, 254), Origin.READ)
    threads = ThreadSet(
        sequence=parse_sequence("A/24 B4 A8 C/2"), density=density, origin=Origin.READ
    )
    yarns = (("A", "own", "#1b2654"), ("B", "red", "#aa2222"), ("C", "cream", "#eeeecc"))
    return Cloth(
        name="swatch",
        yarns=tuple(Yarn(key=k, name=n, colour=c) for k, n, c in yarns),
        warp=threads,
        weft=threads,
        weave="2/2 twill",
        twill_direction="Z",
    )


def refused(found):
    """The same photo without a reading."""
    empty = {"per_10cm": None, "counted_by": "nothing", "bands": [], "stripes": [], "doubts": [],
             "repeat": {"kind": "partial", "sequence": "", "threads": None,
                        "chance": 0.0}}  # fmt: skip
    reading = {
        **found.reading_json,
        "status": "refused",
        "advice": ["No stripes can be made out. Photograph it again."],
        "yarns": [],
        "warp": {**empty, "epi": None},
        "weft": {**empty, "ppi": None},
        "doubts": [],
    }
    return replace(found, status="refused", reading_json=reading, cloth=None, rectified_jpeg=b"")


def photos(folder: Path, *names, size=(64, 48)):
    """Write pictures of these names, each of its own colour."""
    folder.mkdir(parents=True, exist_ok=True)
    for n, name in enumerate(names):
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(picture(size, (40 + n % 200, 60, 90)))
    return folder
