"""Writing and changing variety cards."""

import pytest
from django.db import IntegrityError, transaction

from library.catalogue import services
from library.catalogue.models import Crop, Variety, VarietyEdit, VarietyName
from library.catalogue.services import (
    add_synonym,
    add_variety,
    edit_variety,
    remove_synonym,
    revision_of,
)
from library.errors import Conflict, NotAllowed, Refused

HOSTILE = '<script>alert("x")</script> & <b>bold</b>'


@pytest.fixture
def tomato(reference) -> Crop:
    return Crop.objects.get(name="tomato")


def names_of(variety: Variety) -> list[tuple[str, bool]]:
    return [
        (name.name, name.is_synonym) for name in VarietyName.objects.filter(variety=variety)
    ]


def test_a_new_card_is_known_by_its_name_and_synonyms(tomato, desk):
    variety = add_variety(
        crop=tomato,
        name="  Amber   Lantern ",
        breeding_status="open-pollinated",
        synonyms=["Old Lamp", "old lamp", "Amber Lantern"],
        by=desk,
    )

    assert variety.name == "Amber Lantern"
    assert names_of(variety) == [("Amber Lantern", False), ("Old Lamp", True)]


@pytest.mark.parametrize(
    "name", ["Früh Lantern", "FRUH LANTERN", "fruh-lantern", "Früh’ Lantern"]
)
def test_a_crop_has_one_card_of_a_name(make_variety, tomato, desk, name):
    make_variety("Früh Lantern")

    with pytest.raises(Refused) as refusal:
        add_variety(crop=tomato, name=name, breeding_status="landrace", by=desk)

    assert str(refusal.value) == "tomato has a card for “Früh Lantern” already."
    assert refusal.value.field == "name"
    assert Variety.objects.count() == 1


def test_two_crops_may_have_a_variety_of_the_same_name(make_variety):
    make_variety("Amber Lantern", crop="tomato")
    make_variety("Amber Lantern", crop="pumpkin")

    assert Variety.objects.count() == 2


def test_the_database_holds_one_card_of_a_name_when_the_service_is_passed_by(make_variety):
    variety = make_variety("Amber Lantern")

    with pytest.raises(IntegrityError), transaction.atomic():
        Variety.objects.create(
            crop=variety.crop, name="AMBER lantern", breeding_status="landrace"
        )


@pytest.mark.parametrize(
    ("status", "generation"),
    [("segregating", None), ("segregating", 1), ("f1", 2), ("open-pollinated", 5)],
)
def test_the_database_keeps_generation_to_segregating_lines(tomato, status, generation):
    with pytest.raises(IntegrityError), transaction.atomic():
        Variety.objects.create(
            crop=tomato, name="Odd", breeding_status=status, generation=generation
        )


WRONG = [
    ({"name": "   "}, "name", "Give a name: it is empty."),
    (
        {"name": "x" * 121},
        "name",
        "Ensure this value has at most 120 characters (it has 121).",
    ),
    ({"name": "a\x00b"}, "name", "The text holds a character that cannot be kept."),
    ({"name": "a\ud800b"}, "name", "The text holds a character that cannot be kept."),
    (
        {"breeding_status": "segregating"},
        "generation",
        "A segregating line needs its generation: 2 for F2, 3 for F3 and so on.",
    ),
    (
        {"breeding_status": "segregating", "generation": 1},
        "generation",
        "Ensure this value is greater than or equal to 2.",
    ),
    (
        {"breeding_status": "f1", "generation": 2},
        "generation",
        "Only a segregating line has a generation. Leave it empty for this status.",
    ),
    (
        {"breeding_status": "heirloom"},
        "breeding_status",
        "Value 'heirloom' is not a valid choice.",
    ),
    (
        {"days_to_maturity": -1},
        "days_to_maturity",
        "Ensure this value is greater than or equal to 10.",
    ),
    (
        {"days_to_maturity": 10**12},
        "days_to_maturity",
        "Ensure this value is less than or equal to 800.",
    ),
    (
        {"min_population": 0},
        "min_population",
        "Ensure this value is greater than or equal to 1.",
    ),
    (
        {"min_population": 10**10},
        "min_population",
        "Ensure this value is less than or equal to 100000.",
    ),
    (
        {"description": "x" * 8001},
        "description",
        "Ensure this value has at most 8000 characters (it has 8001).",
    ),
    (
        {"synonyms": [f"Other {n}" for n in range(31)]},
        "synonyms",
        "A variety can have at most 30 synonyms.",
    ),
    (
        {"synonyms": ["x" * 121]},
        "synonyms",
        "A name has at most 120 characters; this one has 121.",
    ),
    ({"synonyms": ["fine", " "]}, "synonyms", "Give a name: it is empty."),
]


