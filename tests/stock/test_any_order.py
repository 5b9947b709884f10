"""Whatever the desk does, in whatever order: ledger, packets and chain always agree."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db.models import Sum
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    invariant,
    rule,
    run_state_machine_as_test,
)

from library.errors import Refused
from library.stock import services
from library.stock.checks import problems
from library.stock.models import Lot, Packet

ON = dt.date(2025, 11, 1)
counts = st.integers(min_value=1, max_value=60)


def machine_for(variety, desk):
    """A desk with two lots, and beside it a plain count of what should be there."""
    by = {"on": ON, "by": desk}
    because = by | {"reason": "some reason"}

    class Desk(RuleBasedStateMachine):
        def __init__(self):
            super().__init__()
            self.jar, self.shelf, self.out = {}, {}, {}
            for _ in range(2):
                self.receive(seeds=100, origin="deposit")

        def receive(self, **facts):
            lot = services.receive_lot(variety=variety, **by, **facts)
            self.jar[lot] = facts["seeds"]

        def lot(self, data):
            return data.draw(st.sampled_from(sorted(self.jar, key=lambda lot: lot.pk)))

        def packet(self, data, among):
            fresh = sorted(among, key=lambda packet: packet.pk)
            return data.draw(st.sampled_from(fresh)) if fresh else None

        @rule(data=st.data(), packets=st.integers(1, 4), seeds_each=counts)
        def pack(self, data, packets, seeds_each):
            lot = self.lot(data)
            if packets * seeds_each > self.jar[lot]:
                with pytest.raises(Refused):
                    services.pack(lot=lot, packets=packets, seeds_each=seeds_each, **by)
                return
            made = services.pack(lot=lot, packets=packets, seeds_each=seeds_each, **by)
            self.jar[lot] -= packets * seeds_each
            self.shelf |= dict.fromkeys(made, lot)

        @rule(data=st.data())
        def lend(self, data):
            if packet := self.packet(data, self.shelf):
                services.take_packet_off_shelf(packet=packet, **by)
                self.out[packet] = self.shelf.pop(packet)

        @rule(data=st.data())
        def take_back(self, data):
            if packet := self.packet(data, self.out):
                services.put_packet_back(packet=packet, **by)
                self.shelf[packet] = self.out.pop(packet)

        @rule(data=st.data())
        def lend_what_is_out(self, data):
            if packet := self.packet(data, self.out):
                with pytest.raises(Refused):
                    services.take_packet_off_shelf(packet=packet, **by)

        @rule(data=st.data(), verb=st.sampled_from(["discard", "give_away"]))
        def remove_packet(self, data, verb):
            if packet := self.packet(data, self.shelf):
                lot = self.shelf.pop(packet)
                line = getattr(services, verb)(lot=lot, packet=packet, **because)
                if data.draw(st.booleans()):
                    services.mend_movement(movement=line, **because)
                    packet.refresh_from_db()
                    self.shelf[packet] = lot

        @rule(data=st.data())
        def unpack(self, data):
            if packet := self.packet(data, self.shelf):
                self.jar[self.shelf.pop(packet)] += packet.seeds
                services.unpack(packet=packet, **by)

        @rule(data=st.data(), seeds=counts)
        def test(self, data, seeds):
            lot = self.lot(data)
            packed = sum(p.seeds for p, of in self.shelf.items() if of == lot)
            if seeds > self.jar[lot] + packed:
                with pytest.raises(Refused):
                    services.draw_for_test(lot=lot, seeds=seeds, **by)
                return
            services.draw_for_test(lot=lot, seeds=seeds, **by)
            opened = Packet.objects.filter(lot=lot, state="emptied", pk__in=self.keys(lot))
            for packet in opened:
                self.jar[lot] += packet.seeds
                del self.shelf[packet]
            self.jar[lot] -= seeds

        def keys(self, lot):
            return [packet.pk for packet, of in self.shelf.items() if of == lot]

        @rule(data=st.data(), loose=st.integers(0, 120))
        def take_stock(self, data, loose):
            lot = self.lot(data)
            gone = Packet.objects.filter(pk__in=self.keys(lot)[:1])
            take = services.start_stock_take(storage_place=None, by=desk)
            services.count_lot(
                stock_take=take, lot=lot, loose=loose, missing_packets=gone, by=desk
            )
            services.close_stock_take(stock_take=take, by=desk, on=ON)
            self.jar[lot] = loose
            for packet in list(gone):
                del self.shelf[packet]

        @rule(data=st.data(), seeds=counts)
        def give_back(self, data, seeds):
            self.receive(seeds=seeds, origin="return", parents=[(self.lot(data), 1)])

        @rule(first=counts, second=counts)
        def bulk(self, first, second):
            one, other, *_rest = sorted(self.jar, key=lambda lot: lot.pk)
            parts = [(one, first), (other, second)]
            if first > self.jar[one] or second > self.jar[other]:
                with pytest.raises(Refused):
                    services.bulk_lots(lots=parts, **by)
                return
            self.jar[services.bulk_lots(lots=parts, **by)] = first + second
            self.jar[one] -= first
            self.jar[other] -= second

        @invariant()
        def the_books_agree_with_what_is_there(self):
            for lot in Lot.objects.filter(pk__in=[lot.pk for lot in self.jar]):
                shelf = sum(p.seeds for p, of in self.shelf.items() if of == lot)
                sums = lot.movements.aggregate(Sum("loose_change"), Sum("packed_change"))
                assert (lot.loose, lot.packed) == (self.jar[lot], shelf)
                assert tuple(sums.values()) == (lot.loose, lot.packed)
            on_shelf = Packet.objects.on_shelf().filter(lot__in=list(self.jar))
            assert set(on_shelf) == set(self.shelf)

        def teardown(self):
            assert list(problems()) == []

    return Desk


@pytest.mark.long
def test_ledger_packets_and_chain_agree_in_any_order(make_variety, desk):
    run_state_machine_as_test(
        machine_for(make_variety(), desk),
        settings=settings(
            max_examples=30,
            stateful_step_count=25,
            deadline=None,
            suppress_health_check=list(HealthCheck),
        ),
    )
