"""Photos for the sheets: checked, and no larger than paper can show."""

from __future__ import annotations

from settscan.errors import BadInput
from settscan.sheets.preview import photo_kind

MOST_PX = 1800  # on the longer side: 250 pixels to the inch across a page
_QUALITY = 88  # JPEG, where a photo had to be made smaller


def for_print(photo: bytes | None) -> bytes | None:
    """The picture itself if it is small enough, else a smaller JPEG of it; None stays None.

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
            if max(image.size) <= MOST_PX:
                return photo
            smaller = image.convert("RGB")
    except (OSError, SyntaxError, ValueError) as error:
        raise BadInput(
            f"The {kind.upper()} picture for the sheets is damaged.", "Save it again."
        ) from error
    smaller.thumbnail((MOST_PX, MOST_PX))
    out = BytesIO()
    smaller.save(out, "JPEG", quality=_QUALITY)
    return out.getvalue()
