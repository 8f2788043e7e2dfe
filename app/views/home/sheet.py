"""The sheets of the home check, one self-contained HTML file each: to bring along, and a tape.

Both print on one A4 page. They hold only what the wearer answered and what the check says in
plain sentences.
"""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from app.shell import theme
from app.views.home.pictures import ruler
from engine.home.answers import HomeAnswers, choices
from engine.home.check import HomeResult
from engine.home.findings import Fact

TITLE = "My desk: numbers for my visit"
STRIP_CM = 25
STRIPS = 4
MOST_ASKED = 8
MOST_FIRST = 4
"""More things to tell first than this stand as ticked only, so that the sheet is one page."""
_STYLE = f"""
@page {{ size: A4 portrait; margin: 8mm; }}
@page tape {{ size: A4 landscape; margin: 12mm; }}
body {{ font: 9pt/1.19 'Source Sans', system-ui, sans-serif; color: {theme.INK};
  max-width: 19cm; margin: 0 auto; padding: 0.3cm; background: {theme.PAPER}; }}
body.tape {{ page: tape; max-width: 27cm; }}
h1 {{ font: 600 15pt/1.2 'Source Serif', Georgia, serif; margin: 0 0 0.1cm;
  border-left: 6px solid {theme.ACCENT}; padding-left: 0.25cm; }}
h2 {{ font: 600 10.5pt/1.2 'Source Serif', Georgia, serif; margin: 0.15cm 0 0.02cm; }}
p, ul, ol {{ margin: 0.03cm 0; }} ul, ol {{ padding-left: 0.5cm; }}
.say {{ border-left: 4px solid {theme.ACCENT}; padding-left: 0.25cm; font-weight: 600; }}
.columns {{ display: grid; grid-template-columns: 1.15fr 1fr; gap: 0 0.6cm; }}
table {{ border-collapse: collapse; width: 100%; font-size: 8.5pt; }}
th, td {{ text-align: left; vertical-align: top; padding: 0.02cm 0.15cm 0.02cm 0;
  border-bottom: 1px solid #c9ccd0; font-weight: 400; }}
.small {{ font-size: 7.5pt; }}
.ruler {{ display: block; margin: 0.1cm 0; }}
.strip {{ margin: 0.2cm 0 0.5cm; }}
@media print {{ body {{ padding: 0; }} }}
@media (max-width: 640px) {{ .columns {{ grid-template-columns: 1fr; }}
  .scroll {{ overflow-x: auto; }} }}
"""
_BARE = ("bare_far", "bare_near", "contacts", "unknown")


def visit_sheet(answers: HomeAnswers, result: HomeResult) -> str:
    """The page to bring along. With a warning sign it says only where to go."""
    if result.stops:
        body = _list(result.stops)
        return _page(TITLE, f'<h1>{TITLE}</h1><div class="say">{body}</div>')
    left = [*_found(result)]
    right = [
        "<h2>What I wear and do</h2>",
        _list(_about(answers)),
        "<h2>What I want to ask</h2>",
        _list(result.ask[:MOST_ASKED]),
    ]
    body = [
        f"<h1>{TITLE}</h1>",
        f'<p class="say">{escape(result.headline)}</p>',
        _list(result.first if len(result.first) <= MOST_FIRST else ()),
        f'<h2>My desk</h2><div class="scroll" tabindex="0" role="region" aria-label="My desk">'
        f"{desk_table(result.facts)}</div>",
        f'<div class="columns"><div>{"".join(left)}</div><div>{"".join(right)}</div></div>',
        "<h2>What this check cannot see</h2>",
        f'<p class="small">{escape(" ".join(result.unseen))}</p>',
        '<h2>Ruler</h2><p class="small">Print at full size (100 %). Lay a bank card on the ruler '
        "from 0. If it does not end at the mark, the print is not true.</p>",
        '<div class="scroll" tabindex="0" role="region" aria-label="Ruler">'
        f"{ruler(length_cm=17)}</div>",
    ]
    return _page(TITLE, "".join(body))


