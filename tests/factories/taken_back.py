"""Work in a database that leaves nothing: for a lab that a module's tests share, and for one that is kept."""

from contextlib import contextmanager

from django.db import transaction


@contextmanager
def taken_back():
    """A transaction that is rolled back at its end.

    Durable blocks within take it for a test's own, so that services work as they do in a test. Each test
    that asks for ``db`` meanwhile has a savepoint in it, and so takes back what it changes.
    """
    everything = transaction.atomic()
    everything._from_testcase = True
    with everything:
        yield
        transaction.set_rollback(True)
