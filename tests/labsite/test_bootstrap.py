"""The first run on a bare machine: the .venv is made, topped up or refused with one plain sentence."""

import ast
import os
import shutil
import subprocess
import sys

import pytest

from labsite import bootstrap
from tests.architecture.sources import ROOT

BEFORE_DJANGO = ["manage.py", "labsite/__init__.py", "labsite/bootstrap.py"]


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """A folder that the bootstrap takes for the project's, with two empty requirement files."""
    (tmp_path / "tests").mkdir()
    (tmp_path / "requirements.txt").write_text("")
    (tmp_path / "tests" / "requirements.txt").write_text("# more\n")
    monkeypatch.setattr(bootstrap, "ROOT", tmp_path)
    return tmp_path


@pytest.fixture
def commands(monkeypatch):
    """The commands that would be run, and no uv on PATH."""
    run = []
    monkeypatch.setattr(bootstrap.shutil, "which", lambda name: None)
    monkeypatch.setattr(
        bootstrap, "run", lambda command, sentence: run.append([str(part) for part in command])
    )
    return run


def bare_venv(folder, *, works=True):
    """Something that looks like an environment; broken when there is no program behind its python."""
    (folder / ".venv" / "bin").mkdir(parents=True)
    (folder / ".venv" / "pyvenv.cfg").write_text("home = somewhere\n")
    (folder / ".venv" / "keepsake").write_text("")
    (folder / ".venv" / "bin" / "python").symlink_to(sys.executable if works else folder / "gone")
    return folder / ".venv"


@pytest.mark.parametrize("name", BEFORE_DJANGO)
def test_old_pythons_can_read_as_far_as_the_sentence(name):
    """What runs before Django keeps to the grammar of Python 3.6 and to the standard library."""
    tree = ast.parse((ROOT / name).read_text(), feature_version=(3, 6))
    imported = [node for node in tree.body if isinstance(node, ast.Import | ast.ImportFrom)]
    names = [getattr(node, "module", None) or node.names[0].name for node in imported]
    assert {name.split(".")[0] for name in names} <= sys.stdlib_module_names | {"labsite"}


def test_too_old_a_python_is_one_sentence(monkeypatch):
    monkeypatch.setattr(bootstrap.sys, "version_info", (3, 9, 2))
    with pytest.raises(SystemExit, match=r"needs Python 3\.11 or newer; this is Python 3\.9\.$"):
        bootstrap.prepare(["manage.py"])


def test_an_image_is_left_alone(folder, commands, monkeypatch):
    monkeypatch.setenv("LABSITE_NO_BOOTSTRAP", "1")
    bootstrap.prepare(["manage.py", "test"])
    assert commands == []


def test_without_the_venv_module_debian_users_get_the_command(folder, commands, monkeypatch):
    monkeypatch.setattr(bootstrap.importlib.util, "find_spec", lambda name: None)
    with pytest.raises(SystemExit, match="sudo apt install python3-venv"):
        bootstrap.install(folder / ".venv", [bootstrap.SITE])
    assert commands == []
    assert not (folder / ".venv").exists()


def test_an_environment_made_by_hand_is_topped_up_in_place(folder, commands):
    venv = bare_venv(folder)
    bootstrap.install(venv, [bootstrap.SITE, bootstrap.TESTS])
    assert (venv / "keepsake").exists()
    [install] = commands
    assert install[1:4] == ["-m", "pip", "install"]
    assert install[-4:] == [
        "-r",
        str(folder / "requirements.txt"),
        "-r",
        str(folder / "tests/requirements.txt"),
    ]
    assert all(bootstrap.is_installed(venv, name) for name in (bootstrap.SITE, bootstrap.TESTS))


def test_a_half_made_environment_is_made_anew(folder, commands):
    venv = bare_venv(folder, works=False)
    bootstrap.install(venv, [bootstrap.SITE])
    assert not (venv / "keepsake").exists()
    assert commands[0] == [sys.executable, "-m", "venv", str(venv)]
    assert len(commands) == 2


def test_uv_is_used_where_there_is_one(folder, commands, monkeypatch):
    monkeypatch.setattr(bootstrap.shutil, "which", lambda name: f"/usr/bin/{name}")
    monkeypatch.setattr(bootstrap.importlib.util, "find_spec", lambda name: None)
    bootstrap.install(folder / ".venv", [bootstrap.SITE])
    assert [command[:2] for command in commands] == [["/usr/bin/uv", "venv"], ["/usr/bin/uv", "pip"]]


def test_a_changed_requirement_file_is_installed_again(folder, commands):
    venv = bare_venv(folder)
    bootstrap.install(venv, [bootstrap.SITE])
    assert bootstrap.is_installed(venv, bootstrap.SITE)
    (folder / "requirements.txt").write_text("# a new line\n")
    assert not bootstrap.is_installed(venv, bootstrap.SITE)


def test_a_folder_that_cannot_be_written_to_is_one_sentence(folder, commands, monkeypatch):
    (folder / "a-file").write_text("")
    monkeypatch.setattr(bootstrap, "ROOT", folder / "a-file")
    with pytest.raises(SystemExit, match="a-file cannot be written to"):
        bootstrap.make_venv(folder / "a-file" / ".venv", None)


# --- The real thing, in a folder of its own


@pytest.fixture
def bare_project(tmp_path):
    """What the bootstrap needs of the project, with a manage.py that only says where it runs."""
    for name in BEFORE_DJANGO[1:]:
        (tmp_path / name).parent.mkdir(exist_ok=True)
        shutil.copy(ROOT / name, tmp_path / name)
    (tmp_path / "requirements.txt").write_text("")
    (tmp_path / "manage.py").write_text(
        "import sys\nfrom labsite import bootstrap\n"
        "bootstrap.prepare(sys.argv)\nprint(sys.prefix, *sys.argv[1:])\n"
    )
    return tmp_path


def manage(project, **environment):
    """Run the project's manage.py with the Python that made our own environment, and no uv."""
    python = shutil.which("python3", path=os.pathsep.join([f"{sys.base_prefix}/bin", os.defpath]))
    command = [python, "manage.py", "check", "--deploy"]
    surroundings = {"PATH": os.defpath, "HOME": str(project / "home"), **environment}
    return subprocess.run(command, cwd=project, env=surroundings, capture_output=True, text=True, check=False)


def test_the_first_run_makes_it_and_starts_anew_inside(bare_project):
    result = manage(bare_project)
    assert result.returncode == 0, result.stderr
    assert result.stdout == f"{bare_project / '.venv'} check --deploy\n"
    assert "Setting up .venv" in result.stderr
    again = manage(bare_project)
    assert (again.stdout, again.stderr) == (result.stdout, "")


def test_without_a_network_it_is_one_sentence_and_may_be_tried_again(bare_project):
    (bare_project / "requirements.txt").write_text("a-package-that-cannot-be-fetched==1.0\n")
    # A port on which nothing answers stands for the network that is not there.
    nowhere = {
        "PIP_INDEX_URL": "http://127.0.0.1:9/simple",
        "PIP_RETRIES": "0",
        "PIP_CONFIG_FILE": os.devnull,
    }
    result = manage(bare_project, **nowhere)
    assert result.returncode == 1
    assert "The packages could not be installed; is there a network connection?" in result.stderr
    assert "Traceback" not in result.stderr
    (bare_project / "requirements.txt").write_text("")
    assert manage(bare_project).returncode == 0
