"""The card file over the API."""

import pytest
from django.urls import reverse

from accounts.models import Community
from library.catalogue.models import SeasonNote, Species, Variety, VarietyEdit
from library.catalogue.services import revision_of

CARD = {"crop": "tomato", "name": "Amber Lantern", "breeding_status": "open-pollinated"}
VARIETIES, NOTES = reverse("varieties-list"), reverse("notes-list")


@pytest.fixture
def as_desk(api, desk, reference):
    api.force_authenticate(desk)
    return api


@pytest.fixture
def as_member(api, member):
    api.force_authenticate(member)
    return api


def test_a_crop_tells_every_figure_with_its_source_and_those_not_known(api, reference):
    crop = api.get(reverse("crops-detail", args=["sweet-pea"])).json()

    figures = {figure["quantity"]: figure for figure in crop["figures"]}
    weight, isolation = figures["thousand_seed_weight_g"], figures["isolation_home_m"]
    assert len(figures) == 15
    assert (weight["value"], weight["unit"], weight["how"]) == ("69.2", "g", "read")
    assert weight["source"].startswith("Kew Seed Information Database")
    assert (isolation["value"], isolation["source"], isolation["how"]) == (None, "", "")


def test_a_crop_names_what_it_crosses_with_and_its_cautions(api, reference):
    crop = api.get(reverse("crops-detail", args=["beetroot"])).json()

    assert crop["species"] == "beta-vulgaris"
    assert sorted(crop["crosses_with"]) == ["chard", "leaf-beet", "mangel"]


def test_all_species_are_listed(api, reference):
    answer = api.get(reverse("species-list"), {"page_size": 200}).json()

    assert (answer["count"], len(answer["results"])) == (59, 59)


@pytest.mark.parametrize("resource", ["species", "crops"])
@pytest.mark.parametrize("method", ["post", "put", "patch", "delete"])
def test_reference_data_is_read_only(as_desk, resource, method):
    address = reverse(f"{resource}-list")

    assert getattr(as_desk, method)(address, {}).status_code == 405
    assert Species.objects.count() == 59


@pytest.mark.parametrize("resource", ["species", "crops", "varieties", "notes"])
def test_a_catalogue_kept_to_members_answers_members_only(
    api, resource, reference, applicant, member
):
    Community.objects.update_or_create(pk=1, defaults={"catalogue_is_public": False})
    address = reverse(f"{resource}-list")

    statuses = [api.get(address).status_code]
    for person in (applicant, member):
        api.force_authenticate(person)
        statuses.append(api.get(address).status_code)

    assert statuses == [401, 404, 200]


def test_the_desk_writes_and_changes_a_card(as_desk, desk):
    written = as_desk.post(VARIETIES, CARD | {"synonyms": ["Old Lamp"], "is_rare": True})
    card = written.json()
    changed = as_desk.patch(
        reverse("varieties-detail", args=[card["id"]]),
        {"days_to_maturity": 80, "synonyms": [], "revision": card["revision"]},
    )

    assert (written.status_code, card["synonyms"], card["is_rare"]) == (201, ["Old Lamp"], True)
    assert (changed.status_code, changed.json()["days_to_maturity"]) == (200, 80)
    assert changed.json()["synonyms"] == []
    assert set(VarietyEdit.objects.values_list("field", "edited_by")) == {
        ("days_to_maturity", desk.pk),
        ("synonyms", desk.pk),
    }


@pytest.mark.parametrize(("who", "status"), [(None, 401), ("applicant", 404), ("member", 404)])
def test_cards_are_written_by_nobody_but_the_desk(api, variety, request, who, status):
    if who:
        api.force_authenticate(request.getfixturevalue(who))
    address = reverse("varieties-detail", args=[variety.pk])

    statuses = [
        api.post(VARIETIES, CARD).status_code,
        api.patch(address, {"is_rare": True}).status_code,
    ]

    assert statuses == [status, status]
    assert list(Variety.objects.values_list("name", "is_rare")) == [("Tarn Kettle", False)]


