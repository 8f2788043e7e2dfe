"""`python -m app`: serve the pages on this computer only, or write and serve the home check."""

from __future__ import annotations

import argparse
import contextlib
import errno
import socket
import sys
from pathlib import Path

from app.shell import words
from engine import threads
from engine.errors import Limits, refused

HOST = "127.0.0.1"
FIRST_PORT = 8610
"""Above the ports that other local programs usually take; any free one would do."""
PORTS_TRIED = 50


def main(arguments: list[str] | None = None, *, program: str = "python -m app") -> int:
    """Read the command line, find a port, serve until Ctrl-C.

    `program` is what the help calls it.
    """
    threads.keep_to_one()
    given = sys.argv[1:] if arguments is None else arguments
    if given[:1] == [words.HOME_FILE]:
        return write_home_file(given[1:], program=program)
    asked = _parser(program).parse_args(given)
    port = free_port(asked.port)
    if port is None:
        print(words.no_port(first=asked.port, tried=PORTS_TRIED), file=sys.stderr)
        return 1
    if port != asked.port:
        print(words.port_busy(wanted=asked.port, taken=port), flush=True)
    with contextlib.suppress(KeyboardInterrupt):
        if asked.home:
            serve_home(port, open_browser=asked.open)
        else:
            serve(port, open_browser=asked.open)
    print(words.STOPPED, flush=True)
    return 0


def _parser(program: str) -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog=program, description=words.COMMAND_HELP)
    parser.add_argument("--port", type=_port, default=FIRST_PORT, help=words.PORT_HELP)
    parser.add_argument("--open", action="store_true", help=words.OPEN_HELP)
    parser.add_argument("--home", action="store_true", help=words.HOME_HELP)
    parser.epilog = words.HOME_FILE_HELP
    return parser


def write_home_file(arguments: list[str], *, program: str) -> int:
    """Write the home check as one file, and return the exit status."""
    from app.home_file.build import home_file

    parser = argparse.ArgumentParser(
        prog=f"{program} {words.HOME_FILE}", description=words.HOME_FILE_HELP
    )
    parser.add_argument("file", type=Path, metavar="OUT.html")
    path = parser.parse_args(arguments).file
    try:
        path.write_text(home_file(), encoding="utf-8")
    except OSError as error:
        print(f"{path}: {error.strerror}", file=sys.stderr)
        return 2
    print(words.home_file_written(path=path, kilobytes=path.stat().st_size / 1000))
    return 0


def serve_home(port: int, *, open_browser: bool) -> None:
    """Serve the home check alone on one port until Ctrl-C."""
    import webbrowser

    from app.home_file.build import home_file
    from app.home_file.serve import server

    with server(port, home_file()) as home:
        address = f"http://{HOST}:{port}/"
        print(words.home_serving(address=address), flush=True)
        if open_browser and not webbrowser.open(address):
            print(words.NO_BROWSER, flush=True)
        home.serve_forever()


def serve(port: int, *, open_browser: bool) -> None:
    """Run the page server on one port; returns after a stop signal."""
    import streamlit

    from app.shell import faults, internals
    from app.shell.door import Lock
    from app.shell.handing import Handing
    from app.shell.server import guards
    from app.shell.settings import LARGEST_UPLOAD_MB, server_settings
    from app.warm_up import announcing

    faults.keep_values_out_of_logs()
    internals.keep_uploads_in_memory(of_megabytes=LARGEST_UPLOAD_MB)
    internals.read_no_settings_of_others()
    lock = Lock(port)
    handing = Handing(lock.entry)
    page_server = streamlit.App(
        Path(__file__).with_name("main.py"),
        middleware=guards(lock=lock, entered=handing.remove),
        lifespan=announcing(entry=lock.entry, hand_on=handing.begin if open_browser else None),
        on_script_error=faults.shown,
    )
    try:
        page_server.run(config=server_settings(port))
    finally:
        handing.remove()


def free_port(wanted: int) -> int | None:
    """Return the wanted port, or the next free one, or None after PORTS_TRIED of them."""
    for port in range(wanted, min(wanted + PORTS_TRIED, 65536)):
        with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as probe:
            if sys.platform != "win32":
                probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind((HOST, port))
            except OSError as error:
                if error.errno in (errno.EADDRINUSE, errno.EACCES):
                    continue
                raise
            return port
    return None


def _port(text: str) -> int:
    port, limits = int(text) if text.isascii() and text.isdigit() else None, Limits(1024, 65535)
    side = "" if port is None else limits.side(port)
    if port is None or side:
        raise argparse.ArgumentTypeError(refused(text, limits.words, side=side))
    return port


if __name__ == "__main__":
    sys.exit(main())
