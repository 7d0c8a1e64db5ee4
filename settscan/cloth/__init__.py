"""The record, where both halves meet: what the cloth is, as exact numbers."""
