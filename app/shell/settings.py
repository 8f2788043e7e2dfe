"""Every setting of the page library, decided here: no file or variable elsewhere has a say.

The library reads `config.toml` in the home folder, in the folder it is started from and beside the
program, and variables named STREAMLIT_...; advice for other programs loosens the server there. None
of them is read (`internals.read_no_settings_of_others`), and each option is set as well. A test
fails on an option of the installed version that no row here decides.
"""

from __future__ import annotations

from typing import NamedTuple

from app.shell.theme import THEME

LARGEST_UPLOAD_MB = 25


class Decided(NamedTuple):
    """The value of an option, and why."""

    value: object
    why: str


BY_LIBRARY = None
"""Its default is right and cannot be passed on; without files and variables it is what holds."""
HERE = "127.0.0.1"
NO_AGENT = "nothing drives the pages but a browser"
NOT_USED = "not used; its default"
OPTIONS: dict[str, Decided] = {
    # Who is let in.
    "server.address": Decided(HERE, "this computer only"),
    "server.allowedHosts": Decided([HERE, "localhost"], "the door asks for the port as well"),
    "server.enableCORS": Decided(True, "off, every origin gets the live connection"),
    "server.corsAllowedOrigins": Decided([], "no page of another address"),
    "server.enableXsrfProtection": Decided(True, "an upload brings a token of the page"),
    "server.xsrfCookieSameSite": Decided("strict", "no page of another site uses it"),
    "server.enableAgentApi": Decided(False, NO_AGENT),
    "server.agentWaitTimeout": Decided(30, NO_AGENT),
    "server.agentSessionTTL": Decided(900, NO_AGENT),
    "server.agentMaxSessions": Decided(1, NO_AGENT),
    "server.agentPreviewRows": Decided(1, NO_AGENT),
    "server.trustedUserHeaders": Decided({}, "no header says who somebody is"),
    "server.unsafeMetricsUserAttributes": Decided([], "nobody is counted"),
    "server.cookieSecret": Decided(BY_LIBRARY, "random at each start; nobody signs in"),
    "server.sslCertFile": Decided("", "plain http within one computer"),
    "server.sslKeyFile": Decided("", "as the certificate"),
    "client.allowedOrigins": Decided([], "no page of another address frames or steers ours"),
    "secrets.files": Decided([], "no file of secrets is read, so nobody can sign in elsewhere"),
    # What is said, kept and served.
    "browser.gatherUsageStats": Decided(False, "nothing is sent to the makers of the library"),
    "browser.serverAddress": Decided(HERE, "would be let in as an origin"),
    "server.showEmailPrompt": Decided(False, "asks for an address to send to"),
    "server.headless": Decided(True, "opens no browser of its own; --open does"),
    "server.enableStaticServing": Decided(False, "serves no file of a folder"),
    "server.baseUrlPath": Decided("", "the door takes the folder away"),
    "server.customComponentBaseUrlPath": Decided("", "no component from elsewhere"),
    "server.scriptHealthCheckEnabled": Decided(False, "would run the pages for whoever asks"),
    "server.enableExpensiveMemoryStats": Decided(False, NOT_USED),
    "server.maxUploadSize": Decided(LARGEST_UPLOAD_MB, "MB; a file of cases is far smaller"),
    "server.maxMessageSize": Decided(20, "MB; the largest page is far smaller"),
    "server.maxWidgetStateSize": Decided(20, "MB; as the largest message"),
    "server.maxCacheDataSize": Decided("0", "no limit; no answer is cached"),
    "server.disconnectedSessionTTL": Decided(600, "s; `internals` ends them long before"),
    "server.enableWebsocketCompression": Decided(False, "no secret is guessed from a length"),
    "server.websocketPingInterval": Decided(30, "s; its default"),
    "server.folderWatchList": Decided([], "no file is watched"),
    "server.folderWatchBlacklist": Decided([], "no file is watched"),
    "server.fileWatcherType": Decided("none", "no file is watched"),
    "server.runOnSave": Decided(False, "no file is watched"),
    "server.allowRunOnSave": Decided(False, "no file is watched"),
    "client.showErrorDetails": Decided("none", "a fault's own words may hold what was told"),
    "client.showErrorLinks": Decided(False, "they lead to the internet"),
    "client.toolbarMode": Decided("minimal", "no menu for developers"),
    "client.disableDataExport": Decided(False, NOT_USED),
    "client.showSidebarNavigation": Decided(True, NOT_USED),
    "logger.hideWelcomeMessage": Decided(True, "the program says its own address"),
    "logger.level": Decided("warning", "no note of each request"),
    "logger.enableRich": Decided(False, "it prints the values of a fault"),
    "logger.messageFormat": Decided("%(asctime)s %(message)s", "its default"),
    "global.developmentMode": Decided(False, "opens the server to every origin"),
    "global.e2eTest": Decided(False, "lets a page stop the program"),
    "global.unitTest": Decided(False, NOT_USED),
    "global.appTest": Decided(False, NOT_USED),
    "global.disableWidgetStateDuplicationWarning": Decided(False, NOT_USED),
    "global.showWarningOnDirectExecution": Decided(True, NOT_USED),
    "global.suppressDeprecationWarnings": Decided(False, NOT_USED),
    "global.minCachedMessageSize": Decided(10_000.0, "bytes; its default"),
    "global.maxCachedMessageAge": Decided(2, "runs; its default"),
    # How the pages run.
    "runner.magicEnabled": Decided(False, "a bare value is never shown by accident"),
    "runner.postScriptGC": Decided(True, "what a page left behind goes at its end"),
    "runner.fastReruns": Decided(True, NOT_USED),
    "runner.enforceSerializableSessionState": Decided(False, NOT_USED),
    "runner.enumCoercion": Decided("nameOnly", NOT_USED),
    "runner.parallelMaxWorkers": Decided(BY_LIBRARY, NOT_USED),
    "runner.cacheBackgroundRefreshMaxWorkers": Decided(4, NOT_USED),
    "runner.cacheBackgroundRefreshTTLMultiplier": Decided(2.0, NOT_USED),
    "runner.connectionDefaultTTL": Decided(BY_LIBRARY, NOT_USED),
    "runner.cacheHashSeed": Decided(0, NOT_USED),
    "magic.displayRootDocString": Decided(False, NOT_USED),
    "magic.displayLastExprIfNoSemicolon": Decided(False, NOT_USED),
    "ui.hideTopBar": Decided(False, NOT_USED),
    "theme.base": Decided(BY_LIBRARY, "may name an address that the library would fetch"),
}
BY_PORT = ("server.port", "browser.serverPort")


def server_settings(port: int) -> dict[str, object]:
    """Return every setting the server runs with."""
    decided = {name: one.value for name, one in OPTIONS.items() if one.value is not BY_LIBRARY}
    return {**decided, **dict.fromkeys(BY_PORT, port), **THEME}
