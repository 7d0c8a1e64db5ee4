"""Checks against sources outside the project, each named beside its check."""
