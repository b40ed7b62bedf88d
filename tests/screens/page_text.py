"""Reading pages: elements by class or attribute, and their text as a person sees it."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from html.parser import HTMLParser

VOID = {"meta", "link", "input", "br", "hr", "img", "path", "circle", "rect"}


@dataclass
class Element:
    """An element with its attributes, its children and the text between them."""

    name: str
    attributes: dict[str, str | None]
    children: list[Element | str] = field(default_factory=list)

    @cached_property
    def text(self) -> str:
        """All text within, blanks collapsed."""
        parts = [child if isinstance(child, str) else child.text for child in self.children]
        return " ".join(" ".join(parts).split())

    @cached_property
    def within(self) -> list[Element]:
        """The elements within, in the order of their beginnings; a page that is read stays as it is."""
        found = []
        for child in self.children:
            if not isinstance(child, str):
                found += [child, *child.within]
        return found

    @cached_property
    def by_id(self) -> dict[str | None, Element]:
        """The first element within of each id."""
        return {each.attributes.get("id"): each for each in reversed(self.within)}

    @cached_property
    def words(self) -> frozenset[str]:
        """Its tag and its classes."""
        return frozenset([self.name, *(self.attributes.get("class") or "").split()])

    def has_class(self, name: str) -> bool:
        return name in (self.attributes.get("class") or "").split()

    def every(self, name: str = "", /, **wanted: str) -> list[Element]:
        """The elements within that have the tag or class `name` and attributes of these values (`_` stands for `-`)."""
        named = [each for each in self.within if not name or name in each.words]
        for key, value in wanted.items():
            attribute = key.replace("_", "-")
            named = [each for each in named if each.attributes.get(attribute) == value]
        return named

    def one(self, name: str = "", /, **wanted: str) -> Element:
        if not name and wanted.keys() == {"id"} and wanted["id"] in self.by_id:
            return self.by_id[wanted["id"]]  # asked of a long page once for each of its rows
        found = self.every(name, **wanted)
        assert found, f"no {name} {wanted}"
        return found[0]


class _Tree(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.open = [Element("page", {})]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        element = Element(tag, dict(attrs))
        self.open[-1].children.append(element)
        if tag not in VOID:
            self.open.append(element)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.open[-1].children.append(Element(tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        if tag not in VOID and self.open[-1].name == tag:
            self.open.pop()

    def handle_data(self, data: str) -> None:
        self.open[-1].children.append(data)


def read(html: str) -> Element:
    """The page as a tree."""
    tree = _Tree()
    tree.feed(html)
    assert len(tree.open) == 1, f"not closed: {[element.name for element in tree.open[1:]]}"
    return tree.open[0]
