"""What the layout of a plane decides: knife edge, 45-degree line and stall over planes and CG, and one change at a time.

`python -m scenarios.layouts` prints the page.
"""
