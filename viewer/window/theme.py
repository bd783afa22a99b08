"""Colours of the panels, 0..255: dark on light, so that they can be read in the sun.

The two flights are told apart by line (solid, dashed) and number as well as by colour; their colours are those of the
scene, two of the set of Okabe and Ito (2008), which people with any kind of colour vision tell apart.
"""

from viewer.scene.colours import FIRST, SECOND  # noqa: F401

PAPER = (250, 249, 245)
PAPER_2 = (238, 237, 231)  # every other phase, buttons
EDGE = (176, 176, 170)
GRID = (214, 213, 206)
TEXT = (24, 27, 32)
FAINT_TEXT = (84, 86, 90)  # 7 to 1 on PAPER
CURSOR = (24, 27, 32)
ON = (0, 92, 148)
ON_TEXT = (255, 255, 255)
SURFACE = (150, 152, 156)
