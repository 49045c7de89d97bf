"""Where the words of an SVG picture stand, so that a test can see that they can be read."""

from itertools import combinations
from xml.etree import ElementTree

SVG = "{http://www.w3.org/2000/svg}"
# Parts of the size: no sentence of DejaVu Sans is narrower than this a letter; capitals stand so high.
NARROWEST, HEIGHT = 0.48, 0.73
PHONE = 390
# Points on a phone below which words cannot be read; 9 CSS pixels is the smallest that browsers leave alone.
SMALLEST = 9

Box = tuple[float, float, float, float, str]


def boxes(content: bytes) -> list[Box]:
    """Left, top, right and bottom of each text, and its words."""
    root = ElementTree.fromstring(content)
    found = []
    for one in root.iter(f"{SVG}text"):
        words = "".join(one.itertext())
        size = float(one.get("font-size", root.get("font-size", "16")))
        wide = len(words) * size * NARROWEST
        left = float(one.get("x", 0)) - wide * {"middle": 0.5, "end": 1.0}.get(
            one.get("text-anchor", "start"), 0
        )
        foot = float(one.get("y", 0))
        found.append((left, foot - size * HEIGHT, left + wide, foot, words))
    return found


def overlapping(content: bytes) -> list[tuple[str, str]]:
    """Pairs of texts that stand on one another."""
    return [
        (one[4], other[4])
        for one, other in combinations(boxes(content), 2)
        if one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]
    ]


def off_the_page(content: bytes) -> list[str]:
    """Texts that leave the page."""
    _, _, wide, high = map(float, ElementTree.fromstring(content).get("viewBox", "").split())
    return [
        words
        for left, top, right, bottom, words in boxes(content)
        if left < 0 or top < 0 or right > wide or bottom > high
    ]


def smallest_on_a_phone(content: bytes) -> float:
    """Pixels of the smallest words when the page is as wide as a phone."""
    root = ElementTree.fromstring(content)
    wide = float(root.get("viewBox", "").split()[2])
    default = root.get("font-size", "16")
    return min(float(one.get("font-size", default)) for one in root.iter(f"{SVG}text")) * PHONE / wide
