"""What a person sees of a page, measured: pixels of words in pictures, rings of focus, lost words.

Contrast is WCAG 2.2's: (lighter + 0.05) / (darker + 0.05) of relative luminances.
"""

from __future__ import annotations

import base64
import io
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from tests.browser.harness import Browser

Floats = NDArray[np.float64]
Box = tuple[float, float, float, float]

TALL = (1280, 6000)
WORDS_RATIO, MARKS_RATIO = 4.5, 3.0
"""Least contrast of words and of marks (WCAG 2.2, 1.4.3 and 1.4.11)."""
SHARPER = 3
"""Pixels a CSS pixel in a close look: a stem of the smallest words is then three of them wide."""
MAIN = "[data-testid=stMain]"

_PICTURES = """
return [...document.querySelectorAll('svg')]
  .filter(s => s.checkVisibility()
    && [...s.querySelectorAll('text')].some(t => t.textContent.trim()))
"""
_WORDS = """
const left = arguments[0], looked = [];
left[0].scrollIntoView({block: 'center', behavior: 'instant'});
const top = left[0].getBoundingClientRect().top;
for (const s of left) {
  const b = s.getBoundingClientRect();
  const far = n => { let o = 1; for (; n && n !== s; n = n.parentElement)
    o *= +getComputedStyle(n).opacity; return o; };
  const edge = s.closest('.lg-scroll, .scroll')?.getBoundingClientRect().right ?? innerWidth;
  const right = Math.min(b.right, edge, innerWidth);
  if (looked.length && (b.top < top || b.bottom > innerHeight || b.left < 0 || b.right > right))
    break;
  looked.push([[Math.max(b.x, 0), Math.max(b.y, 0), right, Math.min(b.bottom, innerHeight)],
    [...s.querySelectorAll('text')].filter(t => t.textContent.trim() && far(t) > 0
      && t.getBoundingClientRect().right <= right).map(t => {
      const r = t.getBoundingClientRect();
      return [t.textContent, r.x, r.y, r.width, r.height]; })]);
}
return looked;
"""
"""The first picture, scrolled to, and those after it that are then in view, with their words."""
_HIDE = """
const s = document.createElement('style'); s.id = 'wordless';
s.textContent = 'svg text { fill: transparent !important }'; document.head.append(s)
"""
_SHOW = "document.getElementById('wordless').remove()"

_STOP = """
const e = document.activeElement;
if (!e || e === document.body) return null;
const r = e.getBoundingClientRect(), main = document.querySelector('[data-testid=stMain]');
const rgb = c => (c.match(/[\\d.]+/g) || [0, 0, 0, 0]).map(Number);
const ground = n => { for (; n; n = n.parentElement) {
  const c = rgb(getComputedStyle(n).backgroundColor);
  if (c.length < 4 || c[3] > 0.9) return c.slice(0, 3); } return [255, 255, 255]; };
const hidden = n => { for (; n && n !== document.body; n = n.parentElement)
  if (getComputedStyle(n).clip.startsWith('rect(0px')) return true; return false; };
let ring = null;
for (let n = e, i = 0; n && i < 6 && !ring; n = n.parentElement, i++) {
  const s = getComputedStyle(n);
  if (s.outlineStyle !== 'none' && parseFloat(s.outlineWidth) >= 2 && !hidden(n))
    ring = {colour: rgb(s.outlineColor).slice(0, 3), ground: ground(n.parentElement)};
}
const line = document.querySelector('.st-key-answer');
const group = e.closest('[role=radiogroup]');
return {
  kind: [e.closest('[data-testid]')?.dataset.testid, e.type || e.tagName].join(' '),
  name: (group ? group.getAttribute('aria-label') + ': ' : '')
    + (e.getAttribute('aria-label') || e.innerText || (e.labels && e.labels[0]?.innerText) || ''),
  x: r.x, y: r.y + main.scrollTop, right: r.right, top: r.top, bottom: r.bottom, ring,
  inside: main.contains(e) && e !== main,
  covered: line && main.contains(e) && !line.contains(e)
    ? line.getBoundingClientRect().bottom - r.bottom : -1,
  block: [...document.querySelectorAll('[data-testid=stHorizontalBlock]')]
    .findLastIndex(b => b.contains(e) && !b.querySelector('h2, h3')),
}
"""
AT_ONCE = 25
"""Tabs between two looks at whether the end is reached."""
_NOTE = f"""
window.lgStop = () => {{ {_STOP} }};
window.lgHeld = []; window.lgStops = []; window.lgEnd = false;
window.lgTab ??= addEventListener('keyup', key => {{
  if (key.key !== 'Tab' || lgEnd) return;
  const said = lgStop(), first = lgHeld[0] === document.activeElement;
  if (said === null || (first && !key.shiftKey)) {{ lgEnd = true; return; }}
  if (!key.shiftKey) lgHeld.push(document.activeElement);
  lgStops.push(said);
}}, true) || true;
"""
"""Note every stop until the focus leaves the page or comes to the first again."""
_NOTE_AGAIN = "lgEnd = false; lgStops = [lgStop()];"

