"""The style sheet of the pages. Colours come from the theme; this sets room, order and marks."""

from __future__ import annotations

from app.shell import internals as at
from app.shell import theme, wishes

_RINGED = ", ".join(
    f"{place}:has({inner}:focus-visible)"
    for place, inner in (
        (at.RADIO_OPTION, "input"),
        (f"{at.CHECKBOX} label", "input"),
        (f"{at.SLIDER} div", '> div > input[type="range"]'),
        (at.TEXT_FRAME, "input"),
        ('[role="group"]', '[role="combobox"]'),
    )
)
"""Where the ring of a field goes whose own input is hidden or cut off by its frame."""

_HALVES = " > ".join((at.MAIN_BLOCK, at.BLOCK, at.WRAPPER, at.COLUMNS))
"""The halves of a page, one above the other on a tablet held upright."""

_BEGINS = f"{at.BLOCK} > {at.ELEMENT}:first-child > :is({at.TEXT_FIELD}, {at.SELECT})"
"""A field that a column begins with."""
_ROWS = (
    f"details {at.COLUMNS}:has(> {at.COLUMN} > {_BEGINS}):not(:has(> {at.COLUMN} > {at.BLOCK} > "
    f"{at.ELEMENT}:nth-child(n + 3)))"
)
"""Rows of two fields in a folded part, which the library lets be no narrower than 128 px each."""

