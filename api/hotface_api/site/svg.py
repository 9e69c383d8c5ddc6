"""From the SVG a plotting library writes to one that may stand in our pages.

The pages' policy allows no style in the markup, and dark pages need colours that change. So style
attributes become presentation attributes, stand-in colours become classes, ids are made unique to
the figure or dropped, and the points that lead somewhere are gathered behind the drawing: the
drawing is one image with a title and a description, the points are links for the hand. The table
beside a figure has the same links in reading order, so the points are left out of that order.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Final
from xml.etree import ElementTree as ET

__all__ = ["BAND", "INK", "PAPER", "SOFT", "for_page"]

INK: Final = "#010101"
SOFT: Final = "#020202"
BAND: Final = "#030303"
PAPER: Final = "#040404"
_CLASSES: Final = {INK: "ink", SOFT: "soft", BAND: "band", PAPER: "paper"}
_XLINK: Final = "{http://www.w3.org/1999/xlink}href"
_REFERENCE: Final = re.compile(r"url\(#([^)]+)\)")
_FONT_SIZE: Final = re.compile(r"([\d.]+)px")
_DROPPED: Final = ("font-family", "font", "font-style", "font-weight", "font-stretch")


def _local(name: str) -> str:
    return name.rpartition("}")[2]


def _declarations(element: ET.Element) -> list[tuple[str, str]]:
    """Take the style of an element, and its colours wherever they stand, out of it."""
    style = [part.partition(":") for part in element.attrib.pop("style", "").split(";")]
    found = [(name.strip(), value.strip()) for name, _, value in style if value]
    return found + [
        (name, element.attrib.pop(name)) for name in ("fill", "stroke") if name in element.attrib
    ]


def _take_style(element: ET.Element) -> None:
    """Turn styles into presentation attributes, and stand-in colours into classes."""
    classes: list[str] = []
    for name, value in _declarations(element):
        size = _FONT_SIZE.search(value) if name in ("font", "font-size") else None
        if size is not None:
            element.set("font-size", size[1])
        if value in _CLASSES and name in ("fill", "stroke"):
            classes.append(f"{name}-{_CLASSES[value]}")
        elif name not in _DROPPED and name != "font-size":
            element.set(name, value)
    if classes:
        element.set("class", " ".join(classes))


def _clean(element: ET.Element) -> None:
    """Rid an element and all below it of namespaces, styles and foreign link names."""
    for each in element.iter():
        each.tag = _local(each.tag)
        target = each.attrib.pop(_XLINK, None)
        if target is not None:
            each.set("href", target)
        _take_style(each)
        each.tail = None
        if each.tag not in ("text", "tspan", "title", "desc"):
            each.text = None


def _referred(root: ET.Element) -> set[str]:
    found: set[str] = set()
    for each in root.iter():
        for value in each.attrib.values():
            found.update(_REFERENCE.findall(value))
        target = each.get("href", "")
        if target.startswith("#"):
            found.add(target[1:])
    return found


def _rename(root: ET.Element, key: str) -> None:
    """Keep the ids that are referred to, made unique to the figure; drop the others."""
    kept = _referred(root)
    for each in root.iter():
        if each.get("id") in kept:
            each.set("id", f"{key}-{each.attrib['id']}")
        else:
            each.attrib.pop("id", None)
        for name, value in each.attrib.items():
            if name == "href" and value.startswith("#"):
                each.set(name, f"#{key}-{value[1:]}")
            elif "url(#" in value:
                each.set(name, _REFERENCE.sub(rf"url(#{key}-\1)", value))


def _remove(root: ET.Element, *tags: str) -> None:
    for parent in list(root.iter()):
        for child in [each for each in parent if each.tag in tags]:
            parent.remove(child)


def _gather_links(root: ET.Element, titles: Mapping[str, str]) -> ET.Element:
    """Move every link out of the drawing into a group of its own."""
    parents = {child: parent for parent in root.iter() for child in parent}
    links = ET.Element("g", {"class": "points", "aria-hidden": "true"})
    for link in [each for each in root.iter("a") if not each.get("href", "#").startswith("#")]:
        parents[link].remove(link)
        link.attrib = {"href": link.attrib["href"], "tabindex": "-1"}
        title = ET.Element("title")
        title.text = titles.get(link.attrib["href"], "")
        link.insert(0, title)
        links.append(link)
    return links


def for_page(text: str, key: str, title: str, description: str, titles: Mapping[str, str]) -> str:
    """Make an SVG fit to stand in a page.

    Parameters
    ----------
    text : str
        SVG as matplotlib writes it with text kept as text.
    key : str
        Starts every id of this figure.
    title, description : str
        What the image is and what it shows, for who cannot see it.
    titles : mapping
        The title of each link, by its address.

    Returns
    -------
    str
        An ``svg`` element without namespaces, styles or scripts.
    """
    root = ET.fromstring(text)  # noqa: S314 - our own library's output, never a stranger's text
    _clean(root)
    _remove(root, "metadata", "style")
    links = _gather_links(root, titles)
    drawing = ET.Element("g")
    drawing.extend(list(root))
    made = ET.Element("svg", {"class": "chart", "viewBox": root.attrib["viewBox"]})
    made.extend([drawing, links])
    _rename(made, key)
    _name(drawing, key, title, description)
    return ET.tostring(made, encoding="unicode", short_empty_elements=False)


def _name(drawing: ET.Element, key: str, title: str, description: str) -> None:
    """Let the drawing be one image, named and described."""
    drawing.set("role", "img")
    drawing.set("aria-labelledby", f"{key}-title")
    drawing.set("aria-describedby", f"{key}-desc")
    for place, (tag, said) in enumerate((("title", title), ("desc", description))):
        element = ET.Element(tag, {"id": f"{key}-{tag}"})
        element.text = said
        drawing.insert(place, element)
