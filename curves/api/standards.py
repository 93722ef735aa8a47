"""The life of standards of every kind, as for the pages: draft, enforce, revise, discard, rename."""

from django.db.models import Prefetch, prefetch_related_objects
from django.urls import path

from curves.api.standard_documents import (
    ChangeNoteSerializer,
    RevisionsAskedSerializer,
    SeenSerializer,
    StandardsAskedSerializer,
)
from curves.api.standard_sides import StandardSide
from curves.services import standards
from labsite.accounts.api.access import Admins, Readers
from labsite.accounts.api.documents import operation
from labsite.accounts.api.views import LabView
from labsite.common.errors import NotFound


class StandardView(LabView):
    """What the views of all kinds share; ``side`` is the kind's own."""

    side: StandardSide | None = None

    @property
    def words(self) -> dict[str, str]:
        """What the kind calls its things."""
        return self.side.words

    def one_standard(self, standard_id: int):
        """Return the answer with a standard and its revisions."""
        catalogue = self.side.catalogue
        standard = catalogue.standard(self.request.user, standard_id)
        revisions = catalogue.revisions(self.request.user).order_by("-number")
        prefetch_related_objects([standard], Prefetch("revisions", revisions))
        return self.answer(self.side.one_standard, standard)

    def one_revision(self, revision_id: int, *, status: int = 200):
        """Return the answer with a revision and its fingerprint."""
        side = self.side
        revision = side.catalogue.revisions(self.request.user).filter(pk=revision_id).first()
        if revision is None:
            raise NotFound(f"There is no such {side.kind.revision_noun}, or it is not open to you.")
        revision.fingerprint = standards.fingerprint_of(kind=side.kind, revision=revision)
        return self.answer(side.one_revision, revision, status=status)


class Standards(StandardView):
    """The standards of one kind."""

    @operation(access=Readers, asks=StandardsAskedSerializer, lists="side.standard")
    def get(self, request):
        """List {noun}s by name; visitors get those in force."""
        asked = self.asked(StandardsAskedSerializer)
        found = self.side.catalogue.standards(request.user).filter(name__icontains=asked.get("q", ""))
        return self.paged(self.side.standard, found)

    @operation(access=Admins, body="side.new", answer="side.one_revision", status=201)
    def post(self, request):
        """Make a new {noun}.

        What it fixes becomes the draft of its first {revision_noun}, which is answered.
        """
        kind = self.side.kind
        given = self.given(self.side.new)
        about = given.pop(kind.about, "")
        draft = standards.create_standard(kind=kind, actor=request.user, about=about, **given)
        return self.one_revision(draft.pk, status=201)


class OneStandard(StandardView):
    """One standard."""

    @operation(access=Readers, answer="side.one_standard", refusals=(404,))
    def get(self, request, standard_id: int):
        """Read {a_noun} with its {revision_noun}s, newest first."""
        return self.one_standard(standard_id)

    @operation(access=Admins, body="side.name", answer="side.one_standard", refusals=(404,))
    def patch(self, request, standard_id: int):
        """Change the name of {a_noun} and what is said about it."""
        kind = self.side.kind
        given = self.given(self.side.name)
        standard = self.side.catalogue.standard(request.user, standard_id)
        said = {
            "name": given.get("name", standard.name),
            "about": given.get(kind.about, getattr(standard, kind.about)),
        }
        standards.rename_standard(kind=kind, actor=request.user, standard_id=standard_id, **said)
        return self.one_standard(standard_id)


class ReviseStandard(StandardView):
    """Beginning a change."""

    @operation(
        access=Admins,
        body=ChangeNoteSerializer,
        answer="side.one_revision",
        status=201,
        refusals=(404, 409),
    )
    def post(self, request, standard_id: int):
        """Draft the next {revision_noun} of {a_noun}, copied from the newest one."""
        given = self.given(ChangeNoteSerializer)
        draft = standards.revise_standard(
            kind=self.side.kind, actor=request.user, standard_id=standard_id, **given
        )
        return self.one_revision(draft.pk, status=201)


class Revisions(StandardView):
    """The revisions of all standards of one kind."""

    @operation(access=Readers, asks=RevisionsAskedSerializer, lists="side.revision")
    def get(self, request):
        """List {revision_noun}s of all {noun}s; visitors get those in force."""
        link = self.side.kind.link
        asked = self.asked(RevisionsAskedSerializer)
        columns = {"state": "state", "standard_id": f"{link}_id"}
        wanted = {columns[name]: value for name, value in asked.items()}
        found = self.side.catalogue.revisions(request.user).filter(**wanted)
        return self.paged(self.side.revision, found.order_by(f"{link}__name", "-number"))


class OneRevision(StandardView):
    """One revision."""

    @operation(access=Readers, answer="side.one_revision", refusals=(404,))
    def get(self, request, revision_id: int):
        """Read a {revision_noun} of {a_noun}."""
        return self.one_revision(revision_id)

    @operation(access=Admins, body="side.changes", answer="side.one_revision", refusals=(404, 409))
    def patch(self, request, revision_id: int):
        """Change the draft of a {revision_noun}; one that is or was in force is refused."""
        given = self.given(self.side.changes)
        standards.edit_draft(kind=self.side.kind, actor=request.user, revision_id=revision_id, **given)
        return self.one_revision(revision_id)

    @operation(access=Admins, status=204, refusals=(404, 409))
    def delete(self, request, revision_id: int):
        """Discard the draft of a {revision_noun}; the history keeps what it said."""
        standards.discard_draft(kind=self.side.kind, actor=request.user, revision_id=revision_id)
        return self.nothing()


class EnforceRevision(StandardView):
    """Fixing a draft for good."""

    @operation(access=Admins, body=SeenSerializer, answer="side.one_revision", refusals=(404, 409))
    def post(self, request, revision_id: int):
        """Put the draft of a {revision_noun} in force; the one in force before it is superseded."""
        given = self.given(SeenSerializer)
        standards.put_in_force(kind=self.side.kind, actor=request.user, revision_id=revision_id, **given)
        return self.one_revision(revision_id)


def standard_urls(side: StandardSide) -> list:
    """Return the addresses of one kind of standard."""
    standard, revision = f"{side.plural}/<int:standard_id>/", f"{side.revisions}/<int:revision_id>/"
    views = {
        f"{side.plural}/": (Standards, "standards"),
        standard: (OneStandard, "standard"),
        f"{standard}revise/": (ReviseStandard, "revise"),
        f"{side.revisions}/": (Revisions, "revisions"),
        revision: (OneRevision, "revision"),
        f"{revision}enforce/": (EnforceRevision, "enforce"),
    }
    return [
        path(address, view.as_view(side=side), name=f"api_{side.key}_{name}")
        for address, (view, name) in views.items()
    ]
