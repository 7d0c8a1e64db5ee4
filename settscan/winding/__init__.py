"""Warp plan and frame to winding plan."""
