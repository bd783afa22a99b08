"""Plots: one look for every picture, flights over time, their paths, stall over the span, and setups side by side."""
