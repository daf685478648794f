"""The whole of a process: one command, after which there is nothing more to do."""

import gc
import os
import sys

from shrinkwise.cli import main


def program() -> None:
    """Run the command line (see `shrinkwise.cli.main`) and end at once.

    A command ends before what it leaves behind could add up: looking for that on the way, and
    taking everything apart at the end, would take a second and a half.
    """
    gc.disable()
    try:
        main()
    except SystemExit as ended:
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(ended.code if isinstance(ended.code, int) else int(ended.code is not None))


if __name__ == "__main__":
    program()
