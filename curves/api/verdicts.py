"""Verdicts of members on stocks, and stocks asked for by what is wished of them, for scripts."""

from rest_framework import serializers
from rest_framework.response import Response

from curves.api.comparison import PairSerializer
from curves.api.engine import MeasureSerializer
from curves.api.labels import StockLabelSerializer
from curves.models import Purpose, VerdictState
from curves.queries.stock_finder import WISHED, FoundStock, Wishes, stock_finder
from curves.queries.stock_sheet import visible_stock
from curves.queries.verdicts import one_verdict, visible_verdicts, waiting_verdicts
from curves.services.verdicts import (
    MOST_PURPOSES,
    approve_verdict,
    decline_verdict,
    rewrite_verdict,
    withdraw_verdict,
    write_verdict,
)
from labsite.accounts.api.access import Admins, Members, Readers
from labsite.accounts.api.documents import operation
from labsite.accounts.api.fields import Asked, Choice, Given, Number, identifier, text
from labsite.accounts.api.views import LabView
from labsite.common.access import is_member
from labsite.common.errors import InvalidInput


class VerdictSerializer(serializers.Serializer):
    """What a member says of a stock under two standards; a text never changes."""

    id = serializers.IntegerField()
    stock_id = serializers.IntegerField()
    process_revision_id = serializers.IntegerField()
    exposure_revision_id = serializers.IntegerField()
    result_id = serializers.IntegerField(help_text="The numbers that its author had before them.")
    author = serializers.SerializerMethodField(help_text="Null for visitors where it wants no credit.")
    purposes = serializers.ListField(child=Choice(Purpose))
    what_for = serializers.CharField()
    strengths = serializers.CharField()
    watch_out = serializers.CharField()
    state = Choice(VerdictState)
    replaces_id = serializers.IntegerField(allow_null=True, help_text="The text that it was written after.")
    decision_reason = serializers.CharField()
    written_at = serializers.DateTimeField()

    def get_author(self, verdict) -> str | None:
        """Return the name, as far as the reader is told it."""
        author = verdict.author
        return author.display_name if is_member(self.context["user"]) else author.credit_line or None


class VerdictTextSerializer(Given):
    """The text of a verdict, and the result that it judges by."""

    result_id = identifier(help_text="The stock's standing result; refused if another stands by now.")
    purposes = serializers.ListField(
        child=Choice(Purpose), max_length=len(Purpose), help_text=f"1 to {MOST_PURPOSES}."
    )
    what_for = text(max_length=300)
    strengths = text(max_length=800)
    watch_out = text(required=False, default="", max_length=800)


class VerdictReasonSerializer(Given):
    """Why; declining needs it."""

    reason = text(required=False, default="", max_length=800)


class Verdicts(LabView):
    """Verdicts on a stock."""

    @operation(access=Readers, lists=VerdictSerializer)
    def get(self, request, stock_id: int):
        """List the verdicts on a stock that are open to you, newest first: approved ones, and your own."""
        stock = visible_stock(request.user, stock_id)
        return self.paged(VerdictSerializer, visible_verdicts(request.user).filter(stock=stock))

    @operation(
        access=Members,
        body=VerdictTextSerializer,
        answer=VerdictSerializer,
        status=201,
        refusals=(404, 409),
    )
    def post(self, request, stock_id: int):
        """Write a verdict on a stock; it waits for an admin."""
        stock = visible_stock(request.user, stock_id)
        given = self.given(VerdictTextSerializer)
        verdict = write_verdict(actor=request.user, **given)
        if verdict.stock_id != stock.pk:
            raise InvalidInput("This result is of another stock.", field="result_id")
        return self.answer(VerdictSerializer, verdict, status=201)


class OneVerdictView(LabView):
    """One verdict."""

    @operation(access=Readers, answer=VerdictSerializer, refusals=(404,))
    def get(self, request, verdict_id: int):
        """Read a verdict."""
        return self.answer(VerdictSerializer, one_verdict(request.user, verdict_id).verdict)


class RewriteVerdict(LabView):
    """A verdict written anew."""

    @operation(
        access=Members,
        body=VerdictTextSerializer,
        answer=VerdictSerializer,
        status=201,
        refusals=(404, 409),
    )
    def post(self, request, verdict_id: int):
        """Write your verdict anew: it waits in the queue, and what was approved stays until then."""
        one_verdict(request.user, verdict_id)
        given = self.given(VerdictTextSerializer)
        verdict = rewrite_verdict(actor=request.user, verdict_id=verdict_id, **given)
        return self.answer(VerdictSerializer, verdict, status=201)


