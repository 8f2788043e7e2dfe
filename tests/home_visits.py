"""Visits to the home check as presses: what is clicked and typed, one after another.

A press is the id of an element, and what is typed into it; None is a click.
"""

from __future__ import annotations

import json
from typing import Any

from engine.home.answers import STEPS, HomeAnswers, answers_from, choices, have_parts
from engine.home.case import VISIT_FILE, VISIT_VERSION

Press = tuple[str, str | None]
MEASURED = ("distances", "heights", "hours")
"""Questions that may be passed over."""


def visit_file(answers: HomeAnswers) -> str:
    """The file that the home check saves: the answers as JSON, nothing else."""
    content = {
        "file": VISIT_FILE,
        "version": VISIT_VERSION,
        "answers": answers.model_dump(mode="json", exclude_none=True),
    }
    return json.dumps(content, indent=1, ensure_ascii=False, sort_keys=True) + "\n"


def as_asked(answers: HomeAnswers) -> HomeAnswers:
    """Return the answers as the page takes them: what it never leaves open is filled in."""
    content = answers.model_dump(exclude_none=True)
    content["glasses"] = answers.glasses or "unknown"
    if not have_parts(content["glasses"]):
        content.pop("lens_part", None)
    for many in ("coping", "others", "needs", "bothers", "tell", "reading"):
        content.setdefault(many, [])
    order = list(choices("reading"))
    content["reading"] = sorted(content["reading"], key=lambda one: order.index(one["what"]))
    for screen in content["screens"]:
        if screen["form"] == "laptop":
            screen["shape"] = "usual"
    content["skipped"] = [step for step in answers.skipped if step in MEASURED]
    for many in ("flags", "coping", "others", "needs", "bothers", "tell"):
        content[many] = [one for one in choices(many) if one in content[many]]
    return answers_from(content)


def presses(answers: HomeAnswers, *, until: str = "result") -> list[Press]:
    """Return the presses that give these answers, as far as a question or the result."""
    made: list[Press] = []
    for step in STEPS:
        if step == until:
            break
        made += _of_step(step, answers)
        made.append(("skip" if step in answers.skipped and step in MEASURED else "next", None))
        if step == "flags" and answers.flags:
            made[-1] = ("stop_seen", None)
    return made


def _of_step(step: str, answers: HomeAnswers) -> list[Press]:
    screens = list(enumerate(answers.screens or ()))
    if step == "flags":
        return [(f"flags.{one}", None) for one in answers.flags or ("none",)][:1]
    if step == "age":
        return [(f"age.{answers.age}", None)]
    if step == "glasses":
        return [(f"glasses.{answers.glasses}", None)]
    if step == "screens":
        made: list[Press] = [(f"count.{len(screens)}", None)]
        for at, screen in screens:
            made += [(f"s{at}.form.{screen.form}", None), (f"s{at}.size", f"{screen.size_in:g}")]
            if screen.form != "laptop":
                made.append((f"s{at}.shape.{screen.shape}", None))
            made += [(f"s{at}.side.{screen.side}", None)] if at else []
            made += [] if screen.movable else [(f"s{at}.fixed", None)]
        return made
    if step == "distances":
        typed = [(f"s{at}.distance", screen.distance_cm) for at, screen in screens]
        reach: list[Press] = [
            (f"s{at}.reach.{one.reach}", None) for at, one in screens if one.reach
        ]
        return [*_typed(typed), *reach]
    if step == "heights":
        tops = [(f"s{at}.top", screen.top_above_desk_cm) for at, screen in screens]
        return _typed([("eyes", answers.eyes_above_desk_cm), *tops])
    if step == "reading":
        made = [(f"reading.{one.what}", None) for one in answers.reading or ()]
        return made + _typed(
            [(f"page.{one.what}", one.distance_cm) for one in answers.reading or ()]
        )
    if step == "hours":
        return _typed([(f"hours.{name}", one) for name, one in (answers.hours or {}).items()])
    made = [(f"{step}.{one}", None) for one in getattr(answers, step) or ()]
    return made + (
        [(f"lens_part.{answers.lens_part}", None)] if step == "coping" and answers.lens_part else []
    )


def _typed(values: list[tuple[str, Any]]) -> list[Press]:
    return [(name, f"{value:g}") for name, value in values if value is not None]


def person(**content: Any) -> HomeAnswers:
    """Return the answers of an invented wearer without a warning sign."""
    return answers_from(
        {"flags": [], "coping": [], "needs": [], "bothers": [], "tell": [], **content}
    )


READER = person(
    age="45_49",
    glasses="sv_near",
    coping=["lean_in", "sit_back", "take_off"],
    screens=[{"form": "laptop", "size_in": 14.0, "distance_cm": 52.0, "reach": "touch",
              "top_above_desk_cm": 21.0}],
    eyes_above_desk_cm=46.0,
    reading=[{"what": "papers", "distance_cm": 40.0}, {"what": "phone"}],
    others=["colleague"],
    hours={"main screen": 5.0, "papers": 2.0, "phone": 1.0, "colleague": 1.0},
    needs=["walking"],
    bothers=["changing", "papers_blurred"],
)  # fmt: skip
"""46, reading glasses and a laptop."""
TWO_SCREENS = person(
    age="60_64",
    glasses="general_progressive",
    coping=["chin_up"],
    lens_part="middle",
    screens=[{"size_in": 27.0, "distance_cm": 68.0, "reach": "just", "top_above_desk_cm": 58.0},
             {"size_in": 24.0, "side": "right", "distance_cm": 80.0, "top_above_desk_cm": 54.0}],
    eyes_above_desk_cm=48.0,
    reading=[{"what": "papers", "distance_cm": 42.0}],
    others=[],
    hours={"main screen": 4.0, "second screen": 1.0, "papers": 1.0},
    needs=["driving", "stairs"],
    bothers=["neck"],
    tell=["falls_risk"],
)  # fmt: skip
"""61, a progressive and two screens that are too high."""
FRONT_DESK = person(
    age="50_54",
    glasses="one_line",
    coping=["chin_up"],
    lens_part="bottom",
    screens=[{"size_in": 22.0, "distance_cm": 60.0, "top_above_desk_cm": 38.0}],
    eyes_above_desk_cm=47.0,
    reading=[{"what": "papers", "distance_cm": 44.0}],
    others=["visitor"],
    hours={"main screen": 4.0, "papers": 1.0, "visitor": 1.5},
    needs=["stairs", "walking"],
    bothers=["screen_blurred"],
)
"""A low screen, people at a counter, and glasses with a line."""
NOTHING_MEASURED = person(
    flags=["new_flashes_or_floaters"],
    seen_by_doctor=True,
    age="50_54",
    glasses="bare_near",
    screens=[{"size_in": 24.0}],
    reading=[],
    others=[],
    skipped=["distances", "heights", "hours"],
)
"""52, short-sighted, flashes that a doctor has looked at, nothing measured."""
