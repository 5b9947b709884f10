"""A chain is looked at, then received with its seed; the other library's lots stay theirs."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import transaction

from accounts.roles import Role
from library.catalogue.services import add_synonym
from library.errors import Conflict, NotAllowed, Refused
from library.exchange import services
from library.exchange.looking import Fate, look_at
from library.exchange.models import ChainImport
from library.exchange.prov.reading import Unreadable
from library.lending.services import Packing
from library.provenance.chain import chain_up
from library.stock import services as stock
from library.stock.checks import problems
from library.stock.models import Lot, LotParent
from tests.exchange.files import identifier, typed

TODAY = dt.date(2026, 11, 20)


@pytest.fixture(autouse=True)
def november(november):
    """It is 20 November 2026."""


@pytest.fixture
def bring(desk, file):
    def do(text=None):
        made, _seen = services.preview_chain(
            content=text or file.text(), file_name="chain.json", by=desk, on=TODAY
        )
        return made

    return do


@pytest.fixture
def receive(desk, bring):
    def do(chain_import=None, **received):
        received = received or {"seeds": 200}
        return services.receive_chain(
            chain_import=chain_import or bring(), by=desk, on=TODAY, **received
        )

    return do


def refusals(text) -> list[tuple[int, str]]:
    with pytest.raises(Unreadable) as refusal:
        look_at(text, on=TODAY)
    return [(problem.line, problem.sentence) for problem in refusal.value.problems]


def test_looking_writes_nothing_to_the_stock(bring):
    made = bring()

    assert made.state == ChainImport.State.PREVIEW
    assert not Lot.objects.exists()


def test_every_lot_of_an_unknown_chain_is_new(file, variety):
    seen = look_at(file.text(), on=TODAY)

    assert [each.fate for each in seen.lots.values()] == [Fate.NEW] * 3
    assert {each.variety for each in seen.lots.values()} == {variety}
    assert seen.head.told.number == "F-3"
    assert seen.libraries == ["Fen Edge Seed Library"]
    assert not seen.is_all_ours


def test_the_same_file_that_waits_is_the_same_import(bring):
    assert bring() == bring()
    assert ChainImport.objects.count() == 1


def test_received_seed_is_a_lot_whose_chain_goes_on(receive, variety):
    lot = receive(seeds=200, packing=Packing(3, 20), source_name="a visitor")

    chain = chain_up(lot)
    assert [each.number for each in chain.order][-1] == lot.number
    assert [each.foreign.number for each in chain.order[:-1]] == ["F-1", "F-2", "F-3"]
    assert (lot.origin, lot.harvest_year, lot.variety) == ("deposit", 2023, variety)
    assert (lot.loose, lot.packed, lot.source_name) == (140, 60, "a visitor")
    assert lot.awaits_first_test
    assert [each.balance for each in chain.order[:-1]] == [0, 0, 0]
    assert list(problems()) == []


def test_what_the_file_told_is_written_down(receive):
    receive()

    second = Lot.objects.get(identifier=identifier("F-2"))
    assert second.foreign.library == "Fen Edge Seed Library"
    assert second.foreign.place == "the fens"
    assert second.foreign.grower_name == "marsh harrier"
    assert second.foreign.origin_there == "return"
    assert second.grower is None
    assert second.received_on == dt.date(2021, 10, 1)
    assert (second.growing.plants_stood, second.growing.plants_gave_seed) == (30, 24)
    first = Lot.objects.get(identifier=identifier("F-1"))
    assert (first.origin_region, first.origin_story) == ("the fens", "from a neighbour")


def test_the_import_says_what_became_of_it(bring, receive, desk):
    made = bring()

    lot = receive(made)

    made.refresh_from_db()
    assert (made.state, made.lot, made.decided_by) == ("received", lot, desk)


def test_it_is_received_once(bring, receive):
    made = bring()
    receive(made)

    with pytest.raises(Conflict, match="answered already: it is received"):
        receive(made)

    assert Lot.objects.kept_here().count() == 1


def test_one_that_was_left_is_not_received(bring, receive, desk):
    made = services.drop_chain(chain_import=bring(), by=desk)

    with pytest.raises(Conflict, match="it is left"):
        receive(made)
    with pytest.raises(Conflict, match="it is left"):
        services.drop_chain(chain_import=made, by=desk)

    assert made.state == "dropped"
    assert not Lot.objects.exists()


@pytest.mark.parametrize(
    ("received", "error"),
    [
        ({"seeds": 0}, Refused),
        ({"seeds": 10, "packing": Packing(3, 20)}, Refused),
        ({"grams": "-1"}, Refused),
    ],
)
def test_what_is_refused_leaves_nothing_behind(bring, receive, received, error):
    made = bring()

    with pytest.raises(error), transaction.atomic():
        receive(made, **received)

    made.refresh_from_db()
    assert made.is_waiting
    assert not Lot.objects.exists()


def test_dying_half_way_leaves_nothing_behind(bring, receive, monkeypatch):
    made = bring()
    written = []
    whole = services.record_lot_elsewhere

    def dies(**facts):
        if len(written) == 2:
            raise KeyboardInterrupt
        written.append(whole(**facts))
        return written[-1]

    monkeypatch.setattr(services, "record_lot_elsewhere", dies)
    with pytest.raises(KeyboardInterrupt), transaction.atomic():
        receive(made)

    assert len(written) == 2
    assert not Lot.objects.exists()
    made.refresh_from_db()
    assert made.is_waiting


def test_more_seed_of_a_known_chain_is_a_second_deposit_of_the_same_lot(bring, receive):
    first = receive()
    again = bring()

    seen = look_at(again.content, on=TODAY)
    second = receive(again)

    assert [each.fate for each in seen.lots.values()] == [Fate.KNOWN] * 3
    assert (
        LotParent.objects.get(child=second).parent == LotParent.objects.get(child=first).parent
    )
    assert Lot.objects.filter(origin="elsewhere").count() == 3


def test_two_files_of_one_chain_that_waited_together_are_not_both_received(
    bring, receive, file
):
    one = bring()
    file.entity("F-3")["sowback:region"] = "the lower fens"
    other = bring(file.text())
    lot = receive(one)

    with pytest.raises(Conflict, match=f"received meanwhile, as lot {lot.number}"):
        receive(other)

    assert Lot.objects.kept_here().count() == 1


def test_a_longer_chain_goes_on_from_what_is_known(bring, receive, file):
    receive()
    file.lot("F-4", {"F-3": "1"}, year=2025)
    longer = bring(file.text())

    seen = look_at(longer.content, on=TODAY)
    receive(longer)

    assert [each.fate for each in seen.lots.values()] == [*[Fate.KNOWN] * 3, Fate.NEW]
    assert Lot.objects.filter(origin="elsewhere").count() == 4
    assert list(problems()) == []


def test_what_is_told_of_a_known_lot_otherwise_is_shown_and_ours_stays(receive, bring, file):
    receive()
    file.lot("F-0", year=2017)
    file.head("F-3")
    file.entity("F-1")["sowback:origin"] = "return"
    file.derive(f"lot:{identifier('F-1')}", f"lot:{identifier('F-0')}", "1")
    file.entity("F-1")["sowback:harvestYear"] = 2018
    other = bring(file.text())

    seen = look_at(other.content, on=TODAY)
    receive(other)

    first = seen.lots[identifier("F-1")]
    assert any("harvest year: the file says 2018, here it is 2019" in d for d in first.differs)
    assert any(d.startswith("parents: ") for d in first.differs)
    assert seen.lots[identifier("F-0")].fate == Fate.LEFT
    assert Lot.objects.get(identifier=identifier("F-1")).harvest_year == 2019
    assert not Lot.objects.filter(identifier=identifier("F-0")).exists()


def test_a_lot_of_ours_comes_home_through_another_librarys_chain(
    bring, receive, file, make_lot, variety
):
    ours = make_lot(variety, harvest_year=2018, on=dt.date(2018, 10, 1))
    key = f"lot:{ours.identifier}"
    file.data["entity"][key] = file.entity("F-1") | {
        "sowback:number": ours.number,
        "sowback:harvestYear": 2018,
        "sowback:receivedOn": typed("2018-10-01", "xsd:date"),
    }
    file.relation(
        "wasAttributedTo", {"prov:entity": key, "prov:agent": f"lot:{identifier('fen')}"}
    )
    file.entity("F-1")["sowback:origin"] = "deposit"
    file.derive(f"lot:{identifier('F-1')}", key, "1")

    seen = look_at(file.text(), on=TODAY)
    lot = receive(bring(file.text()))

    assert seen.lots[ours.identifier].fate == Fate.OURS
    assert seen.lots[ours.identifier].differs == ()
    assert ours.pk in chain_up(lot).walk.relatives
    assert Lot.objects.filter(identifier=ours.identifier).count() == 1
    assert list(problems()) == []


def test_a_file_that_this_library_wrote_is_told_as_such(file, make_lot, variety):
    ours = make_lot(variety, harvest_year=2018, on=dt.date(2018, 10, 1))
    made = type(file)(variety.name, variety.crop.name, variety.crop.species.botanical_name)
    made.lot("X", year=2018)
    record = made.entity("X")
    made.data["entity"] = {f"lot:{ours.identifier}": record}
    made.data["wasAttributedTo"]["_:wasAttributedTo0"]["prov:entity"] = f"lot:{ours.identifier}"

    seen = look_at(made.text(), on=TODAY)

    assert seen.is_all_ours
    assert any(d.startswith("number: ") for d in seen.head.differs)


def test_seed_of_a_withheld_lot_of_ours_does_not_come_home(
    bring, receive, file, make_lot, variety, desk
):
    ours = make_lot(variety, harvest_year=2023, on=dt.date(2023, 10, 1))
    text = file.text().replace(str(identifier("F-3")), str(ours.identifier))
    stock.withhold(lot=ours, reason="crossed", by=desk)

    with pytest.raises(Refused, match="ours and withheld"):
        receive(bring(text))


class TestFindingTheVariety:
    def test_by_a_synonym_in_any_writing(self, file, variety, desk):
        add_synonym(variety=variety, name="Großer Kessel", by=desk)
        for name in ("F-1", "F-2", "F-3"):
            file.entity(name)["sowback:variety"] = "GROSSER  KESSEL"

        assert look_at(file.text(), on=TODAY).head.variety == variety

    @pytest.mark.parametrize(
        ("fact", "value", "says"),
        [
            ("variety", "Nobody's Bean", "no variety “Nobody's Bean” of drying bean"),
            ("crop", "tomato", "has no crop “tomato”"),
            ("species", "Phaseolus marsianus", "no species “Phaseolus marsianus”"),
        ],
    )
    def test_what_is_unknown_is_refused_with_its_line(self, file, fact, value, says):
        file.entity("F-2")[f"sowback:{fact}"] = value

        ((line, sentence),) = refusals(file.text())

        assert line == file.line_with(value)
        assert "F-2" in sentence
        assert says in sentence

    def test_it_is_told_beside_what_else_is_wrong(self, file):
        file.entity("F-1")["sowback:variety"] = "Nobody's Bean"
        file.entity("F-3")["sowback:receivedOn"] = "2031-01-01"

        found = refusals(file.text())

        assert [line for line, _sentence in found] == [
            file.line_with("Nobody's Bean"),
            file.line_with("2031-01-01"),
        ]

    def test_of_a_lot_that_is_known_here_too(self, receive, file):
        """A file that somebody edited is refused, whoever wrote it first."""
        receive()
        file.entity("F-2")["sowback:variety"] = "Nobody's Bean"

        ((line, _sentence),) = refusals(file.text())

        assert line == file.line_with("Nobody's Bean")

    def test_another_crops_variety_of_that_name_is_not_it(self, file, make_variety):
        make_variety("Only A Tomato")
        file.entity("F-2")["sowback:variety"] = "Only A Tomato"

        ((_line, sentence),) = refusals(file.text())

        assert "no variety “Only A Tomato” of drying bean" in sentence

    def test_a_parent_of_another_variety_is_refused_with_its_line(self, file, make_variety):
        make_variety("Tarn Other", crop="drying bean")
        file.entity("F-2")["sowback:variety"] = "Tarn Other"

        found = refusals(file.text())

        assert [line for line, _sentence in found] == [
            file.line_with('"sowback:variety"', nth=2),
            file.line_with('"sowback:variety"', nth=3),
        ]
        assert all("a parent must be of the same variety" in s for _line, s in found)

    def test_however_many_lots_there_are_it_takes_as_many_questions(
        self, file, django_assert_max_num_queries
    ):
        for n in range(4, 60):
            file.lot(f"F-{n}", {f"F-{n - 1}": "1"}, year=2023)

        with django_assert_max_num_queries(6):
            look_at(file.text(), on=TODAY)


def test_a_year_recorded_here_that_contradicts_the_file_is_named(receive, file):
    receive()
    file.lot("F-4", {"F-3": "1"}, year=2022)
    file.entity("F-3")["sowback:harvestYear"] = 2021  # here it is 2023

    ((line, sentence),) = refusals(file.text())

    assert line == file.line_with('"sowback:harvestYear": {', nth=3)
    assert "recorded here with a harvest of 2023" in sentence


@pytest.mark.parametrize("role", [Role.MEMBER])
def test_only_the_desk_brings_chains_in(make_member, file, bring, role):
    member = make_member("sparrow", role=role)
    made = bring()

    with pytest.raises(NotAllowed):
        services.preview_chain(content=file.text(), by=member, on=TODAY)
    with pytest.raises(NotAllowed):
        services.receive_chain(chain_import=made, by=member, on=TODAY, seeds=5)
    with pytest.raises(NotAllowed):
        services.drop_chain(chain_import=made, by=member)


def test_a_files_name_is_kept_as_far_as_it_can_be_shown(file, desk):
    made, _seen = services.preview_chain(
        content=file.text(), file_name="a\x00b\n" + "x" * 300, by=desk, on=TODAY
    )

    assert made.file_name == "ab" + "x" * 198
