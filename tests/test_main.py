"""The command line: an answer on standard output, or status 2 and one line; never a traceback."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from engine import threads
from engine.__main__ import main
from engine.assemble import advise
from engine.case.read import read_case
from engine.case.results import RESULTS_VERSION
from engine.examples import EXAMPLES
from engine.explain import explain
from tests import examples

EXAMPLE = EXAMPLES / "eye_level_27in.json"
REFUSAL = re.compile(r".+: .+\. (Allowed|Needed): .+\.\n")
HOURS_OF_AN_OPTION = re.compile(r" ([\d.]+)/([\d.]+)/([\d.]+)/([\d.]+)$", re.MULTILINE)
HALF_A_TENTH = 0.05 + 0.005 + 1e-9
"""A tenth is printed for a person, and the answer has two places of an hour."""
WIDTH = 80


def run(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
    """A real process, as a user starts it."""
    command = [sys.executable, "-W", "error", "-m", "engine", *map(str, arguments)]
    root = Path(__file__).parent.parent
    return subprocess.run(command, capture_output=True, encoding="utf-8", check=False, cwd=root)


def content() -> dict[str, Any]:
    return json.loads(EXAMPLE.read_text(encoding="utf-8"))  # type: ignore[no-any-return]


def with_text(old: str, new: str) -> bytes:
    text = EXAMPLE.read_text(encoding="utf-8")
    assert old in text
    return text.replace(old, new).encode()


AGE = '"age_years": 54'
FILES: dict[str, tuple[Callable[[], bytes], str]] = {
    "empty": (lambda: b"", "an empty file"),
    "blank": (lambda: b" \n\t ", "whole JSON file"),
    "half": (lambda: EXAMPLE.read_bytes()[: EXAMPLE.stat().st_size // 2], "whole JSON file"),
    "all but the last brace": (lambda: EXAMPLE.read_bytes().rstrip()[:-1], "whole JSON file"),
    "two objects": (lambda: EXAMPLE.read_bytes() * 2, "whole JSON file"),
    "latin-1": (lambda: with_text("eye_level_27in", "\u00e9cran"), "UTF-8"),
    "utf-16": (lambda: EXAMPLE.read_text(encoding="utf-8").encode("utf-16"), "UTF-8"),
    "noise": (lambda: bytes(range(256)), "UTF-8"),
    "a list": (lambda: b"[" + EXAMPLE.read_bytes() + b"]", "one JSON object"),
    "a text": (lambda: b'"case"', "one JSON object"),
    "null": (lambda: b"null", "one JSON object"),
    "an empty object": (lambda: b"{}", "label: nothing is given. Needed: a value."),
    "NaN": (
        lambda: with_text(AGE, '"age_years": NaN'),
        "Age: nan cannot be used. Allowed: a finite number (18 to 110 years).",
    ),
    "infinity": (
        lambda: with_text(AGE, '"age_years": -Infinity'),
        "Age: -inf cannot be used. Allowed: a finite number (18 to 110 years).",
    ),
    "1e308": (
        lambda: with_text(AGE, '"age_years": 1e308'),
        "Age: 1e+308 is too high. Allowed: 18 to 110 years. In the file: wearer.age_years.",
    ),
    "1e999": (
        lambda: with_text(AGE, '"age_years": 1e999'),
        "Age: inf cannot be used. Allowed: a finite number (18 to 110 years).",
    ),
    "an integer of 400 digits": (
        lambda: with_text(AGE, '"age_years": 1' + "0" * 400),
        "Age: 1000",
    ),
    "an integer of 5000 digits": (
        lambda: with_text(AGE, '"age_years": 1' + "0" * 5000),
        "thousands of digits",
    ),
    "a number in quotes": (
        lambda: with_text(AGE, '"age_years": "54"'),
        "Age: 54 in quotes cannot be used. Allowed: a number (18 to 110 years).",
    ),
    "true for a number": (
        lambda: with_text(AGE, '"age_years": true'),
        "Age: True cannot be used. Allowed: a number (18 to 110 years).",
    ),
    "a key twice": (
        lambda: with_text(AGE, f'{AGE}, "age_years": 64'),
        "age_years: this is there twice",
    ),
    "an unknown key": (lambda: with_text(AGE, f'{AGE}, "name": "x"'), "Name: x cannot be used"),
    "nested a little": (
        lambda: with_text('"schema": 1', '"extensions": {"a": ' + "[" * 300 + "]" * 300 + "}"),
        "nested 100 deep",
    ),
    "nested deeply": (lambda: b"[" * 100_000 + b"]" * 100_000, "nested too deeply"),
    "half a character": (
        lambda: with_text('"eye_level_27in"', '"\\ud800"'),
        "label: \\ud800 cannot be used",
    ),
    "a line break in a name": (
        lambda: with_text('"eye_level_27in"', '"a\\nb"'),
        "label: a\\nb cannot be used",
    ),
    "markup in a name": (
        lambda: with_text('"eye_level_27in"', '"![x](http://a)"'),
        "label: ![x](http://a) cannot be used",
    ),
}


@pytest.mark.parametrize("command", ["advise", "explain"])
@pytest.mark.parametrize("name", FILES)
def test_a_bad_file_is_one_line(
    command: str, name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    make, expected = FILES[name]
    path = tmp_path / "case.json"
    data = make()
    if name == "latin-1":
        data = data.decode().encode("latin-1")
    path.write_bytes(data)
    assert main([command, str(path)]) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert REFUSAL.fullmatch(printed.err), printed.err
    assert expected in printed.err


def test_a_directory_and_a_missing_file_are_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for path in (tmp_path, tmp_path / "none.json", EXAMPLE / "below.json"):
        assert main(["advise", str(path)]) == 2
        printed = capsys.readouterr()
        assert printed.out == ""
        assert REFUSAL.fullmatch(printed.err)
        assert path.name in printed.err


def test_a_byte_order_mark_is_no_fault(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "case.json"
    path.write_bytes(b"\xef\xbb\xbf" + EXAMPLE.read_bytes())
    assert main(["advise", str(path)]) == 0
    assert json.loads(capsys.readouterr().out)["case_digest"] == read_case(EXAMPLE).digest()


def test_real_processes_refuse_in_one_line_and_answer_in_the_same_bytes(tmp_path: Path) -> None:
    half = tmp_path / "half.json"
    half.write_bytes(EXAMPLE.read_bytes()[:200])
    refused = run("advise", half)
    assert (refused.returncode, refused.stdout) == (2, "")
    assert REFUSAL.fullmatch(refused.stderr)
    first, second = run("advise", EXAMPLE), run("advise", EXAMPLE)
    assert first.returncode == 0, first.stderr
    assert first.stderr == ""
    assert first.stdout == second.stdout
    answer = json.loads(first.stdout)
    assert answer["schema"] == 1
    assert answer["results_version"] == RESULTS_VERSION
    assert answer["recommendation"]["plan"] == "office"


@pytest.mark.parametrize("path", sorted(EXAMPLES.glob("*.json")), ids=lambda path: path.stem)
def test_explain_fits_a_terminal_and_says_the_numbers(
    path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["explain", str(path)]) == 0
    text = capsys.readouterr().out
    assert max(len(line) for line in text.splitlines()) <= WIDTH
    assert main(["advise", str(path)]) == 0
    answer = json.loads(capsys.readouterr().out)
    plan = next(p for p in answer["plans"] if p["plan"] == answer["recommendation"]["plan"])
    said = re.search(
        r"([\d.]+) of [\d.]+ h comfortable; 8 times in 10 between ([\d.]+) and ([\d.]+)", text
    )
    assert said is not None
    written = (plan["comfortable_h"], *plan["comfortable_range_h"])
    for value, number in zip(said.groups(), written, strict=True):
        assert abs(float(value) - number) <= HALF_A_TENTH
    shown = [tuple(map(float, found)) for found in HOURS_OF_AN_OPTION.findall(text)]
    for hours, option in zip(shown, answer["options"], strict=True):
        names = ("comfortable_h", "awkward_h", "blurred_h", "not_served_h")
        for value, name in zip(hours, names, strict=True):
            assert abs(value - option[name]) <= HALF_A_TENTH
    for target in answer["targets"]:
        assert f"{target['target']}: {target['distance_cm']:g} cm" in text
        assert f"needs +{target['needed_add_d']:.2f} D" in text


def test_explain_wraps_the_longest_names() -> None:
    long, longer = "x" * 40, "y" * 40
    looks = [{"target": long, "share": 0.5}, {"target": longer, "share": 0.5}]
    case = examples.case(
        examples.screen(name=long, distance_cm=123.4567),
        examples.far(name=longer),
        activities=[{"name": "z" * 40, "hours": 6.123456, "looks": looks}],
        present_pair={"kind": "bifocal_desk"},
        label="w" * 40,
    )
    text = explain(case, advise(case))
    assert max(len(line) for line in text.splitlines()) <= WIDTH
    for name in (long, longer, "w" * 40):
        assert name in text


def test_numbers_of_the_answer_are_finite_and_have_three_places(
    capsys: pytest.CaptureFixture[str],
) -> None:
    def refuse(constant: str) -> float:
        raise AssertionError(f"{constant} in the answer")

    def three_places(text: str) -> float:
        assert len(text.partition(".")[2]) <= 3, text
        return float(text)

    assert main(["advise", str(EXAMPLE)]) == 0
    text = capsys.readouterr().out
    json.loads(text, parse_constant=refuse, parse_float=three_places)


def test_help_says_what_it_does_and_ends_well() -> None:
    told = run("--help")
    assert told.returncode == 0
    for word in ("advise", "explain", "status 2"):
        assert word in told.stdout
    assert "CASE.json" in run("advise", "--help").stdout


@pytest.mark.parametrize("arguments", [(), ("advice",), ("advise",), ("advise", "a", "b", "c")])
def test_a_wrong_call_ends_with_status_2(
    arguments: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as ended:
        main(arguments)
    assert ended.value.code == 2
    assert "usage: python -m engine" in capsys.readouterr().err


@pytest.mark.parametrize(
    "begin", ["from engine.__main__ import start as go", "from app.command import main as go"]
)
def test_the_sums_of_a_program_stay_on_one_thread(begin: str) -> None:
    """Those of matrices so large that the library would share them out, where it may."""
    script = (
        f"{begin}; go(['example']); import os, numpy; one = numpy.ones((900, 900)); one @ one;"
        " print(len(os.listdir('/proc/self/task')))"
    )
    free = {name: value for name, value in os.environ.items() if name not in threads.NAMES}
    ran = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True, env=free
    )
    assert ran.stdout.splitlines()[-1] == "1"


LIGHT = """
import sys
from contextlib import suppress
from engine.__main__ import main
for command in (["--help"], ["backup", sys.argv[1]], ["restore", sys.argv[1]]):
    with suppress(SystemExit):
        main(command)
print(sorted({"numpy", "pandas", "pydantic"} & set(sys.modules)))
"""


def test_help_and_copies_load_nothing_large(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-c", LIGHT, str(tmp_path / "copy.sqlite3")],
        env=os.environ | {"LEVELGAZE_STORE": str(tmp_path / "none.sqlite3")},
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.splitlines()[-1] == "[]"
