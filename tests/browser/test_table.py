"""The swap table on a phone in a real browser: reception goes, nothing is lost or doubled."""

from __future__ import annotations

import io
import re

import pytest
import segno
from playwright.sync_api import Page, expect

from library.lending.models import LendingRules, Loan
from library.stock.models import Packet
from tests.browser.conftest import CHROMIUM, FLAGS, sign_in

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def packets(make_lot, variety, valley, long_ago) -> list[Packet]:
    lot = make_lot(variety, seeds=2000, packets=10, on=long_ago, harvest_year=long_ago.year)
    return list(lot.packets.order_by("code"))


@pytest.fixture
def generous(db) -> None:
    """Ten packets of one variety go to one member in these tests."""
    rules = LendingRules.current()
    rules.max_open_loans = rules.max_packets_of_variety = 20
    rules.save()


LOSE_ONE_ANSWER = """() => {
    const real = window.fetch;
    window.fetch = async (address, options) => {
        const answer = await real(address, options);
        if (options && options.method === "POST") {
            window.fetch = real;
            throw new TypeError("the answer was lost");
        }
        return answer;
    };
}"""


def at_table(page: Page) -> Page:
    page.set_viewport_size({"width": 360, "height": 740})
    page.goto("/table/")
    page.locator("#table[data-ready=yes]").wait_for()
    stands(page, "idle")
    return page


def stands(page: Page, state: str) -> None:
    expect(page.locator("#table-standing")).to_have_attribute(
        "data-state", state, timeout=20_000
    )


def wedge(page: Page, code: str) -> None:
    """A scanner types the code and Enter, wherever the focus is."""
    page.keyboard.type(code)
    page.keyboard.press("Enter")
    expect(page.locator("#table-done")).to_contain_text(code)
    expect(page.locator("#table-form [name=code]")).to_have_value("")


def waiting(page: Page) -> int:
    return int(page.locator("#table-waiting").inner_text())


def choose(page: Page, name: str) -> None:
    page.locator("#table-form [name=who]").fill(name[:3])
    page.locator("#table-names").get_by_role("button", name=name, exact=True).click()


def test_reception_is_cut_in_the_middle_of_ten_scans(
    page_at, axe, fits, snap, packets, member, desk, generous
):
    page = at_table(page_at(360, member=desk, locale="en-GB"))
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    axe(page)
    fits(page)
    snap(page, "table-empty")
    choose(page, "wren")
    for packet in packets[:4]:
        wedge(page, packet.code)
    expect(page.locator("#table-done .badge.good")).to_have_count(4, timeout=20_000)

    # The server does it, but its answer is lost; then nothing goes through at all.
    page.evaluate(LOSE_ONE_ANSWER)
    wedge(page, packets[4].code)
    stands(page, "offline")
    page.context.set_offline(True)
    for packet in packets[5:8]:
        wedge(page, packet.code)
    assert waiting(page) == 4
    page.keyboard.type(packets[5].code)
    page.keyboard.press("Enter")
    expect(page.locator("#table-news")).to_contain_text("on the list already")

    page.reload()  # the page opens from the phone, and the list with it
    page.locator("#table[data-ready=yes]").wait_for()
    expect(page.get_by_role("heading", level=1)).to_have_text("Swap table")
    assert waiting(page) == 4
    stands(page, "offline")
    axe(page)
    fits(page)
    snap(page, "table-offline")
    choose(page, "wren")
    for packet in packets[8:]:
        wedge(page, packet.code)
    assert waiting(page) == 6

    page.context.set_offline(False)
    stands(page, "idle")
    expect(page.locator("#table-done .badge.good")).to_have_count(10, timeout=20_000)
    expect(page.locator("#table-lent")).to_have_text("10")
    snap(page, "table-sent")
    page.complaints.clear()  # of what could not be reached
    assert sorted(Loan.objects.values_list("packet__code", flat=True)) == [
        packet.code for packet in packets
    ]
    assert set(Loan.objects.values_list("borrower", flat=True)) == {member.pk}


