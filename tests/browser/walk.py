"""Going through the pages as a person does: typing, the menu, files, the printer."""

from __future__ import annotations

import base64
import re
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.remote.webelement import WebElement

from tests.as_read import as_read
from tests.bench._visitor import Visitor
from tests.browser.harness import PHONE, WAIT_S, Browser, Served, browser

LINE = ".st-key-answer"
"""The line in view."""
EXAMPLE = "Load an invented wearer"
MENU = "[data-testid=stExpandSidebarButton]"


@contextmanager
def window(size: tuple[int, int]) -> Iterator[Browser]:
    """A browser of that size; a narrow one also says that it is a phone, by which menus go."""
    with browser(size=size) as page:
        if size == PHONE:
            said = page.driver.execute_script("return navigator.userAgent")
            system = re.sub(r"\(.*?\)", "(Linux; Android 14; K)", said, count=1)
            agent = system.replace("HeadlessChrome", "Chrome").replace(" Safari", " Mobile Safari")
            page.driver.execute_cdp_cmd("Emulation.setUserAgentOverride", {"userAgent": agent})
        yield page


def answer(page: Browser) -> str:
    """The line in view."""
    return page.text(LINE)


def example(page: Browser, served: Served, name: str = "", *, until: str = "Interview") -> None:
    """Open a page on a new draft that has the invented wearer's answers already."""
    page.open(served.page(f"{name}?{example_draft(served)}"), until=until)


def example_draft(served: Served) -> str:
    """A new draft with the invented wearer's answers, made without a browser."""
    with closing(Visitor(served.address)) as visitor:
        visitor.open()
        visitor.press(EXAMPLE)
        visitor.wait(lambda: "h comfortable" in visitor.line(), "an answer")
        return visitor.draft


def drafted(
    served: Served, texts: dict[str, str], *, name: str = "", draft: str = "", then: str = ""
) -> str:
    """Fill the fields of a page without a browser, in a new draft or this one; return the draft.

    `then` is a button pressed after it.
    """
    with closing(Visitor(served.address, name, draft)) as visitor:
        visitor.open()
        visitor.fill(texts)
        if then:
            before = visitor.runs
            visitor.press(then)
            visitor.wait(lambda: visitor.runs > before, f"an answer to {then}")
        assert visitor.faults == []
        return visitor.draft


def wait_answered(page: Browser) -> str:
    """Wait until there is an answer; the line in view then."""
    page.wait_for(lambda: "h comfortable" in answer(page), "an answer")
    page.settle()
    return answer(page)


def keys(page: Browser, *typed: str) -> None:
    """Press keys on whatever has the focus."""
    ActionChains(page.driver).send_keys(*typed).perform()


_MAY_BE = """
const e = document.activeElement, group = e.closest('[role=radiogroup]');
const others = (e.getAttribute('aria-labelledby') || '').split(' ')
  .map(id => document.getElementById(id)?.textContent);
const said = [group?.getAttribute('aria-label'), e.getAttribute('aria-label'), ...others,
  ...[...(e.labels || [])].map(one => one.textContent), e.textContent, e.title, e.placeholder,
  e.alt, e.value];
return said.join('\\n').replace(/\\s+/g, ' ').includes(arguments[0]);
"""
"""Whether what has the focus has these words in anything its name is made of.

The name itself is asked of the accessibility tree, which takes longer than the key.
"""


def tab_to(page: Browser, name: str, *, most: int = 60) -> None:
    """Go on with the Tab key until the field of that name has the focus."""
    for _ in range(most):
        keys(page, Keys.TAB)
        may_be = page.driver.execute_script(_MAY_BE, name.partition(":")[0])
        if may_be and page.focused().startswith(name):
            return
    raise AssertionError(f"{name!r} is not reached by {most} tabs; the focus is {page.focused()!r}")


_FIELD = """
const field = document.querySelector(arguments[0]), shut = 'details:not([open])';
const parts = field ? [field.closest(shut)].filter(Boolean) : [...document.querySelectorAll(shut)];
parts.forEach(one => one.querySelector('summary').click());
return [field, parts.length > 0];
"""
"""A field. The part it stands in is opened, or every part: what is in one may not be drawn yet."""


def box(page: Browser, name: str) -> WebElement:
    """The field of that name, once it is drawn; of two that begin alike the first.

    The folded part it stands in is opened.
    """
    where = f'[data-testid=stMain] input[aria-label^="{name}"]'
    found: list[WebElement] = []

    def drawn() -> bool:
        field, opened = page.driver.execute_script(_FIELD, where)
        if opened:
            page.settle()
        elif field is not None:
            found.append(field)
        return bool(found)

    page.wait_for(drawn, name)
    return found[0]


def unfold(page: Browser, where: str) -> None:
    """Open the folded part in which something stands."""
    while page.driver.execute_script(_FIELD, where)[1]:
        page.settle()


