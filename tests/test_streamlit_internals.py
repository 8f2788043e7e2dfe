"""What the pages use of their library without a promise: each use fails here when it changes."""

from __future__ import annotations

import ast
import asyncio
import inspect
import re
import tempfile
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
import streamlit
from starlette.formparsers import MultiPartParser
from streamlit.runtime.memory_uploaded_file_manager import MemoryUploadedFileManager
from streamlit.testing.v1 import AppTest
from streamlit.web.server.starlette import starlette_routes

from app.shell import internals
from tests.house import modules, path_of

MEGABYTE = 2**20
BOUNDARY = b"between-the-parts"


def given_file(content: bytes) -> MemoryUploadedFileManager:
    """Send a file to the route at which the library takes uploads; return what keeps it."""
    manager = MemoryUploadedFileManager("/_stcore/upload_file")
    runtime: Any = SimpleNamespace(is_active_session=lambda session_id: session_id == "mine")
    routes = starlette_routes.create_upload_routes(runtime, manager, None)
    put = next(one for one in routes if "PUT" in (getattr(one, "methods", None) or ()))
    body = (
        b"--" + BOUNDARY + b'\r\nContent-Disposition: form-data; name="f"; filename="rows.csv"\r\n'
        b"Content-Type: text/csv\r\n\r\n" + content + b"\r\n--" + BOUNDARY + b"--\r\n"
    )
    scope = {
        "type": "http",
        "method": "PUT",
        "path": "/_stcore/upload_file/mine/one",
        "query_string": b"",
        "headers": [
            (b"content-type", b"multipart/form-data; boundary=" + BOUNDARY),
            (b"content-length", str(len(body)).encode()),
        ],
    }
    statuses: list[int] = []

    async def receive() -> dict[str, Any]:
        return {"type": "http.request", "body": body, "more_body": False}

    async def send(message: dict[str, Any]) -> None:
        if message["type"] == "http.response.start":
            statuses.append(message["status"])

    async def take() -> None:
        _, inner = put.matches(scope)
        await put.handle({**scope, **inner}, receive, send)

    asyncio.run(take())
    assert statuses == [204]
    return manager


@pytest.fixture
def parked(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Every file that was opened on the disk to park an upload in."""
    opened: list[str] = []
    real = tempfile.TemporaryFile

    def noted(*given: Any, **more: Any) -> Any:
        opened.append("one")
        return real(*given, **more)

    monkeypatch.setattr(tempfile, "TemporaryFile", noted)
    monkeypatch.setattr(starlette_routes, "is_xsrf_enabled", lambda: False)
    monkeypatch.setattr(MultiPartParser, "spool_max_size", MultiPartParser.spool_max_size)
    return opened


@pytest.mark.parametrize(("megabytes", "on_disk"), [(1, 1), (25, 0)])
def test_a_file_that_is_given_never_touches_the_disk(
    megabytes: int, on_disk: int, parked: list[str]
) -> None:
    """The first case shows that the disk would be seen: 4 MB where 2 MB stay in memory."""
    internals.keep_uploads_in_memory(of_megabytes=megabytes)
    content = b"1,2\n" * MEGABYTE
    manager = given_file(content)
    [kept] = manager.get_files("mine", ["one"])
    assert kept.data == content
    assert len(parked) == on_disk


def _page() -> None:
    import streamlit as st
    from streamlit.runtime.scriptrunner import get_script_run_ctx
    from streamlit.runtime.uploaded_file_manager import UploadedFile, UploadedFileRec

    from app.shell import internals

    context = get_script_run_ctx()
    assert context is not None
    manager, session = context.uploaded_file_mgr, context.session_id
    for name in ("first", "second"):
        manager.add_file(session, UploadedFileRec(name, f"{name}.csv", "text/csv", b"1"))

    def kept() -> str:
        return " ".join(one.file_id for one in manager.get_files(session, ["first", "second"]))

    st.text(kept())
    record = manager.get_files(session, ["first"])[0]
    internals.forget_upload(UploadedFile(record, None))
    st.text(kept())
    internals.forget_uploads()
    st.text(kept())


def test_forgetting_a_file_takes_it_out_of_the_library() -> None:
    page = AppTest.from_function(_page, default_timeout=60).run()
    assert not page.exception
    assert [one.value for one in page.text] == ["first second", "second", ""]


def _many_fields() -> None:
    """Fields with keys and a value that belongs to none: what is looked up is what is held."""
    import streamlit as st
    from streamlit.runtime.scriptrunner import get_script_run_ctx

    from app.shell import internals

    internals.look_up_keys_as_asked()
    st.session_state.setdefault("own", 7)
    for number in range(5):
        st.text_input("name", key=f"field {number}")
    context = get_script_run_ctx()
    assert context is not None
    session = context.session_state
    looked, whole = session.filtered_state, session._state.filtered_state
    assert type(looked).__module__ == internals.__name__
    assert dict(looked) == whole
    assert len(looked) == len(whole) == 6
    assert "absent" not in looked
    st.text(looked["field 3"])


def test_a_field_finds_its_own_key_in_the_session() -> None:
    page = AppTest.from_function(_many_fields, default_timeout=60).run()
    assert not page.exception
    page = page.text_input(key="field 3").set_value("typed").run()
    assert not page.exception
    assert page.text[0].value == "typed"


@pytest.mark.parametrize(
    "field", [streamlit.text_input, streamlit.number_input, streamlit.selectbox, streamlit.radio]
)
def test_the_library_still_asks_for_a_whole_session_to_find_a_key(field: Any) -> None:
    """Once it does not, `look_up_keys_as_asked` can go."""
    text = Path(inspect.getfile(inspect.unwrap(field))).read_text(encoding="utf-8")
    assert ".filtered_state" in text


def test_what_cannot_be_forgotten_is_not_passed_over() -> None:
    with pytest.raises(RuntimeError, match="no session"):
        internals.forget_uploads()


def test_every_part_the_style_selects_is_a_part_of_the_library() -> None:
    scripts = (Path(streamlit.__file__).parent / "static").rglob("*.js")
    text = "\n".join(one.read_text(encoding="utf-8", errors="replace") for one in scripts)
    assert len(set(internals.PARTS)) == len(internals.PARTS) > 0
    for name in internals.PARTS:
        stem, _, kind = name.partition("-")  # a button's kind is put in when it is drawn
        whole = f"[\"'`]{stem}[\"'`]" if not kind else rf"{stem}-\$\{{"
        assert re.search(whole, text), name


def test_nothing_outside_names_an_internal_of_the_library() -> None:
    private = ("streamlit.runtime", "streamlit.web", "streamlit.elements", "starlette.formparsers")
    for module in set(modules("app")) - {"app.shell.internals"}:
        text = path_of(module).read_text(encoding="utf-8")
        assert "data-testid" not in text, module
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.ImportFrom):
                assert not (node.module or "").startswith(private), module
