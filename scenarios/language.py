"""Every word of a manoeuvre file, as a page made from the schema: `python -m scenarios.language > scenarios/LANGUAGE.md`."""

from __future__ import annotations

from scenarios.schema import HOLDS, STICKS, WATCHED, ManoeuvreFile
from sim.recording import CHANNELS

# what each key does; what may stand behind it comes from the schema
MEANING = {
    "": {
        "format": "always 1",
        "kind": "always manoeuvre",
        "name": "what it is called",
        "about": "one line for the list of manoeuvres",
        "trim": "airspeed of the level flight in which the transmitter is trimmed before anything else",
        "sides": "both: written for the right and also flown with right and left changed, as NAME-right and NAME-left",
        "start": "the steady state that the flight starts in",
        "phases": "what happens, one after the other",
        "measures": "numbers to take; `upline list --measures` explains them",
    },
    "Start": {
        "from": "steady level flight, or a steady hover",
        "height": "above the field",
        "airspeed": "of level flight",
        "wind": "none unless said",
        "rates": "the transmitter's switch before the first phase; high unless said",
        "mode": "the flight mode that the plane is trimmed in; normal unless said",
    },
    "WindPart": {
        "speed": "at the height `at`",
        "from": "where it blows from",
        "at": "the height the speed is measured at",
        "roughness": "of the ground, for the wind's profile over height",
        "turbulence": "how gusty",
        "seed": "of the turbulence: the same seed, the same flight",
        "gust": "one gust",
    },
    "GustPart": {
        "speed": "in its middle",
        "from": "where it blows from",
        "length": "along the path, from calm to calm",
        "after": "time until it is met, at the speed of the start",
        "after distance": "the same as a distance through the air",
    },
    "PhasePart": {
        "name": "once in a file; measures ask for phases by name",
        "pilot": "sticks that the pilot flies with: he aims where `aim` and `hold` say",
        "release": "sticks that are let go: they spring to the middle",
        "aileron": "what this stick does; a stick that no phase names goes on as it was",
        "elevator": "likewise; positive pulls",
        "rudder": "likewise; positive yaws right",
        "within": "time that a stick or the throttle takes to a new position",
        "throttle": "a stick position, or what the pilot holds with it",
        "aim": "where the pilot points the plane or its path",
        "hold": "what the pilot steers: the attitude; the path, at the pitch and heading aimed at; the height and track of the "
        "phase's start; the place of a hover",
        "rates": "the transmitter's switch: what share of full throw each rate leaves, and how much exponential, stands in the "
        "setup",
        "mode": "switches to a flight mode of the setup; its changes come in over its switch time",
        "for": "how long the phase lasts",
        "until": "what ends it, up to four conditions; it has failed when `at most` runs out first",
        "when": "any of the conditions, or all of them at once",
        "at most": "longest time with `until`",
    },
    "Aim": {
        "bank": "right wing down positive; more than 180 deg keeps rolling",
        "pitch": "nose above the horizon, or the path with `hold: path`",
        "heading": "counted from that at the start, right positive",
        "at": "how fast the aim moves there",
    },
}
TITLES = {
    "": "The file",
    "Start": "`start`",
    "WindPart": "`wind`, in `start`",
    "GustPart": "`gust`, in `wind`",
    "PhasePart": "A phase",
    "Aim": "`aim`, in a phase",
}


def page() -> str:
    """The page as Markdown."""
    schema = ManoeuvreFile.model_json_schema()
    groups = {"": schema, **schema["$defs"]}
    lines = [
        "# The words of a manoeuvre file",
        "",
        "Made from the schema by `python -m scenarios.language > scenarios/LANGUAGE.md`. Quantities carry their unit. A manoeuvre",
        "file of your own is flown by its path: `upline fly my-line.yaml --setup precision`.",
    ]
    for name, title in TITLES.items():
        group = groups[name]
        needed = set(group.get("required", ()))
        lines += ["", f"## {title}", "", "| key | what it does | what is written |", "|---|---|---|"]
        for key, shape in group["properties"].items():
            must = ", needed" if key in needed else ""
            lines.append(f"| `{key}`{must} | {MEANING[name][key]} | {_allowed(shape)} |")
    lines += [
        "",
        "## What a stick can do",
        "",
        "| written | what it does |",
        "|---|---|",
        "| `elevator: 50 %` | goes to half pull, within `within` |",
        "| `elevator: {doublet: 30 %, each: 0.3 s}` | 30 % one way and the other from where it stands, 0.3 s each, then back |",
        "| `elevator: {sweep: 10 %, from: 0.2 Hz, to: 3 Hz}` | to and fro, faster and faster over the phase |",
        "| `elevator: {hold: alpha, at: 45 deg}` | the pilot holds something with this stick alone |",
        "",
        "| what is held | with |",
        "|---|---|",
    ]
    for held, (_, dimension, signs) in HOLDS.items():
        able = ", ".join(stick for stick, sign in zip(STICKS, signs) if sign)
        lines.append(
            f"| `{held}` ({dimension}{', that of the start of the phase' if held == 'height' else ''}) | {able} |"
        )
    lines += ["", "## What `until` can watch", "", "| channel | unit | meaning |", "|---|---|---|"]
    for channel, unit, about in CHANNELS:
        if channel in WATCHED:
            lines.append(
                f"| `{channel}` | {'deg' if unit == 'rad' else 'deg/s' if unit == 'rad/s' else unit.replace('1', '')} | {about} |"
            )
    return "\n".join(lines) + "\n"


def _allowed(shape: dict) -> str:
    """What may stand there, in words."""
    options = [s for s in shape.get("anyOf", [shape]) if s.get("type") != "null"]
    words = []
    for option in options:
        if "enum" in option:
            words.append(", ".join(str(value) for value in option["enum"]))
        elif "$ref" in option:
            words.append("a group, below")
        elif "description" in option:
            words.append(option["description"])
        elif option.get("type") == "array":
            words.append("a list")
        else:
            words.append(option.get("type", ""))
    return " or ".join(dict.fromkeys(filter(None, words))).replace("|", "/")


if __name__ == "__main__":
    print(page(), end="")
