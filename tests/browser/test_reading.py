"""The result of the home check reads easily, whatever was answered: all its words, in a browser."""

from __future__ import annotations

import random
from pathlib import Path

from app.home_file.build import home_file
from tests.browser.harness import browser
from tests.browser.test_home_file import PRESS
from tests.home_sessions import random_session
from tests.home_visits import NOTHING_MEASURED, READER, TWO_SCREENS, as_asked, presses
from tests.reading import blocks_of, hard_words_in
from tests.test_reading import flaws_of

VISITS = 80
RESULTS = f"""{PRESS}
return arguments[0].map((steps) => {{
  el('delete').click();
  press(steps);
  const main = document.getElementById('check').cloneNode(true);
  main.querySelectorAll('svg, textarea').forEach((one) => one.remove());
  return main.outerHTML;
}});
"""


def test_every_result_reads_easily(tmp_path: Path) -> None:
    chance = random.Random(20261130)
    told = [READER, TWO_SCREENS, NOTHING_MEASURED]
    told += [as_asked(random_session(chance)) for _ in range(VISITS)]
    path = tmp_path / "home-check.html"
    path.write_text(home_file(), encoding="utf-8")
    with browser() as page:
        page.driver.get(path.as_uri())
        page.wait_for(lambda: page.driver.execute_script("return Hours.ready"), "the hours")
        made = page.driver.execute_script(RESULTS, [presses(one) for one in told])
    flaws: set[str] = set()
    for html in made:
        blocks = blocks_of(html)
        assert len(blocks) > 30
        flaws |= {*flaws_of(blocks), *hard_words_in(blocks)}
    assert flaws == set()
