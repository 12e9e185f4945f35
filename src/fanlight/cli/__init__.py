"""Command line: review a study, check it while the animal is on the table, make teaching copies, simulate a study."""

from fanlight.cli.app import app, main
from fanlight.cli.exit_code import ExitCode

__all__ = ["ExitCode", "app", "main"]
