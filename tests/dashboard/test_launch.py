"""The start of the dashboard."""

import gc
from pathlib import Path

import pytest

from shrinkwise.dashboard import launch


def test_what_stays_open_for_days_collects_its_garbage(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Commands that end by themselves go without (see `shrinkwise.__main__`)."""
    # set through the monkeypatch, so that it is put back
    monkeypatch.setenv(launch.RECORDS_VARIABLE, "")
    collects = []
    monkeypatch.setattr(
        launch.streamlit_cli, "main", lambda *_, **__: collects.append(gc.isenabled())
    )
    gc.disable()
    try:
        launch.serve(tmp_path, 8501)
    finally:
        gc.enable()
    assert collects == [True]
