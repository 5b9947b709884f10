"""Another language than English: compiled without gettext, chosen by anybody, with its own
dates and numbers.
"""

from __future__ import annotations

import datetime as dt
import gettext
import re
from pathlib import Path

import pytest
from babel.dates import format_date
from babel.numbers import format_decimal
from django import forms
from django.conf import settings
from django.test import Client
from django.utils import formats, translation

from accounts import services
from library.config.catalogs import compiled

HEAD = 'msgid ""\nmsgstr ""\n"Content-Type: text/plain; charset=UTF-8\\n"\n'
HEAD += '"Plural-Forms: nplurals=2; plural=(n != 1);\\n"\n\n'
LOT = 'msgid "%(n)s lot"\nmsgid_plural "%(n)s lots"\n'
LOT += 'msgstr[0] "%(n)s Posten"\nmsgstr[1] "%(n)s Lose"\n\n'
TEMPLATES = [
    path
    for part in ("library", "accounts")
    for path in (settings.BASE_DIR / part).rglob("templates/**/*")
    if path.is_file()
]


# Compiled at start ----------------------------------------------------------------------


def written(folder: Path, text: str) -> Path:
    source = folder / "de" / "LC_MESSAGES" / "django.po"
    source.parent.mkdir(parents=True, exist_ok=True)
    source.write_text(HEAD + text, encoding="utf-8")
    return folder


def german(folder: Path) -> gettext.NullTranslations:
    return gettext.translation("django", folder, ["de"])


def test_a_catalogue_is_compiled_without_gettexts_programs(tmp_path, monkeypatch):
    monkeypatch.setenv("PATH", "")

    folder = compiled(written(tmp_path / "po", LOT), into=tmp_path / "mo")

    told = [german(folder).ngettext("%(n)s lot", "%(n)s lots", n) for n in (0, 1, 2)]
    assert told == ["%(n)s Lose", "%(n)s Posten", "%(n)s Lose"]


def test_what_nobody_has_looked_at_is_not_shown(tmp_path):
    fuzzy = '#, fuzzy\nmsgid "seed"\nmsgstr "Saat?"\n'

    folder = compiled(written(tmp_path / "po", fuzzy), into=tmp_path / "mo")

    assert german(folder).gettext("seed") == "seed"


def test_a_changed_source_is_compiled_anew_and_an_unchanged_one_is_not(tmp_path):
    source, into = tmp_path / "po", tmp_path / "mo"
    first = compiled(written(source, LOT), into=into)
    (kept,) = first.rglob("*.mo")
    when = kept.stat().st_mtime_ns

    again = compiled(source, into=into)
    other = compiled(written(source, LOT.replace("Lose", "Partien")), into=into)

    assert (again, kept.stat().st_mtime_ns) == (first, when)
    assert german(other).ngettext("%(n)s lot", "%(n)s lots", 2) == "%(n)s Partien"


# Chosen ---------------------------------------------------------------------------------


def spoken(answer) -> str:
    """The page's own word for its language; the header must say the same."""
    found = re.search(r'<html lang="([^"]+)" dir="ltr">', answer.content.decode())
    assert found
    assert found[1] == answer.headers["Content-Language"]
    return found[1]


def test_a_visitor_switches_and_stays_on_the_page(client, db):
    answer = client.post("/language/", {"language": "de", "next": "/style/?a=1"})

    assert (answer.status_code, answer.headers["Location"]) == (302, "/style/?a=1")
    assert spoken(client.get("/style/")) == "de"
    client.post("/language/", {"language": "en", "next": "/"})
    assert spoken(client.get("/style/")) == "en"


def test_the_switch_on_a_page_names_that_page_and_the_other_languages(client, db):
    page = client.get("/style/", {"q": "a b"}).content.decode()

    assert '<input type="hidden" name="next" value="/style/?q=a+b">' in page
    assert re.findall(r'<button name="language" value="(\w+)" lang="\w+">(\w+)<', page) == [
        ("de", "Deutsch")
    ]


