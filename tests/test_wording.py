"""Sentences are filled in one place, and a number is written one way wherever it is read."""

from __future__ import annotations

import ast
import pickle
import re

import pytest

from engine import wording
from engine.case.named import field_of
from engine.errors import InputRefusedError, Limits, TableError
from engine.tables import rows
from tests.house import ROOT, modules, path_of

ELSEWHERE = {
    "fills a sentence": r"\.format_map\(",
    "makes a capital": r"\[:1\]\.upper\(\)|\.capitalize\(\)",
    "writes a minus": r"replace\(\"-\", ",
    "writes hours": r"removesuffix\(\"\.0\"\)",
}
COORDINATES = {"app.draw.svg"}
"""Writes numbers for a drawing, which nobody reads."""


@pytest.mark.parametrize("what", ELSEWHERE)
def test_only_one_module_does_it(what: str) -> None:
    found = {
        module
        for module in modules("engine", "app")
        if re.search(ELSEWHERE[what], path_of(module).read_text(encoding="utf-8"))
    }
    assert found - COORDINATES <= {"engine.wording"}
    assert "engine.wording" in found, "what is looked for is written otherwise by now"


@pytest.mark.parametrize(
    ("up", "away", "tilt", "what_to_do", "how_it_is"),
    [
        (-12, 0, 0, "lower the desk by 12 cm", "12 cm lower"),
        (4, 0, 0, "raise the desk by 4 cm", "4 cm higher"),
        (0, 5, 0, "move the desk 5 cm farther away", "5 cm farther away"),
        (0, -5, 0, "move the desk 5 cm nearer", "5 cm nearer"),
        (-3, 6, 0, "lower the desk by 3 cm and move it 6 cm farther away",
         "3 cm lower and 6 cm farther away"),
        (-3, 0, 10, "lower the desk by 3 cm and tilt its top 10° back",
         "3 cm lower and tilted 10° back"),
        (0, 0, -5, "tilt the top of the desk 5° forward", "tilted 5° forward"),
        (0, 0, 0, "leave the desk where it is", ""),
    ],
)  # fmt: skip
def test_a_move_is_written_one_way(
    up: float, away: float, tilt: float, what_to_do: str, how_it_is: str
) -> None:
    change = {"up_cm": up, "farther_cm": away, "tilt_deg": tilt}
    assert wording.move("the desk", **change) == what_to_do
    assert wording.shift(**change) == how_it_is


@pytest.mark.parametrize(
    ("degrees", "said"),
    [(9.5, "chin 10° up"), (-4.4, "chin 4° down"), (0.3, "head level"), (-0.4, "head level")],
)
def test_a_posture_is_written_one_way(degrees: float, said: str) -> None:
    assert wording.head_words(degrees) == said


def test_nothing_has_no_sign() -> None:
    for value in (0.0, -0.0, -0.04, 0.04):
        assert wording.number(value, places=1, signed=True) == "0.0"
        assert wording.hours(value) == "0"


def test_the_home_check_writes_a_length_as_the_sheets_do() -> None:
    script = (ROOT / "app" / "home_file" / "page.js").read_text(encoding="utf-8")
    assert "const length = (cm) => `${Math.round(cm)} cm (${Math.round(cm / 2.54)} in)`;" in script
    assert wording.length(130.0) == "130 cm (51 in)"


def test_no_sentence_gives_a_centre_to_what_may_be_a_person() -> None:
    assert [row["id"] for row in rows("sentences") if "centre of the {target}" in row["text"]] == []


def test_a_missing_value_or_row_is_told_by_name() -> None:
    with pytest.raises(TableError, match="far"):
        wording.fill("wearer_sheet", "limit")
    with pytest.raises(TableError, match="nothing"):
        wording.fill("wearer_sheet", "nothing")


