"""Many photos: one row for each swatch and stripe, resumable, on one machine or a cluster."""
