"""Renders photographs of handwoven cloth of which every thread is known.

This is the yardstick that the reader is measured with, so it shares no code with it: nothing
here imports settscan, and settscan never imports this.
"""
