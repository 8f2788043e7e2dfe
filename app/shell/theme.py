"""The look: one accent, four grade marks, one type scale. Light and dark.

Colours were chosen by contrast, not by taste alone: text has at least 4.5:1 against its ground
(tests/test_app_pure.py computes it), every mark has an outline of ink, and the four grades differ
in lightness and in pattern, so that no one needs to see the hue.
"""

from __future__ import annotations

INK = "#14181c"
"""Lines and words in pictures and charts."""
SOFT_INK = "#4a5159"
"""Second-rank words: assumed values, units, notes. 7:1 on paper."""
PAPER = "#ffffff"
"""The ground of every picture and chart, in the dark theme too: they are shown and printed."""
RULE = "#8b929a"
"""Hair lines that carry no meaning of their own."""
ACCENT = "#6a2c5e"
"""Mulberry: what can be acted on, and the lens that is chosen."""
ACCENT_WASH = "#f4ebf2"
TODAY = "#8f4a00"
"""Burnt orange, and dashed: the pair worn today, or the head left free, beside the lens chosen."""
TODAY_WASH = "#f0dcc0"
ACCENT_IN_DARK = "#d9a3cd"
"""The accent where it stands on the ground of the dark theme."""

COMFORTABLE = "#17626b"
"""Full, dark: solid."""
AWKWARD = "#4f949c"
"""The same hue, lighter: dotted with ink."""
BLURRED = "#e5b554"
"""Lighter again: ruled with ink."""
NOT_SERVED = "#ffffff"
"""Empty, with an outline."""
GRADES = ("comfortable", "awkward", "blurred", "not served")
"""The grades of the engine, in its order, as a person reads them."""
GRADE_COLOURS = dict(zip(GRADES, (COMFORTABLE, AWKWARD, BLURRED, NOT_SERVED), strict=True))

THEME: dict[str, object] = {
    "theme.font": "sans-serif",
    "theme.headingFont": "serif",
    "theme.baseFontSize": 16,
    "theme.headingFontSizes": ["1.75rem", "1.3125rem", "1.125rem", "1rem", "1rem", "1rem"],
    "theme.headingFontWeights": [600, 600, 600, 600, 600, 600],
    "theme.baseRadius": "3px",
    "theme.buttonRadius": "3px",
    "theme.showWidgetBorder": True,
    "theme.light.primaryColor": ACCENT,
    "theme.light.backgroundColor": "#fbfaf7",
    "theme.light.secondaryBackgroundColor": "#ffffff",
    "theme.light.textColor": "#000000",
    "theme.light.borderColor": "#8b929a",
    "theme.dark.primaryColor": ACCENT_IN_DARK,
    "theme.dark.backgroundColor": "#14181c",
    "theme.dark.secondaryBackgroundColor": "#1f252b",
    "theme.dark.textColor": "#f4f3ef",
    "theme.dark.borderColor": "#727b84",
}