@pytest.mark.parametrize(("card", "field", "sentence"), WRONG)
def test_a_wrong_card_is_refused_in_one_sentence_and_nothing_is_written(
    tomato, desk, card, field, sentence
):
    whole = {"name": "Odd", "breeding_status": "open-pollinated"} | card

    with pytest.raises(Refused) as refusal:
        add_variety(crop=tomato, by=desk, **whole)

    assert (refusal.value.field, str(refusal.value)) == (field, sentence)
    assert (Variety.objects.count(), VarietyName.objects.count()) == (0, 0)


@pytest.mark.parametrize("who", ["member", "applicant"])
def test_cards_are_not_written_by_members(tomato, request, who):
    with pytest.raises(NotAllowed):
        add_variety(
            crop=tomato,
            name="Odd",
            breeding_status="landrace",
            by=request.getfixturevalue(who),
        )

    assert Variety.objects.count() == 0


def test_a_change_is_written_down_with_who_and_what_it_said_before(make_variety, desk):
    variety = make_variety(days_to_maturity=60, description="Red.")

    edit_variety(
        variety=variety,
        by=desk,
        changes={"days_to_maturity": 75, "description": "Red.", "is_rare": True},
    )

    edits = VarietyEdit.objects.order_by("field").values_list(
        "field", "old_value", "new_value", "edited_by__display_name"
    )
    assert list(edits) == [
        ("days_to_maturity", "60", "75", "heron"),
        ("is_rare", "False", "True", "heron"),
    ]
    assert Variety.objects.get().days_to_maturity == 75


def test_saving_a_card_unchanged_leaves_no_trace(make_variety, desk):
    variety = make_variety(synonyms=["Zeta", "Alpha"])

    edit_variety(
        variety=variety,
        by=desk,
        changes={"name": variety.name, "synonyms": ["Alpha", "Zeta"], "crop": variety.crop},
    )

    assert VarietyEdit.objects.count() == 0


def test_a_renamed_variety_stays_known_by_its_old_name(make_variety, desk):
    variety = make_variety("Amber Lantern", synonyms=["Old Lamp"])

    edit_variety(variety=variety, by=desk, changes={"name": "Old Lamp"})

    assert names_of(variety) == [("Old Lamp", False), ("Amber Lantern", True)]


def test_a_name_written_in_another_case_is_the_same_name(make_variety, desk):
    variety = make_variety("amber lantern")

    edit_variety(variety=variety, by=desk, changes={"name": "Amber Lantern"})

    assert names_of(variety) == [("Amber Lantern", False)]


def test_a_variety_cannot_take_the_name_of_another(make_variety, desk):
    make_variety("Amber Lantern")
    other = make_variety("Hollow Blue")

    with pytest.raises(Refused):
        edit_variety(variety=other, by=desk, changes={"name": "amber lantern", "is_rare": True})

    kept = Variety.objects.get(pk=other.pk)
    assert (kept.name, kept.is_rare, VarietyEdit.objects.count()) == ("Hollow Blue", False, 0)


@pytest.mark.parametrize(
    "changes",
    [{"breeding_status": "landrace"}, {"breeding_status": "segregating", "generation": 4}],
)
def test_breeding_status_is_a_coordinators_to_change(make_variety, desk, coordinator, changes):
    variety = make_variety(breeding_status="stabilised")

    with pytest.raises(NotAllowed) as refusal:
        edit_variety(variety=variety, by=desk, changes=changes)
    edit_variety(variety=variety, by=coordinator, changes=changes)

    assert refusal.value.field == "breeding_status"
    changed = Variety.objects.get()
    assert {field: getattr(changed, field) for field in changes} == changes