def type_over(page: Browser, name: str, *typed: str) -> None:
    """Press keys in the field of that name in place of all that stands there."""

    def type_in() -> None:
        field = box(page, name)
        field.send_keys(Keys.CONTROL, "a")
        field.send_keys(*typed)

    page.again(type_in, name)


def put(page: Browser, name: str, text: str) -> None:
    """Type in place of what stands there and leave the field."""
    type_over(page, name, text or Keys.DELETE, Keys.TAB)
    page.settle()


def retype(page: Browser, name: str, text: str) -> None:
    """Type in place of what is there and stay in the field; the page answers after a pause."""
    type_over(page, name, text or Keys.DELETE)
    page.settle()


def fill(page: Browser, texts: dict[str, str]) -> None:
    """Type into fields by the beginning of their labels, faster than the page answers.

    Nothing typed may be lost by that.
    """
    for name, text in texts.items():
        type_over(page, name, text, Keys.TAB)
    page.settle()
    assert {name: held(page, name) for name in texts} == texts


_PASTE = """
const [texts, done] = arguments;
(async () => {
  for (const [name, text] of Object.entries(texts))
    await lgPaste(document.querySelector(
      `[data-testid=stMain] input[aria-label^="${name}"]`), text);
  document.activeElement.blur();
  done(true);
})();
"""


def paste(page: Browser, texts: dict[str, str]) -> None:
    """Fill fields as `fill` does, but all before the page answers: for what is not about typing.

    The page answers once, not after each field.
    """
    for name in texts:
        box(page, name)
    page.driver.execute_async_script(_PASTE, texts)
    page.settle()
    assert {name: held(page, name) for name in texts} == texts


def pick(page: Browser, group: str, choice: str) -> None:
    """One of the choices in view."""
    path = (
        f'//*[@role=\'radiogroup\' and @aria-label="{group}"]//label[normalize-space(.)="{choice}"]'
    )
    page.again(lambda: page.driver.find_element(By.XPATH, path).click(), choice)
    page.settle()


def choose(page: Browser, label: str, option: str) -> None:
    """Take one of a list: open it, again where a redraw has closed it, and touch the option."""
    field = f'input[role=combobox][aria-label*="{label}"]'
    path = f"//*[@role='option'][contains(., \"{option}\")]"

    unfold(page, field)
    page.wait_for(lambda: bool(page.driver.find_elements(By.CSS_SELECTOR, field)), label)

    def taken() -> bool:
        options = page.driver.find_elements(By.XPATH, path)
        if options:
            options[0].click()
            return True
        page.driver.execute_script(
            "const e = document.querySelector(arguments[0]);"
            "e.scrollIntoView({block: 'center'}); e.focus()",
            field,
        )
        page.driver.find_element(By.CSS_SELECTOR, field).send_keys(Keys.ARROW_DOWN)
        page.settle()
        return False

    page.wait_for(taken, f"{option!r} in the list {label!r}")
    page.settle()


def held(page: Browser, name: str) -> str:
    """What stands in a field."""
    ask = page.driver.execute_script
    return str(page.again(lambda: ask("return arguments[0].value", box(page, name)), name))


def holds(page: Browser, **texts: str) -> None:
    """Wait until fields (spaces as underscores) hold these texts."""
    for name, text in texts.items():
        label = name.replace("_", " ")
        page.wait_for(lambda label=label, text=text: held(page, label) == text, f"{label} {text}")


_LINKS = """
return [...document.querySelectorAll(`[data-testid=${arguments[0]}]`)].map(one => {
  const r = one.getBoundingClientRect();
  const seen = one.checkVisibility({opacityProperty: true, visibilityProperty: true})
    && r.width && r.height && r.right > 0 && r.left < innerWidth;
  return [seen ? one.innerText.trim() : '', one];
}).filter(([said]) => said);
"""
"""One look at all links: whether each is seen, asked of it, takes a quarter of a second."""


def shown_links(page: Browser, test_id: str) -> dict[str, WebElement]:
    """The links of the navigation that can be seen, by their words."""
    return dict(page.driver.execute_script(_LINKS, test_id))


def turn_to(page: Browser, title: str, *, until: str) -> None:
    """Follow the navigation: along the top, or in the menu of a narrow window."""
    page.settle()

    def navigation() -> bool:
        return bool(shown_links(page, "stTopNavLink") or page.driver.find_elements(*menu))

    menu = (By.CSS_SELECTOR, MENU)
    page.wait_for(navigation, "the navigation")
    narrow = not shown_links(page, "stTopNavLink")
    if narrow:
        page.again(lambda: page.driver.find_element(*menu).click(), "the menu")
        page.wait_for(lambda: title in shown_links(page, "stSidebarNavLink"), "the menu")
    where = "stSidebarNavLink" if narrow else "stTopNavLink"
    page.again(lambda: shown_links(page, where)[title].click(), title)
    page.wait_for_text(title, selector="[data-testid=stMain] h1")
    page.wait_for_text(until)
    if narrow:
        page.wait_for(lambda: not shown_links(page, "stSidebarNavLink"), "a menu that shuts")
    page.settle()