STYLE = f"""
<style>
:root {{ --lg-accent: {theme.ACCENT}; --lg-soft: {theme.SOFT_INK}; --lg-paper: {theme.PAPER};
  --lg-ink: {theme.INK}; --lg-rule: {theme.RULE}; --lg-line: #c9ccd0; --lg-focus: {theme.ACCENT}; }}
@media (prefers-color-scheme: dark) {{ :root {{ --lg-focus: {theme.ACCENT_IN_DARK}; }} }}
{at.MAIN_BLOCK} {{ max-width: 1240px; padding: 4.25rem 1.5rem 4rem; }}
{at.HEADER} {{ border-bottom: 1px solid var(--lg-rule); }}
h1, h2, h3 {{ letter-spacing: -0.005em; }}
{at.NAVIGATION_LINK} {{ border-radius: 0; border-bottom: 3px solid transparent; }}
{at.NAVIGATION_LINK}[aria-current="page"] {{ background: none;
  border-bottom-color: var(--lg-focus); }}
{at.OPEN_NAVIGATION}::after {{ content: "Pages"; padding-left: 0.35rem;
  font-size: 1rem; }}
{at.PAGE_LINK} p {{ text-decoration: underline; text-underline-offset: 0.2em;
  text-decoration-color: var(--lg-focus); }}
{at.PAGE_LINK} a {{ padding-left: 0; }}
{at.MAIN} button :is({at.MARKDOWN}, {at.MARKDOWN} p) {{ white-space: normal; overflow: visible; }}
{at.TYPING_HINT} {{ display: none; }}
{at.UPLOAD_HINT}, {at.UPLOAD_HINT} * {{ white-space: normal; height: auto;
  overflow: visible; }}
{at.COLUMNS}:not(:has(.lg-refused, .lg-flag, .lg-from)) >
  {at.COLUMN}:has(> {_BEGINS}):not(:has(
  {at.ELEMENT}:nth-child(n + 3))) {{ align-self: flex-end; }}
{at.WRAPPER}:has(> .st-key-answer) {{ position: sticky; top: 3.75rem;
  z-index: 90; }}
.lg-card, .lg-picture {{ background: var(--lg-paper); color: var(--lg-ink); }}
.lg-answer {{ background: var(--lg-paper); color: var(--lg-ink); border: 1px solid var(--lg-ink);
  border-left: 8px solid var(--lg-accent); padding: 0.6rem 1rem; display: flex; gap: 0.25rem 1.5rem;
  align-items: baseline; flex-wrap: wrap; box-shadow: 0 2px 6px rgb(0 0 0 / 0.12); }}
.lg-answer b.lg-say {{ font-family: 'Source Serif', Georgia, serif; font-size: 1.25rem;
  font-weight: 600; line-height: 1.3; flex: 1 1 24rem; }}
.lg-answer .lg-hours {{ font-size: 1rem; white-space: nowrap; }}
.lg-answer .lg-hours strong {{ font-size: 1.5rem; font-variant-numeric: tabular-nums; }}
.lg-answer .lg-verdict {{ border: 1px solid var(--lg-ink); padding: 0.05rem 0.5rem;
  white-space: nowrap; }}
.lg-answer.lg-stop {{ border-left-color: var(--lg-ink); outline: 3px solid var(--lg-ink); }}
.lg-computing {{ height: 4px; margin-top: -4px; position: relative; }}
.lg-computing i {{ display: block; height: 4px; background: var(--lg-focus); }}
.lg-answer.lg-old {{
  background: repeating-linear-gradient(135deg, #ffffff 0 10px, #ece9e2 10px 20px); }}
.lg-answer.lg-empty {{ border-style: dashed; border-left-style: solid; }}
.lg-refused {{ background: var(--lg-paper); color: var(--lg-ink);
  border: 1px solid var(--lg-ink); border-left-width: 4px; padding: 0.3rem 0.6rem;
  font-size: 0.9375rem; }}
.lg-refused::before {{ content: "\\26A0\\00A0"; }}
.lg-flag {{ color: inherit; border-left: 4px dotted currentColor; padding: 0.2rem 0.6rem;
  font-size: 0.9375rem; }}
.lg-from {{ margin-top: -0.75rem; font-size: 0.875rem; font-style: italic; color: var(--lg-soft); }}
@media (prefers-color-scheme: dark) {{ .lg-from {{ color: #b9c0c7; }} }}
{at.MARKDOWN}:has(> .lg-refused, > .lg-flag, > .lg-from, > .lg-scroll,
  > .lg-claims, > .lg-stopped) {{
  margin-bottom: 0; }}
details {at.ELEMENT}:last-child {at.MARKDOWN}:has(> .lg-picture, > div.lg-quiet) {{
  margin-bottom: 0; }}
.lg-next {{ border-left: 4px solid var(--lg-focus); padding: 0.1rem 0 0.1rem 0.75rem;
  font-size: 1.0625rem; margin: 0.25rem 0 0.5rem; }}
.lg-scroll {{ overflow-x: auto; background: var(--lg-paper); color: var(--lg-ink); }}
{at.MARKDOWN} .lg-table {{ border-collapse: collapse; font-size: 0.9375rem;
  width: 100%; margin: 0; color: var(--lg-ink); font-variant-numeric: tabular-nums; }}
.lg-table caption {{ text-align: left; font-weight: 600; padding: 0.4rem 0.5rem; }}
{at.MARKDOWN} .lg-table :is(th, td) {{ text-align: left; vertical-align: top;
  padding: 0.3rem 0.75rem 0.3rem 0.5rem; border: 0; border-bottom: 1px solid var(--lg-line); }}
{at.MARKDOWN} .lg-table .lg-figure {{ text-align: right; }}
{at.MARKDOWN} .lg-table thead th {{ vertical-align: bottom;
  border-bottom: 2px solid var(--lg-ink); }}
{at.MARKDOWN} .lg-table tr.lg-off :is(th, td) {{ font-weight: 700;
  background: {theme.ACCENT_WASH}; }}
{at.MARKDOWN} .lg-table tr.lg-off th {{
  box-shadow: inset 4px 0 0 var(--lg-accent); }}
.lg-picture svg {{ display: block; width: 100%; height: auto; }}
.lg-picture {{ border: 1px solid var(--lg-rule); padding: 0.25rem; }}
.lg-picture.lg-lens {{ max-width: 30rem; }}
.lg-pair {{ display: grid; padding-bottom: 0.75rem; grid-template-columns: 1fr 1fr; gap: 0.5rem; }}
.lg-pair svg {{ display: block; width: 100%; height: auto; border: 1px solid var(--lg-rule); }}
.lg-key {{ list-style: none; margin: 0 0 0.5rem; padding: 0; display: flex; flex-wrap: wrap;
  gap: 0.15rem 1.25rem; font-size: 0.875rem; }}
.lg-key li {{ display: flex; gap: 0.4rem; align-items: center; margin: 0;
  font-size: 0.875rem; }}
.lg-key svg {{ flex: none; }}
.lg-counts {{ font-size: 0.875rem; color: var(--lg-soft); }}
.lg-mend {{ flex: 1 1 100%; font-size: 0.9375rem; }}
.lg-mend::before {{ content: "\\26A0\\00A0"; }}
.lg-mend a {{ color: inherit; text-decoration: underline; display: inline-block;
  line-height: {wishes.LEAST_PX}px; }}
.lg-refused[id] {{ scroll-margin-top: 12rem; }}
{at.TEXT_FIELD} input::placeholder {{ font-style: italic; opacity: 1;
  color: {theme.SOFT_INK}; -webkit-text-fill-color: {theme.SOFT_INK}; }}
@media (prefers-color-scheme: dark) {{
  {at.TEXT_FIELD} input::placeholder {{ color: #b9c0c7;
    -webkit-text-fill-color: #b9c0c7; }}
}}
{at.CHOSEN} {{ flex-wrap: wrap; mask-image: none; overflow: visible; height: auto;
  padding-block: 2px; }}
div:has(> {at.CHOSEN}) {{ height: auto; max-height: none; }}
{at.CHOSEN} :is(div, span) {{ max-width: 100%; height: auto; white-space: normal; }}
.lg-claims {{ list-style: none; margin: 0; padding: 0; background: var(--lg-paper);
  color: var(--lg-ink); }}
.lg-claims > li {{ margin: 0; padding: 0.6rem 0.75rem 0.7rem;
  border-bottom: 1px solid var(--lg-line);
  overflow-wrap: anywhere; }}
.lg-claims p {{ margin: 0; font-size: 0.9375rem; }}
.lg-claims p.lg-claim {{ font-size: 1.0625rem; font-weight: 600; max-width: 44rem; }}
.lg-claims p.lg-found {{ margin: 0.15rem 0; max-width: 50rem; }}
.lg-claims p.lg-from {{ color: var(--lg-soft); font-size: 0.875rem; }}
.lg-sure {{ border: 1px solid var(--lg-ink); padding: 0 0.4rem; white-space: nowrap;
  font-size: 0.875rem; font-weight: 400; }}
.lg-kept {{ font-size: 0.9375rem; margin: 0 0 0.5rem; }}
.lg-done {{ border-left: 4px solid var(--lg-accent); padding: 0.2rem 0.6rem; }}
p.lg-case {{ font-size: 1.3125rem; font-weight: 600; line-height: 1.25; padding: 0 0 0.5rem; }}
.lg-quiet {{ font-size: 0.9375rem; max-width: 44rem; }}
p.lg-quiet + ul.lg-quiet {{ margin-top: -0.6rem; }}
.lg-two {{ columns: 2 15rem; column-gap: 1.5rem; }}
.lg-two li {{ break-inside: avoid; }}
.lg-picture + .lg-quiet, .lg-picture + .lg-key, .lg-pair + .lg-quiet {{ margin-top: 0.6rem; }}
.lg-beside {{ padding-top: 0.9rem; }}
.lg-worn {{ list-style: none; padding-left: 0 !important; }}
.lg-stopped {{ margin: 1rem 0; background: var(--lg-paper); color: var(--lg-ink);
  border: 3px solid var(--lg-ink);
  padding: 0.75rem 1rem; max-width: 44rem; }}
.lg-stopped p {{ font-size: 1.0625rem; margin: 0.35rem 0 0; }}
.lg-stopped p:first-child {{ margin: 0; font-weight: 600; }}
@media (prefers-color-scheme: dark) {{
  {at.PRIMARY_BUTTON} p {{ color: {theme.INK}; }}
}}
:focus-visible, {_RINGED} {{ outline: 3px solid var(--lg-focus) !important;
  outline-offset: 2px; }}
{at.MAIN}:focus-visible {{ outline-offset: -3px; }}
{at.TEXT_FRAME}:has(input:focus-visible) {{ outline-offset: -3px; }}
{at.TEXT_FRAME} input:focus-visible, [role="combobox"]:focus-visible {{
  outline: none !important; }}
{at.MAIN}:has(.st-key-answer) {{ scroll-padding: 14.5rem 0 2rem; }}
{at.TOOLBAR} {{ display: none; }}
@media (max-width: 960px) {{
  {_HALVES} {{ flex-direction: column; gap: 1.5rem; }}
  {_HALVES} > {at.COLUMN} {{ width: 100%; flex: 1 1 auto; }}
}}
@media (max-width: 640px) {{
  {at.MAIN_BLOCK} {{ padding: 4.25rem 0.75rem 3rem; }}
  .lg-answer {{ padding: 0.4rem 0.6rem; gap: 0.1rem 0.75rem; }}
  .lg-answer b.lg-say {{ font-size: 1.0625rem; flex-basis: 100%; }}
  .lg-answer .lg-hours strong {{ font-size: 1.125rem; }}
  .lg-pair {{ grid-template-columns: 1fr; }}
  {at.MARKDOWN} .lg-table :is(th, td) {{ padding-left: 0.35rem; padding-right: 0.35rem; }}
  {at.MARKDOWN} .lg-table .lg-long {{ min-width: 13rem; }}
  {_ROWS} > {at.COLUMN} {{ min-width: min(8rem, calc(50% - 0.5rem)); }}
}}
@media (prefers-reduced-motion: reduce) {{
  * {{ transition: none !important; animation: none !important; }}
}}
{wishes.RULES}</style>
"""


def menu_shuts(page: str) -> str:
    """Return a script that shuts the menu of a narrow window once another page is shown.

    The page library (1.67.0) shuts it by itself only in a browser that says it is a phone's, not at
    a zoom of 200 % on a desk screen.
    """
    return f"""<script>
(() => {{
  if (window.lgPage === "{page}") return;
  window.lgPage = "{page}";
  document.querySelector('{at.NAVIGATION} button[aria-expanded="true"]')?.click();
}})();
</script>"""
