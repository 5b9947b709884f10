"""The people everyone knows, and the smallest things to lend."""

from __future__ import annotations

import datetime as dt
import itertools
from collections.abc import Iterator

import pytest
from allauth.account.models import EmailAddress
from django.core.cache import cache
from django.db import connection
from django.utils import timezone, translation
from pytest_django.plugin import blocking_manager_key
from rest_framework.test import APIClient

from accounts.models import Member, Membership
from accounts.roles import Role
from library.cardbox import running
from library.catalogue.models import Crop, Variety
from library.catalogue.services import add_variety, load_reference
from library.germination.models import LotEstimate
from library.stock import services as stock
from library.stock.models import Lot, Packet

ASKED_FOR_BY_NAME = ("browser", "services")  # marks; .ci/run looks in the folders of that name
HAS_DATABASE = pytest.StashKey[bool]()


@pytest.hookimpl(optionalhook=True)  # there is none without the plugin for several workers
def pytest_xdist_make_scheduler(config, log):
    """Which worker gets which test: see ``tests.sharing``."""
    from tests.sharing import ByFolder

    return ByFolder(config, log)


def pytest_collection_modifyitems(items):
    """What takes long begins first, so that no worker is left alone with it at the end.

    Every worker puts them in the same order: the sort keeps the random one among equals.
    """
    items.sort(key=lambda item: item.get_closest_marker("long") is None)
    for item in items:
        for folder in ASKED_FOR_BY_NAME:
            if item.get_closest_marker(folder) and item.path.parent.name != folder:
                raise pytest.UsageError(f"{item.nodeid} is looked for in tests/{folder} only.")


@pytest.fixture(autouse=True)
def quick_passwords(settings):
    """A million rounds of hashing for each made person would be most of the run."""
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]


@pytest.fixture(autouse=True)
def quick_clients(settings):
    """Each client has its own middleware: whitenoise would read the static files each time."""
    settings.WHITENOISE_AUTOREFRESH = True


@pytest.fixture(scope="session", autouse=True)
def unhurried() -> Iterator[None]:
    """What a page does "in a moment" is done at its end, however slow the machine."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(running, "A_MOMENT_S", 600)
        yield


@pytest.fixture(autouse=True)
def own_cache(settings):
    """Empty, and its own: clearing a shared Redis would empty the other worker's."""
    settings.CACHES = {"default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"}}
    cache.clear()


@pytest.fixture(autouse=True)
def own_language() -> Iterator[None]:
    """The last request's language and time zone would go on in the next test's services."""
    yield
    translation.deactivate()
    timezone.deactivate()


@pytest.fixture(scope="session")
def django_db_modify_db_settings(request, tmp_path_factory) -> None:
    """SQLite in a file, as in use: in memory, two threads get "table is locked" at once."""
    if connection.vendor == "sqlite":
        path = tmp_path_factory.mktemp("database") / "test.sqlite3"
        connection.settings_dict["TEST"]["NAME"] = str(path)
    else:
        request.getfixturevalue("django_db_modify_db_settings_parallel_suffix")


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup, django_db_blocker, request) -> Iterator[None]:
    """The test database with the reference in it, as a library has it from its first start."""
    with django_db_blocker.unblock():
        load_reference()
    request.config.stash[HAS_DATABASE] = True
    yield
    del request.config.stash[HAS_DATABASE]  # nothing is read again into what goes now
    if connection.vendor == "postgresql":  # a thread of a race may not have hung up yet
        with django_db_blocker.unblock(), connection.cursor() as cursor:
            cursor.execute(
                "SELECT pg_terminate_backend(pid) FROM pg_stat_activity "
                "WHERE datname = current_database() AND pid <> pg_backend_pid()"
            )


@pytest.hookimpl(wrapper=True)
def pytest_runtest_teardown(item):
    """A test with transactions of its own empties the database; the reference comes back."""
    result = yield
    mark = item.get_closest_marker("django_db")
    names = getattr(item, "fixturenames", ())
    emptied = (mark and mark.kwargs.get("transaction")) or "transactional_db" in names
    if HAS_DATABASE in item.config.stash and (emptied or "live_server" in names):
        with item.config.stash[blocking_manager_key].unblock():
            load_reference()
            connection.close()
    return result


