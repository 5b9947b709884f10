"""Labels: what stands on them, where they lie, and that every square opens its packet."""

from __future__ import annotations

import datetime as dt
import itertools

import pytest
from django.conf import settings
from django.forms.models import model_to_dict
from django.http import Http404
from django.urls import reverse

from accounts.models import Community
from library.errors import Conflict, NotAllowed, Refused
from library.germination.services import record_test
from library.kept import as_kept
from library.paper import services
from library.paper.geometry import Geometry
from library.stock.models import Growing, Packet
from tests.paper.conftest import ON
from tests.paper.reading import all_of, pages, sizes, squares, text_boxes

HOSTILE = '#eval("1") $x$ *bold* _it_ @ref <label> #image("/etc/passwd") \\ // `c` ] } "'


def address(code: str) -> str:
    return f"{settings.SITE_URL}/packets/{code}/"


def test_every_square_opens_its_packet_and_lies_on_its_label(make_lot, printed, sheet):
    lot = make_lot(packets=14)
    codes = list(lot.packets.order_by("code").values_list("code", flat=True))

    pdf = printed("labels", [lot.number], start=5)

    found = sorted(squares(pdf), key=lambda one: (one.page, round(one.y), one.x))
    assert [one.text for one in found] == [address(code) for code in codes]
    assert [one.page for one in found] == [0] * 8 + [1] * 6
    assert sizes(pdf) == [(210.0, 297.0)] * 2
    # By the ruler, not by our own arithmetic: the fifth label is the second row's second.
    left, top = 12 + 62.5, 15 + 64
    assert left < found[0].x < found[0].x + found[0].width < left + 60
    assert top < found[0].y < found[0].y + found[0].width < top + 60
    steps = [round(b.x - a.x, 1) for a, b in itertools.pairwise(found[2:5])]
    assert steps == [62.5, 62.5]
    assert round(found[5].y - found[2].y, 1) == 64.0
    assert {round(one.width, 0) for one in found} == {round(found[0].width, 0)}


def test_a_roll_has_a_label_to_a_page_and_its_gap(make_lot, make_sheet, printed):
    roll = make_sheet(
        "Roll", shape="roll", page_width=62, page_height=None, columns=1, rows=1,
        label_width=58, label_height=30, left=2, top=1, gap_x=0, gap_y=3,
    )  # fmt: skip
    lot = make_lot(packets=3)

    pdf = printed("labels", [lot.number], sheet=roll)

    assert sizes(pdf) == [(62.0, 34.0)] * 3
    assert [one.page for one in squares(pdf)] == [0, 1, 2]
    for page in range(3):
        for left, top, right, bottom in text_boxes(pdf, page):
            assert 2 <= left < right <= 60
            assert 1 <= top < bottom <= 31


def test_a_packet_that_is_asked_for_twice_has_one_label(make_lot, printed):
    lot = make_lot(packets=2)
    code = lot.packets.order_by("code").first().code

    pdf = printed("labels", [code, code.lower(), lot.number, code])

    assert len(squares(pdf)) == 2


def test_it_says_what_seed_law_and_custom_ask_for(
    make_lot, make_variety, member, printed, desk
):
    """W. Va. Code 19-16-5a: kind and variety, treatment, a reference to trace it by, name and
    place of who shares it, month and year of the donation. The rest is common practice.
    """
    Community.objects.update_or_create(
        pk=1, defaults={"name": "Tarn Hollow", "place": "Cragwither"}
    )
    variety = make_variety("Tarn Kettle", crop="drying bean")
    lot = make_lot(variety, packets=1, harvest_year=2025, grower=member)
    Growing.objects.update_or_create(
        lot=lot,
        defaults={"plants_gave_seed": 31, "isolation": "distance", "isolation_distance_m": 12},
    )

    (text,) = pages(printed("labels", [lot.number]))

    for told in [
        "Tarn Kettle",
        "drying bean, Phaseolus vulgaris",
        "Open-pollinated",
        "No treatment of the seed is recorded",
        f"Lot {lot.number}, received October 2025",
        "Tarn Hollow, Cragwither",
        "20 seeds, harvest 2025",
        "Grown by wren, from 31 plants, isolated by 12 m",
        "from other Phaseolus vulgaris",
        "sow all of it, and expect about",
        "never tested",
        "Never eat the beans raw",
        "For sowing, not for food",
    ]:
        assert told in text, told
    assert lot.packets.get().code in text
    assert member.email not in text


