"""The warp calculation."""
