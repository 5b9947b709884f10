"""The pages of a lot's trueness: read by everybody, written by members and coordinators."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse

from library.provenance.models import OffTypeClearance, OffTypeReport
from library.provenance.services import clear_of_report, lift_report, report_off_types
from library.stock import services as stock
from tests.pages import text_of

pytestmark = pytest.mark.usefixtures("november")
ON = dt.date(2026, 11, 20)


@pytest.fixture
def lot(squash, start):
    return start(squash, packets=2)


@pytest.fixture
def child(lot, grow):
    return grow(lot, year=2024, isolation="distance", isolation_distance_m=100)


@pytest.fixture
def report(lot, member):
    def make(**facts):
        facts = {"lot": lot, "seen_on": ON, "what": "two plants with green stripes"} | facts
        return report_off_types(**{"by": member, "on": ON} | facts)

    return make


def page_of(lot):
    return reverse("lot-off-types", args=[lot.number])


def test_a_member_reports_what_was_seen_and_reads_it(as_member, lot):
    sent = {
        "seen_on": "2026-07-03",
        "what": "two plants with green stripes",
        "plants_seen": "2",
        "plants_looked_at": "40",
    }

    page = as_member.post(page_of(lot), sent, follow=True)

    assert page.redirect_chain == [(page_of(lot), 302)]
    assert (
        "Off-types were seen in this lot on 3 July 2026 (2 of 40 plants): two plants with "
        "green stripes" in text_of(page)
    )


@pytest.mark.parametrize(
    ("sent", "field"),
    [
        ({"seen_on": "2027-07-03"}, "seen_on"),
        ({"seen_on": "2019-07-03"}, "seen_on"),
        ({"what": ""}, "what"),
        ({"plants_seen": "4", "plants_looked_at": "3"}, "plants_seen"),
        ({"plants_seen": "0"}, "plants_seen"),
    ],
)
def test_what_cannot_be_is_said_at_its_field(as_member, lot, sent, field):
    sent = {"seen_on": "2026-07-03", "what": "green stripes"} | sent

    page = as_member.post(page_of(lot), sent)

    assert page.status_code == 400
    assert list(page.context["form"].errors) == [field]
    assert not OffTypeReport.objects.exists()


def test_the_pages_of_the_lot_of_its_packets_and_of_what_grew_from_it_warn(
    client, report, lot, child
):
    report()
    stock.pack(lot=child, packets=1, seeds_each=20, on=ON, by=None)

    own, grown = client.get(lot.get_absolute_url()), client.get(child.get_absolute_url())
    packet = client.get(child.packets.get().get_absolute_url())

    assert "Off-types were seen in this lot" in text_of(own)
    for page in (grown, packet):
        assert f"in lot {lot.number}, from which all of this lot comes" in text_of(page)
        assert "cucurbitacins" in text_of(page)  # its fruit could be poisonous


def test_a_lot_without_reports_has_no_warning_and_a_member_is_asked(client, as_member, lot):
    page = as_member.get(lot.get_absolute_url())

    assert "Off-types were seen" not in text_of(page)
    assert page_of(lot) in text_of(page)
    client.logout()
    assert page_of(lot) not in text_of(client.get(lot.get_absolute_url()))


def test_the_weak_link_is_named_with_the_caution_and_where_the_distance_is_from(client, child):
    page = text_of(client.get(page_of(child)))

    assert f"As good as its weakest link, lot {child.number} of 2024" in page
    assert "705 m short" in page
    assert "Seed Saving Chart" in page
    assert "cucurbitacins" in page
    assert "May have crossed" in page


def test_a_bean_has_no_caution_of_squash(client, start, make_variety, grow):
    bean = start(make_variety(crop="broad bean"))
    weak = grow(bean, year=2024, isolation="distance", isolation_distance_m=1)

    page = text_of(client.get(page_of(weak)))

    assert "May have crossed" in page
    assert "cucurbitacins" not in page


def test_a_coordinator_is_offered_to_lift_to_clear_and_to_withhold(
    client, report, lot, child, coordinator, desk
):
    made = report()
    lift = reverse("off-type-lift", args=[made.pk])
    clear = reverse("off-type-clear", args=[made.pk, child.number])
    withhold = reverse("lot-withhold", args=[child.number])

    client.force_login(coordinator)
    page = text_of(client.get(page_of(child)))
    assert lift in page
    assert clear in page
    assert withhold in page
    assert clear not in text_of(client.get(page_of(lot)))
    assert withhold in text_of(client.get(child.get_absolute_url()))

    client.force_login(desk)
    page = text_of(client.get(page_of(child)))
    assert lift not in page
    assert clear not in page


def test_lifted_it_warns_no_more_and_is_read_with_its_reason(as_coordinator, report, lot):
    made = report()

    page = as_coordinator.post(
        reverse("off-type-lift", args=[made.pk]), {"reason": "A mislabelled bed."}, follow=True
    )

    assert page.redirect_chain == [(page_of(lot), 302)]
    assert "Reports that stand" not in text_of(page)
    assert "A mislabelled bed." in text_of(page)


def test_lifting_again_is_told_as_a_conflict(as_coordinator, report, coordinator):
    made = report()
    lift_report(report=made, reason="mislabelled", by=coordinator, on=ON)

    page = as_coordinator.post(reverse("off-type-lift", args=[made.pk]), {"reason": "again"})

    assert page.status_code == 409
    assert "lifted already" in text_of(page)


def test_cleared_of_it_a_descendant_warns_no_more_and_says_why(as_coordinator, report, child):
    made = report()

    page = as_coordinator.post(
        reverse("off-type-clear", args=[made.pk, child.number]),
        {"reason": "Sixty plants were true."},
        follow=True,
    )

    assert page.redirect_chain == [(page_of(child), 302)]
    assert "Reports that stand" not in text_of(page)
    assert "Sixty plants were true." in text_of(page)
    assert OffTypeClearance.objects.get().lot == child


def test_a_lot_that_does_not_carry_it_is_not_cleared(as_coordinator, report, start, squash):
    other = start(squash)

    page = as_coordinator.post(
        reverse("off-type-clear", args=[report().pk, other.number]), {"reason": "true"}
    )

    assert page.status_code == 400
    assert "not carried to lot" in text_of(page)


def test_names_are_for_members(client, report, lot, child, coordinator, member, other_member):
    clear_of_report(report=report(), lot=child, reason="true", by=coordinator, on=ON)
    pages = [page_of(lot), page_of(child)]

    anybody = "".join(text_of(client.get(page)) for page in pages)
    client.force_login(other_member)
    members = "".join(text_of(client.get(page)) for page in pages)

    for name in (member.display_name, coordinator.display_name):
        assert name not in anybody
        assert name in members


@pytest.mark.parametrize("how_many", [1, 6])
def test_the_pages_cost_the_same_however_much_was_reported(
    client, squash, start, grow, member, coordinator, how_many, django_assert_num_queries
):
    lot = start(squash)
    for year in range(2021, 2021 + how_many):
        parent, lot = lot, grow(lot, year=year)
        told = {"lot": parent, "seen_on": ON, "by": member, "on": ON}
        report_off_types(what="green stripes", **told)
        gone = report_off_types(what="red stems", **told)
        lift_report(report=gone, reason="mislabelled", by=coordinator, on=ON)
        own = report_off_types(**told | {"lot": lot, "what": "white flowers"})
        lift_report(report=own, reason="mislabelled", by=coordinator, on=ON)
    client.force_login(coordinator)
    client.get(page_of(lot))

    with django_assert_num_queries(PAGE_QUERIES):
        page = client.get(page_of(lot))

    assert len(page.context["warnings"]) == how_many


PAGE_QUERIES = 15
