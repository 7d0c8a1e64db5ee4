"""Every number the eye uses, with its reason and its unit.

One frozen class for each part of the eye; the single instance below it is what that part reads.
Each number follows from optics, print sizes or the trade; one that was settled by trial on
made-up pictures instead says so. They stand by what they are about:

- `picture`: the file, its light and its faults;
- `shape`: where the cloth lies, and how it is laid flat;
- `ruler`: rows of ticks; `ruler_marks`: other marks, where a ruler ends, its scale;
  `ruler_numbers`: its numbers;
- `cloth_seen`: what of a picture is cloth, and where it ends;
- `parted`: a picture parted into columns and rows, and light that is left;
- `stripes`: yarns and stripes;
- `threads`: the beat of the threads, counts, repeats and weave.
"""

from settscan.settings.cloth_seen import (
    BARE,
    COVER,
    HIDDEN,
    OWN_EDGE,
    UNCROSSED,
    WOVEN_END,
    BareSettings,
    CoverSettings,
    HiddenSettings,
    OwnEdgeSettings,
    UncrossedSettings,
    WovenEndSettings,
)
from settscan.settings.parted import (
    CREASES,
    GAIN,
    SEPARATE,
    TONE,
    CreaseSettings,
    GainSettings,
    SeparateSettings,
    ToneSettings,
)
from settscan.settings.picture import (
    CARD,
    LIGHT,
    LOAD,
    QUALITY,
    SHADOW,
    CardSettings,
    LightSettings,
    LoadSettings,
    QualitySettings,
    ShadowSettings,
)
from settscan.settings.ruler import (
    RULER,
    RulerSettings,
)
from settscan.settings.ruler_marks import (
    ENDS,
    FIGURES,
    MARKS,
    SCALE,
    SINGLE,
    EndSettings,
    FigureSettings,
    MarkSettings,
    ScaleSettings,
    SingleSettings,
)
from settscan.settings.ruler_numbers import NUMBERS, NumberSettings
from settscan.settings.shape import (
    BARS,
    FLATTEN,
    PIECES,
    BarSettings,
    FlattenSettings,
    PieceSettings,
)
from settscan.settings.stripes import (
    GROUPS,
    LINES,
    PALETTE,
    STRIPES,
    GroupSettings,
    LineSettings,
    PaletteSettings,
    StripeSettings,
)
from settscan.settings.threads import (
    BENT,
    CARRIERS,
    COUNTS,
    FOLD,
    READ,
    REPEATS,
    THREADS,
    WEAVE,
    BentSettings,
    CarrierSettings,
    CountSettings,
    FoldSettings,
    ReadSettings,
    RepeatSettings,
    ThreadSettings,
    WeaveSettings,
)

__all__ = [
    "LOAD",
    "LoadSettings",
    "CARD",
    "CardSettings",
    "LIGHT",
    "SHADOW",
    "LightSettings",
    "ShadowSettings",
    "QUALITY",
    "QualitySettings",
    "PIECES",
    "PieceSettings",
    "FLATTEN",
    "FlattenSettings",
    "BARS",
    "BarSettings",
    "ENDS",
    "EndSettings",
    "RULER",
    "RulerSettings",
    "MARKS",
    "MarkSettings",
    "SCALE",
    "FIGURES",
    "FigureSettings",
    "NUMBERS",
    "NumberSettings",
    "SINGLE",
    "ScaleSettings",
    "SingleSettings",
    "SEPARATE",
    "UNCROSSED",
    "UncrossedSettings",
    "SeparateSettings",
    "GAIN",
    "GainSettings",
    "STRIPES",
    "StripeSettings",
    "PALETTE",
    "PaletteSettings",
    "COVER",
    "CREASES",
    "CoverSettings",
    "CreaseSettings",
    "LINES",
    "LineSettings",
    "OWN_EDGE",
    "WOVEN_END",
    "WovenEndSettings",
    "OwnEdgeSettings",
    "GROUPS",
    "GroupSettings",
    "TONE",
    "ToneSettings",
    "CARRIERS",
    "CarrierSettings",
    "BENT",
    "BentSettings",
    "THREADS",
    "ThreadSettings",
    "FOLD",
    "FoldSettings",
    "COUNTS",
    "CountSettings",
    "REPEATS",
    "RepeatSettings",
    "HIDDEN",
    "HiddenSettings",
    "BARE",
    "BareSettings",
    "WEAVE",
    "WeaveSettings",
    "READ",
    "ReadSettings",
]
