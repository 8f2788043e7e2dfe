"""Page furniture: the words around the figures, in one place.

Sentences that carry a result come from the engine's sentence table; these do not.
"""

from __future__ import annotations

PROGRAM = "Levelgaze"
COMMAND_HELP = "Serve the Levelgaze pages on this computer only (127.0.0.1)."
PORT_HELP = "port to serve on, 1024 to 65535; a busy one gives way to the next free one"
OPEN_HELP = "open the pages in your browser"
HOME_HELP = "serve only the home check, for a wearer at a screen of this computer"
HOME_FILE = "home-file"
HOME_FILE_HELP = f"{HOME_FILE} OUT.html writes the home check as one file for any browser."
HOME_LEAD = (
    "The wearer fills in this file at home, on a phone or a computer, without a network. Hand it "
    "out, put it on your own site, or print the empty sheet."
)
HOME_SAVE = "Save the home check as a file"
HOME_SHEET = "Get an empty question sheet to print"
HOME_LINK = "Are you the wearer? Start here"
STOPPED = "Levelgaze has stopped."
NO_KEY = "Open the address that the program printed: it is the key."
NO_BROWSER = "No browser could be started. Open the address above yourself."

PAGES = {
    "interview": "Interview",
    "desk": "Desk",
    "order": "Order",
    "collection": "Collection",
    "cases": "Kept cases",
    "home": "Home check",
    "team": "Team",
    "evidence": "Evidence",
}

GRADE_MEANING = {
    "comfortable": "clear, with the head and eyes in an easy range",
    "awkward": "sharp, but only with the chin, eyes or head outside the easy range",
    "blurred": "not sharp, but usable",
    "not served": "unusable in every posture",
}

DRAFT_DELETED = "The answers are deleted; this form is empty."
DRAFT_EXPIRED = (
    "The answers behind this address were deleted or have expired. This is an empty form."
)
BROUGHT_BACK = "Your earlier answers can be brought back for a minute."
BRING_BACK = "Bring them back"
FORGET_NOW = "Forget them now"
TOO_LATE = "The minute is over: the earlier answers are gone."
TAKE_BACK = "Take back the last change"
DRAFT_CHANGED = (
    "These answers were changed in another window. Choose which to keep; until then nothing you "
    "change here is kept."
)
SHOW_THEIRS = "Show the other window's answers"
KEEP_MINE = "Keep the answers shown here"
OPEN_CASES = "Kept cases, and files to open"
DELETE_ANSWERS = "Delete these answers"
DELETE_NOTE = (
    "Unsaved answers stay in this computer's memory only. They are gone eight hours after the "
    "last change, a minute after deletion, or when the program stops. Saved cases stay until you "
    "delete them under Kept cases."
)
FAULT = (
    "Something in this program failed, so no answer is shown. Take back the last change, or start "
    "the program again. Your answers are still here, and nothing has been sent anywhere."
)


def serving(*, entry: str) -> str:
    """Return what is printed once, when the server is ready for the browser."""
    return (
        f"Levelgaze is at {entry} (this computer only). "
        "This address is the key: whoever has it can open the pages. Ctrl-C stops the program."
    )


def home_serving(*, address: str) -> str:
    """Return what is printed once the home check alone is served."""
    return f"The home check is at {address} (this computer only). Ctrl-C stops it."


def home_file_written(*, path: object, kilobytes: float) -> str:
    """Return what is printed once the home check is written."""
    return f"{path}: the home check, {kilobytes:.0f} kB. Open it with any browser."


def port_busy(*, wanted: int, taken: int) -> str:
    """Printed when another program holds the wanted port."""
    return (
        f"Port {wanted} is in use by another program; Levelgaze takes the next free one, {taken}."
    )


def no_port(*, first: int, tried: int) -> str:
    """Printed when no port is free."""
    return f"No free port among the {tried} from {first} on; name another with --port."
