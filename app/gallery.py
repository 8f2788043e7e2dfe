"""Write `app/gallery.html`: the eight invented wearers, each with its answer, day and picture.

`python -m app.gallery` writes it anew, after a change of answers or of pictures.
"""

from __future__ import annotations

from html import escape
from pathlib import Path

from app.draw import charts, result_words
from app.form.compute import Answer
from app.form.paper import page
from app.shell import theme
from app.views.interview import rows
from app.views.interview.picture import pair_of_views, today_of
from engine import examples
from engine.assemble import advise
from engine.case.model import Case
from engine.case.read import read_case
from engine.case.results import Result
from engine.wording import capital, hours, say

PAGE = Path(__file__).with_name("gallery.html")
LEAD = say("gallery_lead")
_STYLE = f"""
body {{ font: 16px/1.45 'Source Sans', system-ui, sans-serif; color: {theme.INK};
  background: {theme.PAPER}; max-width: 68rem; margin: 0 auto; padding: 0.5rem 1rem 3rem; }}
h1, h2 {{ font-family: 'Source Serif', Georgia, serif; line-height: 1.2; }}
h2 {{ margin: 2.5rem 0 0.3rem; border-top: 1px solid {theme.RULE}; padding-top: 1rem; }}
code {{ overflow-wrap: anywhere; }}
.say {{ border-left: 6px solid {theme.ACCENT}; padding-left: 0.7rem; margin: 0.7rem 0; }}
.say b {{ font-size: 1.2rem; }}
.lg-pair {{ display: grid; grid-template-columns: repeat(auto-fit, minmax(min(100%, 20rem), 1fr));
  gap: 1rem; }}
svg {{ max-width: 100%; height: auto; }}
table {{ border-collapse: collapse; width: 100%; }}
th, td {{ text-align: left; font-weight: 400; padding: 0.15rem 0.6rem 0.15rem 0; }}
td:last-child {{ white-space: nowrap; }}
.chosen th {{ font-weight: 600; }}
.lg-key {{ display: flex; flex-wrap: wrap; gap: 0.2rem 1.2rem; list-style: none; padding: 0; }}
.lg-key svg {{ vertical-align: middle; margin-right: 0.3rem; }}
@media (max-width: 640px) {{ td:nth-child(2) {{ display: none; }} }}
"""


def gallery() -> str:
    """Return the whole page; eight answers are computed."""
    parts = [_wearer(name) for name in examples.names()]
    heading = f"<h1>Eight invented wearers</h1>\n<p>{LEAD}</p>\n{charts.key()}"
    body = "\n".join([heading, *parts])
    return page("Levelgaze: eight invented wearers", body, style=_STYLE) + "\n"


def _wearer(name: str) -> str:
    case = read_case(examples.path_of(name))
    result = advise(case)
    line = result_words.recommendation_line(case, result)
    said = "" if line.comfortable_h is None else f"{hours(line.comfortable_h)} of "
    counts = f"; {line.counts}" if line.counts else ""
    return "\n".join(
        (
            f"<section><h2>{escape(_title(name))}</h2>",
            f"<p>{escape(_told(case))} <code>levelgaze example {name}</code></p>",
            f'<p class="say"><b>{escape(line.says)}</b><br>{said}{hours(case.day_h)} h '
            f"comfortable. {escape(capital(line.verdict) + counts)}.</p>",
            _days(case, result, name),
            _picture(case, result),
            "</section>",
        )
    )


def _title(name: str) -> str:
    return capital(name.replace("_", " ").replace("27in", "27 inch").replace("24in", "24 inch"))


def _told(case: Case) -> str:
    """Return the wearer and the desk in a sentence each."""
    add_d = case.wearer.add_d
    add = "" if add_d is None else f", add {add_d:+.2f}"
    looks = ", ".join(f"{target.name} at {target.distance_cm:g} cm" for target in case.targets)
    return f"{case.wearer.age_years:.0f} years{add}. {capital(looks)}."


def _days(case: Case, result: Result, name: str) -> str:
    found = rows.first_look(case, result)
    chosen = "" if result.chosen is None else result.chosen.plan
    body = "".join(
        f'<tr{" class=chosen" if bar.chosen else ""}><th scope="row">'
        f"{escape(capital(bar.label))}</th>"
        f"<td>{charts.strip(bar, name=f'{name}{at}')}</td>"
        f"<td>{hours(bar.hours.comfortable_h)} h</td></tr>"
        for at, bar in enumerate(rows.bars(found, chosen=chosen))
    )
    return f"<table><tbody>{body}</tbody></table>"


def _picture(case: Case, result: Result) -> str:
    """Return the first thing looked at through the lens put first, beside the pair worn today."""
    if result.chosen is None:
        return ""
    row = rows.plan_row(result.chosen, case, result)
    looked_at = case.targets[0].name
    option = row.seen_through(looked_at, case)
    return pair_of_views(case, option, looked_at, today=today_of(Answer(case, result), option))


if __name__ == "__main__":
    PAGE.write_text(gallery(), encoding="utf-8")
