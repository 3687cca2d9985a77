"""Drawings of our own: SVG text made by pure functions from finished results."""
