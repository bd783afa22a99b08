"""A page taken apart: its elements with their attributes and text, nesting checked on the way."""

from dataclasses import dataclass, field
from html.parser import HTMLParser

VOID = {"meta", "link", "img", "input", "br", "line"}  # an svg line closes itself


@dataclass
class Element:
    """`tag`, `of` its attributes, `text` of itself and what is inside, `inside` the tags around it."""

    tag: str
    of: dict
    inside: tuple[str, ...]
    text: str = ""
    parts: list = field(default_factory=list)


class _Reader(HTMLParser):
    def __init__(self):
        super().__init__()
        self.found, self.open, self.doctype = [], [], ""

    def handle_decl(self, decl):
        self.doctype = decl

    def handle_starttag(self, tag, attrs):
        assert len(dict(attrs)) == len(attrs), f"{tag} has an attribute twice"
        element = Element(tag, dict(attrs), tuple(one.tag for one in self.open))
        self.found.append(element)
        for one in self.open:
            one.parts.append(element)
        if tag not in VOID:
            self.open.append(element)

    def handle_startendtag(self, tag, attrs):
        self.handle_starttag(tag, attrs)

    def handle_endtag(self, tag):
        assert self.open and self.open[-1].tag == tag, (
            f"</{tag}> closes {self.open[-1].tag if self.open else 'nothing'}"
        )
        self.open.pop()

    def handle_data(self, data):
        for one in self.open:
            one.text += data


def elements(page: str) -> list[Element]:
    """Every element of `page` in order.  AssertionError where tags are not nested as they should be."""
    reader = _Reader()
    reader.feed(page)
    reader.close()
    assert reader.doctype == "DOCTYPE html" and not reader.open
    return reader.found
