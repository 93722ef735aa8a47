"""A plugin for pytest: of what was collected, only tests that touch the test database are run."""

DATABASE_FIXTURES = {"db", "transactional_db", "django_db_setup"}


def touches_the_database(item) -> bool:
    """Whether a test asks for the database by a mark, or by a fixture however deep."""
    return bool(item.get_closest_marker("django_db") or DATABASE_FIXTURES & set(item.fixturenames))


def pytest_collection_modifyitems(config, items):
    """Take out the others."""
    left_out = [item for item in items if not touches_the_database(item)]
    items[:] = [item for item in items if touches_the_database(item)]
    config.hook.pytest_deselected(items=left_out)
