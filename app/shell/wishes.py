"""What the reader's own system asks for: forced colours, more contrast, a dark ground, room to hit.

Rules that come after those of `style` and change only colours, borders and the least size of what
is clicked. The page library shows by a colour alone which option is chosen and where a slider
stands, which is lost where the system forces its own colours; here they get system colours.
"""

from __future__ import annotations

from app.shell import internals as at
from app.shell import theme

LEAST_PX = 24
"""Of what is clicked: WCAG 2.2, 2.5.8 Target Size (Minimum)."""

_CHOSEN = f"{at.RADIO_OPTION}:has(input:checked) > div > div:first-child"
_BOX = f"{at.CHECKBOX} label:has(input) > span + div"
_TICKED = f"{at.CHECKBOX} label:has(input:checked) > span + div"
_SWITCH = f"{at.CHECKBOX} label:has([role='switch']) > span + div"
_TRACK = f"{at.SLIDER} [role='group'] > div > div:first-child"
_THUMB = f"{at.SLIDER} div:has(> div > input[type='range'])"
_FRAMES = f"{at.TEXT_FRAME}, [role='group']:has(> [role='combobox'])"

PICTURES = ".lg-picture, .lg-pair, .lg-scroll:has(svg), .lg-claims svg"
CHARTS = f".lg-key svg, {at.CHART}"
TURNED = "invert(0.95) hue-rotate(180deg)"
"""Pictures are ink on white, for paper. In the dark lightness is turned round, and no hue.

The middle grades of a chart, which carry figures, are then darkened as well.
"""

RULES = f"""
{at.RADIO_OPTION}, {at.CHECKBOX} label {{ min-height: {LEAST_PX}px; }}
[role="group"] > button[aria-haspopup="listbox"] {{ min-height: {LEAST_PX}px; }}
{at.MULTISELECT} button[aria-label^="Remove"] {{ min-width: {LEAST_PX}px;
  min-height: {LEAST_PX}px; }}
@media (prefers-color-scheme: dark) {{
  {at.MULTISELECT} span[title] {{ color: {theme.INK}; }}
  :root {{ --lg-paper: {theme.THEME["theme.dark.secondaryBackgroundColor"]};
    --lg-ink: {theme.THEME["theme.dark.textColor"]}; --lg-soft: #b9c0c7;
    --lg-line: #4a525b; --lg-accent: {theme.ACCENT_IN_DARK}; }}
  .lg-picture, .lg-pair, .lg-scroll:has(svg) {{ --lg-paper: {theme.PAPER}; --lg-ink: {theme.INK};
    --lg-soft: {theme.SOFT_INK}; --lg-accent: {theme.ACCENT}; }}
  {PICTURES} {{ filter: {TURNED}; }}
  {CHARTS} {{ filter: {TURNED} brightness(0.8) contrast(1.8); }}
  .lg-answer.lg-old {{
    background: repeating-linear-gradient(135deg, #1f252b 0 10px, #2b323a 10px 20px); }}
  {at.MARKDOWN} .lg-table tr.lg-off :is(th, td) {{ background: #3a2a37; }}
}}
@media (prefers-contrast: more) {{
  :root {{ --lg-soft: var(--lg-ink); --lg-rule: currentColor; }}
  {_FRAMES} {{ border-color: currentColor; }}
  .lg-from, {at.TEXT_FIELD} input::placeholder {{ color: inherit;
    -webkit-text-fill-color: currentColor; }}
}}
@media (forced-colors: active) {{
  {at.NAVIGATION_LINK} {{ border-bottom-color: Canvas; }}
  {at.NAVIGATION_LINK}[aria-current="page"] {{ border-bottom-color: Highlight; }}
  {_CHOSEN}, {_TICKED} {{ forced-color-adjust: none; background-color: Highlight;
    border-color: Highlight; }}
  {_CHOSEN} > div {{ forced-color-adjust: none; background-color: Canvas; }}
  {_SWITCH}, {_TRACK} {{ border: 1px solid ButtonText; }}
  {_SWITCH} > div, {_THUMB} {{ forced-color-adjust: none; background-color: ButtonText; }}
  {_BOX} {{ outline: 1px solid ButtonText; }}
  .lg-answer.lg-old {{ border-style: dashed; }}
  .lg-testing i, .lg-computing i {{ forced-color-adjust: none; background: Highlight; }}
}}
"""