_CUT = """
const shut = v => v === 'hidden' || v === 'clip';
return [...document.querySelectorAll(arguments[0] + ' *')].filter(e => {
  if (e.closest('svg') || !e.innerText || !e.checkVisibility()) return false;
  const s = getComputedStyle(e);
  if (s.clip.startsWith('rect(0px')) return false;
  const cut = (shut(s.overflowX) && e.scrollWidth > e.clientWidth + 1)
    || (shut(s.overflowY) && e.scrollHeight > e.clientHeight + 1);
  const own = [...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim());
  const off = own && !e.closest('.lg-scroll, .scroll')
    && e.getBoundingClientRect().right > innerWidth + 1;
  const field = e.matches('[data-testid=stTextInput]')
    && e.querySelector('[data-testid=stTextInputRootElement]');
  const column = field && e.closest('[data-testid=stColumn]');
  const wide = column
    && field.getBoundingClientRect().right > column.getBoundingClientRect().right + 1;
  return cut || off || wide;
}).map(e => e.innerText.slice(0, 60))
"""


@dataclass(frozen=True)
class Stop:
    """One stop of the Tab key.

    Attributes:
        kind: of field; name: as said by a screen reader. x, y, right: on the page, CSS pixels.
        ring: contrast of the ring of focus with what it lies on; 0 without one.
        covered_px: how far the line in view lies over it; block: its row of columns, or -1.
    """

    kind: str
    name: str
    x: float
    y: float
    right: float
    ring: float
    inside: bool
    covered_px: float
    block: int


def luminance(colour: Floats) -> Floats:
    """Relative luminance of colours 0 to 255, along the last axis."""
    part = colour / 255.0
    linear = np.where(part <= 0.04045, part / 12.92, ((part + 0.055) / 1.055) ** 2.4)
    return np.asarray(linear @ np.array([0.2126, 0.7152, 0.0722]))


def contrast(one: Any, other: Any) -> Floats:
    """Contrast ratio of two colours, or of two pictures pixel by pixel."""
    a, b = luminance(np.asarray(one, dtype=float)), luminance(np.asarray(other, dtype=float))
    return np.asarray((np.maximum(a, b) + 0.05) / (np.minimum(a, b) + 0.05))


def pixels(page: Browser, box: Box, *, scale: int = 1) -> NDArray[np.uint8]:
    """A part of the window (x, y, width, height) as red, green, blue."""
    clip = dict(zip(("x", "y", "width", "height"), box, strict=True)) | {"scale": scale}
    asked = {"format": "png", "clip": clip, "optimizeForSpeed": True}
    shot = page.driver.execute_cdp_cmd("Page.captureScreenshot", asked)
    image = Image.open(io.BytesIO(base64.b64decode(shot["data"])))
    return np.asarray(image.convert("RGB"))


