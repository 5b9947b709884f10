"""A file from its first look to the last row, and back."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone

from accounts.models import Community, Invitation, Member
from library.cardbox import running, services, writing
from library.cardbox.columns import guess_fields
from library.cardbox.models import CardImport, CardRow, NotedPerson, Question
from library.catalogue.models import Variety, VarietyName
from library.errors import Conflict, NotAllowed, Refused
from library.lending.models import Deposit, Loan
from library.outbox.models import Message
from library.stock.checks import problems
from library.stock.models import Lot, Movement, StoragePlace
from tests.cardbox.conftest import LOTS, VARIETIES, csv_of, fates, row, work

pytestmark = pytest.mark.django_db


def answer(card, administrator, choice, *, field=None):
    questions = card.questions.filter(answer="", **({"field": field} if field else {}))
    services.answer_questions(
        card_import=card, answers={q.pk: choice for q in questions}, by=administrator
    )
    work(card)


# Columns ----------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("kind", "headings", "sample", "fields"),
    [
        ("varieties", ["Variety", "KIND", "days to maturity", "Aka"],
         [["A", "leek", "70", "B"]],
         {"crop": 1, "name": 0, "synonyms": 3, "days_to_maturity": 2}),
        ("varieties", ["?", "??"], [["tomato", "Weir"], ["leek", "Fold"]], {"crop": 0}),
        ("lots", ["Cultivar", "Weight (g)", "Harvest yr", "Date recieved"],
         [["A", "12", "2019", "2019-10-01"]],
         {"variety": 0, "quantity": 1, "harvest_year": 2, "received_on": 3}),
        ("members", ["Full name", "x"], [["A", "a@example.org"]], {"name": 0, "email": 1}),
        ("loans", ["Lent to", "Lent", "Returned on", "Variety", "Seeds"],
         [["A", "2019-01-02", "2019-02-03", "B", "20"]],
         {"borrower": 0, "lent_on": 1, "ended_on": 2, "variety": 3, "seeds": 4}),
    ],
)  # fmt: skip
def test_columns_are_guessed_from_headings_and_looks(reference, kind, headings, sample, fields):
    assert guess_fields(kind, headings, sample) == fields


@pytest.mark.parametrize(
    ("language", "heading", "amount", "is_decimal"),
    [
        ("en", "Seeds", "1,500", False),
        ("de", "Seeds", "1,500", False),  # half a seed is nowhere
        ("en", "Weight (g)", "1,500", None),
        ("en", "Weight (g)", "2,5", True),
        ("en", "Weight (g)", "250", False),
        ("de", "Weight (g)", "250", True),
    ],
)
def test_a_comma_is_what_the_column_says_else_what_the_librarys_language_says(
    reference, bring, language, heading, amount, is_decimal
):
    Community.objects.filter(pk=Community.current().pk).update(language=language)

    card = bring("lots", [["Variety", heading], ["Weir Lantern", amount]], look=False)

    assert card.columns["comma_is_decimal"] is is_decimal


def test_the_page_of_columns_says_of_nothing_that_it_is_optional(
    reference, bring, client, administrator
):
    card = bring("lots", LOTS, look=False)
    client.force_login(administrator)

    page = client.get(reverse("card-import-columns", args=[card.pk])).content.decode()

    assert "— leave it out —" in page
    assert "optional" not in page


def test_a_corrected_column_is_kept_for_the_next_file_of_the_shape(reference, bring):
    rows = [["A", "B"], ["Weir Lantern", "tomato"]]
    first = bring("varieties", rows, columns={"name": 0, "crop": 1})

    second = bring("varieties", [*rows, ["Other", "pea"]], look=False, name="two.csv")

    assert fates(first) == ["new"]
    assert second.columns["fields"] == {"name": 0, "crop": 1}
    assert second.columns["known"]


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({"crop": 0}, "without it"),
        ({"crop": 0, "name": 0}, "chosen twice"),
        ({"crop": 0, "name": 9}, "no such column"),
        ({"crop": 0, "name": 1, "secret": 2}, "no such column"),
    ],
)
def test_columns_that_cannot_be_are_refused(reference, bring, administrator, fields, sentence):
    card = bring("varieties", VARIETIES, look=False)

    with pytest.raises(Refused, match=sentence):
        services.choose_columns(card_import=card, by=administrator, fields=fields)


# Varieties --------------------------------------------------------------------------------
def test_cards_are_written_once_confirmed_and_not_before(reference, bring, write):
    card = bring("varieties", VARIETIES)
    assert (card.state, fates(card)) == ("ready", ["new", "new"])
    assert not Variety.objects.exists()

    write(card)

    lantern = Variety.objects.get(name="Weir Lantern")
    assert (card.state, fates(card)) == ("written", ["written", "written"])
    assert (lantern.crop.name, lantern.days_to_maturity) == ("tomato", 78)
    assert VarietyName.objects.filter(variety=lantern, name="Lantern", is_synonym=True).exists()
    assert Variety.objects.get(name="Fold Gate Brown").breeding_status == "landrace"
    assert card.content is None


def test_every_row_says_its_fate(make_variety, bring):
    make_variety("Kestrel Red", synonyms=["Old Kestrel"])
    rows = [
        ["Crop", "Variety", "Status", "Days"],
        ["tomato", "késtrel  RED", "", ""],
        ["tomato", "old kestrel", "", ""],
        ["tomato", "Kestral Red", "", ""],
        ["Tomatoes", "Fresh", "", ""],
        ["tomato", "fresh", "", ""],
        ["tomatto", "Other", "", ""],
        ["zzz", "Other", "", ""],
        ["leek", "", "", ""],
        ["leek", "P1", "heirloom", ""],
        ["leek", "P2", "F4", "soon"],
        ["leek", "P3", "F1", "70", "too", "far"],
        ["leek", "F1 P4", "", ""],
    ]

    card = bring("varieties", rows)

    assert fates(card) == [
        "here", "here", "unclear", "new", "here", "unclear", "wrong", "wrong", "wrong",
        "wrong", "wrong", "new",
    ]  # fmt: skip
    assert row(card, 6).sentence == "Row 6: It says the same as row 5."
    assert row(card, 8).sentence.startswith("Row 8, column “Crop”: “zzz” is no crop")
    assert row(card, 9).sentence == (
        "Row 9, column “Variety”: The cell is empty; it is needed for every row."
    )
    assert "open-pollinated, F1, F2" in row(card, 10).sentence
    assert "“soon” is not a number" in row(card, 11).sentence
    assert "beyond the last heading" in row(card, 12).sentence
    assert row(card, 13).values["breeding_status"] == "f1"


def test_an_unclear_name_is_decided_once_for_all_its_rows(
    make_variety, bring, write, administrator
):
    kestrel = make_variety("Kestrel Red")
    card = bring(
        "varieties",
        [["Crop", "Variety"], ["tomato", "Kestral Red"], ["tomatto", "A"], ["tomatto", "B"]],
    )
    with pytest.raises(Refused, match="3 rows are still unclear"):
        services.confirm(card_import=card, by=administrator, on=timezone.localdate())

    answer(card, administrator, str(kestrel.pk), field="name")
    crop = card.questions.get(field="crop")
    answer(card, administrator, crop.options[0][0], field="crop")

    assert fates(card) == ["here", "new", "new"]
    write(card)
    assert set(Variety.objects.values_list("name", flat=True)) == {"Kestrel Red", "A", "B"}


@pytest.mark.parametrize(("choice", "fate"), [("new", "new"), ("leave", "left")])
def test_it_may_be_new_after_all_or_be_left_out(
    make_variety, bring, administrator, choice, fate
):
    make_variety("Kestrel Red")
    card = bring("varieties", [["Crop", "Variety"], ["tomato", "Kestral Red"]])

    answer(card, administrator, choice)

    assert fates(card) == [fate]


def test_an_answer_that_was_not_offered_is_refused(make_variety, bring, administrator):
    make_variety("Kestrel Red")
    other = make_variety("Secret", crop="leek")
    card = bring("varieties", [["Crop", "Variety"], ["tomato", "Kestral Red"]])
    question = card.questions.get()

    for wrong in (str(other.pk), "x", ""):
        with pytest.raises(Refused, match="Choose one"):
            services.answer_questions(
                card_import=card, answers={question.pk: wrong}, by=administrator
            )
    with pytest.raises(Refused, match="no question of this file"):
        services.answer_questions(card_import=card, answers={0: "new"}, by=administrator)


def test_the_same_file_is_recognised_until_it_is_undone(reference, bring, write, undo):
    first = bring("varieties", VARIETIES)
    with pytest.raises(Conflict, match=r"brought in on .* and waits for a yes"):
        bring("varieties", VARIETIES)
    write(first)
    with pytest.raises(Conflict, match="was written"):
        bring("varieties", VARIETIES)

    undo(first)

    assert fates(bring("varieties", VARIETIES)) == ["new", "new"]


def test_cards_are_taken_out_again_while_nothing_rests_on_them(
    reference, bring, write, undo, make_lot, administrator
):
    card = write(bring("varieties", VARIETIES))
    lantern = Variety.objects.get(name="Weir Lantern")
    make_lot(lantern)
    with pytest.raises(Conflict, match=r"Row 2: 1 lot"):
        services.undo(card_import=card, by=administrator, on=timezone.localdate())
    assert Variety.objects.count() == 2

    other = bring("varieties", [["Crop", "Variety"], ["leek", "Later"]], name="b.csv")
    undo(write(other))

    assert other.state == "undone"
    assert fates(other) == ["undone"]
    assert not Variety.objects.filter(name="Later").exists()


# Lots -------------------------------------------------------------------------------------
def test_lots_come_in_as_deposits_with_their_packets(variety, bring, write, administrator):
    place = StoragePlace.objects.create(name="Blue tin", kind="box")
    rows = [
        ["No.", "Variety", "Seeds", "Year", "Received", "Packets", "Per packet", "Where",
         "Giver"],
        ["K1", "tarn kettle", "250", "2024", "12.10.2024", "3", "20", "blue tin", "Bracken"],
        ["K2", "Drying bean Tarn Kettle", "120 g", "2025", "2025-11-02", "", "", "", ""],
    ]  # fmt: skip

    card = write(bring("lots", rows))

    first, second = Lot.objects.order_by("pk")
    assert fates(card) == ["written", "written"]
    assert (first.variety, first.loose, first.packed) == (variety, 190, 60)
    assert (first.received_on, first.harvest_year) == (dt.date(2024, 10, 12), 2024)
    assert first.storage_place == place
    assert "K1" in first.origin_story
    assert first.source_name == ""  # nobody agreed to be named
    assert first.test_date is not None
    received = Deposit.objects.filter(lot=first, state="received")
    assert received.get().decided_by == administrator
    figure = second.variety.crop.species.figures.get(quantity="thousand_seed_weight_g")
    assert second.balance == int(120 * 1000 / figure.number)
    assert figure.source[:40] in row(card, 3).said
    assert "120 g at" in row(card, 3).said
    assert list(problems()) == []


def test_lots_that_cannot_be_say_why(variety, bring):
    rows = [
        ["Variety", "Seeds", "Year", "Received", "Packets", "Per packet"],
        ["Nobody Knows It", "10", "", "", "", ""],
        ["Tarn Kettle", "many", "", "", "", ""],
        ["Tarn Kettle", "10", "2031", "", "", ""],
        ["Tarn Kettle", "10", "2024", "1.1.2031", "", ""],
        ["Tarn Kettle", "10", "2024", "2023-01-01", "", ""],
        ["Tarn Kettle", "10", "", "", "3", "20"],
        ["Tarn Kettle", "10", "", "", "3", ""],
        ["Tarn Kettle", "0", "", "", "", ""],
        ["Tarn Kettle", "10 bags", "", "", "", ""],
    ]

    card = bring("lots", rows)

    assert set(fates(card)) == {"wrong"}
    said = [each.sentence for each in card.rows.order_by("number")]
    for sentence, word in zip(
        said,
        ["bring in the varieties", "is not a number", "is not a harvest year", "still to come",
         "is not a harvest year", "are 60 seeds", "Say both", "not a whole number", "the unit"],
        strict=True,
    ):  # fmt: skip
        assert word in sentence


def test_two_jars_told_of_in_the_same_words_are_asked_for(variety, bring, administrator):
    rows = [["Variety", "Seeds"], ["Tarn Kettle", "10"], ["Tarn Kettle", "10"]]
    card = bring("lots", rows)
    assert fates(card) == ["new", "unclear"]

    answer(card, administrator, "new")

    assert fates(card) == ["new", "new"]


def test_a_longer_list_brings_in_only_what_is_new(variety, bring, write):
    write(bring("lots", LOTS))

    card = bring("lots", [*LOTS, ["K3", "Tarn Kettle", "7", "", ""]], name="longer.csv")

    assert fates(card) == ["here", "here", "new"]
    assert "cards.csv" in row(card, 2).said


def test_lots_are_undone_by_contrary_movements(variety, bring, write, undo):
    rows = [["Variety", "Seeds", "Packets", "Per packet"], ["Tarn Kettle", "250", "3", "20"]]
    card = write(bring("lots", rows))
    lot = Lot.objects.get()

    undo(card)

    lot.refresh_from_db()
    assert fates(card) == ["undone"]
    assert (lot.loose, lot.packed) == (0, 0)
    assert lot.withheld_reason == "the import was undone"
    kinds = list(Movement.objects.filter(lot=lot).order_by("pk").values_list("kind", flat=True))
    assert kinds == ["received", "packed", "unpacked", "unpacked", "unpacked", "received"]
    assert list(problems()) == []


def test_a_lot_that_was_used_stays(variety, bring, write, administrator):
    from library.stock.services import discard

    card = write(bring("lots", LOTS))
    lot = Lot.objects.order_by("pk").last()
    discard(lot=lot, seeds=1, on=timezone.localdate(), by=administrator, reason="mould")

    with pytest.raises(Conflict, match=rf"Row 3: 1 movement of seed in lot {lot.number}"):
        services.undo(card_import=card, by=administrator, on=timezone.localdate())
    # Somebody is quicker than the undoing: that row stays, and says so.
    CardImport.objects.filter(pk=card.pk).update(
        state="undoing", undone_by=administrator, undone_on=timezone.localdate()
    )
    work(card)

    assert fates(card) == ["undone", "kept"]
    assert "movement" in row(card, 3).said


# Members ----------------------------------------------------------------------------------
PEOPLE = [
    ["Name", "E-mail"],
    ["Bracken Lowe", "Bracken@Example.org"],
    ["Sorrel Pike", ""],
    ["Wren", "wren@example.org"],
    ["wren", ""],
    ["Broken", "not an address"],
]


def test_people_are_invited_or_noted_and_nobody_gets_an_account(
    member, bring, write, undo, administrator
):
    card = bring("members", PEOPLE, options={"invite": True})
    assert fates(card) == ["new", "new", "here", "unclear", "wrong"]
    answer(card, administrator, "same")
    before = Member.objects.count()

    write(card)

    assert Member.objects.count() == before
    assert Invitation.objects.get().email == "bracken@example.org"
    assert Message.objects.filter(to="bracken@example.org").count() == 1
    assert set(NotedPerson.objects.values_list("name", "email")) == {
        ("Bracken Lowe", "bracken@example.org"),
        ("Sorrel Pike", ""),
    }
    assert row(card, 2).cells == []  # what it told of a person is not kept twice
    undo(card)
    assert not NotedPerson.objects.exists()
    assert not Invitation.objects.open().exists()


def test_without_the_option_nobody_is_written_to(reference, bring, write):
    write(bring("members", PEOPLE[:3]))

    assert not Invitation.objects.exists()
    assert NotedPerson.objects.count() == 2


def test_an_accepted_invitation_stays(bring, write, administrator):
    from accounts.services import accept_invitation

    card = write(bring("members", PEOPLE[:2], options={"invite": True}))
    accept_invitation(
        key=Invitation.objects.get().key, display_name="Bracken", password="a-long-password"
    )

    with pytest.raises(Conflict, match="the invitation was accepted"):
        services.undo(card_import=card, by=administrator, on=timezone.localdate())


def test_people_are_for_administrators(coordinator, desk, member, bring):
    for by in (coordinator, desk, member):
        with pytest.raises(NotAllowed):
            bring("members", PEOPLE, by=by)
    bring("members", PEOPLE)
    assert not CardImport.objects.visible_to(coordinator).exists()
    for by in (desk, member):
        with pytest.raises(NotAllowed):
            bring("varieties", VARIETIES, by=by)


# Past loans -------------------------------------------------------------------------------
LOANS = [
    ["Borrower", "Lot", "Seeds", "Lent on", "Due", "What came of it", "Ended on", "Note"],
    ["wren", "K1", "20", "2025-03-14", "2026-10-31", "still out", "", ""],
    ["WREN", "K1", "30", "2025-03-15", "", "crop failed", "2025-09-01", "Voles."],
    ["wren", "K1", "10", "2025-03-16", "", "unopened", "2025-04-01", ""],
]


@pytest.fixture
def old_lots(variety, bring, write):
    return write(bring("lots", LOTS))


def test_past_loans_take_their_seed_from_the_lot(old_lots, member, bring, write):
    card = write(bring("loans", LOANS, name="loans.csv"))

    assert fates(card) == ["written"] * 3
    lot = Lot.objects.order_by("pk").first()
    assert (lot.loose, lot.packed) == (190, 10)
    out, failed, back = Loan.objects.order_by("pk")
    assert (out.borrower, out.is_open, out.due_on) == (member, True, dt.date(2026, 10, 31))
    assert out.packet.sealed_on == out.lent_on == out.handed_over_on == dt.date(2025, 3, 14)
    assert (failed.outcome, failed.closed_on) == ("crop_failed", dt.date(2025, 9, 1))
    assert failed.outcome_note == "Voles."
    assert (back.outcome, back.packet.state) == ("taken_back", "on_shelf")
    assert list(problems()) == []


def test_past_loans_of_lots_counted_since_leave_the_count(old_lots, member, bring, write, undo):
    card = write(bring("loans", LOANS, name="loans.csv", options={"counted_after": True}))
    lot = Lot.objects.order_by("pk").first()
    assert (lot.loose, lot.packed) == (250, 10)

    undo(card)

    lot.refresh_from_db()
    assert fates(card) == ["undone"] * 3
    assert (lot.loose, lot.packed) == (250, 0)
    assert set(Loan.objects.values_list("outcome", flat=True)) == {"taken_back"}
    assert not Loan.objects.filter(closed_on=None).exists()
    assert list(problems()) == []


def test_past_loans_undone_put_the_seed_back(old_lots, member, bring, write, undo):
    undo(write(bring("loans", LOANS, name="loans.csv")))

    lot = Lot.objects.order_by("pk").first()
    assert (lot.loose, lot.packed) == (250, 0)
    assert list(problems()) == []


def test_a_loan_that_went_on_stays(old_lots, member, bring, write, administrator):
    from library.lending.services import extend_loan

    card = write(bring("loans", LOANS[:2], name="loans.csv"))
    today = timezone.localdate()
    extend_loan(
        loan=Loan.objects.get(), due_on=dt.date(2027, 1, 1), reason="x", on=today,
        by=administrator,
    )  # fmt: skip

    with pytest.raises(Conflict, match="was changed since"):
        services.undo(card_import=card, by=administrator, on=today)


def test_loans_that_cannot_be_say_why(old_lots, member, other_member, bring, administrator):
    NotedPerson.objects.create(name="Sorrel Pike", folded="sorrel pike")
    rows = [
        LOANS[0][:7],
        ["Sorrel Pike", "K1", "20", "2025-03-14", "", "", ""],
        ["Zzyzx", "K1", "20", "2025-03-14", "", "", ""],
        ["wren", "K9", "20", "2025-03-14", "", "", ""],
        ["wren", "K1", "20", "2023-03-14", "", "", ""],
        ["wren", "K1", "20", "2025-03-14", "2024-01-01", "", ""],
        ["wren", "K1", "20", "2025-03-14", "", "crop failed", ""],
        ["wren", "K1", "20", "2025-03-14", "", "eaten", "2025-05-01"],
        ["wren", "K1", "251", "2025-03-14", "", "", ""],
        ["rooc", "K1", "20", "2025-03-14", "", "", ""],
        ["wren", "K1", "20", "2025-03-14", "", "returned", "2025-12-01"],
    ]

    card = bring("loans", rows, name="loans.csv")

    assert fates(card) == ["wrong"] * 8 + ["wrong", "unclear"]
    said = [each.sentence for each in card.rows.order_by("number")]
    for sentence, word in zip(
        said,
        ["noted but has no account", "No member is called", "There is no lot “K9”",
         "after this loan", "due before", "day on which the loan ended", "no such ending",
         "has 250 seeds in its jar", "No member is called", "a lot of its own"],
        strict=True,
    ):  # fmt: skip
        assert word in sentence


# Working, stopping, dying -----------------------------------------------------------------
def many(n: int) -> list[list[str]]:
    return [["Crop", "Variety"], *[["leek", f"Row {number}"] for number in range(n)]]


def test_a_worker_that_dies_leaves_no_row_twice_or_half_done(
    reference, bring, administrator, monkeypatch
):
    card = bring("varieties", many(60))
    services.confirm(card_import=card, by=administrator, on=timezone.localdate())
    true, written = writing.write_batch, []

    def killed(*args, **kwargs):
        if len(written) == 1:
            raise KeyboardInterrupt
        written.append(true(*args, **kwargs))
        return written[-1]

    monkeypatch.setattr(writing, "write_batch", killed)
    claimed = running.claim(card.pk, worker="first")
    with pytest.raises(KeyboardInterrupt):
        running.work_on(claimed)
    assert card.rows.by_fate() == {"written": written[0], "new": 60 - written[0]}
    assert running.claim(card.pk, worker="second") is None  # the first may live
    CardImport.objects.filter(pk=card.pk).update(
        heard_at=timezone.now() - 2 * running.SILENT_FOR
    )
    monkeypatch.setattr(writing, "write_batch", true)

    assert running.work_on(running.claim(card.pk, worker="second"))

    assert card.rows.by_fate() == {"written": 60}
    assert Variety.objects.count() == 60


def test_reading_goes_on_where_it_was_left(reference, bring, administrator, monkeypatch):
    from library.cardbox import looking

    monkeypatch.setattr(looking, "AT_ONCE", 10)
    card = bring("varieties", many(35), look=False)
    services.choose_columns(card_import=card, by=administrator, fields=card.columns["fields"])
    assert not running.work_on(running.claim(card.pk, worker="a"), seconds=0)
    part = looking.read_rows(CardImport.objects.get(pk=card.pk))
    assert next(part) == 10

    work(card)

    assert fates(card) == ["new"] * 35
    assert card.state == "ready"


def test_writing_can_be_stopped_gone_on_with_and_undone(
    reference, bring, undo, write, administrator
):
    card = bring("varieties", many(60))
    services.confirm(card_import=card, by=administrator, on=timezone.localdate())
    claimed = running.claim(card.pk, worker="w")
    kind = running.kind_for(claimed, on=card.brought_at.date())
    written = writing.write_batch(claimed, kind, by=administrator)
    services.stop(card_import=card, by=administrator)

    assert not running.work_on(claimed)

    card.refresh_from_db()
    assert 0 < written < 60
    assert card.state == "stopped"
    assert card.rows.by_fate() == {"written": written, "new": 60 - written}
    write(card)
    assert card.rows.by_fate() == {"written": 60}
    undo(card)
    assert not Variety.objects.exists()


def test_leaving_a_file_keeps_nothing_of_it(reference, bring, administrator):
    card = bring("varieties", VARIETIES)

    services.stop(card_import=card, by=administrator)

    card.refresh_from_db()
    assert (card.state, card.content, card.sample) == ("left", None, [])
    assert not CardRow.objects.exists()
    assert not Question.objects.exists()
    with pytest.raises(Conflict, match="was left"):
        services.confirm(card_import=card, by=administrator, on=timezone.localdate())


def test_a_row_that_a_service_refuses_leaves_the_others(
    reference, bring, write, administrator, make_variety
):
    card = bring("varieties", VARIETIES)
    make_variety("Weir Lantern")  # written by somebody else meanwhile

    write(card)

    assert fates(card) == ["refused", "written"]
    assert "has a card for “Weir Lantern” already" in row(card, 2).sentence


def test_what_breaks_again_and_again_is_given_up(reference, bring, administrator, monkeypatch):
    card = bring("varieties", VARIETIES)
    services.confirm(card_import=card, by=administrator, on=timezone.localdate())
    monkeypatch.setattr(writing, "write_batch", lambda *a, **k: 1 / 0)
    for _turn in range(running.MOST_TRIES):
        claimed = running.claim(card.pk, worker="w")
        assert not running.work_on(claimed)
        CardImport.objects.filter(pk=card.pk).update(heard_at=None)

    assert running.claim(card.pk, worker="w") is None

    card.refresh_from_db()
    assert card.state == "failed"
    assert "failed" in card.trouble


def test_the_rows_not_taken_come_back_as_plain_text(reference, bring, administrator):
    from library.cardbox.examples import given_back

    card = bring(
        "varieties", [["Crop", "Variety"], ["=cmd|' /C calc'!A0", "+A"], ["zz", "\t=1+1"]]
    )

    text = "".join(given_back(card))

    assert "'=cmd|" in text
    assert "'+A" in text
    assert ",'\t=1+1" in text or ",=1" not in text
    again = bring("varieties", text.encode(), name="again.csv")
    assert row(again, 2).sentence == row(card, 2).sentence


@pytest.mark.parametrize("kind", ["varieties", "lots", "members", "loans"])
def test_the_example_of_each_kind_is_understood(kind, bring, make_variety, member):
    from library.cardbox.examples import example_of

    make_variety("Weir Lantern")
    make_variety("Fold Gate Brown", crop="drying bean")

    card = bring(kind, example_of(kind).encode())

    fields = {field.name for field in services.KINDS[kind].fields if field.required}
    assert fields <= card.fields.keys()
    assert len(card.fields) == len(card.headings)
    if kind != "loans":
        assert "wrong" not in fates(card)
    assert csv_of([card.headings]).decode().strip() in example_of(kind)
