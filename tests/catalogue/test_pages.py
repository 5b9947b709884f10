"""The pages of the card file."""

import re
from html import unescape

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils.html import strip_tags

from accounts.models import Community
from library.catalogue.models import Crop, SeasonNote, SpeciesFigure, Variety, VarietyEdit
from library.catalogue.services import edit_variety, write_note

CARD = {
    "name": "Amber Lantern",
    "breeding_status": "open-pollinated",
    "synonyms": "Old Lamp\r\n\r\nStable Light",
    "description": "Small and late.",
}


def words(response) -> str:
    """The page as it is read: no markup, single spaces."""
    return " ".join(unescape(strip_tags(response.content.decode())).split())


@pytest.fixture
def closed_catalogue(db):
    Community.objects.update_or_create(pk=1, defaults={"catalogue_is_public": False})


@pytest.fixture
def crop_id(reference) -> int:
    return Crop.objects.get(name="tomato").pk


OPEN_PAGES = ["browse", "crops", "crop", "variety"]


@pytest.fixture
def address(variety):
    return {
        "browse": reverse("browse"),
        "crops": reverse("crops"),
        "crop": variety.crop.get_absolute_url(),
        "variety": variety.get_absolute_url(),
        "variety-add": reverse("variety-add"),
        "variety-edit": reverse("variety-edit", args=[variety.pk]),
        "season-note-add": reverse("season-note-add", args=[variety.pk]),
    }


@pytest.mark.parametrize("page", OPEN_PAGES)
def test_the_catalogue_is_open_to_everyone(client, address, page):
    assert client.get(address[page]).status_code == 200


@pytest.mark.parametrize("page", OPEN_PAGES)
def test_a_catalogue_kept_to_members_is_shown_to_members_only(
    client, address, page, closed_catalogue, member, applicant
):
    statuses = [client.get(address[page]).status_code]
    for person in (applicant, member):
        client.force_login(person)
        statuses.append(client.get(address[page]).status_code)

    assert statuses == [302, 404, 200]


@pytest.mark.parametrize(
    ("page", "statuses"),
    [
        ("variety-add", [302, 404, 404, 200, 200]),
        ("variety-edit", [302, 404, 404, 200, 200]),
        ("season-note-add", [302, 404, 200, 200, 200]),
    ],
)
def test_who_may_open_a_form(
    client, address, page, statuses, applicant, member, desk, coordinator
):
    seen = [client.get(address[page]).status_code]
    for person in (applicant, member, desk, coordinator):
        client.force_login(person)
        seen.append(client.get(address[page]).status_code)

    assert seen == statuses


def test_a_crop_page_shows_each_figure_with_its_source_and_how_it_is_known(client, reference):
    crop = Crop.objects.get(name="courgette")
    text = words(client.get(crop.get_absolute_url()))

    for figure in SpeciesFigure.objects.filter(species=crop.species):
        assert text.count(f"{figure.source} {figure.get_how_display()}") >= 1, figure


def test_a_crop_page_says_what_is_from_memory_and_what_is_not_known(client, reference):
    text = words(client.get(reverse("crop", args=["sweet-pea"])))

    assert re.findall(r"Test temperature 20 °C ISTA Rules Table 5A (from memory)", text) == [
        "from memory"
    ]
    assert re.findall(r"Isolation distance, home garden (not known)", text) == ["not known"]


def test_a_crop_page_names_the_kinds_it_crosses_with(client, reference):
    text = words(client.get(reverse("crop", args=["courgette"])))

    sentence = (
        "Acorn squash, courgette, crookneck squash, patty pan squash, pumpkin and spaghetti "
        "squash are one species, Cucurbita pepo: they cross with each other."
    )
    assert text.count(sentence) == 1


def test_a_crop_page_warns_of_what_can_hurt(client, reference):
    squash = words(client.get(reverse("crop", args=["courgette"])))
    lettuce = words(client.get(reverse("crop", args=["lettuce"])))

    warning = "Taste a crumb of every fruit before you eat it or save its seed."
    assert (squash.count(warning), lettuce.count(warning)) == (1, 0)


def test_a_card_says_what_it_is_and_how_to_keep_it(client, make_variety):
    variety = make_variety(
        "Amber Lantern",
        crop="drying bean",
        breeding_status="segregating",
        generation=4,
        synonyms=["Old Lamp"],
        own_caution="The pods are hairy.",
        days_to_maturity=95,
        is_rare=True,
    )

    text = words(client.get(variety.get_absolute_url()))

    for sentence in [
        "Also known as Old Lamp",
        "F4, still segregating: plants will differ",
        "The pods are hairy.",
        "Raw and undercooked beans make people ill",
        "95 days",
        "Plants to keep the variety 10 plants",
    ]:
        assert text.count(sentence) == 1, sentence


