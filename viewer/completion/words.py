"""What may come next on a command line, from the same parser that reads it."""

from __future__ import annotations

import argparse

from viewer.completion.values import values_of

Word = tuple[str, str]  # and what it is


def next_words(parser: argparse.ArgumentParser, typed: list[str]) -> list[Word]:
    """What the last of the words `typed` behind the program's name may become; "" for a word not yet begun."""
    *before, begun = typed or [""]
    begun = begun.lstrip("\"'")
    waiting: argparse.Action | None = None  # an option whose value comes next
    places = _places(parser)
    used: set[str] = set()
    for word in before:
        if waiting is not None:
            waiting = None
        elif word.startswith("-") and (option := parser._option_string_actions.get(word)) is not None:
            used.add(option.dest)
            waiting = option if option.nargs is None else None  # what is there or not may as well be left out
        elif places:
            place = places[0]
            if isinstance(place, argparse._SubParsersAction):
                if word not in place.choices:
                    return []
                parser, used = place.choices[word], set()
                places = _places(parser)
            elif place.nargs not in ("+", "*"):
                places = places[1:]
    if waiting is not None:
        return [(word, "") for word in values_of(waiting, begun)]
    if begun.startswith("-"):
        return _options(parser, begun, used)
    if places and isinstance(places[0], argparse._SubParsersAction):
        abouts = {choice.dest: choice.help for choice in places[0]._choices_actions}
        return [(name, abouts.get(name) or "") for name in places[0].choices if name.startswith(begun)]
    values = [(word, "") for word in values_of(places[0], begun)] if places else []
    return values or (_options(parser, begun, used) if not begun else [])


def _places(parser: argparse.ArgumentParser) -> list[argparse.Action]:
    """The arguments that are told by their place."""
    return [action for action in parser._actions if not action.option_strings]


def _options(parser: argparse.ArgumentParser, begun: str, used: set[str]) -> list[Word]:
    """Options that begin like that; one that was given is offered again only where it may be repeated."""
    found = []
    for action in parser._actions:
        if action.dest in used and not isinstance(action, argparse._AppendAction):
            continue
        name = next((option for option in reversed(action.option_strings) if option.startswith(begun)), None)
        if name is not None and action.help is not argparse.SUPPRESS:
            found.append((name, (action.help or "").replace("%%", "%")))
    return found