@pytest.mark.parametrize(
    "hostile", ["https://elsewhere.example/", "//elsewhere.example", "javascript:alert(1)", ""]
)
def test_the_switch_never_leads_to_another_site(client, db, hostile):
    answer = client.post("/language/", {"language": "de", "next": hostile})

    assert answer.headers["Location"] == "/"


@pytest.mark.parametrize("code", ["", "xx", "de-tlh-" * 600, "<b>"])
def test_a_language_that_is_not_there_is_refused_with_the_ones_that_are(client, db, code):
    answer = client.post("/language/", {"language": code})

    assert answer.status_code == 400
    assert "Choose one of: English, Deutsch." in answer.content.decode()
    assert settings.LANGUAGE_COOKIE_NAME not in answer.cookies


def test_another_site_cannot_switch_it(db):
    assert (
        Client(enforce_csrf_checks=True).post("/language/", {"language": "de"}).status_code
        == 403
    )


def test_a_members_switch_is_kept_with_the_member(as_member, member):
    as_member.post("/language/", {"language": "de"})

    member.refresh_from_db()
    elsewhere = Client()
    elsewhere.force_login(member)
    assert (member.language, spoken(elsewhere.get("/"))) == ("de", "de")


def test_the_members_choice_goes_before_the_browsers_and_that_before_the_librarys(
    client, member
):
    services.save_community(by=None, language="de")
    heard = [spoken(client.get("/"))]

    heard.append(spoken(client.get("/", headers={"accept-language": "fr, *;q=0.1"})))
    heard.append(spoken(client.get("/", headers={"accept-language": "fr, en-GB;q=0.5"})))
    client.force_login(member)
    services.save_preferences(member=member, language="de")
    heard.append(spoken(client.get("/", headers={"accept-language": "en"})))

    assert heard == ["de", "de", "en", "de"]


# Dates and numbers ----------------------------------------------------------------------


@pytest.mark.parametrize(
    "day", [dt.date(2026, 3, 5), dt.date(2024, 2, 29), dt.date(2026, 12, 31)]
)
def test_german_days_are_written_as_the_unicode_locale_data_has_them(day):
    """Unicode CLDR, as Babel carries it: long, medium, month and day, and month alone."""
    with translation.override("de"):
        ours = [
            formats.date_format(day, name)
            for name in (
                "DATE_FORMAT",
                "SHORT_DATE_FORMAT",
                "MONTH_DAY_FORMAT",
                "YEAR_MONTH_FORMAT",
            )
        ]

    patterns = ("long", "medium", "d. MMMM", "MMMM y")
    assert ours == [format_date(day, pattern, locale="de") for pattern in patterns]


@pytest.mark.parametrize("number", [0, 7, 1234, 1234567, 0.5, -1234.25])
def test_german_numbers_are_written_as_the_unicode_locale_data_has_them(number):
    with translation.override("de"):
        ours = formats.number_format(number, use_l10n=True, force_grouping=True)

    assert ours == format_decimal(number, locale="de")


@pytest.mark.parametrize("typed", ["2026-03-05", "05.03.2026", "5.3.2026"])
def test_a_german_day_may_be_typed_in_each_usual_way(typed):
    with translation.override("de"):
        assert forms.DateField().clean(typed) == dt.date(2026, 3, 5)


@pytest.mark.parametrize("code", [code for code, _ in settings.LANGUAGES])
def test_a_date_field_of_the_browser_gets_its_iso_day_in_every_language(code):
    class Asking(forms.Form):
        on = forms.DateField(
            initial=dt.date(2026, 3, 5), widget=forms.DateInput(attrs={"type": "date"})
        )

    with translation.override(code):
        assert 'value="2026-03-05"' in str(Asking()["on"])


def test_no_template_writes_a_date_by_a_pattern_of_its_own():
    """Patterns for people come from ``formats``; ISO ones, for programs, may be spelt out."""
    own = re.compile(r"""\|(?:date|time):["'](?![A-Z_]+_FORMAT["']|c["']|Y-m(?:-d)?["'])""")

    assert [path.name for path in TEMPLATES if own.search(path.read_text())] == []
