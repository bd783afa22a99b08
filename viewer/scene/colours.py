"""The colours of pictures of a flight, as (red, green, blue) of 0 to 255, for charts and legends as well.

What has to be told apart differs in lightness too, so that it survives grey print and every kind of colour vision, and
never rests on colour alone: stall is hatched, the ghost is outlined, arrows carry names.
"""

from __future__ import annotations

Colour = tuple[int, int, int]

# the plane: light above, dark with light bars below, so that its attitude can be read at a distance
TOP: Colour = (245, 238, 222)
TOP_FLAP: Colour = (196, 205, 214)
BELOW: Colour = (30, 44, 84)
BELOW_FLAP: Colour = (66, 84, 138)
BAR: Colour = (236, 236, 236)
TIP: Colour = (13, 125, 122)
FIN: Colour = (13, 125, 122)
FIN_FLAP: Colour = (90, 178, 172)
CANOPY: Colour = (38, 42, 48)
TYRE: Colour = (30, 30, 30)
METAL: Colour = (120, 124, 130)

STALLED: Colour = (242, 190, 20)  # between the hatching, which is dark
HATCH: Colour = (24, 16, 12)
FIRST: Colour = (0, 114, 178)  # the flight and the second one, wherever both are shown: Okabe and Ito's, darkened
SECOND: Colour = (190, 75, 0)
RIBBON: tuple[Colour, Colour] = ((0, 84, 160), (250, 250, 252))  # a second, and the next
SECOND_RIBBON: tuple[Colour, Colour] = ((190, 75, 0), (250, 222, 196))
REFERENCE: Colour = (120, 0, 90)
JET: Colour = (0, 140, 130)

SKY_HIGH: Colour = (150, 188, 222)
SKY_LOW: Colour = (226, 236, 242)
GROUND: Colour = (138, 148, 112)
GROUND_FAR: Colour = (172, 182, 158)
GRID: Colour = (96, 106, 76)
CENTRE_LINE: Colour = (250, 248, 240)
SKY_INK: Colour = (70, 96, 120)
INK: Colour = (20, 24, 28)
PAPER: Colour = (250, 250, 247)

# force arrows, by what they are of (layout.PARTS): colour and the name they carry
FORCES: dict[str, tuple[Colour, str]] = {
    "wing left": ((0, 92, 168), "wing, left"),
    "wing right": ((0, 92, 168), "wing, right"),
    "stabiliser": ((0, 130, 110), "stabiliser"),
    "fin": ((120, 60, 150), "fin"),
    "other surfaces": ((110, 110, 0), "other surfaces"),
    "fuselage": ((150, 90, 30), "fuselage"),
    "gear and cowl": ((90, 90, 90), "gear and cowl"),
    "propeller thrust line": ((190, 30, 60), "thrust"),
    "propeller oblique inflow": ((220, 110, 130), "oblique inflow"),
    "weight": ((20, 24, 28), "weight"),
}
