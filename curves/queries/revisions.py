"""Standards as people read them: who sees which revision, what it says, and what changed.

``processes``, ``exposures`` and ``tablets`` each keep one ``Catalogue``; what is common to all is here.
"""

from collections.abc import Callable
from dataclasses import dataclass

from django.db.models import Count, OuterRef, QuerySet, Subquery, Value
from django.db.models.fields import IntegerField

from curves.models import RevisionState
from curves.models.revisions import Revision
from labsite.accounts.queries import may_read_accepted
from labsite.common.access import is_member
from labsite.common.errors import NotFound

#: What a revision fixes: label and text of each thing, with its unit.
Facts = list[tuple[str, str]]


@dataclass(frozen=True)
class Difference:
    """One thing that two revisions say differently."""

    label: str
    before: str
    after: str


@dataclass(frozen=True)
class Comparison:
    """What changed between two revisions, and how much did not."""

    before: Revision
    after: Revision
    differences: tuple[Difference, ...]
    same_count: int


@dataclass(frozen=True)
class Catalogue:
    """One kind of standard, and how its revisions are put in words.

    ``uses`` names the rows that rest on a revision; ``parts`` the rows that belong to it, which are listed
    apart from its other facts.
    """

    standard_model: type
    revision_model: type[Revision]
    noun: str
    link: str
    uses: str
    facts: Callable[[Revision], Facts]
    part_facts: Callable[[Revision], Facts] = lambda revision: []
    related: tuple[str, ...] = ()
    parts: tuple[str, ...] = ()

    def standards(self, user) -> QuerySet:
        """Return the standards that this person may see, with the numbers of what is in force and drafted.

        Members see all of them; visitors of an open lab those in force.
        """
        mine = self.revision_model.objects.filter(**{self.link: OuterRef("pk")})
        in_force = mine.filter(state=RevisionState.IN_FORCE)
        draft = mine.filter(state=RevisionState.DRAFT).values("number")[:1]
        standards = self.standard_model.objects.annotate(
            in_force_number=Subquery(in_force.values("number")[:1]),
            in_force_at=Subquery(in_force.values("in_force_at")[:1]),
            draft_number=Subquery(draft) if is_member(user) else Value(None, output_field=IntegerField()),
        )
        if is_member(user):
            return standards
        if may_read_accepted(user):
            return standards.filter(in_force_number__isnull=False)
        return standards.none()

    def standard(self, user, standard_id: int):
        """Return one standard that this person may see, or refuse."""
        standard = self.standards(user).filter(pk=standard_id).first()
        if standard is None:
            raise NotFound(f"There is no such {self.noun}, or it is not open to you.")
        return standard

    def revisions(self, user) -> QuerySet[Revision]:
        """Return the revisions that this person may see; visitors only those in force."""
        revisions = self.revision_model.objects.select_related(self.link, "created_by", *self.related)
        revisions = revisions.prefetch_related(*self.parts)
        if is_member(user):
            return revisions
        if may_read_accepted(user):
            return revisions.filter(state=RevisionState.IN_FORCE)
        return revisions.none()

    def revisions_of(self, user, standard) -> list[Revision]:
        """Return a standard's revisions, newest first, each with ``use_count``."""
        revisions = self.revisions(user).filter(**{self.link: standard})
        return list(revisions.annotate(use_count=Count(self.uses, distinct=True)).order_by("-number"))

    def revision(self, user, standard_id: int, number: int) -> Revision:
        """Return one revision that this person may see, or refuse."""
        found = self.revisions(user).filter(**{f"{self.link}_id": standard_id, "number": number}).first()
        if found is None:
            raise NotFound(f"This {self.noun} has no number {number} that is open to you.")
        return found

    def comparison(self, before: Revision, after: Revision) -> Comparison:
        """Return what the later revision says differently; "–" stands where one of them says nothing."""
        old, new = (dict(self.facts(r) + self.part_facts(r)) for r in (before, after))
        labels = [*new, *(label for label in old if label not in new)]
        differences = [
            Difference(label, old.get(label) or "–", new.get(label) or "–")
            for label in labels
            if (old.get(label) or "") != (new.get(label) or "")
        ]
        return Comparison(before, after, tuple(differences), len(labels) - len(differences))


def number_text(value: float | None, unit: str = "") -> str:
    """Return a number with its unit and a true minus sign; empty where there is none."""
    if value is None:
        return ""
    return f"{value:g} {unit}".rstrip().replace("-", "−")


def minutes_text(seconds: int | None) -> str:
    """Return a time as minutes and seconds, as darkroom clocks show it."""
    if seconds is None:
        return ""
    minutes, rest = divmod(seconds, 60)
    return f"{minutes} min {rest:02d} s" if minutes else f"{rest} s"
