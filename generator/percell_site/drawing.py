"""Put a drawing into a page: SVG that is read and written as XML, so that it stays well-formed."""

from xml.etree import ElementTree
from xml.etree.ElementTree import Element

SVG = "{http://www.w3.org/2000/svg}"
ElementTree.register_namespace("", SVG.strip("{}"))


def parsed(picture: str | bytes) -> Element:
    """Return the root of a drawing, without its comments."""
    return ElementTree.fromstring(picture)  # noqa: S314 - our own drawing, made a moment ago


def inline(root: Element, description: str) -> str:
    """Return a drawing for use inside a page: on one line, described for those who hear the page."""
    root.attrib = {"role": "img", "aria-label": description, **root.attrib}
    # Markdown takes an empty line for the end of the drawing
    return " ".join(ElementTree.tostring(root, encoding="unicode").split())
