"""Domain errors: what went wrong and what would mend it, in words for the person who did it.

They know nothing of HTTP. Pages show ``message`` beside ``field``; the API puts the same values in
its answer (``labsite.common.api``), so that both surfaces say the same. Where many values were sent
at once, ``problems`` lists every fault as ``{"field"|"row"|"column", "value", "message"}``, so that
nobody has to mend them one by one.
"""


class LabError(Exception):
    """A refusal that the user can act on."""

    code = "refused"

    def __init__(
        self,
        message: str,
        *,
        code: str | None = None,
        field: str | None = None,
        problems: tuple[dict, ...] = (),
    ):
        super().__init__(message)
        self.message = message
        self.field = field
        self.problems = problems
        if code is not None:
            self.code = code

    def __str__(self) -> str:
        return self.message


class InvalidInput(LabError):
    """A value that cannot be stored; ``field`` names it."""

    code = "invalid"


class NotAllowed(LabError):
    """The person's role does not permit this."""

    code = "not_allowed"


class WrongState(LabError):
    """The thing is not in a state that permits this (a revision in force, an accepted roll)."""

    code = "wrong_state"


class NotFound(LabError):
    """No such thing, or none that this person may see."""

    code = "not_found"
