"""Comparisons that are kept: saved ones by name for members, frozen ones for citing."""

from urllib.parse import urlencode

from rest_framework import serializers

from curves.api.comparison import MOST_STOCKS
from curves.queries.comparison import comparison_view
from curves.queries.comparison_document import comparison_document
from curves.queries.comparisons_kept import (
    frozen_comparison,
    newer_results_than,
    visible_frozen,
    visible_saved,
)
from curves.services.comparisons import (
    delete_comparison,
    freeze_comparison,
    rename_comparison,
    save_comparison,
)
from labsite.accounts.api.access import Members, Readers
from labsite.accounts.api.documents import operation
from labsite.accounts.api.fields import Given, PersonSerializer, identifier, text
from labsite.accounts.api.views import LabView
from labsite.common.errors import NotFound, WrongState


class SavedComparisonSerializer(serializers.Serializer):
    """A comparison under a name; what it shows follows the newest results."""

    id = serializers.IntegerField()
    name = serializers.CharField()
    owner = PersonSerializer()
    query = serializers.CharField(help_text="Of the Compare page, after its question mark.")
    created_at = serializers.DateTimeField()
    changed_at = serializers.DateTimeField()


class NewSavedSerializer(Given):
    """A name, and what it stands for."""

    name = text(help_text="None of yours that you have used before.")
    query = text(required=False, default="", help_text="As in the address of the Compare page.")


class RenameSerializer(Given):
    """Another name."""

    name = text()


class FrozenLineSerializer(serializers.Serializer):
    """A frozen comparison in a list."""

    code = serializers.CharField(help_text="Its short name in addresses.")
    title = serializers.CharField()
    digest = serializers.CharField(help_text="SHA-256 of its CSV file.")
    engine_version = serializers.CharField()
    process_revision_id = serializers.IntegerField()
    exposure_revision_id = serializers.IntegerField()
    frozen_by = PersonSerializer()
    frozen_at = serializers.DateTimeField()


class FrozenSerializer(FrozenLineSerializer):
    """A frozen comparison with its numbers as they were kept."""

    document = serializers.DictField(help_text="Stocks with measures, differences and verdicts.")
    newer = serializers.SerializerMethodField(help_text="Stocks of which another result stands by now.")

    def get_newer(self, frozen) -> list[str]:
        """Return the names of the stocks whose results have moved on."""
        return list(newer_results_than(frozen))


class FreezeSerializer(Given):
    """What is to be frozen."""

    title = text(help_text="What a reader of the citation sees.")
    standards = text(required=False, max_length=40, help_text="Key of a pair; empty: the first one.")
    stock = serializers.ListField(
        child=identifier(),
        required=False,
        max_length=MOST_STOCKS,
        help_text="Only these stocks and the reference; none: all.",
    )
    mixed = serializers.BooleanField(
        required=False, help_text="Take stocks without a result here from other standards, marked."
    )


class SavedComparisons(LabView):
    """Saved comparisons of the lab's members."""

    @operation(access=Members, lists=SavedComparisonSerializer)
    def get(self, request):
        """List the saved comparisons of all members, by name."""
        return self.paged(SavedComparisonSerializer, visible_saved(request.user))

    @operation(access=Members, body=NewSavedSerializer, answer=SavedComparisonSerializer, status=201)
    def post(self, request):
        """Save a comparison under a name of one's own."""
        given = self.given(NewSavedSerializer)
        saved = save_comparison(actor=request.user, name=given["name"], query=given["query"].lstrip("?"))
        return self.answer(SavedComparisonSerializer, saved, status=201)


class OneSavedComparison(LabView):
    """One saved comparison."""

    @operation(access=Members, answer=SavedComparisonSerializer, refusals=(404,))
    def get(self, request, comparison_id: int):
        """Read a saved comparison."""
        found = visible_saved(request.user).filter(pk=comparison_id).first()
        if found is None:
            raise NotFound("There is no such saved comparison.")
        return self.answer(SavedComparisonSerializer, found)

    @operation(access=Members, body=RenameSerializer, answer=SavedComparisonSerializer, refusals=(404,))
    def patch(self, request, comparison_id: int):
        """Rename a saved comparison of one's own."""
        renamed = rename_comparison(
            actor=request.user, comparison_id=comparison_id, **self.given(RenameSerializer)
        )
        return self.answer(SavedComparisonSerializer, renamed)

    @operation(access=Members, status=204, refusals=(404,))
    def delete(self, request, comparison_id: int):
        """Delete a saved comparison of one's own; the results that it showed stay."""
        delete_comparison(actor=request.user, comparison_id=comparison_id)
        return self.nothing()


class FrozenComparisons(LabView):
    """Comparisons that were frozen for citing."""

    @operation(access=Readers, lists=FrozenLineSerializer)
    def get(self, request):
        """List the frozen comparisons, newest first."""
        return self.paged(FrozenLineSerializer, visible_frozen(request.user))

    @operation(
        access=Members, body=FreezeSerializer, answer=FrozenSerializer, status=201, refusals=(404, 409)
    )
    def post(self, request):
        """Freeze the numbers of a comparison as they are now; nothing changes or deletes them later."""
        given = self.given(FreezeSerializer)
        wanted = tuple(dict.fromkeys(given.get("stock", ())))
        is_mixed = given.get("mixed", False)
        view = comparison_view(
            request.user,
            pair_key=given.get("standards", ""),
            wanted_stock_ids=wanted,
            is_mixing=is_mixed,
            with_curves=False,
        )
        if view.pair is None:
            raise NotFound("There is nothing to freeze yet: no stock has a result.")
        absent = set(wanted) - {stock.stock.pk for stock in view.stocks}
        if absent:
            raise WrongState(f"{len(absent)} of the {len(wanted)} chosen stocks have no result here.")
        shown = [each for each in view.stocks if not wanted or each.is_reference or each.stock.pk in wanted]
        frozen = freeze_comparison(
            actor=request.user,
            title=given["title"],
            query=_query(view.pair.key, wanted, is_mixed=is_mixed),
            pair_ids=view.pair.ids,
            document=comparison_document(view, shown),
        )
        return self.answer(FrozenSerializer, frozen, status=201)


class OneFrozenComparison(LabView):
    """One frozen comparison."""

    @operation(access=Readers, answer=FrozenSerializer, refusals=(404,))
    def get(self, request, frozen_code: str):
        """Read a frozen comparison; its numbers never change."""
        return self.answer(FrozenSerializer, frozen_comparison(request.user, frozen_code))


def _query(pair_key: str, stocks: tuple[int, ...], *, is_mixed: bool) -> str:
    """The address of the same comparison on the Compare page."""
    parts = [("standards", pair_key)]
    parts += [("stocks", ".".join(map(str, stocks)))] if stocks else []
    parts += [("mixed", "1")] if is_mixed else []
    return urlencode(parts)