@pytest.fixture
def make_member(db):
    """``make_member("ada", role=Role.DESK)`` is an approved member with that display name."""

    def make(
        name: str, *, role: str = Role.MEMBER, membership: str = Membership.APPROVED
    ) -> Member:
        person = Member.objects.create_user(
            f"{name.replace(chr(32), chr(45))}@example.org",
            "a-long-password",
            display_name=name,
            role=role,
            membership=membership,
            is_active=membership != Membership.LEFT,
        )
        EmailAddress.objects.create(
            user=person, email=person.email, primary=True, verified=True
        )
        return person

    return make


@pytest.fixture
def member(make_member) -> Member:
    return make_member("wren")


@pytest.fixture
def other_member(make_member) -> Member:
    return make_member("rook")


@pytest.fixture
def applicant(make_member) -> Member:
    return make_member("fledgling", membership=Membership.APPLIED)


@pytest.fixture
def desk(make_member) -> Member:
    return make_member("heron", role=Role.DESK)


@pytest.fixture
def coordinator(make_member) -> Member:
    return make_member("owl", role=Role.COORDINATOR)


@pytest.fixture
def administrator(make_member) -> Member:
    return make_member("swan", role=Role.ADMINISTRATOR)


@pytest.fixture
def api() -> APIClient:
    return APIClient()


@pytest.fixture
def reference(db) -> None:
    """The 59 species, their figures, crops and cautions, from the reference files."""
    load_reference()


@pytest.fixture
def make_variety(reference, make_member):
    """``make_variety("Tarn Kettle", crop="drying bean")`` writes a card as the desk would."""
    keeper = make_member("card keeper", role=Role.DESK)
    numbers = itertools.count(1)

    def make(
        name: str = "",
        *,
        crop: str = "tomato",
        breeding_status: str = "open-pollinated",
        **card,
    ) -> Variety:
        return add_variety(
            crop=Crop.objects.get(name=crop),
            name=name or f"Trial {next(numbers)}",
            breeding_status=breeding_status,
            by=card.pop("by", keeper),
            **card,
        )

    return make


@pytest.fixture
def variety(make_variety) -> Variety:
    return make_variety("Tarn Kettle", crop="drying bean")


@pytest.fixture
def make_lot(make_variety, desk):
    """``make_lot(seeds=500, packets=3, seeds_each=20)``: received 1 October 2025, packed.

    ``seeds`` is all there is; what the packets take stays in them. Other words go to
    ``receive_lot``.
    """

    def make(
        variety: Variety | None = None,
        *,
        seeds: int = 500,
        packets: int = 0,
        seeds_each: int = 20,
        **facts,
    ) -> Lot:
        facts = {"origin": "deposit", "on": dt.date(2025, 10, 1), "by": desk} | facts
        lot = stock.receive_lot(variety=variety or make_variety(), seeds=seeds, **facts)
        if packets:
            day = facts["on"]
            stock.pack(lot=lot, packets=packets, seeds_each=seeds_each, on=day, by=desk)
        lot.refresh_from_db()
        return lot

    return make


@pytest.fixture
def make_packet(make_lot):
    """``make_packet(seeds_each=20)``: the one packet of a lot of its own."""

    def make(variety: Variety | None = None, *, seeds_each: int = 20, **facts) -> Packet:
        facts = {"seeds": 500} | facts
        return make_lot(variety, packets=1, seeds_each=seeds_each, **facts).packets.get()

    return make


@pytest.fixture
def make_estimate(db):
    """``make_estimate(lot, low=0.6, median=0.8)`` keeps an estimate beside the lot, in the
    place of the one that is there. ``tested`` says whether tests went in.
    """

    def make(lot: Lot, *, low: float, median: float, tested: bool = True, **facts):
        told = {"on": dt.date(2026, 4, 15), "high": 1.0, "chance": 0.9} | facts
        told |= {"standard_percent": 70, "evidence": [[1, 80, 100]] if tested else []}
        LotEstimate.objects.filter(lot=lot).delete()
        made = LotEstimate.objects.create(lot=lot, low=low, median=median, **told)
        lot.refresh_from_db()  # forget what was read of it before
        return made

    return make


@pytest.fixture
def as_member(client, member):
    client.force_login(member)
    return client


@pytest.fixture
def as_desk(client, desk):
    client.force_login(desk)
    return client


@pytest.fixture
def as_coordinator(client, coordinator):
    client.force_login(coordinator)
    return client


@pytest.fixture
def as_administrator(client, administrator):
    client.force_login(administrator)
    return client
