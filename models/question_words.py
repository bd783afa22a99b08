"""What is asked of a plane, in words, by key and in order: light enough for every start of the command line."""

from __future__ import annotations

WORDS = {
    "name": "name of the plane, such as my-plane",
    "span": "wing span",
    "weight": "weight ready to fly, with battery (petrol: tank half full)",
    "power": "electric or piston",
    "wing_root_chord": "wing chord at the root, in the middle of the plane",
    "wing_tip_chord": "wing chord at the tip",
    "wing_sweep": "how far the tip's leading edge is behind the root's (or its sweep in deg)",
    "dihedral": "dihedral of each wing half, in deg",
    "stabiliser_span": "stabiliser span",
    "stabiliser_root_chord": "stabiliser chord at the root, with elevator",
    "stabiliser_tip_chord": "stabiliser chord at the tip, with elevator",
    "stabiliser_at": "from the wing's leading edge to the stabiliser's, at the roots",
    "stabiliser_height": "height of the stabiliser above the wing root's chord",
    "fin_height": "height of fin and rudder",
    "fin_root_chord": "chord of fin and rudder at the foot",
    "fin_tip_chord": "chord of fin and rudder at the top",
    "aileron": "aileron's share of the wing chord",
    "elevator": "elevator's share of the stabiliser chord",
    "rudder": "rudder's share of the fin chord",
    "fuselage_length": "length of the fuselage, nose to tail without rudder",
    "fuselage_depth": "greatest depth of the fuselage, canopy included",
    "thrust_height": "height of the propeller shaft above the wing root's chord",
    "cells": "cells in series, such as 12S",
    "capacity": "battery capacity",
    "battery_mass": "mass of the flight battery",
    "motor_kv": "motor's kv",
    "motor_mass": "mass of the motor",
    "displacement": "engine's displacement",
    "engine_mass": "mass of the engine with ignition",
    "tank": "fuel in the full tank",
    "propeller": "propeller, such as 22x10 (a third number is the blade count)",
}


def option(key: str) -> str:
    """The option of the command line for a key."""
    return "--" + key.replace("_", "-")