def words_in_pictures(page: Browser) -> list[tuple[str, float]]:
    """Every line of words in a picture or chart with its contrast, as drawn.

    The picture is taken with its words and without them; where the two differ are the words, and
    what lies there without them is their ground, halo and pattern included.
    """
    ask, found = page.driver.execute_script, []
    left = ask(_PICTURES)
    while left:
        looked = ask(_WORDS, left)
        left = left[len(looked) :]
        edges = np.array([box for box, _ in looked])
        (x, y), (right, bottom) = edges[:, :2].min(axis=0), edges[:, 2:].max(axis=0)
        box = (float(x), float(y), float(right - x), float(bottom - y))
        with_words = pixels(page, box, scale=SHARPER)
        ask(_HIDE)
        without = pixels(page, box, scale=SHARPER)
        ask(_SHOW)
        for text, tx, ty, *size in (one for _, texts in looked for one in texts):
            found.append((text, _ratio(with_words, without, [tx - x, ty - y, *size])))
    return found


def _ratio(with_words: NDArray[np.uint8], without: NDArray[np.uint8], place: list[float]) -> float:
    """Median contrast of the cores of the letters; 0 where nothing is seen."""
    x, y, wide, high = (value * SHARPER for value in place)
    part = np.s_[max(int(y), 0) : int(y + high) + 1, max(int(x), 0) : int(x + wide) + 1]
    here, ground = with_words[part].astype(float), without[part].astype(float)
    if not here.size:
        return 0.0
    change = np.abs(here - ground).max(axis=2)
    if change.max() == 0:
        return 0.0
    return float(np.median(contrast(here, ground)[change > 0.5 * change.max()]))


def tab_stops(page: Browser, *, most: int = 200) -> list[Stop]:
    """Every stop of the Tab key from the first to the last, as it is when the key is let go."""
    ask = page.driver.execute_script
    ask(
        "const all = document.body; all.tabIndex = -1; all.focus();"
        "all.removeAttribute('tabindex');"  # Tab goes on from the top, not from the last click
        f"document.querySelector('{MAIN}').scrollTo({{top: 0, behavior: 'instant'}});"
        f"{_NOTE}"
    )
    for _ in range(0, most, AT_ONCE):
        ActionChains(page.driver).send_keys(*[Keys.TAB] * AT_ONCE).perform()
        if ask("return lgEnd"):
            return [_stop(said) for said in ask("return lgStops")]
    raise AssertionError(f"{most} tabs do not reach the end; the last is {page.focused()!r}")


def stops_back(page: Browser) -> list[Stop]:
    """The same stops from the last to the first, after `tab_stops`."""
    ask = page.driver.execute_script
    count = ask(f"lgHeld.at(-1).focus(); {_NOTE_AGAIN} return lgHeld.length")
    keys = ActionChains(page.driver).key_down(Keys.SHIFT)
    keys.send_keys(*[Keys.TAB] * (count - 1)).key_up(Keys.SHIFT).perform()
    return [_stop(said) for said in ask("return lgStops")]


def rings(page: Browser) -> list[Stop]:
    """The same stops, focused by script as they are drawn now, after `tab_stops`.

    After keys, a focus that a script moves has its ring as well.
    """
    return [
        _stop(said)
        for said in page.driver.execute_script(
            "return lgHeld.map(one => { one.focus({preventScroll: true}); return lgStop(); })"
        )
    ]


def _stop(said: dict[str, Any]) -> Stop:
    ring = said["ring"]
    return Stop(
        kind=said["kind"],
        name=" ".join(said["name"].split()),
        x=said["x"],
        y=said["y"],
        right=said["right"],
        ring=0.0 if ring is None else float(contrast(ring["colour"], ring["ground"])),
        inside=said["inside"],
        covered_px=said["covered"],
        block=said["block"],
    )


