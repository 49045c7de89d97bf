"""Parts that every SVG picture shares: a page that fits phone and desk, words with a light edge, lines that break.

A page is drawn 640 wide and never shown wider; on a phone it shrinks to some 390, where 17 still reads as 10. Colours
are from Okabe and Ito's palette, darkened for words (blue and vermilion stay apart for every kind of colour vision),
and nothing is told by colour alone: lines differ in their dashes, marks in their shape, and words stand beside them.
"""

from collections.abc import Iterable, Sequence
from html import escape
from textwrap import wrap

WIDTH, MARGIN = 640, 16
TEXT, TITLE, LEADING = 17, 20, 22
SAMPLE = 44
# How wide a letter of DejaVu Sans is on average, in parts of its size; sentences measured come to 0.52.
LETTER = 0.545
BLUE, VERMILION, GREY, INK = "#0b4f8a", "#b34700", "#5c5c5c", "#1a1a1a"


def page(height: float, title: str, told: str, parts: Iterable[str]) -> str:
    """An SVG document of its own, without scripts or outside files. `told`: the picture in words."""
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height:g}" width="{WIDTH}" '
            f'height="{height:g}" style="max-width:100%;height:auto" role="img" aria-labelledby="t d" '
            f'font-family="DejaVu Sans, Verdana, sans-serif" font-size="{TEXT}" fill="{INK}">',
            f'<title id="t">{escape(title)}</title><desc id="d">{escape(told)}</desc>',
            f'<rect width="{WIDTH}" height="{height:g}" fill="#ffffff"/>',
            *parts,
            "</svg>",
        ]
    )


def lines_of(words: str, *, room: float, size: float = TEXT) -> list[str]:
    """The words broken into lines that fit so many pixels."""
    return wrap(words, max(10, int(room / (size * LETTER)))) or [""]


def text(
    x: float, y: float, words: str, *, size: float = TEXT, anchor: str = "start", fill: str = INK
) -> str:
    """Words with a white edge, so that lines behind them stay behind them."""
    own = f' font-size="{size:g}"' if size != TEXT else ""
    own += f' text-anchor="{anchor}"' if anchor != "start" else ""
    own += f' fill="{fill}"' if fill != INK else ""
    return (
        f'<text x="{x:.1f}" y="{y:.1f}"{own} stroke="#ffffff" stroke-width="4" stroke-linejoin="round" '
        f'paint-order="stroke">{escape(words)}</text>'
    )


def block(x: float, y: float, lines: Sequence[str], *, size: float = TEXT, fill: str = INK) -> list[str]:
    """Lines of words one below the other; `y` is the first one's foot."""
    return [
        text(x, y + number * LEADING * size / TEXT, words, size=size, fill=fill)
        for number, words in enumerate(lines)
    ]


def line(x: float, y: float, right: float, below: float, stroke: str, *, dashes: str = "") -> str:
    """A straight line."""
    dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
    return f'<line x1="{x:.1f}" y1="{y:.1f}" x2="{right:.1f}" y2="{below:.1f}" stroke="{stroke}"{dashed}/>'


def legend(rows: Iterable[tuple[str, str]], y: float) -> tuple[list[str], float]:
    """Samples `SAMPLE` wide, drawn around their foot at 0, each with its words; and where the legend ends."""
    parts = list[str]()
    left = MARGIN + SAMPLE + 12
    for sample, words in rows:
        told = lines_of(words, room=WIDTH - MARGIN - left)
        parts += [f'<g transform="translate({MARGIN} {y:g})">{sample}</g>', *block(left, y, told)]
        y += len(told) * LEADING + 4
    return parts, y
