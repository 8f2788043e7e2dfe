"""Texts people and files hold: names the rule allows, and what is nobody's name. Invented."""

from __future__ import annotations

SCRIPTS = (
    "screen",
    "écran 2",
    "экран",
    "画面",
    "شاشة",
    "מסך",
    "स्क्रीन",
    "หน้าจอ",
    "0",
    "a_b_c",
    "x" * 40,
    "Ærø & Sons, 2nd floor / left",
    "ﬁ",
    "İstanbul",
    "ß",
    "e\u0301",
    "𝔘𝔫𝔦",
    "1+1",
    "None",
    "null",
    "٣",
)
"""Names the rule allows, whatever they look like."""

MARKUP = (
    "![x](http://example.invalid/x.png)",
    "<script>alert(1)</script>",
    "**bold**",
    "=1+1",
    "$\\frac{1}{0}$",
    "{0.__class__}",
    "%s%n",
    "a\nb",
    "a\x1b[31mred",
    "\u202eright to left",
    "\ud800",
    "\x00",
    "🙂",
    "",
    " ",
    "x" * 41,
    "x" * 5000,
    "../../etc/passwd",
)
"""Texts that are nobody's name."""
