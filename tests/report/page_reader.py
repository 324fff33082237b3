"""Reads a page with the parser of the standard library: elements, attributes, text, in order."""

from dataclasses import dataclass, field
from html.parser import HTMLParser

VOID = {"meta", "link", "img", "br", "input", "hr"}


@dataclass
class Element:
    tag: str
    attributes: dict[str, str]
    parents: tuple[str, ...]
    text: str = ""


@dataclass
class Page(HTMLParser):
    elements: list[Element] = field(default_factory=list)
    open: list[Element] = field(default_factory=list)

    def __post_init__(self):
        HTMLParser.__init__(self)

    def handle_starttag(self, tag, attrs):
        element = Element(tag, {k: v or "" for k, v in attrs}, tuple(parent.tag for parent in self.open))
        self.elements.append(element)
        if tag not in VOID:
            self.open.append(element)

    def handle_startendtag(self, tag, attrs):
        self.elements.append(Element(tag, {k: v or "" for k, v in attrs}, tuple(p.tag for p in self.open)))

    def handle_endtag(self, tag):
        assert self.open[-1].tag == tag, f"</{tag}> closes <{self.open[-1].tag}>"
        self.open.pop()

    def handle_data(self, data):
        for element in self.open:
            element.text += data

    def all(self, *tags: str) -> list[Element]:
        return [element for element in self.elements if element.tag in tags]


def read(text: str) -> Page:
    page = Page()
    page.feed(text)
    page.close()
    assert page.open == []
    return page