def test_a_hybrid_is_called_one(make_lot, make_variety, printed):
    """7 U.S.C. 1571(b)(1)(A)."""
    lot = make_lot(make_variety(breeding_status="f1"), packets=1)

    (text,) = pages(printed("labels", [lot.number]))

    assert "F1 hybrid: will not breed true" in text


@pytest.mark.parametrize(
    ("crop", "normal", "hard", "told"),
    [
        ("lettuce", 82, 0, None),
        ("lettuce", 79, 0, "Below Standard: germination 79 %, April 2026"),
        ("carrot", 55, 0, None),
        ("okra", 40, 12, None),
        ("okra", 30, 12, "Below Standard: germination 30 %, hard seed 12 %, April 2026"),
    ],
)
def test_germination_is_told_below_the_standard_and_only_there(
    make_lot, make_variety, printed, desk, crop, normal, hard, told
):
    """7 CFR 201.29 to 201.31 (lettuce 80, carrot 55, okra 50): equal is enough, hard seed
    counts for the standard and stands apart in the figure.
    """
    lot = make_lot(make_variety(crop=crop), packets=1)
    dish = {"seeds": 100, "normal": normal, "hard": hard, "dead": 100 - normal - hard}
    record_test(
        lot=lot, started_on=ON - dt.timedelta(days=14), closed_on=ON, replicates=[dish], by=desk
    )

    (text,) = pages(printed("labels", [lot.number]))

    assert ("Below Standard" in text) is (told is not None)
    assert told is None or told in text


def test_text_is_never_read_as_markup(make_lot, make_variety, printed):
    lot = make_lot(make_variety(HOSTILE), packets=1)

    (text,) = pages(printed("labels", [lot.number]))

    assert text.replace(" ", "").startswith(HOSTILE.replace(" ", ""))


@pytest.mark.parametrize(
    "name",
    ["W" * 120, "Žlutý ľščťž " * 10, "فول الجدة " * 12, "שעועית " * 15, "a b " * 30],
)
@pytest.mark.parametrize(("width", "height"), [(38, 19), (60, 34), (95, 60)])
def test_however_long_a_name_nothing_leaves_its_label(
    make_lot, make_variety, make_sheet, printed, name, width, height
):
    own = "Take great care. " * 20
    lot = make_lot(make_variety(name[:120].strip(), own_caution=own), packets=1)
    small = make_sheet(
        "Small", columns=1, rows=1, label_width=width, label_height=height, left=20, top=20
    )

    pdf = printed("labels", [lot.number], sheet=small)

    (square,) = squares(pdf)
    assert square.text == address(lot.packets.get().code)
    boxes = text_boxes(pdf)
    assert len(boxes) > len(own) / 2
    slack = 0.3  # the box of a letter is a little larger than its ink
    assert min(box[0] for box in boxes) >= 20 - slack
    assert min(box[1] for box in boxes) >= 20 - slack
    assert max(box[2] for box in boxes) <= 20 + width + slack
    assert max(box[3] for box in boxes) <= 20 + height + slack


def test_signs_that_no_font_has_do_not_stop_the_label(make_lot, make_variety, printed):
    lot = make_lot(make_variety("豆 🌱 bean\x07"), packets=1)

    pdf = printed("labels", [lot.number])

    assert squares(pdf)[0].text == address(lot.packets.get().code)
    assert "bean" in pages(pdf)[0]


def test_the_same_asked_again_is_the_same_file_and_it_is_tagged(make_lot, printed):
    lot = make_lot(packets=2)

    first, second = printed("labels", [lot.number]), printed("labels", [lot.number])

    assert first == second
    inside = all_of(first)
    assert b"/StructTreeRoot" in inside
    assert b"pdfuaid:part" in inside  # XMP says PDF/UA-1 (ISO 14289-1)
    assert inside.count(b"/FontFile") >= 2


