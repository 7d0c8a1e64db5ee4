"""The local web page: correct the reading, plan, print, and be led through the winding."""