def test_breeding_status_over_the_api_is_a_coordinators(as_desk, coordinator, variety):
    address = reverse("varieties-detail", args=[variety.pk])

    by_desk = as_desk.patch(address, {"breeding_status": "landrace"})
    as_desk.force_authenticate(coordinator)
    by_coordinator = as_desk.patch(address, {"breeding_status": "landrace"})

    assert (by_desk.status_code, by_desk.json()["code"]) == (403, "not_allowed")
    assert (by_coordinator.status_code, Variety.objects.get().breeding_status) == (
        200,
        "landrace",
    )


def test_a_card_changed_since_it_was_read_is_a_conflict(as_desk, variety):
    address = reverse("varieties-detail", args=[variety.pk])
    seen = revision_of(variety)
    as_desk.patch(address, {"is_rare": True, "revision": seen})

    answer = as_desk.patch(address, {"is_rare": False, "revision": seen})

    assert (answer.status_code, answer.json()["code"]) == (409, "conflict")
    assert Variety.objects.get().is_rare is True


def test_a_card_posted_again_with_its_key_is_written_once(as_desk):
    first = as_desk.post(VARIETIES, CARD, headers={"Idempotency-Key": "a-key"})
    again = as_desk.post(VARIETIES, CARD, headers={"Idempotency-Key": "a-key"})

    assert (first.status_code, again.status_code) == (201, 201)
    assert again.json() == first.json()
    assert Variety.objects.count() == 1


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"crop": "gold"}, "crop"),
        ({"crop": None}, "crop"),
        ({"name": ""}, "name"),
        ({"name": ["a"]}, "name"),
        ({"name": "x" * 121}, "name"),
        ({"name": "a\x00"}, "name"),
        ({"breeding_status": "heirloom"}, "breeding_status"),
        ({"generation": 3.5}, "generation"),
        ({"generation": 31}, "generation"),
        ({"days_to_maturity": 10**30}, "days_to_maturity"),
        ({"is_rare": "perhaps"}, "is_rare"),
        ({"synonyms": "Old Lamp"}, "synonyms"),
        ({"synonyms": [{}]}, "synonyms"),
        ({"min_population": -1}, "min_population"),
    ],
)
def test_a_card_of_the_wrong_shape_is_refused_at_its_field(as_desk, wrong, field):
    answer = as_desk.post(VARIETIES, CARD | wrong)

    assert (answer.status_code, list(answer.json()["errors"])) == (400, [field])
    assert Variety.objects.count() == 0


def test_half_a_character_is_refused(as_desk):
    body = '{"crop": "tomato", "name": "a\\ud800", "breeding_status": "landrace"}'

    answer = as_desk.post(VARIETIES, body, content_type="application/json")

    assert (answer.status_code, list(answer.json()["errors"])) == (400, ["name"])


@pytest.mark.parametrize("body", ["[]", "7", '"text"', "{", "null"])
def test_a_body_that_is_no_card_is_refused(as_desk, body):
    answer = as_desk.post(VARIETIES, body, content_type="application/json")

    assert (answer.status_code, Variety.objects.count()) == (400, 0)


def test_a_card_of_a_name_that_is_taken_is_refused_in_a_sentence(as_desk):
    as_desk.post(VARIETIES, CARD)

    answer = as_desk.post(VARIETIES, CARD | {"name": "AMBER lantern"})

    assert (answer.status_code, answer.json()) == (
        400,
        {
            "code": "refused",
            "detail": "tomato has a card for “Amber Lantern” already.",
            "field": "name",
        },
    )


def test_a_detail_tells_the_cautions_and_a_list_does_not(api, variety):
    detail = api.get(reverse("varieties-detail", args=[variety.pk])).json()
    listed = api.get(VARIETIES).json()["results"][0]

    topics = [caution["topic"] for caution in detail["cautions"]]
    assert topics == ["raw-beans", "seed-borne-disease"]
    assert detail.keys() - listed.keys() == {"cautions", "revision"}


