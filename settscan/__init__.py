"""settscan: from a photo of a handwoven cloth to a warp that can be wound again."""

__version__ = "0.1.0"
