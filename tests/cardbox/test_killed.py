"""kill -9 while an import is being written, in a process of its own: nothing half-done stays,
and whoever takes it up brings it to its end once.

``SOWBACK_CARD_ROWS=5000`` makes the file that long.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest
from django.db import connection
from django.utils import timezone

from library.cardbox import services
from library.lending.models import Deposit
from library.stock.checks import problems
from library.stock.models import Lot, Packet
from tests.cardbox.conftest import fates

pytestmark = [pytest.mark.long, pytest.mark.django_db(transaction=True)]
ROOT = Path(__file__).resolve().parents[2]
ROWS = int(os.environ.get("SOWBACK_CARD_ROWS", "150"))
KILLED_AT = (ROWS // 6, ROWS // 2)  # rows written
WORKER = """
import sys, django
django.setup()
from library.cardbox import running
running.work_on(running.claim(int(sys.argv[1]), worker="the runner"))
"""


@pytest.fixture
def environment(tmp_path, settings) -> dict[str, str]:
    """Another process on the test's own database."""
    known = connection.settings_dict
    url = f"sqlite:///{known['NAME']}"
    if connection.vendor == "postgresql":
        place = f"{known['HOST']}:{known['PORT'] or 5432}/{known['NAME']}"
        url = f"postgres://{known['USER']}:{known['PASSWORD']}@{place}"
    here = {name: value for name, value in os.environ.items() if name != "REDIS_URL"}
    return here | {
        "DATABASE_URL": url,
        "SOWBACK_DATA_DIR": str(tmp_path),
        "SOWBACK_SECRET_KEY": settings.SECRET_KEY,
        "DJANGO_SETTINGS_MODULE": "library.config.settings",
        "PYTHONPATH": str(ROOT),
    }


def begin(card, environment) -> subprocess.Popen:
    command = [sys.executable, "-c", WORKER, str(card.pk)]
    return subprocess.Popen(command, cwd=ROOT, env=environment)


def kill_at(process: subprocess.Popen, card, row: int) -> None:
    while card.rows.filter(fate="written").count() < row:
        assert process.poll() is None, "it came to an end before it was killed"
        time.sleep(0.01)
    process.kill()
    process.wait()


def written(card) -> int:
    """How many rows are; all that they made is there, and nothing else."""
    done = card.rows.filter(fate="written")
    assert set(done.values_list("made__lot", flat=True)) == set(
        Lot.objects.values_list("pk", flat=True)
    )
    assert Packet.objects.count() == 2 * done.count()
    assert Deposit.objects.filter(state="received").count() == Deposit.objects.count()
    assert Deposit.objects.count() == done.count()
    assert list(problems()) == []
    return done.count()


def test_an_import_whose_worker_is_killed_is_written_to_its_end_once(
    variety, bring, administrator, environment
):
    headings = ["Number", "Variety", "Seeds", "Year", "Packets", "Seeds in a packet"]
    cells = ["Tarn Kettle", "200", "2024", "2", "20"]
    card = bring("lots", [headings, *[[f"K{n}", *cells] for n in range(ROWS)]])
    services.confirm(card_import=card, by=administrator, on=timezone.localdate())

    before = 0
    for row in KILLED_AT:
        kill_at(begin(card, environment), card, row)
        now = written(card)
        assert before < now < ROWS
        before = now
    assert begin(card, environment).wait(timeout=600) == 0

    card.refresh_from_db()
    assert (card.state, set(fates(card))) == ("written", {"written"})
    assert written(card) == ROWS
    assert len(set(Lot.objects.values_list("origin_story", flat=True))) == ROWS