def press(page: Browser, words: str, *, seconds: float = WAIT_S) -> None:
    """Press the button that says so; where there is none, open or shut the part that does."""

    def found() -> list[WebElement]:
        for kind in ("button", "summary"):
            path = f"//*[@data-testid='stMain']//{kind}[contains(., \"{words}\")]"
            if elements := page.driver.find_elements(By.XPATH, path):
                return elements
        return []

    def click() -> None:
        button = found()[0]
        page.driver.execute_script("arguments[0].scrollIntoView({block: 'center'})", button)
        button.click()

    page.wait_for(lambda: bool(found()), words)
    page.again(click, words)
    page.settle(seconds=seconds)


def saved_file(page: Browser, words: str, folder: Path) -> Path:
    """The file a download button gives, whole."""
    before = set(folder.iterdir())
    page.downloads_to(folder)
    press(page, words)

    def new() -> list[Path]:
        return [
            one
            for one in set(folder.iterdir()) - before
            if one.suffix in (".html", ".json", ".csv", ".pdf")
        ]

    page.wait_for(lambda: bool(new()), f"the file of {words!r}")
    return new()[0]


def printed(page: Browser, sheet: Path) -> str:
    """What is on a sheet, in words; it prints on one page of A4, is clean and asks for nothing."""
    page.driver.get(sheet.as_uri())
    assert pages_of(page, paperWidth=8.27, paperHeight=11.69) == 1
    assert page.axe() == []
    assert "http" not in re.sub(r'xmlns="[^"]*"', "", sheet.read_text(encoding="utf-8"))
    return as_read(page.text("main"))


def typed_in_address(page: Browser, *texts: str) -> list[str]:
    """Which of these texts stand in the address; the draft's name is random and left out."""
    address = re.sub(r"draft=[\w-]+", "", page.place)
    return [text for text in texts if text in address]


def pages_of(page: Browser, **paper: object) -> int:
    """Return how many pages of paper the window's page prints on."""
    printed = page.driver.execute_cdp_cmd("Page.printToPDF", {"generateTaggedPDF": True, **paper})
    return len(re.findall(rb"/Type\s*/Page\b(?!s)", base64.b64decode(printed["data"])))


def cut_labels(page: Browser) -> list[str]:
    """Return the labels of buttons that are cut off at the end."""
    return list(
        page.driver.execute_script(
            "return [...document.querySelectorAll('[data-testid=stMain] button')].filter(b =>"
            " [...b.querySelectorAll('*')].some(e => e.scrollWidth > e.clientWidth + 1"
            " && e.clientWidth > 2 && getComputedStyle(e).overflowX !== 'visible'))"
            ".map(b => b.innerText)"
        )
    )


def sideways(page: Browser) -> int:
    """Return how far the page runs off the side, in pixels; 0 or less where it fits."""
    return int(
        page.driver.execute_script(
            "const m = document.querySelector('[data-testid=stMain]');"
            "const d = document.documentElement;"
            "return Math.max(m.scrollWidth - m.clientWidth, d.scrollWidth - innerWidth)"
        )
    )


def open_folds(page: Browser) -> None:
    """Open whatever is folded, so that nothing is passed over."""
    page.driver.execute_script(
        "document.querySelectorAll('details:not([open]) > summary').forEach(one => one.click())"
    )
    page.settle()


def ours(found: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Without the one minor finding in the page library's own uploader."""
    return [
        rule
        for rule in found
        if rule["id"] != "presentation-role-conflict"
        or not all("stFileUploaderDropzone" in node for node in rule["nodes"])
    ]


def upload(page: Browser, path: Path, content: bytes | None = None) -> None:
    """Give the uploader a file, written first where its content is given."""
    if content is not None:
        path.write_bytes(content)
    where = "input[type=file]"
    page.wait_for(lambda: bool(page.driver.find_elements(By.CSS_SELECTOR, where)), "an uploader")
    page.again(
        lambda: page.driver.find_element(By.CSS_SELECTOR, where).send_keys(str(path)), "an uploader"
    )
    page.settle()


def in_the_window(page: Browser, selector: str) -> bool:
    """True when the first such element is wholly inside the window, sideways."""
    return bool(
        page.driver.execute_script(
            "const r = document.querySelector(arguments[0]).getBoundingClientRect();"
            "return r.left >= 0 && r.right <= innerWidth",
            selector,
        )
    )