def paper_tape() -> str:
    """A tape of a metre to print, cut and glue, with the bank card check on its first strip."""
    strips = [
        f'<div class="strip scroll" tabindex="0" role="region" aria-label="Strip {at + 1}">'
        f"{ruler(length_cm=STRIP_CM, first_cm=at * STRIP_CM, name=f'strip-{at}')}</div>"
        for at in range(STRIPS)
    ]
    steps = (
        "Print this page at full size (100 %), on its side.",
        "Lay a bank card on the first strip, from 0. It must end at the mark. If it does not, "
        "print again.",
        "Cut out the strips. Glue each one to the end of the one before, so that the same number "
        "lies on top of itself.",
    )
    body = f"<h1>A paper tape</h1><ol>{_items(steps)}</ol>{''.join(strips)}"
    return _page("A paper tape", body, kind="tape")


def _about(answers: HomeAnswers) -> Iterable[str]:
    """Age band, glasses, habits and complaints, as they were ticked."""
    if answers.age:
        yield f"Age: {choices('age')[answers.age]}"
    if answers.glasses:
        yield f"At the screen: {choices('glasses')[answers.glasses]}"
    if answers.lens_part and answers.glasses not in _BARE:
        yield f"Part of the lens I use: {choices('lens_part')[answers.lens_part].lower()}"
    for heading, question in (
        ("What I do", "coping"),
        ("What bothers me", "bothers"),
        ("Good to know", "tell"),
        ("In the same glasses", "needs"),
    ):
        told = [choices(question)[one] for one in getattr(answers, question) or ()]
        if told:
            yield f"{heading}: {'; '.join(told)}"


def _found(result: HomeResult) -> Iterable[str]:
    screens = [posture for posture in result.postures if posture.target.endswith("screen")]
    found = [" ".join(posture.says) for posture in (screens or result.postures)[:2]]
    if found or result.habits:
        yield "<h2>What the check worked out</h2>"
        yield f'<p class="small">{escape(result.postures_lead)}</p>' if found else ""
        yield _list([*found, *result.habits])
    if result.move:
        yield "<h2>Moving the screen</h2>" + _list([" ".join(result.move)])
    if result.kinds:
        yield "<h2>Kinds of lens worth asking about</h2>"
        yield f"<p>{escape(result.now_says)}</p>" if result.now_says else ""
        yield _list(
            f"{kind.name[:1].upper()}{kind.name[1:]}. {' '.join(kind.says)}"
            for kind in result.kinds
        )
    if result.kinds_say:
        yield f"<p>{escape(' '.join(result.kinds_say))}</p>"
    if result.doubts:
        yield "<h2>To measure again</h2>" + _list(result.doubts)


_HEADS = ("", "From my nose", "Top edge", "Size", "Hours a day")


def desk_table(facts: Iterable[Fact]) -> str:
    """The numbers of each thing looked at; what was not measured is slanted."""
    head = "".join(f'<th scope="col">{name}</th>' for name in _HEADS)
    rows = "".join(
        f'<tr><th scope="row">{escape(fact.what)}</th>'
        f"<td>{_cell(fact.distance, fact.measured)}</td>"
        f"<td>{_cell(fact.top_edge, fact.height_measured)}</td><td>{escape(fact.size)}</td>"
        f"<td>{escape(fact.hours)}</td></tr>"
        for fact in facts
    )
    return (
        f'<table class="lg-table"><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>'
        '<p class="small"><i>Slanted: not measured, a usual value.</i></p>'
    )


def _cell(value: str, measured: bool) -> str:
    return escape(value) if measured else f"<i>{escape(value)}</i>"


def _list(lines: Iterable[str]) -> str:
    items = _items(lines)
    return f"<ul>{items}</ul>" if items else ""


def _items(lines: Iterable[str]) -> str:
    return "".join(f"<li>{escape(one)}</li>" for one in lines)


def _page(title: str, body: str, *, kind: str = "visit") -> str:
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{escape(title)}</title><style>{_STYLE}</style></head>"
        f'<body class="{kind}"><main>{body}</main></body></html>'
    )
