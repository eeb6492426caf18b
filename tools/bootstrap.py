"""Make the project's environment and run a command in it: what `make run` and `make test` stand on.

Standard library only, so that a bare checkout with Python 3.11 and make is enough. Uses uv where it exists, otherwise
venv and pip. A stamp of everything that decides the environment's content skips the install when nothing changed.

    python3 tools/bootstrap.py [--for run|test] -- COMMAND [ARGUMENT ...]
"""

import argparse
import hashlib
import os
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
VENV = ROOT / ".venv"
BIN = VENV / ("Scripts" if os.name == "nt" else "bin")
PYTHON = BIN / ("python.exe" if os.name == "nt" else "python")
OLDEST_PYTHON = (3, 11)
REQUIREMENTS = {"run": "requirements/run.txt", "test": "requirements/test.txt"}  # the second holds the first


def main() -> int:
    """Return the exit code of the command, run in an environment that is up to date."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--for", dest="purpose", choices=sorted(REQUIREMENTS), default="run")
    parser.add_argument("command", nargs=argparse.REMAINDER)
    arguments = parser.parse_args()
    command = arguments.command[1:] if arguments.command[:1] == ["--"] else arguments.command
    if sys.version_info < OLDEST_PYTHON:
        print(f"Dyewright needs Python 3.11 or newer; this is {sys.version.split()[0]}.", file=sys.stderr)
        return 1
    prepare(arguments.purpose)
    if not command:
        return 0
    program = BIN / command[0]
    return subprocess.call(
        [str(program if program.exists() else command[0]), *command[1:]], cwd=ROOT, env=environment()
    )


def environment() -> dict[str, str]:
    """Return the environment variables of a command run inside the virtual environment."""
    return {**os.environ, "VIRTUAL_ENV": str(VENV), "PATH": f"{BIN}{os.pathsep}{os.environ.get('PATH', '')}"}


def prepare(purpose: str) -> None:
    """Install what the purpose needs, unless the stamp says that it is there already."""
    stamp_file = VENV / f".stamp-{purpose}"
    wanted = stamp(purpose)
    if PYTHON.exists() and stamp_file.exists() and stamp_file.read_text(encoding="utf-8") == wanted:
        return
    print("Setting up the environment (once; a minute or two) ...", file=sys.stderr)
    install(ROOT / REQUIREMENTS[purpose])
    stamp_file.write_text(wanted, encoding="utf-8")
    if purpose == "test":
        (VENV / ".stamp-run").write_text(stamp("run"), encoding="utf-8")


def stamp(purpose: str) -> str:
    """Return a hash of everything that decides what the environment holds."""
    digest = hashlib.sha256(f"{sys.version_info[:2]} {ROOT}".encode())
    for name in ["pyproject.toml", "tools/bootstrap.py", REQUIREMENTS[purpose]]:
        digest.update((ROOT / name).read_bytes())
    return digest.hexdigest()


def install(requirements: Path) -> None:
    """Create the environment and install the locked packages and the project itself, with bytecode compiled."""
    uv = shutil.which("uv")
    if not PYTHON.exists():
        by_uv = [uv, "venv", "--quiet", "--python", sys.executable, str(VENV)] if uv else []
        subprocess.check_call(by_uv or [sys.executable, "-m", "venv", str(VENV)])
    if uv:
        pip = [uv, "pip", "install", "--quiet", "--python", str(PYTHON), "--compile-bytecode"]
    else:
        pip = [str(PYTHON), "-m", "pip", "install", "--quiet", "--disable-pip-version-check"]
    subprocess.check_call([*pip, "--require-hashes", "-r", str(requirements)])
    subprocess.check_call([*pip, "--no-deps", "--editable", str(ROOT)])


if __name__ == "__main__":
    sys.exit(main())
