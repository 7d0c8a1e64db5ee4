"""Flat cloth to reading: arrays only, no files."""
