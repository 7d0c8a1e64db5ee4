"""Tests, the renderer with known truth, and the benchmark."""