AWAY = Limits(15, 2000, unit="cm")
WITHIN = [
    ("12", AWAY, 12.0, "distance_cm", "12 is too near. Allowed: 15 to 2000 cm."),
    (2500.0, AWAY, None, "targets.0.distance_cm", "2500 is too far. Allowed: 15 to 2000 cm."),
    ("6 in", AWAY, 15.24, "distance_cm", "6 in cannot be used. Allowed: 15 to 2000 cm."),
    ("5 in", AWAY, 12.7, "distance_cm", "5 in is too near. Allowed: 15 to 2000 cm."),
    (9.25, Limits(10, 40, unit="mm"), None, "", "9.25 is too small. Allowed: 10 to 40 mm."),
    ("540", Limits(18, 110, unit="years"), 540, "", "540 is too high. Allowed: 18 to 110 years."),
    (
        0,
        Limits(0, 24, above=True, unit="h"),
        None,
        "",
        "0 is too low. Allowed: more than 0 and at most 24 h.",
    ),
    ("-7", Limits(-6, 4, unit="D"), -7.0, "near_add_d", "-7 is too low. Allowed: -6 to 4 D."),
    (50.0, Limits(high=50, below=True), None, "", "50 is too high. Allowed: less than 50."),
    (True, Limits(2, 3), None, "", "True cannot be used. Allowed: 2 to 3."),
    ("20", Limits(15, 70, unit="mm"), None, "", "20 cannot be used. Allowed: 15 to 70 mm."),
    ("9 rows", Limits(high=8, unit="rows"), 9, "", "9 rows are too many. Allowed: at most 8 rows."),
]


@pytest.mark.parametrize(("value", "limits", "number", "field", "said"), WITHIN)
def test_a_refusal_says_on_which_side_of_its_limits_a_number_is(
    value: object, limits: Limits, number: float | None, field: str, said: str
) -> None:
    refusal = InputRefusedError(
        field=field, value=value, allowed=limits.words, limits=limits, number=number
    )
    assert refusal.sentence == said


@pytest.mark.parametrize(
    ("value", "allowed", "said"),
    [
        ("12", "15 to 2000 cm", "12 cannot be used. Allowed: 15 to 2000 cm."),
        ("5 ft", "15 to 70 cm", "5 ft cannot be used. Allowed: 15 to 70 cm."),
        ("54", "a number", "54 in quotes cannot be used. Allowed: a number."),
        ("nan", "a number", "nan cannot be used. Allowed: a number."),
        ("wall", "monitor or laptop", "wall cannot be used. Allowed: monitor or laptop."),
        (None, "a value", "nothing is given. Needed: a value."),
        ("no column ref", "ref, age", "there is no column ref. Needed: ref, age."),
        ("twice", "each key once", "this is there twice. Allowed: each key once."),
        (["a"], "a text", "this cannot be used. Allowed: a text."),
        ("a\nb", "one line.", "a\\nb cannot be used. Allowed: one line."),
        ("x" * 99, "a name", "x" * 59 + "… cannot be used. Allowed: a name."),
    ],
)
def test_a_refusal_says_what_was_given_and_what_is_allowed(
    value: object, allowed: str, said: str
) -> None:
    refusal = InputRefusedError(field="one", value=value, allowed=allowed)
    assert refusal.sentence == said
    assert (refusal.field, refusal.value, refusal.allowed) == ("one", value, allowed)


@pytest.mark.parametrize(("value", "limits", "number", "field", "said"), WITHIN)
def test_a_refusal_leaves_a_process_as_it_was(
    value: object, limits: Limits, number: float | None, field: str, said: str
) -> None:
    refusal = InputRefusedError(
        field=f"a\u200b.{field}", value=value, allowed=limits.words, limits=limits, number=number
    )
    again = pickle.loads(pickle.dumps(refusal))
    assert vars(again) == vars(refusal)
    assert (again.field, again.value, again.allowed) == (refusal.field, value, limits.words)
    assert (str(again), again.sentence) == (str(refusal), said)


