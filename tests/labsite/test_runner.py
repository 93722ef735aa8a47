"""``manage.py test`` hands its options over to pytest."""

import argparse

import pytest

from tests import runner
from tests.sharing import scope_of


@pytest.fixture
def handed_over(monkeypatch):
    """``handed_over("-k", "fit")``: what pytest would be called with."""
    seen = []
    monkeypatch.setattr(runner.pytest, "main", lambda arguments: seen.append(arguments) or 0)
    monkeypatch.setattr(runner.os, "cpu_count", lambda: 4)

    def run(*words, **options):
        parser = argparse.ArgumentParser()
        parser.add_argument("args", nargs="*")
        runner.PytestRunner.add_arguments(parser)
        given = vars(parser.parse_args(words))
        labels = given.pop("args")
        assert runner.PytestRunner(**given, **options).run_tests(labels) == 0
        return seen.pop()

    return run


def test_by_default_one_process_a_core_and_no_long_drills(handed_over, capsys):
    assert handed_over() == ["-m", "not full", "-n", "4", "--dist", "loadgroup"]
    assert "Left out: tests marked 'full'" in capsys.readouterr().out


def test_the_usual_options(handed_over, capsys):
    arguments = handed_over(
        "tests/curves",
        "-k",
        "fit",
        "-m",
        "full",
        "-n",
        "0",
        "--pytest-args=--lf -x",
        verbosity=2,
        failfast=True,
    )
    assert arguments == ["tests/curves", "-m", "full", "--lf", "-x", "-k", "fit", "-x", "-v"]
    assert capsys.readouterr().out == ""


def test_no_test_at_all_is_a_failure(monkeypatch):
    monkeypatch.setattr(runner.pytest, "main", lambda arguments: pytest.ExitCode.NO_TESTS_COLLECTED)
    assert runner.PytestRunner().run_tests([]) == 5


def test_drills_and_what_shares_a_lab_stay_together_and_all_else_goes_singly():
    drills = {scope_of(f"tests/services/test_{name}.py::a") for name in ("broken_broker", "real_fit")}
    assert drills == {"drills"}
    pages = "tests/architecture/test_no_page_breaks.py"
    assert {scope_of(f"{pages}::a[x::y]"), scope_of(f"{pages}::b")} == {pages}
    shared = "tests/curves/test_sheet_versions.py"
    assert scope_of(f"{shared}::a") == shared
    parts = {scope_of(f"tests/services/test_postgresql.py::a[{part}]") for part in range(4)}
    assert len(parts) == 4
