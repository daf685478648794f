"""How hard a plan is searched is the user's to say, and so is when to stop."""

import json
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

from shrinkwise.cli import app


def test_a_plan_that_is_stopped_writes_nothing(sample_folder: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    command = [sys.executable, "-m", "shrinkwise", "plan", str(sample_folder)]
    process = subprocess.Popen(
        [*command, "--out", str(out)], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    time.sleep(5)
    process.send_signal(signal.SIGINT)
    said, errors = process.communicate(timeout=60)
    # 128 + SIGINT, as shells have it (POSIX)
    assert process.returncode == 130
    assert "Traceback" not in said + errors
    assert not out.exists()


def test_effort_multiplies_the_search(small_copy: Callable[[], Path], tmp_path: Path) -> None:
    folder = small_copy()
    settings = []
    for effort in ("1", "2"):
        app(
            ["plan", str(folder), "--out", str(tmp_path), "--effort", effort], standalone_mode=False
        )
        settings.append(
            json.loads((tmp_path / "plan.json").read_text(encoding="utf-8"))["settings"]
        )
    for name in ("screen_paths", "search_paths", "finalists", "leaders"):
        assert settings[1][name] == 2 * settings[0][name]
    assert settings[1]["judge_paths"] == settings[0]["judge_paths"]
