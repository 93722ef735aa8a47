"""Makes the .venv on first use; the standard library only, since nothing is installed yet."""


def prepare(argv):
    """Return inside an environment that holds what the requirement files ask for."""
