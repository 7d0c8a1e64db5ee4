"""Tests of many photos at once."""