def test_two_phones_scan_one_packet_and_the_other_sees_the_conflict(
    page_at, axe, snap, packets, member, other_member, desk, coordinator
):
    code = packets[0].code
    first = at_table(page_at(360, member=desk))
    second = at_table(page_at(360, member=coordinator))
    choose(first, "wren")
    choose(second, "rook")
    second.context.set_offline(True)
    wedge(second, code)
    stands(second, "offline")
    wedge(first, code)
    expect(first.locator("#table-done .badge.good")).to_have_count(1)

    second.context.set_offline(False)
    row = second.locator("#table-done .refused")
    expect(row).to_contain_text("is not on the shelf", timeout=20_000)
    axe(second)
    snap(second, "table-conflict")
    assert Loan.objects.get().borrower == member

    first.get_by_role("button", name="Undo").click()
    expect(first.locator("#table-done")).to_contain_text("Undone: back on the shelf.")
    expect(first.locator("#table-done .badge.good")).to_have_count(2)
    row.get_by_role("button", name="Try again").click()
    expect(second.locator("#table-done .badge.good")).to_have_count(1)
    second.complaints.clear()
    assert Loan.objects.open().get().borrower == other_member
    assert Loan.objects.closed().get().outcome == Loan.Outcome.TAKEN_BACK


def test_signed_out_without_reception_nothing_is_lost_and_nothing_is_anothers(
    page_at, packets, member, desk, coordinator
):
    page = at_table(page_at(360, member=desk))
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    choose(page, "wren")
    page.keyboard.type("P000001-9")
    page.keyboard.press("Enter")
    expect(page.locator("#table-news")).to_contain_text("mistyped")
    page.context.set_offline(True)
    page.locator("#table-form [name=code]").fill("")
    wedge(page, packets[0].code)
    stands(page, "offline")
    page.context.clear_cookies()
    page.context.set_offline(False)
    stands(page, "signed-out")
    expect(page.get_by_role("link", name="Sign in").last).to_be_visible()

    page.goto("/")  # nobody is signed in: what was kept for the table goes, the list stays
    page.wait_for_function(
        "caches.match('/table/').then((page) => !page)", polling=200, timeout=10_000
    )
    sign_in(page.context, coordinator)
    page = at_table(page)
    expect(page.locator("#table-others")).to_contain_text("Another volunteer left something")
    assert (page.locator("#table-done li").count(), Loan.objects.count()) == (0, 0)

    page.context.clear_cookies()
    sign_in(page.context, desk)
    page = at_table(page)
    expect(page.locator("#table-done .badge.good")).to_have_count(1)
    page.complaints.clear()
    assert Loan.objects.get().lent_by == desk


def film_of(text: str, path) -> None:
    """A video of a still: the code in black on white, as raw frames (YUV4MPEG2, 4:2:0)."""
    width, height, scale = 640, 480, 8
    rows = [list(row) for row in segno.make_qr(text).matrix_iter(scale=scale, border=4)]
    top, left = (height - len(rows)) // 2, (width - len(rows[0])) // 2
    luma = bytearray(b"\xeb" * (width * height))
    for y, row in enumerate(rows):
        for x, dark in enumerate(row):
            if dark:
                luma[(top + y) * width + left + x] = 16
    frame = bytes(luma) + b"\x80" * (width * height // 2)
    film = io.BytesIO()
    film.write(f"YUV4MPEG2 W{width} H{height} F10:1 Ip A1:1 C420\n".encode())
    for _ in range(5):
        film.write(b"FRAME\n" + frame)
    path.write_bytes(film.getvalue())


def test_the_camera_reads_a_label(browser, live_server, packets, member, desk, tmp_path):
    film = tmp_path / "label.y4m"
    film_of(f"{live_server.url}/packets/{packets[0].code}/", film)
    flags = [
        *FLAGS,
        "--use-fake-ui-for-media-stream",
        "--use-fake-device-for-media-stream",
        f"--use-file-for-fake-video-capture={film}",
    ]
    chromium = browser.browser_type.launch(executable_path=CHROMIUM, args=flags)
    context = chromium.new_context(base_url=live_server.url, permissions=["camera"])
    context.server_url = live_server.url
    sign_in(context, desk)
    try:
        page = at_table(context.new_page())
        assert not page.evaluate("'jsQR' in window")  # loaded when the camera is opened
        choose(page, "wren")
        page.get_by_role("button", name="Scan with the camera").click()
        expect(page.locator("#table-done .badge.good")).to_have_count(1, timeout=20_000)
        page.get_by_role("button", name=re.compile("Close the camera")).click()
    finally:
        context.close()
        chromium.close()
    assert Loan.objects.get().packet == packets[0]


def test_the_button_is_in_reach_on_a_small_phone(page_at, packets, desk):
    page = at_table(page_at(360, member=desk))
    button = page.get_by_role("button", name="Do it")

    expect(button).to_be_in_viewport(ratio=1)
    covered_by = """e => {
        const box = e.getBoundingClientRect();
        const top = document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2);
        return e.contains(top) ? "" : top.outerHTML;
    }"""
    assert button.evaluate(covered_by) == ""