class WithdrawVerdict(LabView):
    """A verdict taken back."""

    @operation(access=Members, answer=VerdictSerializer, refusals=(404, 409))
    def post(self, request, verdict_id: int):
        """Take your verdict back; its text is kept."""
        one_verdict(request.user, verdict_id)
        return self.answer(VerdictSerializer, withdraw_verdict(actor=request.user, verdict_id=verdict_id))


class WaitingVerdicts(LabView):
    """The queue."""

    @operation(access=Admins, lists=VerdictSerializer)
    def get(self, request):
        """List the verdicts that wait for an admin, longest first."""
        return self.paged(VerdictSerializer, waiting_verdicts(request.user))


class ApproveVerdict(LabView):
    """An admin's yes."""

    @operation(access=Admins, body=VerdictReasonSerializer, answer=VerdictSerializer, refusals=(404, 409))
    def post(self, request, verdict_id: int):
        """Let a verdict be shown, in place of what its author had shown before."""
        given = self.given(VerdictReasonSerializer)
        approved = approve_verdict(actor=request.user, verdict_id=verdict_id, **given)
        return self.answer(VerdictSerializer, approved)


class DeclineVerdict(LabView):
    """An admin's no."""

    @operation(access=Admins, body=VerdictReasonSerializer, answer=VerdictSerializer, refusals=(404, 409))
    def post(self, request, verdict_id: int):
        """Give a verdict back to its author with what speaks against it."""
        given = self.given(VerdictReasonSerializer)
        declined = decline_verdict(actor=request.user, verdict_id=verdict_id, **given)
        return self.answer(VerdictSerializer, declined)


class WishAnswerSerializer(serializers.Serializer):
    """How a stock answers one wish."""

    wish = serializers.CharField(source="name")
    fit = serializers.ChoiceField(["certain", "possible", "excluded"], source="verdict")
    why = serializers.CharField(help_text="What is not known, in words; may be empty.")
    measure = serializers.SerializerMethodField()

    def get_measure(self, answer) -> MeasureSerializer(allow_null=True):
        """Return the measure that was asked about; null for a purpose."""
        return answer.measure.to_dict() if answer.measure else None


class FoundStockSerializer(serializers.Serializer):
    """A stock with its answers and what members say of it."""

    stock = StockLabelSerializer()
    result_id = serializers.IntegerField()
    fit = serializers.ChoiceField(["certain", "possible", "excluded"])
    answers = WishAnswerSerializer(many=True)
    verdicts = VerdictSerializer(many=True)


class FoundStocksSerializer(serializers.Serializer):
    """All stocks under one pair of standards."""

    pair = PairSerializer(allow_null=True)
    stocks = FoundStockSerializer(many=True, help_text="Certain ones first, then possible, then excluded.")


class StockWishesSerializer(Asked):
    """What is wished; a measure's range may be open at either end."""

    standards = text(required=False, max_length=40, help_text="Key of a pair; empty: the first one.")
    purpose = serializers.ListField(
        child=Choice(Purpose), required=False, max_length=len(Purpose), help_text="Any of them will do."
    )

    def get_fields(self):
        """Add both ends of each measure that can be wished of."""
        ends = {
            f"{name}_{end}": Number(required=False, help_text=f"Of the measure {measure}.")
            for name, measure in WISHED.items()
            for end in ("from", "to")
        }
        return super().get_fields() | ends


class StocksForPurpose(LabView):
    """The page Stocks for a purpose, for scripts."""

    @operation(access=Readers, asks=StockWishesSerializer, answer=FoundStocksSerializer, refusals=(404,))
    def get(self, request):
        """Ask which stocks do for a purpose and for wished measures: certainly, perhaps, or not."""
        asked = self.asked(StockWishesSerializer)
        view = stock_finder(request.user, _wishes(asked), pair_key=asked.get("standards", ""))
        found = (*view.certain, *view.possible, *view.excluded)
        return Response(
            {
                "pair": PairSerializer(view.pair).data if view.pair else None,
                "stocks": [_found(each, self.context) for each in found],
            }
        )


def _wishes(asked: dict) -> Wishes:
    ranges = {}
    for name in WISHED:
        ends = asked.get(f"{name}_from"), asked.get(f"{name}_to")
        if None not in ends and ends[0] > ends[1]:
            raise InvalidInput("A range begins before it ends.", field=f"{name}_to")
        if ends != (None, None):
            ranges[name] = ends
    return Wishes(tuple(asked.get("purpose", ())), ranges)


def _found(found: FoundStock, context: dict) -> dict:
    return {
        "stock": StockLabelSerializer(found.result.stock).data,
        "result_id": found.result.pooled_id,
        "fit": found.verdict,
        "answers": WishAnswerSerializer(found.answers, many=True).data,
        "verdicts": VerdictSerializer(found.verdicts, many=True, context=context).data,
    }
