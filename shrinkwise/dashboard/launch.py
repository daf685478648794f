"""Starting the dashboard on this machine."""

import gc
import os
import socket
from pathlib import Path

from streamlit.web import cli as streamlit_cli

import shrinkwise.dashboard
from shrinkwise.errors import ShrinkwiseError

RECORDS_VARIABLE = "SHRINKWISE_RECORDS"
"""Environment variable that tells the dashboard its records folder."""

_OPTIONS = {
    "server.address": "127.0.0.1",
    "server.headless": "true",
    "browser.gatherUsageStats": "false",
}


def serve(records: Path, port: int) -> None:
    """Serve the dashboard until it is interrupted.

    Parameters
    ----------
    records : pathlib.Path
    port : int

    Raises
    ------
    ShrinkwiseError
        When app.py is not where the package expects it.
    """
    os.environ[RECORDS_VARIABLE] = str(records.resolve())
    options = _OPTIONS | {"server.port": str(port)}
    # unlike the other commands it goes on and on
    gc.enable()
    arguments = [f"--{name}={value}" for name, value in options.items()]
    streamlit_cli.main(["run", str(_app_file()), *arguments], standalone_mode=False)


def require_free(port: int) -> None:
    """Refuse a port on which something answers already.

    Raises
    ------
    ShrinkwiseError
    """
    with socket.socket() as probe:
        if probe.connect_ex(("127.0.0.1", port)) == 0:
            raise ShrinkwiseError(
                f"The port {port} of this machine is in use, perhaps by another dashboard. "
                f"Name another: --port {port + 1}."
            )


def _app_file() -> Path:
    """app.py: inside the package when installed, beside it in a checkout."""
    package = Path(shrinkwise.dashboard.__file__).parent.parent
    for folder in (package, package.parent):
        if (folder / "app.py").is_file():
            return folder / "app.py"
    raise ShrinkwiseError(
        "The dashboard's app.py is missing from this installation. Install shrinkwise again."
    )
