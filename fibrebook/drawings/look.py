"""How pictures look: inks for light and dark pages, colours of states and bases, the contrast they must keep."""

from __future__ import annotations

from dataclasses import dataclass

FONT = "system-ui, 'Segoe UI', 'Noto Sans', 'DejaVu Sans', Arial, sans-serif"
WIDTH = 1240  # fits a page of 1280 pixels


@dataclass(frozen=True)
class Ink:
    """One colour of the page: on light and on dark paper, and JupyterLab's own where the picture stands in its page."""

    light: str
    dark: str
    theme: str = ""


INKS = {
    "paper": Ink("#ffffff", "#16191d", "--jp-layout-color0"),
    "ink": Ink("#1b1f24", "#f0f2f4", "--jp-content-font-color0"),
    "quiet": Ink("#46515c", "#bac4ce"),
    "line": Ink("#64707c", "#94a0ac"),
    "box": Ink("#f1f4f7", "#262c34"),
    "mark": Ink("#a8380a", "#ffb38a"),  # where you started; what is over the limit
}


@dataclass(frozen=True)
class Fill:
    """One kind of bar: colour, colour of figures upon it, pattern (so that colour is never alone)."""

    fill: str
    text: str
    pattern: str = ""


# Spare states are green, used ones blue, so that the owner sees at a glance what is left.
STATES = {
    "ready": Fill("#1b6e42", "#ffffff"),
    "half-terminated": Fill("#8fd0a9", "#000000", "slant"),
    "unterminated": Fill("#d9f0e1", "#000000", "dots"),
    "reserved": Fill("#f0c04a", "#000000", "back slant"),
    "patched": Fill("#9cc3ea", "#000000", "upright"),
    "in service": Fill("#1d5a9e", "#ffffff"),
    "faulty": Fill("#a8201a", "#ffffff", "cross"),
}
BASES = {
    "measured": Fill("#1d5a9e", "#ffffff"),
    "recorded": Fill("#9cc3ea", "#000000", "slant"),
    "catalogue": Fill("#e3e8ee", "#000000", "dots"),
}


def stylesheet() -> str:
    """Return the rules of a picture: classes ``fb-<ink>`` fill, ``fb-<ink>-line`` stroke; dark pages have their own."""

    def rules(dark: bool) -> str:
        out = []
        for name, ink in INKS.items():
            own = ink.dark if dark else ink.light
            colour = f"var({ink.theme}, {own})" if ink.theme else own
            out.append(f".fb-picture .fb-{name}{{fill:{colour}}}.fb-picture .fb-{name}-line{{stroke:{colour}}}")
        return "".join(out)

    # In JupyterLab the page says light or dark itself; elsewhere the reader's own wish counts.
    dark_page = rules(True).replace(".fb-picture", "[data-jp-theme-light='false'] .fb-picture")
    light_page = rules(False).replace(".fb-picture", "[data-jp-theme-light='true'] .fb-picture")
    return f"{rules(False)}@media (prefers-color-scheme:dark){{{rules(True)}}}{light_page}{dark_page}"


def luminance(colour: str) -> float:
    """Return the relative luminance of #rrggbb, 0 to 1 (W3C WCAG 2, definition of relative luminance)."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(a: str, b: str) -> float:
    """Return the contrast ratio of two colours, 1 to 21 (W3C WCAG 2, definition of contrast ratio)."""
    high, low = sorted((luminance(a), luminance(b)), reverse=True)
    return (high + 0.05) / (low + 0.05)
