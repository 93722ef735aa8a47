"""Makes the .venv on first use; the standard library only, since nothing is installed yet.

This file and manage.py keep to the grammar of old Pythons, so that those too get as far as the
sentence that says which version is needed.
"""

import hashlib
import importlib.util
import os
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
OLDEST = (3, 11)
SITE = "requirements.txt"
TESTS = "tests/requirements.txt"


def prepare(argv):
    """Return only inside a .venv that holds what the command needs; otherwise make it and start anew there.

    LABSITE_NO_BOOTSTRAP=1 leaves everything as it is, for container images.
    """
    if sys.version_info[:2] < OLDEST:
        have, need = (".".join(map(str, version)) for version in (sys.version_info[:2], OLDEST))
        sys.exit(f"Common Grey needs Python {need} or newer; this is Python {have}.")
    if os.environ.get("LABSITE_NO_BOOTSTRAP", "") in ("1", "true", "yes", "on"):
        return
    venv = ROOT / ".venv"
    wanted = [SITE, TESTS] if argv[1:2] in (["test"], ["benchmark"]) else [SITE]
    missing = [name for name in wanted if not is_installed(venv, name)]
    if missing:
        install(venv, missing)
    if Path(sys.prefix).resolve() != venv:
        python = str(venv / "bin" / "python")
        os.execv(python, [python, *sys.orig_argv[1:]])


def is_installed(venv, name):
    """Whether this very requirement file has been installed there before."""
    stamp = stamp_path(venv, name)
    return (venv / "bin" / "python").exists() and stamp.is_file() and stamp.read_text() == digest(name)


def install(venv, names):
    """Make the environment if there is none that works, install the files, and stamp them last."""
    uv = shutil.which("uv")
    say(f"Setting up .venv from {' and '.join(names)} (once; takes up to a minute) ...")
    if not is_usable(venv, uv):
        make_venv(venv, uv)
    python = str(venv / "bin" / "python")
    files = [part for name in names for part in ("-r", str(ROOT / name))]
    if uv:
        command = [uv, "pip", "install", "--quiet", "--python", python, *files]
    else:
        command = [python, "-m", "pip", "install", "--quiet", "--disable-pip-version-check"]
        command += ["--retries", "2", *files]
    run(command, "The packages could not be installed; is there a network connection?")
    for name in names:
        stamp_path(venv, name).write_text(digest(name))


def is_usable(venv, uv):
    """Whether packages can be put there: a broken or half-made environment cannot take any."""
    python = venv / "bin" / "python"
    if not (venv / "pyvenv.cfg").is_file() or not python.exists():
        return False
    probe = f"import sys; assert sys.version_info[:2] >= {OLDEST}"
    probe += "" if uv else "; import pip"
    return subprocess.run([str(python), "-c", probe], check=False, capture_output=True).returncode == 0


def make_venv(venv, uv):
    """Make an empty environment with uv where there is one, else with Python's own venv module."""
    # Debian's python3 without python3-venv would fail half-way and leave a broken folder behind.
    if not uv and importlib.util.find_spec("ensurepip") is None:
        sys.exit("Python's venv module is missing. On Debian: sudo apt install python3-venv")
    try:
        if venv.exists():
            shutil.rmtree(str(venv))
        venv.mkdir()
    except OSError as fault:
        sys.exit(f"{ROOT} cannot be written to ({fault.strerror}); .venv belongs there.")
    if uv:
        command = [uv, "venv", "--quiet", "--allow-existing", "--python", sys.executable, str(venv)]
    else:
        command = [sys.executable, "-m", "venv", str(venv)]
    run(command, "The environment .venv could not be made.")


def run(command, sentence):
    """Run a command; should it fail, its last line goes after our sentence, and no traceback."""
    result = subprocess.run(command, check=False, stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
    if result.returncode:
        lines = result.stdout.decode(errors="replace").strip().splitlines() or ["nothing"]
        sys.exit(f"{sentence} {Path(command[0]).name} said: {lines[-1].strip()}")


def stamp_path(venv, name):
    """The file that remembers which version of a requirement file has been installed."""
    return venv / ("installed-" + name.replace("/", "-"))


def digest(name):
    """The SHA-256 of a requirement file."""
    return hashlib.sha256((ROOT / name).read_bytes()).hexdigest()


def say(sentence):
    """Print to stderr: a command's own output stays clean for scripts."""
    print(sentence, file=sys.stderr, flush=True)
