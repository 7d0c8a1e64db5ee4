"""Every number the eye uses, with its reason and its unit.

One frozen class for each part of the eye; the single instance below it is what that part reads.
Each number follows from optics, print sizes or the trade; one that was settled by trial on
made-up pictures instead says so. They stand by what they are about:

- `picture`: the file, its light and its faults;
- `shape`: where the cloth lies, and how it is laid flat;
- `ruler`: marks, ticks and scale;
- `stripes`: light, yarns and stripes;
- `threads`: the beat of the threads, counts, repeats and weave.
"""

from settscan.settings.picture import (
    CARD,
    LIGHT,
    LOAD,
    QUALITY,
    CardSettings,
    LightSettings,
    LoadSettings,
    QualitySettings,
)
from settscan.settings.ruler import (
    MARKS,
    RULER,
    SCALE,
    MarkSettings,
    RulerSettings,
    ScaleSettings,
)
from settscan.settings.shape import (
    BARS,
    FLATTEN,
    PIECES,
    BarSettings,
    FlattenSettings,
    PieceSettings,
)
from settscan.settings.stripes import (
    COVER,
    GAIN,
    GROUPS,
    LINES,
    PALETTE,
    SEPARATE,
    STRIPES,
    TEXTURE,
    TONE,
    CoverSettings,
    GainSettings,
    GroupSettings,
    LineSettings,
    PaletteSettings,
    SeparateSettings,
    StripeSettings,
    TextureSettings,
    ToneSettings,
)
from settscan.settings.threads import (
    BARE,
    CARRIERS,
    COUNTS,
    HIDDEN,
    READ,
    REPEATS,
    THREADS,
    WEAVE,
    BareSettings,
    CarrierSettings,
    CountSettings,
    HiddenSettings,
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
    "LightSettings",
    "QUALITY",
    "QualitySettings",
    "PIECES",
    "PieceSettings",
    "FLATTEN",
    "FlattenSettings",
    "BARS",
    "BarSettings",
    "RULER",
    "RulerSettings",
    "MARKS",
    "MarkSettings",
    "SCALE",
    "ScaleSettings",
    "SEPARATE",
    "SeparateSettings",
    "GAIN",
    "GainSettings",
    "STRIPES",
    "StripeSettings",
    "PALETTE",
    "PaletteSettings",
    "COVER",
    "CoverSettings",
    "LINES",
    "LineSettings",
    "TEXTURE",
    "TextureSettings",
    "GROUPS",
    "GroupSettings",
    "TONE",
    "ToneSettings",
    "CARRIERS",
    "CarrierSettings",
    "THREADS",
    "ThreadSettings",
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
