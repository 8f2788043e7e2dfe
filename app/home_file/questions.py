"""Write the fields of each question as HTML; the script shows them, fills them and reads them.

The id of a field is the name under which the script keeps it: "s0.distance", "flags.eye_injury".
A part with `data-if` is shown while that name is met: a thing looked at, "parts" for glasses with
parts, "own0" for a first screen that is no laptop, an age, a warning sign.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from html import escape

from app.home_file import pictures
from engine import tables
from engine.answer import cautions
from engine.case.results import Told
from engine.home.answers import SCREEN_NAMES, STEPS, choices
from engine.home.numbers import number
from engine.wording import fill, length

CARD_PX = (130, 204, 420)
"""Least, usual and most width of the bar to match to a bank card; 204 is true at 96 to the inch."""


def templates() -> str:
    """Return the fields of all questions, and what else does not change, each in a template."""
    asked = {f"ask-{step}": "".join(_OF_STEP[step]()) for step in STEPS}
    return "\n".join(
        f'<template id="{name}">{inner}</template>'
        for name, inner in (asked | {"stop": _stop(), "bring": _bring()}).items()
    )


def _stop() -> str:
    """Return where to go and how fast; of each warning sign what is said while it is ticked."""
    signs = (_if(flag, f"<p>{escape(wearer_text(flag))}</p>") for flag in choices("flags"))
    return (
        f'<h2 id="title" tabindex="-1">{say("stop_title")}</h2>'
        f'<div class="stop" role="alert">{"".join(signs)}<p>{say("stop_past")}</p></div>'
    )


def _bring() -> str:
    return (
        f'<p>{say("code_says")}</p><label for="packed">{say("code_text")}</label>'
        '<textarea id="packed" readonly rows="3"></textarea>'
    )


def wearer_text(identity: str) -> str:
    """Return what is said to a wearer of a condition."""
    return cautions.wearer_text(Told(id=identity, text=""))


def say(identity: str, **values: object) -> str:
    """Return a sentence of home_texts.csv with its values, as HTML."""
    return escape(fill("home_texts", identity, **values))


def _if(name: str, *inner: str) -> str:
    return f'<div data-if="{name}" hidden>{"".join(inner)}</div>'


def _text(name: str, words: str) -> str:
    return (
        f'<div class="field"><label for="{name}">{words}</label><input id="{name}" type="text" '
        f'inputmode="decimal" autocomplete="off" maxlength="20" aria-describedby="{name}-note">'
        f'<p id="{name}-note"></p></div>'
    )


def _choice(kind: str, name: str, identity: str, words: str, more: str = "") -> str:
    named = f' name="{name}"' if name else ""
    return (
        f'<label class="choice"><input type="{kind}" id="{identity}"{named}{more}>'
        f"{escape(words)}</label>"
    )


def _one(name: str, words: str, options: Mapping[str, str], begin: str = "") -> str:
    """Return one of some; nothing is chosen to begin with unless `begin` is."""
    return _group(
        words,
        (
            _choice("radio", name, f"{name}.{one}", label,
                    f' value="{one}"{" checked" if one == begin else ""}')
            for one, label in options.items()
        ),
    )  # fmt: skip


def _group(words: str, fields: Iterable[str], named_aside: bool = False) -> str:
    kind, legend = ("", ' class="aside"') if named_aside else (' class="field"', "")
    return f"<fieldset{kind}><legend{legend}>{words}</legend>{''.join(fields)}</fieldset>"


def _alone(question: str, kind: str = "checkbox") -> str:
    """Return the choices of a question whose title says what they are; its name is for the ear."""
    return _group(
        escape(tables.by_id("home_questions")[question]["title"]),
        (
            _choice(kind, question if kind == "radio" else "", f"{question}.{one}", label,
                    f' value="{one}"')
            for one, label in choices(question).items()
        ),
        named_aside=True,
    )  # fmt: skip


def _screens(make: Callable[[int, str], Iterable[str]]) -> Iterable[str]:
    for at, name in enumerate(SCREEN_NAMES):
        yield _if(name, *make(at, name))


def _flags() -> Iterable[str]:
    yield _alone("flags")
    yield _choice("checkbox", "", "flags.none", tables.by_id("home_texts")["none_of_these"]["text"])


def _age() -> Iterable[str]:
    yield _alone("age", "radio")
    young = _if("under_40", f'<p class="doubt">{say("young")}</p>')
    yield f'<div role="status">{young}</div>'


def _coping() -> Iterable[str]:
    yield _alone("coping")
    yield _if("parts", _one("lens_part", say("lens_part"), choices("lens_part")))


def _which_screens() -> Iterable[str]:
    counts = {str(count): str(count) for count in range(1, len(SCREEN_NAMES) + 1)}
    yield _one("count", say("how_many"), counts, "1")

    def of_one(at: int, screen: str) -> Iterable[str]:
        yield '<div class="screen">'
        yield _one(f"s{at}.form", say("form", screen=screen), choices("form"), "screen")
        yield _text(f"s{at}.size", say("size", screen=screen))
        shape = _one(f"s{at}.shape", say("shape", screen=screen), choices("shape"), "usual")
        yield _if(f"own{at}", shape)
        if at:
            yield _one(f"s{at}.side", say("side", screen=screen), choices("side"), "left")
        words = fill("home_texts", "fixed", screen=screen)
        yield f"{_choice('checkbox', '', f's{at}.fixed', words)}</div>"

    yield from _screens(of_one)


def _unit() -> str:
    return _one("unit", say("unit"), choices("unit"), "cm")


def _no_tape() -> str:
    least, usual, most = CARD_PX
    paper = {"a4": number("a4_long_cm"), "letter": number("letter_long_cm")}
    sheets = say("paper", **{name: length(cm) for name, cm in paper.items()})
    return (
        f"<details><summary>{say('no_tape')}</summary><p>{sheets}</p><p>{say('card')}</p>"
        f'<label for="card">{say("card_bar")}</label><input id="card" type="range" min="{least}" '
        f'max="{most}" value="{usual}"><div class="scroll" tabindex="0" role="region" '
        f'aria-label="{say("card_bar")}" id="ruler"></div></details>'
    )


def _distances() -> Iterable[str]:
    yield f'<div class="picture">{pictures.measuring_distance()}</div>{_unit()}{_no_tape()}'
    yield from _screens(
        lambda at, screen: (
            _text(f"s{at}.distance", say("distance", screen=screen)),
            _one(f"s{at}.reach", say("reach", screen=screen), choices("reach")),
        )
    )


def _heights() -> Iterable[str]:
    yield f'<div class="picture">{pictures.measuring_height()}</div>{_unit()}{_no_tape()}'
    yield _text("eyes", say("eyes"))
    yield from _screens(lambda at, screen: (_text(f"s{at}.top", say("top", screen=screen)),))


def _reading() -> Iterable[str]:
    for what, label in choices("reading").items():
        yield _choice("checkbox", "", f"reading.{what}", label)
        yield _if(what, _text(f"page.{what}", say("page", thing=what)))
    yield _unit()


def _hours() -> Iterable[str]:
    for name, thing in choices("thing").items():
        yield _if(name, _text(f"hours.{name}", say("hours", thing=thing)))


def _boxes(question: str) -> Callable[[], Iterable[str]]:
    return lambda: [_alone(question)]


_OF_STEP: dict[str, Callable[[], Iterable[str]]] = {
    "flags": _flags,
    "age": _age,
    "glasses": lambda: [_alone("glasses", "radio")],
    "coping": _coping,
    "screens": _which_screens,
    "distances": _distances,
    "heights": _heights,
    "reading": _reading,
    "hours": _hours,
    **{one: _boxes(one) for one in ("others", "needs", "bothers", "tell")},
}