def test_an_f1_card_says_that_it_will_not_breed_true(client, make_variety):
    variety = make_variety("Amber Lantern", breeding_status="f1")

    text = words(client.get(variety.get_absolute_url()))

    assert text.count("F1 hybrid: will not breed true") == 1
    assert text.count("Seed saved from an F1 hybrid does not come true") == 1


def test_a_cards_own_population_replaces_its_species(client, make_variety):
    variety = make_variety(min_population=33)

    text = words(client.get(variety.get_absolute_url()))

    assert text.count("Plants to keep the variety 33 plants") == 1


def test_an_old_address_leads_to_the_present_name(client, make_variety):
    variety = make_variety("Amber Lantern")

    response = client.get(reverse("variety", args=[variety.pk, "another-name"]))

    assert (response.status_code, response.url) == (302, variety.get_absolute_url())


@pytest.mark.parametrize("pk", [999, 10**30])
def test_a_card_that_is_not_there_is_not_found(client, reference, pk):
    assert client.get(f"/varieties/{pk}-x/").status_code == 404


def test_the_desk_adds_a_card(client, desk, crop_id):
    client.force_login(desk)

    response = client.post(reverse("variety-add"), CARD | {"crop": crop_id})

    variety = Variety.objects.get()
    assert (response.status_code, response.url) == (302, variety.get_absolute_url())
    assert [name.name for name in variety.names.all()] == [
        "Amber Lantern",
        "Old Lamp",
        "Stable Light",
    ]


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"name": ""}, "name"),
        ({"crop": 10**9}, "crop"),
        ({"breeding_status": "segregating"}, "generation"),
        ({"breeding_status": "f1", "generation": 2}, "generation"),
        ({"days_to_maturity": "soon"}, "days_to_maturity"),
        ({"days_to_maturity": "-5"}, "days_to_maturity"),
        ({"days_to_maturity": "60.5"}, "days_to_maturity"),
        ({"min_population": "9" * 40}, "min_population"),
        ({"description": "x" * 8001}, "description"),
        ({"synonyms": "y" * 130}, "synonyms"),
    ],
)
def test_a_wrong_card_comes_back_with_a_sentence_at_its_field(
    client, desk, crop_id, wrong, field
):
    client.force_login(desk)

    response = client.post(reverse("variety-add"), CARD | {"crop": crop_id} | wrong)

    assert response.status_code == 400
    assert list(response.context["form"].errors) == [field]
    assert len(response.context["form"].errors[field]) == 1
    assert Variety.objects.count() == 0


def edited(client, variety) -> dict:
    """What the edit form of a card sends when nothing was changed."""
    form = client.get(reverse("variety-edit", args=[variety.pk])).context["form"]
    data = {name: form[name].value() for name in form.fields}
    return {
        name: getattr(value, "pk", value)
        for name, value in data.items()
        if value is not None and value is not False
    }


def test_the_desk_edits_a_card_and_the_page_tells_the_desk_who_did(
    client, desk, member, make_variety
):
    variety = make_variety("Amber Lantern", days_to_maturity=60)
    client.force_login(desk)

    data = edited(client, variety) | {"days_to_maturity": 75}
    client.post(reverse("variety-edit", args=[variety.pk]), data)
    for_desk = words(client.get(variety.get_absolute_url()))
    client.force_login(member)
    for_member = words(client.get(variety.get_absolute_url()))

    change = "heron changed “days from sowing to harvest for eating” from 60 to 75."
    assert (for_desk.count(change), for_member.count(change)) == (1, 0)
    assert VarietyEdit.objects.count() == 1


def test_the_desks_form_leaves_breeding_status_as_it_is(client, desk, make_variety):
    variety = make_variety("Amber Lantern", breeding_status="stabilised")
    client.force_login(desk)

    data = edited(client, variety) | {"breeding_status": "landrace", "description": "Tall."}
    client.post(reverse("variety-edit", args=[variety.pk]), data)

    changed = Variety.objects.get()
    assert (changed.breeding_status, changed.description) == ("stabilised", "Tall.")


def test_a_coordinator_changes_breeding_status_by_the_form(client, coordinator, make_variety):
    variety = make_variety("Amber Lantern", breeding_status="f1")
    client.force_login(coordinator)

    data = edited(client, variety) | {"breeding_status": "segregating", "generation": 2}
    response = client.post(reverse("variety-edit", args=[variety.pk]), data)

    changed = Variety.objects.get()
    assert response.status_code == 302
    assert (changed.breeding_status, changed.generation) == ("segregating", 2)


def test_two_people_editing_one_card_do_not_undo_each_other(
    client, desk, coordinator, make_variety
):
    variety = make_variety("Amber Lantern")
    client.force_login(desk)
    data = edited(client, variety) | {"origin_story": "From the mill."}
    edit_variety(variety=variety, by=coordinator, changes={"description": "Tall."})

    response = client.post(reverse("variety-edit", args=[variety.pk]), data)

    assert response.status_code == 409
    assert (Variety.objects.get().description, Variety.objects.get().origin_story) == (
        "Tall.",
        "",
    )


