"""The home check without a browser: five invented people reach a result that orders nothing."""

from __future__ import annotations

import html
import re
from dataclasses import dataclass, field

import pytest
from streamlit.testing.v1 import AppTest

from app.views.home import answer as home_answer
from app.views.home import words as home_words
from engine.case.read import build_case
from engine.home.answers import STEPS
from engine.home.case import case_from_visit_file, read_visit_file
from tests.home_detector import orders_in, stray_numbers_in, words_of
from tests.home_people import PEOPLE, Person, visit
from tests.test_app_order import opened, whole

RESULT = "result"
DRAWN = ("markdown", "title", "header", "subheader", "caption", "html", "expander")
NAMED = ("button", "download_button", "checkbox", "radio", "text_input")


pytestmark = pytest.mark.usefixtures("own_drafts")


@dataclass
class Given:
    """The sheet and the file behind the buttons of the result, as last offered."""

    sheet: str = ""
    file: str = ""


@dataclass
class AtTheForm:
    """The hands of a visitor without a browser."""

    page: AppTest
    questions: list[str] = field(default_factory=list)

    def click(self, label: str) -> None:
        """Press the button, or turn the box or the choice whose words begin so."""
        for button in self.page.button:
            if button.label.startswith(label):
                button.click()
                break
        else:
            self._choose(label)
        whole(self.page.run())

    def _choose(self, label: str) -> None:
        for box in self.page.checkbox:
            if box.label.startswith(label):
                box.set_value(not box.value)
                return
        for group in self.page.radio:
            for option in group.options:
                if option.startswith(label):
                    group.set_value(option)
                    return
        raise AssertionError(f"{label!r} is not on the page")

    def type_in(self, label: str, text: str) -> None:
        """Put a text into the field whose label begins so."""
        found = [one for one in self.page.text_input if one.label.startswith(label)]
        found[0].set_value(text)
        whole(self.page.run())

    def asked(self, step: str) -> None:
        """Make sure that the question is shown, by the address the page has written."""
        shown = self.page.query_params["step"]
        assert (shown[0] if isinstance(shown, list) else shown) == step
        self.questions.append(step)


@pytest.fixture
def given(monkeypatch: pytest.MonkeyPatch) -> Given:
    """What the page makes for its two downloads."""
    kept = Given()
    sheet, file = home_answer.visit_sheet, home_answer.visit_file

    def keep_sheet(*content):
        kept.sheet = sheet(*content)
        return kept.sheet

    def keep_file(*content):
        kept.file = file(*content)
        return kept.file

    monkeypatch.setattr(home_answer, "visit_sheet", keep_sheet)
    monkeypatch.setattr(home_answer, "visit_file", keep_file)
    return kept


def pieces(page: AppTest) -> str:
    """Everything the page says, marked up as it is: texts, headings, labels and choices."""
    drawn = [one for kind in DRAWN for one in page.get(kind)]
    named = [one for kind in NAMED for one in page.get(kind)]
    said = [getattr(one, "value", None) or getattr(one, "label", "") for one in drawn]
    said += [getattr(one, "label", None) or one.proto.label for one in named]
    said += [option for group in page.radio for option in group.options]
    return re.sub(r"<style>.*?</style>|<script>.*?</script>", " ", "\n".join(said), flags=re.DOTALL)


def plain(said: str) -> str:
    """The words alone, those in pictures included."""
    return html.unescape(re.sub(r"<[^>]+>", " ", said))


@pytest.mark.parametrize("person", PEOPLE, ids=lambda person: person.name)
def test_five_people_reach_a_result_that_orders_nothing(person: Person, given: Given) -> None:
    page = opened({}, view="home")
    hands = AtTheForm(page)
    visit(hands, person)
    assert set(hands.questions) == {*STEPS, RESULT}
    said = pieces(page)
    assert home_words.HEADINGS["unseen"] in said
    assert {one.proto.label for one in page.get("download_button")} == {
        home_words.SHEET,
        home_words.FILE,
    }
    for text in (plain(said), words_of(given.sheet), given.file):
        assert orders_in(text) == []
    assert stray_numbers_in(words_of(said)) == ""
    assert stray_numbers_in(words_of(given.sheet)) == ""
    case = build_case(case_from_visit_file(given.file))
    assert len(case.targets) == len(read_visit_file(given.file).things)
    if person.distances:
        assert case.origin["/targets/0/distance_cm"] == "at_home"