def test_a_refusal_is_said_of_another_field_with_its_limits() -> None:
    refusal = InputRefusedError(field="a", value=12, allowed=AWAY.words, limits=AWAY)
    there = refusal.said_of(field="papers.distance_cm", value="12 cm", number=12.0)
    assert there.sentence == "12 cm is too near. Allowed: 15 to 2000 cm."


@pytest.mark.parametrize(
    ("path", "name"),
    [
        ("wearer.age_years", "age"),
        ("wearer.right.add_d", "right add"),
        ("targets.1.tilt_deg", "target 2: tilt, top away"),
        ("activities.0.looks", "activity 1: looks"),
        ("VisionPrescription.lensSpecification.0.sphere", "lens specification 1: sphere"),
        ("label", "label"),
        ("age_band", "age_band"),
        ("case.json", "case.json"),
    ],
)
def test_a_field_is_named_without_its_path(path: str, name: str) -> None:
    assert field_of(path) == name


def sentences_in(text: str) -> list[str]:
    """Return the sentences of five words or more among the texts of a module, docstrings apart."""
    tree = ast.parse(text)
    every = list(ast.walk(tree))
    apart = {id(one.value) for one in every if isinstance(one, ast.Expr)}
    found = []
    for one in every:
        if isinstance(one, ast.JoinedStr):
            apart |= {id(part) for part in one.values}
            parts = (part.value if isinstance(part, ast.Constant) else "12" for part in one.values)
            found.append("".join(map(str, parts)))
    found += [
        one.value
        for one in every
        if isinstance(one, ast.Constant) and isinstance(one.value, str) and id(one) not in apart
    ]
    filled = [re.sub(r"\{\w*\}", "12", one) for one in found]
    read = [one for one in filled if "{" not in one and not FOR_A_MACHINE.search(one)]
    plain = [re.sub(r"<[^>]*>", " ", one).strip() for one in read]
    ended = re.compile(r"[.?!:]$|[.?!] [A-Z]")
    return [one for one in plain if ended.search(one) and len(re.findall(r"[^\W\d_]+", one)) >= 5]


FOR_A_MACHINE = re.compile(r"\\[bdws.]|^(SELECT|UPDATE|DELETE|INSERT|CREATE) |^[a-z]+-src ")
"""Regular expressions, statements for a data base and a content policy are no sentences."""
IN_CODE = {
    "app.command": ("Without a command it",),
    "app.shell.words": ("Serve the Levelgaze pages", "12 OUT.html writes the home check"),
    "engine.commands": ("Which lens lets a presbyope", "A refused input ends with"),
    "engine.stops": ("Stopped; no file was changed", "Ended from outside; no file"),
}
"""How the sentences that stay in code begin: the help of a command, which `argparse` takes from
the code beside the argument, and what a stop says, which may come before any table can be read."""


@pytest.mark.parametrize("module", modules("app", "engine"))
def test_no_sentence_that_a_person_reads_is_in_code(module: str) -> None:
    found = sentences_in(path_of(module).read_text(encoding="utf-8"))
    stay = IN_CODE.get(module, ())
    assert [one for one in found if not one.startswith(stay)] == []
    assert all(any(one.startswith(begin) for one in found) for begin in stay), "no longer there"


@pytest.mark.parametrize(
    ("code", "count"),
    [
        ('quiet("Type the age and the add first.")', 1),
        ('quiet(f"{name} is here: {hours} h of the day.")', 1),
        ('quiet(LEAD.format(name="{name} is here for the day."))', 1),
        ('html("<p>What is on the desk today?</p>")', 1),
        ('st.button("Save these answers with the case")', 0),
        ('raise LostError("the file of kept cases is lost.")', 1),
        ('rows("SELECT label FROM cases WHERE id = ?")', 0),
        (r're.compile(r"\ba word or two or more\.")', 0),
        ('"""Say what is to be done."""', 0),
        ('say("order_first")', 0),
    ],
)
def test_a_sentence_in_code_is_known_from_a_label(code: str, count: int) -> None:
    assert len(sentences_in(code)) == count