def test_a_member_keeps_notes_over_the_api(as_member, variety):
    note = {"variety": variety.pk, "year": 2025, "text": "Stood well.", "readers": "me"}

    written = as_member.post(NOTES, note)
    address = reverse("notes-detail", args=[written.json()["id"]])
    changed = as_member.patch(address, {"readers": "everyone"})
    removed = as_member.delete(address)

    assert (written.status_code, written.json()["author"]) == (201, "wren")
    assert (changed.status_code, changed.json()["text"]) == (200, "Stood well.")
    assert (changed.json()["readers"], changed.json()["is_mine"]) == ("everyone", True)
    assert (removed.status_code, SeasonNote.objects.count()) == (204, 0)


def test_a_note_kept_to_the_default_is_for_members(as_member, variety):
    as_member.post(NOTES, {"variety": variety.pk, "year": 2025, "text": "Good."})

    assert SeasonNote.objects.get().readers == "members"


def test_another_members_open_note_is_read_and_not_changed(
    as_member, member, other_member, variety
):
    as_member.post(
        NOTES, {"variety": variety.pk, "year": 2025, "text": "Good.", "readers": "everyone"}
    )
    address = reverse("notes-detail", args=[SeasonNote.objects.get().pk])
    as_member.force_authenticate(other_member)

    statuses = [
        as_member.get(address).status_code,
        as_member.patch(address, {"text": "Bad."}).status_code,
        as_member.delete(address).status_code,
    ]

    assert statuses == [200, 403, 403]
    assert SeasonNote.objects.get().text == "Good."


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"variety": 10**30}, "variety"),
        ({"variety": "x"}, "variety"),
        ({"year": "soon"}, "year"),
        ({"year": 1}, "year"),
        ({"text": " "}, "text"),
        ({"readers": "the press"}, "readers"),
    ],
)
def test_a_note_of_the_wrong_shape_is_refused_at_its_field(as_member, variety, wrong, field):
    note = {"variety": variety.pk, "year": 2025, "text": "Good."} | wrong

    answer = as_member.post(NOTES, note)

    assert (answer.status_code, list(answer.json()["errors"])) == (400, [field])
    assert SeasonNote.objects.count() == 0


def test_notes_are_filtered_by_variety_year_and_author(
    as_member, make_variety, other_member, member
):
    one, other = make_variety(), make_variety()
    for person, variety, year in [
        (member, one, 2024),
        (member, other, 2025),
        (other_member, one, 2025),
    ]:
        as_member.force_authenticate(person)
        as_member.post(NOTES, {"variety": variety.pk, "year": year, "text": "Good."})
    as_member.force_authenticate(member)

    def years(**question) -> list[int]:
        return [note["year"] for note in as_member.get(NOTES, question).json()["results"]]

    assert years(variety=one.pk) == [2025, 2024]
    assert years(year=2025, mine="true") == [2025]
    assert years(mine="true") == [2025, 2024]
    assert years(mine="false") == [2025]


@pytest.mark.parametrize("question", ["year=0.5", "year=soon", "year=99999", "mine=perhaps"])
def test_a_question_about_notes_that_is_not_understood_is_refused(api, variety, question):
    assert api.get(f"{NOTES}?{question}").status_code == 400


@pytest.mark.parametrize("rows", [1, 6])
def test_lists_cost_the_same_whatever_they_hold(
    as_member, member, make_variety, django_assert_num_queries, rows
):
    for number in range(rows):
        variety = make_variety(synonyms=[f"Other {number}"])
        as_member.post(NOTES, {"variety": variety.pk, "year": 2025, "text": "Good."})

    # The community, count, rows; a card's names.
    with django_assert_num_queries(4):
        varieties = as_member.get(VARIETIES).json()["results"]
    with django_assert_num_queries(3):
        notes = as_member.get(NOTES).json()["results"]

    assert (len(varieties), len(notes)) == (rows, rows)


@pytest.mark.parametrize("rows", [1, 6])
@pytest.mark.parametrize("resource", ["species", "crops"])
def test_reference_lists_cost_the_same_whatever_they_hold(
    as_member, reference, django_assert_num_queries, resource, rows
):
    address = reverse(f"{resource}-list")
    as_member.get(address)  # the community's row is there now

    # The community, count, rows, figures, cautions, crops.
    with django_assert_num_queries(6):
        listed = as_member.get(address, {"page_size": rows}).json()["results"]

    assert len(listed) == rows