def test_a_variety_moves_only_to_a_crop_that_is_counted_alike(
    make_variety, coordinator, reference
):
    variety = make_variety(crop="tomato")

    with pytest.raises(Refused) as refusal:
        edit_variety(
            variety=variety,
            by=coordinator,
            changes={"crop": Crop.objects.get(name="potato")},
        )
    edit_variety(
        variety=variety,
        by=coordinator,
        changes={"crop": Crop.objects.get(name="cherry tomato")},
    )

    assert str(refusal.value) == (
        "tomato is counted in seeds, potato in tubers: its lots would lie."
    )
    assert Variety.objects.get().crop.name == "cherry tomato"


def test_a_card_changed_meanwhile_is_a_conflict(make_variety, desk):
    variety = make_variety(description="Red.")
    seen = revision_of(variety)
    edit_variety(variety=variety, by=desk, changes={"description": "Orange."}, revision=seen)

    with pytest.raises(Conflict):
        edit_variety(variety=variety, by=desk, changes={"description": "Blue."}, revision=seen)

    assert Variety.objects.get().description == "Orange."


def test_a_field_that_no_card_has_is_refused(make_variety, desk):
    with pytest.raises(Refused) as refusal:
        edit_variety(variety=make_variety(), by=desk, changes={"added_by": desk})

    assert str(refusal.value) == "A card has no field “added_by” to change."


def test_a_synonym_is_added_once_and_removed(make_variety, desk):
    variety = make_variety("Amber Lantern")

    add_synonym(variety=variety, name="Old Lamp", by=desk)
    add_synonym(variety=variety, name="old LAMP", by=desk)
    after_adding = names_of(variety)
    remove_synonym(variety=variety, name="OLD lamp", by=desk)

    assert after_adding == [("Amber Lantern", False), ("Old Lamp", True)]
    assert names_of(variety) == [("Amber Lantern", False)]


def test_a_name_that_is_no_synonym_cannot_be_removed(make_variety, desk):
    variety = make_variety("Amber Lantern")

    with pytest.raises(Refused) as refusal:
        remove_synonym(variety=variety, name="Amber Lantern", by=desk)

    assert str(refusal.value) == "“Amber Lantern” is not a synonym of Amber Lantern."


def test_the_breeding_label_says_what_a_borrower_must_know(make_variety):
    labels = [
        make_variety(breeding_status=status, generation=generation).breeding_label
        for status, generation in [
            ("open-pollinated", None),
            ("f1", None),
            ("segregating", 4),
            ("stabilised", None),
            ("landrace", None),
            ("clone", None),
        ]
    ]

    assert labels == [
        "open-pollinated",
        "F1 hybrid: will not breed true",
        "F4, still segregating: plants will differ",
        "stabilised",
        "landrace",
        "clone: grown from plant parts, not from seed",
    ]


def test_hostile_text_is_kept_as_it_is_and_shown_as_text(make_variety, client):
    variety = make_variety(HOSTILE, description=HOSTILE, origin_story=HOSTILE)

    html = client.get(variety.get_absolute_url()).content.decode()

    assert Variety.objects.get().name == HOSTILE
    assert html.count("<script>alert") == 0
    assert html.count("&lt;script&gt;alert(&quot;x&quot;)&lt;/script&gt;") >= 3


def test_two_writing_the_same_card_at_once_leave_one_card_and_one_sentence(
    make_variety, tomato, desk, monkeypatch
):
    make_variety("Amber Lantern")
    looks = iter([lambda variety: None, services._check_name_is_free])
    # The first look misses the other's card, as it does when both look before either writes.
    monkeypatch.setattr(services, "_check_name_is_free", lambda card: next(looks)(card))
    monkeypatch.setattr(services, "checked", lambda card, exclude: None)

    with pytest.raises(Refused) as refusal:
        add_variety(crop=tomato, name="AMBER lantern", breeding_status="landrace", by=desk)

    assert str(refusal.value) == "tomato has a card for “Amber Lantern” already."
    assert Variety.objects.count() == 1
