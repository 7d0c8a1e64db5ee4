"""What is given to a scan, what it hands on, and what it carries between its stages.

The stages need the picture libraries, so nothing here imports them: options and results can be
had without.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from settscan.cloth.project_model import PhotoRecord
from settscan.cloth.wishes import Edges

if TYPE_CHECKING:
    from settscan.cloth.model import Cloth
    from settscan.photo.flat import CardFound, FlatCloth, Photo, RulerFound
    from settscan.photo.given import GivenScale
    from settscan.reading.model import ClothRead


@dataclass(frozen=True, slots=True, kw_only=True)
class ScanOptions:
    """What the person knows already and gives along with the photo.

    Attributes:
        epi: pinned ends per mm of finished cloth.
        ppi: pinned picks per mm of finished cloth.
        scale_x: two photo points along the cloth's width and their distance.
        scale_y: two photo points along the cloth's length and their distance.
        corners: four photo points (x, y) in pixels that are a rectangle on the cloth: top left,
            top right, bottom right, bottom left.
        warp_runs: "down" or "across" the photo as shown; None where nobody has said.
        weave: by its one name (`cloth.weaves.weave_name`); None where nobody has said.
    """

    epi: Fraction | None = None
    ppi: Fraction | None = None
    scale_x: GivenScale | None = None
    scale_y: GivenScale | None = None
    corners: tuple[tuple[float, float], ...] | None = None
    warp_runs: str | None = None
    weave: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ScanResult:
    """What a scan found; a refusal has no cloth, but still its advice, JSON and pictures.

    Attributes:
        status: "read", "partly read" or "refused".
        advice: sentences for the weaver: why it was refused, or what would make it better.
        reading_json: the reading as plain data, ready for `json.dumps`.
        cloth: the cloth for the project file; None where nothing could be read.
        photo_record: the photo and its scale.
        evidence_png: what the reader saw, drawn over the rectified cloth (PNG); may be empty.
        rectified_jpeg: the rectified cloth (JPEG) for the preview beside the plan; may be empty.
        lines: the summary for the terminal.
        edges: with what the warp begins at the cloth's own edge, for a new project.
        seen: where it all lies in the straightened cloth and in the photo, as plain data for the
            page; empty after a refusal.
    """

    status: str
    reading_json: dict[str, Any]
    photo_record: PhotoRecord
    cloth: Cloth | None = None
    advice: tuple[str, ...] = ()
    evidence_png: bytes = b""
    rectified_jpeg: bytes = b""
    lines: tuple[str, ...] = ()
    edges: Edges = Edges.FIRST
    seen: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """One photo on its way to a reading."""

    photo: Photo
    rulers: tuple[RulerFound, ...]
    card: CardFound | None
    flat: FlatCloth
    read: ClothRead