def jumps(stops: list[Stop], *, row_px: float = 30.0) -> list[str]:
    """Where the Tab key leaves the order of reading.

    Down, or to the right of what was left: a step up must begin a column to the right. Within a
    row of columns without a heading of its own, row by row.
    """
    inside = [stop for stop in stops if stop.inside]
    found = [
        f"{one.name!r} -> {two.name!r}"
        for one, two in pairwise(inside)
        if two.y < one.y - row_px and two.x < one.x + row_px
    ]
    for block in {stop.block for stop in inside} - {-1}:
        own = [stop for stop in inside if stop.block == block]
        found += [
            f"{one.name!r} before {two.name!r}"
            for one, two in pairwise(own)
            if two.y < one.y - row_px
        ]
    return found


def lost_and_cut(page: Browser, words: set[str], *, root: str = MAIN) -> dict[str, list[str]]:
    """Words that were there before, parts that are cut off, and pixels beyond the side."""
    sideways = page.driver.execute_script(
        "const m = document.querySelector(arguments[0]), d = document.documentElement;"
        "return Math.max(m.scrollWidth - m.clientWidth, d.scrollWidth - innerWidth)",
        root,
    )
    found = {
        "lost": sorted(words - words_of(page, root=root)),
        "cut": page.driver.execute_script(_CUT, root),
        "sideways": [f"{sideways} px"] if sideways > 0 else [],
    }
    return {name: value for name, value in found.items() if value}


def words_of(page: Browser, *, root: str = MAIN) -> set[str]:
    """The words in view or to be scrolled to."""
    return set(page.text(root).split())


def zoom(page: Browser, size: tuple[int, int], *, dots: int = 1) -> None:
    """A window of this size in CSS pixels, each so many pixels of the screen wide."""
    metrics = {"width": size[0], "height": size[1], "deviceScaleFactor": dots}
    page.driver.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride", {**metrics, "mobile": dots == 1 and size[0] < 600}
    )


def theme(page: Browser, name: str) -> None:
    """Ask for the light or the dark theme as the operating system would, and wait for it."""
    prefer(page, name)
    page.wait_for(lambda: (float(luminance(ground(page))) < 0.2) == (name == "dark"), name)
    page.settle()


def prefer(page: Browser, name: str) -> None:
    """What the operating system asks for."""
    page.driver.execute_cdp_cmd(
        "Emulation.setEmulatedMedia",
        {"features": [{"name": "prefers-color-scheme", "value": name}]},
    )


def ground(page: Browser) -> Floats:
    """The colour of the page's own ground."""
    said = page.driver.execute_script(
        "const c = getComputedStyle(document.querySelector('[data-testid=stApp]')).backgroundColor;"
        "return c.match(/[\\d.]+/g).slice(0, 3).map(Number)"
    )
    return np.array(said, dtype=float)


def ring_seen(page: Browser, selector: str) -> int:
    """Pixels that change with a contrast of 3 when the element gets the keyboard focus."""
    element = page.driver.find_element(By.CSS_SELECTOR, selector)
    ActionChains(page.driver).send_keys(Keys.TAB).perform()  # by script the ring then moves along
    box = page.driver.execute_script(
        "document.querySelector('[data-testid=stSkipToContent]').focus();"
        "const e = arguments[0]; e.scrollIntoView({block: 'center', behavior: 'instant'});"
        "const r = e.getBoundingClientRect();"
        "return [Math.max(r.x - 40, 0), Math.max(r.y - 20, 0), r.width + 80, r.height + 40]",
        element,
    )
    page.settle()
    off = pixels(page, tuple(box))
    page.driver.execute_script("arguments[0].focus({preventScroll: true})", element)
    page.settle()
    on = pixels(page, tuple(box))
    return int((contrast(on, off) >= MARKS_RATIO).sum())
