"""The house reference: one at a time for each pair of standards, with its history."""

import pytest

from curves.models import HouseReference
from curves.services.references import appoint_reference
from labsite.accounts.models import AuditRecord
from labsite.common.errors import InvalidInput, NotAllowed
from tests.factories.standards import make_exposure, make_process
from tests.factories.standing import result_row, stock_row


@pytest.fixture
def pair(admin):
    return make_process(admin), make_exposure(admin)


def appoint(person, stock, pair, reason=""):
    process, exposure = pair
    return appoint_reference(
        actor=person,
        stock_id=stock.pk,
        process_revision_id=process.pk,
        exposure_revision_id=exposure.pk,
        reason=reason,
    )


def test_a_stock_with_a_result_becomes_the_reference_and_the_one_before_is_kept(admin, pair):
    first, second = stock_row(admin, "Aldermoor 100"), stock_row(admin, "Brackenhill 125")
    for stock in (first, second):
        result_row(stock, *pair)
    appoint(admin, first, pair)
    appoint(admin, second, pair, reason="still made")
    standing = HouseReference.objects.get(ended_at__isnull=True)
    assert (standing.stock, standing.reason, standing.appointed_by) == (second, "still made", admin)
    assert HouseReference.objects.get(ended_at__isnull=False).stock == first
    record = AuditRecord.objects.filter(action="appoint house reference").latest("id")
    assert (record.before, record.after) == ({"stock": "Aldermoor 100"}, {"stock": "Brackenhill 125"})


def test_each_pair_of_standards_has_its_own(admin, pair):
    stock = stock_row(admin)
    other = (make_process(admin, "Push process"), pair[1])
    for each in (pair, other):
        result_row(stock, *each)
        appoint(admin, stock, each)
    assert HouseReference.objects.filter(ended_at__isnull=True).count() == 2


def test_a_stock_without_a_result_or_already_appointed_is_refused(admin, pair):
    stock = stock_row(admin)
    with pytest.raises(InvalidInput, match="no accepted roll") as refused:
        appoint(admin, stock, pair)
    assert refused.value.field == "stock_id"
    result_row(stock, *pair)
    appoint(admin, stock, pair)
    with pytest.raises(InvalidInput, match="reference already"):
        appoint(admin, stock, pair)
    assert HouseReference.objects.count() == 1


def test_only_admins_appoint(admin, owner, visitor, pair):
    stock = stock_row(admin)
    result_row(stock, *pair)
    for person in (owner, visitor):
        with pytest.raises(NotAllowed):
            appoint(person, stock, pair)
