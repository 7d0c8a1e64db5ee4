"""Cloth and wishes to warp plan: exact arithmetic with the standard library only."""
