"""What the kinds of standard have in common, and what each has to say of itself.

``processes``, ``exposures`` and ``tablets`` subclass ``StandardKind``; the verbs in ``standards`` take an
instance of one of them. A kind knows what its revisions fix and what must hold for the values; it
decides nothing about states.
"""

from collections.abc import Mapping
from contextlib import contextmanager
from typing import Any, ClassVar

from django.db import IntegrityError, models, transaction

from curves.models.revisions import Revision
from labsite.accounts.services.changes import check_fields
from labsite.common.errors import InvalidInput, LabError

Values = dict[str, Any]
Problems = list[dict]
LONGEST_TOLD = 10**9


class StandardKind:
    """One kind of standard: its models, its words, the values it fixes and the rules for them.

    ``bounds`` gives for each number the lowest and highest value that is no slip of the pen, and the unit.
    """

    standard_model: ClassVar[type[models.Model]]
    revision_model: ClassVar[type[Revision]]
    noun: ClassVar[str]
    revision_noun: ClassVar[str] = "revision"
    link: ClassVar[str] = "standard"
    about: ClassVar[str] = "purpose"
    fields: ClassVar[tuple[str, ...]]
    bounds: ClassVar[Mapping[str, tuple[float, float, str]]] = {}

    def standard_of(self, revision: Revision) -> models.Model:
        """Return the standard that a revision belongs to."""
        return getattr(revision, self.link)

    def values_of(self, revision: Revision) -> Values:
        """Return everything that the revision fixes."""
        return {name: getattr(revision, name) for name in self.fields}

    def values_to_revise(self, revision: Revision) -> Values:
        """Return what a new draft starts from."""
        return self.values_of(revision)

    def set_values(self, revision: Revision, values: Values) -> None:
        """Give an unsaved revision its values."""
        for name in self.fields:
            setattr(revision, name, values[name])

    def save(self, revision: Revision, values: Values) -> None:
        """Save a revision with its values."""
        revision.save()

    def rule_problems(self, values: Values) -> Problems:
        """Return what is wrong with values that are each right by themselves."""
        return []

    def refuse_unready(self, revision: Revision) -> None:
        """Raise WrongState when a draft is not fit to be put in force yet."""

    def problems(self, revision: Revision, values: Values) -> Problems:
        """Give an unsaved revision its values and return all that is wrong with them."""
        self.set_values(revision, values)
        problems = self._field_problems(revision)
        faulty = {problem["field"] for problem in problems}
        problems += [p for p in self._bound_problems(values) if p["field"] not in faulty]
        return problems or self.rule_problems(values)

    def _field_problems(self, revision: Revision) -> Problems:
        key_of = {revision._meta.get_field(name).name: name for name in self.fields}
        try:
            check_fields(revision, *key_of)
        except InvalidInput as fault:
            return [problem | {"field": key_of[problem["field"]]} for problem in fault.problems]
        return []

    def _bound_problems(self, values: Values) -> Problems:
        problems = []
        for name, (lowest, highest, unit) in self.bounds.items():
            value = values[name]
            if value is None or lowest <= value <= highest:
                continue
            limits = f"{lowest:g} to {highest:g} {unit}".rstrip()
            # A whole number may have more digits than a float can hold.
            given = f"{value:g}" if isinstance(value, float) or abs(value) < LONGEST_TOLD else "that"
            problems.append({"field": name, "message": f"Enter {limits}; {given} can't be right."})
        return problems


def refusal_of(problems: Problems) -> InvalidInput:
    """Return one refusal that carries every problem."""
    first = problems[0]
    return InvalidInput(first["message"], field=first.get("field"), problems=tuple(problems))


@contextmanager
def refused_on_conflict(refusal: LabError):
    """Turn a broken constraint of the database into words: somebody else was a moment faster."""
    try:
        with transaction.atomic():
            yield
    except IntegrityError:
        raise refusal from None
