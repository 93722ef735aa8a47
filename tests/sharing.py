"""How test processes share the tests out: singly, but for those that stand on something costly together.

pytest-xdist writes a test's group into its name, which pytest 9.2 no longer lets it change; so the marks are
read here.
"""

import re
from functools import cache
from pathlib import Path

from xdist.scheduler import LoadScopeScheduling

ROOT = Path(__file__).resolve().parents[1]
GROUP = re.compile(r"mark\.xdist_group\(\"(\w+)\"\)")
#: What stands in a module whose tests share a lab that takes seconds to make.
SHARES_A_LAB = ("def build_lab(", "access_lab")


class Sharing(LoadScopeScheduling):
    """The tests of one scope run in one process; scopes with most tests come first."""

    def _split_scope(self, nodeid: str) -> str:
        return scope_of(nodeid)


def scope_of(nodeid: str) -> str:
    """What a test is sent out with: its module's group, its module, or nothing else."""
    return _scope_of_module(nodeid.partition("::")[0]) or nodeid


@cache
def _scope_of_module(module: str) -> str | None:
    source = (ROOT / module).read_text(encoding="utf-8")
    if group := GROUP.search(source):
        return group[1]
    return module if any(words in source for words in SHARES_A_LAB) else None
