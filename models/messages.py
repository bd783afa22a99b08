"""Every message of the file readers in one place: what was found, what is allowed, what to try.

`refused("tab")` is the refusal of that name; words in braces are filled in where it is made.  What single values and
the checks between fields say stands beside them (`models.units`, `models.fields`, the schemas); `models/FILES.md`
lists all of it, and tests show each message of this page whole.
"""

from __future__ import annotations

from dataclasses import dataclass

from models.errors import Refused


@dataclass(frozen=True)
class Message:
    """The template of one message."""

    found: str
    allowed: str
    advice: str = ""


_LINES = 'lines of "key: value"'
_FIRST = f'{_LINES}, the first of them "format: 1"'
_NEEDED = "a value, for this key is needed"

CATALOGUE = {
    # the file as such
    "no file": Message("no such file", "a YAML file", "{near}"),
    "folder": Message("a folder", "a YAML file", "{near}"),
    "not regular": Message("something that is not a regular file", "a YAML file"),
    "no permission": Message("a file that may not be read", "a file with read permission"),
    "unreadable": Message("a file that cannot be read ({reason})", "a YAML file"),
    "too large": Message("more than 1 MiB", "a file of at most 1 MiB"),
    "binary": Message("binary data", "plain text in UTF-8"),
    "not UTF-8": Message("text that is not UTF-8 on line {line}", "plain text in UTF-8", "save it as UTF-8"),
    # its text
    "empty": Message("an empty file", _FIRST),
    "comments alone": Message("nothing but comments", _FIRST),
    "control character": Message("the control character U+{code:04X}", "plain text in UTF-8"),
    "tab": Message("a tab that indents a line", "spaces only", "two spaces for each tab"),
    "directive": Message('a line that starts with "%"', _LINES, "leave the line out"),
    "second document": Message("a second document", "one document", 'leave the line "---" out'),
    "alias": Message("an alias {alias}", "values in full"),
    "anchor": Message("an anchor {anchor}", "values in full"),
    "tag": Message("a tag {tag}", "values without a tag", "leave it out"),
    "too deep": Message("more than {most} levels of lists and groups", "at most {most} levels"),
    "too many": Message("more than {most} values", "at most {most}"),
    "not YAML": Message("text that is not YAML", _LINES),
    "syntax": Message(
        "text that does not read as YAML ({said})",
        _LINES,
        "look for a missing colon, space after a colon, quote, bracket or level of indentation here or just above",
    ),
    "no group": Message("{found}", _FIRST),
    "no value": Message("nothing", "a value", "write one after the colon, or leave the line out"),
    "lone mark": Message(
        '"~" without a number', "a value", 'an estimate such as "~620 g", or leave the line out'
    ),
    "odd mark": Message("{found}", 'one "~" ahead of a number that is an estimate', '"~{number}"'),
    "not finite": Message("{found}", "a finite number"),
    "odd key": Message("{found} as a key", "a word or words as a key"),
    "key twice": Message("{key} a second time", "each key once (first at {line}:{column})"),
    # what it is
    "no format": Message("nothing", '"format: {format}"', 'add the line "format: {format}"'),
    "other format": Message(
        "{found}", "{format}", "a newer release of this program, if the file was made for one"
    ),
    "no kind": Message("nothing", "{kind}", 'add the line "kind: {kind}"'),
    "other kind": Message("{found}", "{kind}"),
    # its keys
    "key missing": Message("{found}", _NEEDED, 'add "{key}:{sample}"'),
    "unknown key": Message("an unknown key {key}", "{known}", "{near}"),
    "wrong length": Message("{count} values", "{wanted} values", "{how}"),
    "too many entries": Message("{count} entries", "at most {most}"),
    "too few entries": Message("{count} entries", "at least {least}"),
    "no list": Message("{found}", "a list", "{how}"),
    "no group of keys": Message("{found}", "a group of keys{keys}"),
    "no form": Message("{found}", 'a group of keys with "kind:" {forms}'),
    "form missing": Message("nothing", _NEEDED, 'add "kind: {form}"'),
    "other form": Message("{found}", "{forms}", "{near}"),
    "other type": Message("{found}", "{words}"),
    # what it names
    "unknown name": Message("{name}", "a built-in {kind} ({known}) or a path that ends in .yaml", "{near}"),
    "not built in": Message("{name}", "a built-in {kind}"),
    "named file": Message("{name}, which is {found}", "{allowed}", "{near}"),
    "no tray": Message(
        "{item}, which has no tray",
        "an item of the airframe with a tray: {movable}",
        'a line "slides:" for it in the airframe',
    ),
    "no such item": Message("{item}", "an item of the airframe with a tray: {movable}", "{near}"),
    "no such surface": Message("{name}", "{surfaces}", "{near}"),
    "name taken": Message("{name} a second time", "a name that no item of the airframe or ballast has"),
    "not recorded": Message("nothing", "the text of the {what}"),
    # what it builds on
    "circle": Message("{name}, which builds on this one ({way})", "a setup that does not"),
    "too many bases": Message("more than {most} setups, each of which builds on the next", "at most {most}"),
    "too many together": Message("more than {most} values with those of the setups it builds on", "at most {most}"),
    "name of the base": Message("{name}, the name of a setup that it builds on", "a name of its own"),
    "nothing to take away": Message(
        '"none"', "a value, for the base has nothing there to take away", "leave the line out"
    ),
}  # fmt: skip


def refused(name: str, /, **words: object) -> Refused:
    """The refusal called `name`, its words filled in."""
    message = CATALOGUE[name]
    return Refused(*(part.format(**words) for part in (message.found, message.allowed, message.advice)))
