"""Tests of the local web page."""
