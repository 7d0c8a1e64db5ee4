"""The whole set of sheets and files of a plan, by file name; the caller writes them."""

from __future__ import annotations

from settscan.sheets import content
from settscan.sheets.data import plan_json
from settscan.sheets.pdf import sheets_pdf
from settscan.sheets.photos import Pictures
from settscan.sheets.picture import ShownPart, picture_of
from settscan.sheets.preview import ClothPicture, preview_png, preview_svg
from settscan.sheets.printable import sheets_html
from settscan.sheets.tables import ends_csv, picks_csv, stripes_csv
from settscan.sheets.wif import write_wif
from settscan.sheets.words import saying
from settscan.warping.model import WarpPlan
from settscan.winding.wound import Wound

_PREVIEW_PX = 1600  # enough for a screen
_MOST_PREVIEW_PX = 16_000_000  # beyond this the weave is left to the SVG


def sheet_set(
    plan: WarpPlan,
    winding: Wound,
    *,
    paper: str = "A4",
    rectified: bytes | None = None,
    evidence: bytes | None = None,
    shown: ShownPart | None = None,
    words: str = "",
) -> dict[str, bytes]:
    """Every sheet and file of a plan. The same plan gives the same bytes.

    Args:
        plan: the warp.
        winding: how it is wound.
        paper: "A4" or "Letter".
        rectified: the flattened photo, PNG or JPEG, shown beside the drawn cloth.
        evidence: the picture of what was read, PNG or JPEG.
        shown: the part of the cloth that the photo shows, drawn beside it.
        words: "us" or "gb" for the sheets to read; "" leaves them as they are written. Files for
            other programs are the same in all.

    Returns:
        File name -> contents.

    Raises:
        BadInput: for another paper size, or a picture that is neither PNG nor JPEG.
    """
    picture, say = picture_of(plan), saying(words, content.names_in(plan))
    pictures = Pictures(rectified=rectified, evidence=evidence, shown=shown).for_print()
    texts = {
        "sheets.html": sheets_html(plan, winding, pictures, paper, say),
        "warp.wif": write_wif(plan).replace("\n", "\r\n"),
        "ends.csv": ends_csv(plan),
        "picks.csv": picks_csv(plan),
        "stripes.csv": stripes_csv(plan),
        "plan.json": plan_json(plan, winding),
        "preview.svg": preview_svg(picture, true_size=True),
    }
    return {
        "sheets.pdf": sheets_pdf(plan, winding, pictures, paper, say),
        **{name: text.encode() for name, text in texts.items()},
        "preview.png": preview_png(picture, fit=(_fit(picture),) * 2),
    }


def _fit(picture: ClothPicture) -> int:
    """Longest side in pixels: two for each thread, so that the weave shows, if that is not vast."""
    wide, high = picture.size_mm
    wanted = max(wide, high) * 2 * max(picture.ends / wide, picture.picks / high)
    area = wanted * wanted * min(wide, high) / max(wide, high)
    return max(_PREVIEW_PX, round(wanted) + 1) if area <= _MOST_PREVIEW_PX else _PREVIEW_PX