@pytest.mark.parametrize(
    ("keys", "how", "refused"),
    [
        ([], {}, "nothing was chosen"),
        (["P000001-X"], {}, "not a packet code"),
        (["#rm"], {}, "does not begin with"),
        (["{lot}"], {"start": 13}, "begin at 1 to 12"),
        (["{lot}"], {"start": 0}, "begin at 1 to 12"),
        (["{lot}"], {"paper": "a0"}, "not one of"),
        (["{lot}"] * 2001, {}, "At most 2000"),
    ],
)
def test_what_cannot_be_printed_is_refused(make_lot, printed, keys, how, refused):
    lot = make_lot(packets=1)

    with pytest.raises(Refused, match=refused):
        printed("labels", [key.format(lot=lot.number) for key in keys], **how)


def test_a_code_of_nothing_is_not_there(make_lot, printed, member):
    make_lot(packets=1)

    with pytest.raises(Http404):
        printed("labels", ["P000412-2"])
    with pytest.raises(Http404):
        printed("labels", [Packet.objects.get().code], by=member)


def test_places_run_across_and_then_down():
    geometry = Geometry(210, 297, 3, 8, 63, 34.5, left=10, top=12, gap_x=1, gap_y=2)

    assert geometry.place(0) == (0, 10, 12)
    assert geometry.place(4) == (0, 74, 48.5)
    assert geometry.place(24) == (1, 10, 12)


@pytest.mark.parametrize(
    ("wrong", "refused"),
    [
        ({"label_width": 71, "columns": 3}, "columns end 230"),
        ({"rows": 5}, "rows end"),
        ({"page_height": None}, "how high"),
        ({"label_width": 20}, "38"),
        ({"columns": 0}, "1"),
        ({"label_width": "wide"}, "decimal"),
        ({"left": -1}, "0"),
        ({"gap_x": 10**9}, "1000|digits"),
        ({"name": ""}, "blank"),
    ],
)
def test_a_sheet_that_cannot_be_is_refused(make_sheet, wrong, refused):
    with pytest.raises(Refused, match=refused):
        make_sheet(**wrong)


def test_one_sheet_is_the_first_choice(make_sheet, desk):
    first = make_sheet("First", is_default=True)
    second = make_sheet("Second", is_default=True)

    assert type(first).objects.first_choice() == second
    services.remove_sheet(sheet=second, by=desk)
    services.remove_sheet(sheet=second, by=desk)
    assert not type(first).objects.filter(is_default=True).exists()


def test_a_sheet_removed_with_one_press_comes_back_with_one(client, make_sheet, desk):
    sheet = make_sheet("First", is_default=True)
    before, back = model_to_dict(sheet), reverse("label-sheet-put-back")
    client.force_login(desk)

    page = client.post(reverse("label-sheet-remove", args=[sheet.pk]), follow=True)
    gone = not type(sheet).objects.filter(pk=sheet.pk).exists()
    again = client.post(back, follow=True).content.decode()

    assert gone
    assert f'<form method="post" action="{back}">' in page.content.decode()
    assert "It is back, as it was." in again
    assert model_to_dict(type(sheet).objects.get(pk=sheet.pk)) == before


def test_a_sheet_that_comes_back_leaves_the_first_choice_to_another(make_sheet, desk):
    first = make_sheet("First", is_default=True)
    kept = as_kept([first])
    services.remove_sheet(sheet=first, by=desk)
    second = make_sheet("Second", is_default=True)

    back = services.put_sheet_back(kept=kept, by=desk)

    assert not back.is_default
    assert type(first).objects.first_choice() == second


def test_a_sheet_whose_name_is_taken_does_not_come_back(make_sheet, desk):
    first = make_sheet("First")
    kept = as_kept([first])
    services.remove_sheet(sheet=first, by=desk)
    make_sheet("First")

    with pytest.raises(Conflict, match="Its place is taken by now"):
        services.put_sheet_back(kept=kept, by=desk)


def test_only_the_desk_puts_a_sheet_back(make_sheet, desk, member):
    sheet = make_sheet("First")
    kept = as_kept([sheet])
    services.remove_sheet(sheet=sheet, by=desk)

    with pytest.raises(NotAllowed, match="serves at the desk"):
        services.put_sheet_back(kept=kept, by=member)
