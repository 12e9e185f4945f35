"""The desk as a process of its own: python -m tests.desk_browser.serve FOLDER [PORT]. Prints the address."""

from __future__ import annotations

import sys
from pathlib import Path

from fanlight.desk import Desk, DeskOptions, listen, serve_desk
from fanlight.reference.load import load_house
from fanlight.store import open_store


def main() -> None:
    folder = Path(sys.argv[1])
    own = folder / "house.toml"
    house = load_house(own if own.exists() else None)
    with open_store(folder / "store") as store, Desk(store, house, DeskOptions(cache=folder / "cache")) as desk:
        listening = listen(int(sys.argv[2]) if len(sys.argv) > 2 else 0)
        print(listening.address, flush=True)
        serve_desk(desk, listening)


if __name__ == "__main__":
    main()
