"""The desk: a service on this machine that a mentor's browser talks to. See docs/desk.md."""

from fanlight.desk.app import create_app
from fanlight.desk.desk import Desk, DeskOptions
from fanlight.desk.errors import DeskError
from fanlight.desk.intake import take_in_place
from fanlight.desk.serve import Listening, listen, serve_desk

__all__ = ["Desk", "DeskError", "DeskOptions", "Listening", "create_app", "listen", "serve_desk", "take_in_place"]
