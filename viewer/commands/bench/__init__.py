"""`upline bench`: what can be worked out in the workshop, one bench a module, each as a command has it."""

from __future__ import annotations

from types import ModuleType

from viewer.commands.bench import linkage, propeller, servos, sticks, structure

ABOUT = "what can be worked out in the workshop: linkage, servos, sticks, propeller, structure"
EXAMPLES = [
    "upline bench linkage extreme --control elevator",
    'upline bench propeller precision --propellers "20x12, 22x8"',
]
PARTS: dict[str, ModuleType] = {
    "linkage": linkage,
    "servos": servos,
    "sticks": sticks,
    "propeller": propeller,
    "structure": structure,
}
