"""Checks of the sheets: what people read, and files for other programs."""
