"""The version of this installation."""

from importlib.metadata import version

VERSION = version("shrinkwise")