def test_a_member_writes_changes_and_removes_a_note(client, member, variety):
    client.force_login(member)
    note = {"year": 2025, "text": "Stood well.", "readers": "everyone"}

    client.post(reverse("season-note-add", args=[variety.pk]), note)
    written = SeasonNote.objects.get()
    client.post(
        reverse("season-note-edit", args=[written.pk]),
        note | {"text": "Fell.", "readers": "me"},
    )
    changed = SeasonNote.objects.get()
    response = client.post(reverse("season-note-remove", args=[written.pk]))

    assert (written.text, written.readers, written.author) == (
        "Stood well.",
        "everyone",
        member,
    )
    assert (changed.text, changed.readers) == ("Fell.", "me")
    assert (response.status_code, SeasonNote.objects.count()) == (302, 0)


def test_htmx_gets_the_list_alone_and_a_browser_the_page(client, make_variety):
    make_variety("Amber Lantern")

    whole = client.get(reverse("browse"), {"q": "amber"})
    part = client.get(reverse("browse"), {"q": "amber"}, headers={"HX-Request": "true"})

    assert (whole.content.count(b"<html"), part.content.count(b"<html")) == (1, 0)
    assert (words(whole).count("Amber Lantern"), words(part).count("Amber Lantern")) == (1, 1)
    assert "HX-Request" in part.headers["Vary"].split(", ")


def test_a_misspelt_name_is_asked_back(client, make_variety):
    make_variety("Amber Lantern")

    text = words(client.get(reverse("browse"), {"q": "ambr lantrn"}))

    assert text.count("Did you mean Amber Lantern?") == 1


def test_a_search_shows_the_other_names_it_may_have_found(client, make_variety):
    make_variety("Amber Lantern", synonyms=["Old Lamp", "Beck Light"])

    text = words(client.get(reverse("browse"), {"q": "old lamp"}))

    assert text.count("Amber Lantern Beck Light, Old Lamp") == 1


def test_what_was_typed_is_shown_as_text(client, reference):
    response = client.get(reverse("browse"), {"q": '"><script>alert(1)</script>'})

    assert response.content.count(b"<script>alert") == 0


def test_varieties_are_read_fifty_at_a_time(client, make_variety):
    for number in range(51):
        make_variety(f"Trial {number:02d}")

    first = client.get(reverse("browse")).context["page_obj"].object_list
    second = client.get(reverse("browse"), {"page": 2}).context["page_obj"].object_list

    assert (len(first), [variety.name for variety in second]) == (50, ["Trial 50"])


@pytest.mark.parametrize("page", ["0", "-1", "99999999999999999999", "last", "abc", ""])
def test_a_page_that_there_is_not_shows_the_nearest(client, make_variety, page):
    make_variety()

    assert client.get(reverse("browse"), {"page": page}).status_code == 200


@pytest.mark.parametrize("shelf_size", [1, 6])
@pytest.mark.parametrize("question", ["", "q=trial", "on_shelf=false&crop=tomato"])
def test_browsing_costs_the_same_whatever_the_shelf_holds(
    client, make_variety, django_assert_num_queries, shelf_size, question
):
    for number in range(shelf_size):
        make_variety(f"Trial {number}")
    client.get(reverse("browse"))  # the community's row is there now
    # The community, crops of the filter, count, keys, rows; the chosen crop. A search looks
    # at crops and for few or many, and reads synonyms; for few it looks at all names too.
    cost = {"": 5, "q=trial": 9 if shelf_size == 1 else 8, "on_shelf=false&crop=tomato": 6}

    with django_assert_num_queries(cost[question]):
        response = client.get(f"{reverse('browse')}?{question}")

    assert len(response.context["page_obj"].object_list) == shelf_size


def test_a_card_costs_the_same_whatever_hangs_on_it(client, desk, make_variety):
    client.force_login(desk)
    client.get(make_variety().get_absolute_url())  # rows made at need are there now
    costs = []

    for rows in (1, 6):
        variety = make_variety(synonyms=[f"Other {n}" for n in range(rows)])
        for number in range(rows):
            on = variety.added_at.date()
            write_note(variety=variety, by=desk, year=2020, text=f"Note {number}", on=on)
            edit_variety(variety=variety, by=desk, changes={"days_to_maturity": 60 + number})
        with CaptureQueriesContext(connection) as queries:
            text = words(client.get(variety.get_absolute_url()))
        costs.append((text.count("Note "), len(queries)))

    assert [rows for rows, _cost in costs] == [1, 6]
    assert costs[0][1] == costs[1][1]


def test_new_cards_are_told_on_the_home_page(client, make_variety):
    for number in range(7):
        make_variety(f"Trial {number}")

    text = words(client.get(reverse("home")))

    assert [text.count(f"Trial {number} tomato") for number in range(7)] == [
        0,
        0,
        1,
        1,
        1,
        1,
        1,
    ]
