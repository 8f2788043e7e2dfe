"""Eight invented wearers, as case files to try the program with: `levelgaze example musician`."""

from __future__ import annotations

from pathlib import Path

from engine.errors import InputRefusedError

EXAMPLES = Path(__file__).parent


def names() -> list[str]:
    """Return the names of the examples, in order of the alphabet.

    >>> len(names()), names()[-2:]
    (8, ['reception', 'two_screens'])
    """
    return sorted(path.stem for path in EXAMPLES.glob("*.json"))


def path_of(name: str) -> Path:
    """Return the file of an example.

    >>> path_of("musician").name
    'musician.json'

    Raises
        InputRefusedError: there is none of that name.
    """
    if name not in names():
        raise InputRefusedError(field="example", value=name, allowed=", ".join(names()))
    return EXAMPLES / f"{name}.json"
