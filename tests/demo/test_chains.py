"""The demo's chains: one that came from elsewhere, one that crossed."""

from __future__ import annotations

from library.exchange.models import ChainImport
from library.provenance.chain import chain_up
from library.provenance.models import OffTypeReport
from library.provenance.walking import descendants_of
from library.provenance.warnings import warnings_of
from library.stock.models import Lot


def test_a_bean_came_over_the_moor_with_its_history(demo):
    came = ChainImport.objects.get()
    chain = chain_up(came.lot)

    elsewhere = [lot.foreign for lot in chain.order if lot.is_elsewhere]
    assert [lot.number for lot in elsewhere] == ["LM-12", "LM-31", "LM-44", "LM-58"]
    assert {lot.library for lot in elsewhere} == {"Longmoor Seed Circle"}
    assert came.state == ChainImport.State.RECEIVED
    assert came.decided_at.date() == came.lot.received_on


def test_where_it_grew_was_put_right(demo):
    (amendment,) = ChainImport.objects.get().lot.amendments.all()

    assert (amendment.field, amendment.old_value) == ("origin_region", "over the moor")


def test_the_lot_that_crossed_was_reported_and_warns(demo):
    report = OffTypeReport.objects.get()

    assert (report.plants_seen, report.plants_looked_at) == (3, 8)
    assert report.reported_by.display_name == "Betony"
    for lot in [report.lot, *Lot.objects.filter(pk__in=descendants_of(report.lot).relatives)]:
        assert [warning.report for warning in warnings_of(lot)] == [report]
