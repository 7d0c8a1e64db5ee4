"""Photos for the sheets: checked, and no larger than paper can show."""

from __future__ import annotations

from dataclasses import dataclass

from settscan.errors import BadInput
from settscan.sheets.picture import ShownPart
from settscan.sheets.preview import photo_kind
from settscan.sheets.seen import WhatWasSeen, seen_in

BESIDE_PX = 1000  # on the longer side: 300 pixels to the inch across half a page
PAGE_PX = 1600  # 230 to the inch across a page
EVIDENCE_PX = 2800  # as large as it is drawn: on a screen its labels are read at full size
_LIGHT = 300_000  # bytes; a heavier picture is packed anew, or the sheets are too heavy to send
_QUALITY = 80  # JPEG, of a photo made smaller


@dataclass(frozen=True, slots=True, kw_only=True)
class Pictures:
    """What the sheets show besides what they draw.

    Attributes:
        rectified: the flattened photo, PNG or JPEG, shown beside the drawn cloth.
        evidence: the picture of what was read, PNG or JPEG, on a page of its own.
        shown: the part of the cloth that the photo shows, drawn beside it.
        flat: the flattened photo for a whole page; made of `rectified`.
        seen: what a note in the evidence says was read.
    """

    rectified: bytes | None = None
    evidence: bytes | None = None
    shown: ShownPart | None = None
    flat: bytes | None = None
    seen: WhatWasSeen | None = None

    def for_print(self) -> Pictures:
        """The same, no larger than paper can show.

        Raises:
            BadInput: for a picture that is not a whole PNG or JPEG.
        """
        seen = self.seen or seen_in(self.evidence)
        flat = self.flat or for_print(self.rectified if seen else None)
        return Pictures(
            rectified=for_print(self.rectified, BESIDE_PX),
            evidence=for_print(self.evidence, EVIDENCE_PX),
            shown=self.shown if self.rectified else None,
            flat=flat,
            seen=seen,
        )


NO_PICTURES = Pictures()


def size_of(photo: bytes) -> tuple[int, int]:
    """Width and height of a PNG or JPEG, in pixels."""
    from io import BytesIO

    from PIL import Image

    with Image.open(BytesIO(photo)) as image:
        return image.size


def for_print(photo: bytes | None, most_px: int = PAGE_PX) -> bytes | None:
    """The picture itself if it is small enough, else a smaller JPEG of it; None stays None.

    Args:
        photo: a PNG or JPEG file.
        most_px: on its longer side.

    Raises:
        BadInput: for anything that is not a whole PNG or JPEG.
    """
    if photo is None:
        return None
    from io import BytesIO

    from PIL import Image

    kind = photo_kind(photo)
    try:
        with Image.open(BytesIO(photo)) as image:
            image.load()
            if max(image.size) <= most_px and len(photo) <= _LIGHT:
                return photo
            smaller = image.convert("RGB")
    except (OSError, SyntaxError, ValueError) as error:
        raise BadInput(
            f"The {kind.upper()} picture for the sheets is damaged.", "Save it again."
        ) from error
    smaller.thumbnail((most_px, most_px))
    out = BytesIO()
    smaller.save(out, "JPEG", quality=_QUALITY, optimize=True)
    return out.getvalue()
