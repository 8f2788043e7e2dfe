"""Back, Forward, reload in mid-form, and two tabs: nothing typed is lost or mixed up."""

from __future__ import annotations

from tests.browser import walk
from tests.browser.harness import PHONE, Browser, Served
from tests.browser.walk import LINE, fill, held, holds, open_folds, put, turn_to

HEADINGS = {
    "Interview": "The day through each lens",
    "Desk": "Measure the nearest",
    "Order": "Not complete",
    "Collection": "Focimeter and marks",
    "Kept cases": "On this computer",
    "Home check": "The wearer fills in this file",
    "Team": "Who is in the team",
    "Evidence": "What the model leaves out",
}


def begun(page: Browser, served: Served) -> str:
    """Three answers, the last of them typed here, and the line they come to."""
    draft = walk.drafted(served, {"Age": "56", "Add, or the whole": "2.25"})
    page.open(served.page(f"?{draft}"), until=HEADINGS["Interview"])
    fill(page, {"Distance": "71"})
    return walk.wait_answered(page)


def test_back_and_forward_through_every_page_by_the_menu_of_a_phone(served: Served) -> None:
    with walk.window(PHONE) as page:
        said = begun(page, served)
        titles, names = list(HEADINGS), {"Interview": _name(page)}
        for title in titles[1:]:
            turn_to(page, title, until=HEADINGS[title])
            names[title] = _name(page)
        assert len(set(names.values())) == len(HEADINGS)
        for title in reversed(titles[:-1]):
            _back_to(page, names[title], heading=HEADINGS[title])
        assert page.text(LINE) == said
        holds(page, Age="56", Distance="71")
        page.driver.forward()
        page.wait_for_text(HEADINGS["Desk"])
        assert "add" not in page.place
        page.driver.back()
        page.wait_for_text(HEADINGS["Interview"])
        holds(page, Age="56", Distance="71")


def _name(page: Browser) -> str:
    """The page's name in its address."""
    return page.place.split("?")[0]


def _back_to(page: Browser, name: str, *, heading: str) -> None:
    """Go back until a page is shown: an address written by the page is a step too."""
    for _ in range(MOST_BACK):
        before = page.driver.execute_script("return lgPopped")
        page.driver.back()
        page.wait_for(
            lambda before=before: page.driver.execute_script("return lgPopped") != before, "a step"
        )
        if _name(page) == name:
            page.wait_for_text(heading)
            page.settle()
            return
        page.settle()
    raise AssertionError(f"{MOST_BACK} steps back do not lead to {name}: {page.text()}")


MOST_BACK = 4
"""Presses of Back from one page to the one before it, where a page writes its own address."""
FORMS = {
    "Interview": ("Hours a day", "5"),
    "Desk": ("Trial added power", "1.5"),
    "Order": ("Refractive index", "1.6"),
    "Team": ("50 to 54, at a monitor", "24"),
}
"""A field in view, one in a folded part, of an order and of the team, and what is typed there."""


def test_a_reload_in_the_middle_of_a_form_keeps_what_was_typed(
    served: Served, shared: Browser
) -> None:
    page = shared
    begun(page, served)
    for title, (name, text) in FORMS.items():
        if title != "Interview":
            turn_to(page, title, until=HEADINGS[title])
        if title == "Desk":
            open_folds(page)
        put(page, name, text)
        said = walk.wait_answered(page) if title == "Interview" else ""
        page.driver.refresh()
        page.wait_for_text(HEADINGS[title])
        page.wait_for(page.idle, "an idle page")
        if title == "Desk":
            open_folds(page)
        page.wait_for(lambda n=name, t=text: held(page, n) == t, f"{name} {text} again")
        if said:
            page.wait_for(lambda said=said: page.text(LINE) == said, "the same answer")
        assert walk.typed_in_address(page, text, "2.25") == []


def test_two_tabs_of_two_wearers_are_not_mixed(served: Served, shared: Browser) -> None:
    page = shared
    said = begun(page, served)
    first, address = page.driver.current_window_handle, page.driver.current_url
    page.new_window("tab")
    page.enter(served, until="Type the age and the add")
    assert held(page, "Age") == ""
    put(page, "Age", "47")
    page.wait_for(lambda: "Type the add" in page.text(LINE), "word on the other wearer")
    assert page.text(LINE) != said
    assert page.driver.current_url != address
    page.driver.switch_to.window(first)
    put(page, "Hours a day", "7")
    page.wait_for(lambda: "of 7 h comfortable" in page.text(LINE), "seven hours")
    holds(page, Age="56", Distance="71")
