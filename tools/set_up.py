"""Sets up everything the project needs: .venv, the project in it, and the system libraries Qt asks for.

Run by the Makefile with the machine's own Python (standard library only). What is missing is named; as root
on Debian or Ubuntu it is installed, elsewhere the exact command is printed and the set-up stops.
"""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
STAMP = VENV / ".set-up"
OLDEST_PYTHON = (3, 11)

# Which Debian package brings a shared library (package contents of Debian 12; Ubuntu uses the same names).
DEBIAN_PACKAGES = {
    "libEGL.so.1": "libegl1",
    "libGL.so.1": "libgl1",
    "libGLX.so.0": "libglx0",
    "libOpenGL.so.0": "libopengl0",
    "libX11-xcb.so.1": "libx11-xcb1",
    "libX11.so.6": "libx11-6",
    "libdbus-1.so.3": "libdbus-1-3",
    "libfontconfig.so.1": "libfontconfig1",
    "libfreetype.so.6": "libfreetype6",
    "libglib-2.0.so.0": "libglib2.0-0",
    "libgthread-2.0.so.0": "libglib2.0-0",
    "libxcb-cursor.so.0": "libxcb-cursor0",
    "libxcb-icccm.so.4": "libxcb-icccm4",
    "libxcb-image.so.0": "libxcb-image0",
    "libxcb-keysyms.so.1": "libxcb-keysyms1",
    "libxcb-randr.so.0": "libxcb-randr0",
    "libxcb-render-util.so.0": "libxcb-render-util0",
    "libxcb-render.so.0": "libxcb-render0",
    "libxcb-shape.so.0": "libxcb-shape0",
    "libxcb-shm.so.0": "libxcb-shm0",
    "libxcb-sync.so.1": "libxcb-sync1",
    "libxcb-util.so.1": "libxcb-util1",
    "libxcb-xfixes.so.0": "libxcb-xfixes0",
    "libxcb-xinput.so.0": "libxcb-xinput0",
    "libxcb-xkb.so.1": "libxcb-xkb1",
    "libxcb.so.1": "libxcb1",
    "libxkbcommon-x11.so.0": "libxkbcommon-x11-0",
    "libxkbcommon.so.0": "libxkbcommon0",
    "libzstd.so.1": "libzstd1",
}


def say(words: str) -> None:
    """One line for the person who typed make."""
    print(f"set-up: {words}", flush=True)


def stop(words: str) -> None:
    """Say what is missing and what to type, and end with status 1."""
    sys.exit(f"set-up: {words}")


def install_packages(packages: list[str], why: str) -> None:
    """Install Debian packages as root, else print the command that does and stop."""
    names = " ".join(packages)
    command = f"apt-get install -y --no-install-recommends {names}"
    if not shutil.which("apt-get"):
        stop(f"{why}. Install with your system's package manager what Debian calls: {names}")
    if not hasattr(os, "geteuid") or os.geteuid() != 0:
        stop(f"{why}. Type:  sudo apt-get update && sudo {command}   and then make again")
    say(f"{why}: installing {names}")
    environment = os.environ | {"DEBIAN_FRONTEND": "noninteractive"}
    for step in (["apt-get", "update", "-q"], command.split()):
        done = subprocess.run(step, env=environment, capture_output=True, text=True, check=False)
        if done.returncode:
            stop(f"{' '.join(step)} failed: {(done.stderr or done.stdout).strip().splitlines()[-1]}")


def check_python() -> None:
    """Refuse a Python that is too old, before anything is made."""
    if sys.version_info < OLDEST_PYTHON:
        wanted = ".".join(map(str, OLDEST_PYTHON))
        stop(
            f"Python {wanted} or newer is needed, this is {sys.version.split()[0]}. "
            "If a newer one is installed, name it:  make demo PYTHON=python3.12"
        )


def venv_python() -> Path:
    """The interpreter inside .venv, on this system."""
    return VENV / ("Scripts/python.exe" if os.name == "nt" else "bin/python")


def make_venv() -> None:
    """Create .venv; where Debian's python3-venv is missing, install it or say so."""
    if venv_python().exists():
        return
    try:
        import ensurepip  # noqa: F401
    except ImportError:
        package = f"python{sys.version_info.major}.{sys.version_info.minor}-venv"
        install_packages([package], f"Python's venv module is not complete ({package} is missing)")
    say("making .venv")
    shutil.rmtree(VENV, ignore_errors=True)
    subprocess.run([sys.executable, "-m", "venv", str(VENV)], check=True)


def install_project() -> None:
    """Install the project and everything it needs into .venv."""
    say("installing the project and what it needs into .venv (a few minutes the first time)")
    command = [str(venv_python()), "-m", "pip", "install", "--disable-pip-version-check", "-q"]
    command += ["-e", ".[simulation,test]"]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    if done.returncode:
        sys.stderr.write(done.stdout + done.stderr)
        stop("pip could not install the project; its own words are above. With a network, make again")


def missing_libraries() -> list[str]:
    """Shared libraries that Qt's own files ask for and this Linux does not have."""
    ask = "import importlib.util as u; print(u.find_spec('PySide6').submodule_search_locations[0])"
    found = subprocess.run([str(venv_python()), "-c", ask], capture_output=True, text=True, check=True)
    qt = Path(found.stdout.strip())
    platforms = qt / "Qt/plugins/platforms"
    files = [qt / "QtGui.abi3.so", qt / "QtWidgets.abi3.so", platforms / "libqoffscreen.so"]
    if os.environ.get("DISPLAY"):
        files.append(platforms / "libqxcb.so")
    listing = subprocess.run(["ldd", *map(str, files)], capture_output=True, text=True, check=False).stdout
    return sorted(set(re.findall(r"^\s*(\S+) => not found", listing, re.MULTILINE)))


def install_qt_libraries() -> None:
    """Bring the system libraries that Qt needs to start, with a display or without one."""
    if not sys.platform.startswith("linux"):
        return
    for _ in range(3):  # one library may ask for another that could not be seen before
        missing = missing_libraries()
        if not missing:
            return
        unknown = [name for name in missing if name not in DEBIAN_PACKAGES]
        if unknown:
            stop(f"Qt needs {', '.join(unknown)}, and this script does not know which package brings it")
        packages = sorted({DEBIAN_PACKAGES[name] for name in missing})
        install_packages(packages, f"Qt needs {', '.join(missing)}")
    stop(f"Qt still misses {', '.join(missing_libraries())}")


def stamp() -> str:
    """What the set-up rests on: it is done again when this changes."""
    facts = (ROOT / "pyproject.toml").read_bytes() + Path(__file__).read_bytes()
    return hashlib.sha256(facts + os.environ.get("DISPLAY", "").encode()[:1]).hexdigest()


def main() -> None:
    """Set up once; a second run with nothing changed costs nothing."""
    check_python()
    if STAMP.exists() and STAMP.read_text() == stamp() and venv_python().exists():
        return
    make_venv()
    install_project()
    install_qt_libraries()
    STAMP.write_text(stamp())
    say("done")


if __name__ == "__main__":
    main()
