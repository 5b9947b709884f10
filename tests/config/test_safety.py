"""The settings that keep people safe."""

from __future__ import annotations

import os
import re
import stat
import subprocess
import sys
import threading
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from django.template import engines

from library.config.secret import secret_key

ROOT = Path(__file__).resolve().parents[2]


def ask(code: str, home: Path, **environment: str) -> str:
    """What a fresh process with these environment variables prints."""
    answer = subprocess.run(
        [sys.executable, "-c", f"import django; django.setup(); {code}"],
        cwd=ROOT,
        env={
            "PATH": os.environ["PATH"],
            "DJANGO_SETTINGS_MODULE": "library.config.settings",
            "SOWBACK_DATA_DIR": str(home),
        }
        | environment,
        check=True,
        capture_output=True,
        text=True,
    )
    return answer.stdout.strip()


def test_the_secret_key_is_made_once_and_only_its_owner_reads_it(tmp_path):
    path = tmp_path / "secret-key"

    first, second = secret_key(path), secret_key(path)

    assert first == second
    assert len(first) >= 50
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


def test_many_who_start_at_once_have_one_secret_key_and_leave_no_draft(tmp_path):
    path, gate = tmp_path / "secret-key", threading.Barrier(16)

    def start(_n):
        gate.wait()
        return secret_key(path)

    with ThreadPoolExecutor(16) as pool:
        keys = set(pool.map(start, range(16)))

    assert keys == {path.read_text()}
    assert list(tmp_path.iterdir()) == [path]


def test_a_spoilt_secret_key_is_refused_with_a_way_out(tmp_path):
    path = tmp_path / "secret-key"
    path.write_text("short")

    with pytest.raises(RuntimeError, match="Delete the file to have a new one made"):
        secret_key(path)


def test_the_deployment_check_has_nothing_to_say_when_served_over_tls(tmp_path):
    code = (
        "from django.core.management import call_command; "
        "call_command('check', deploy=True, fail_level='WARNING')"
    )

    said = ask(code, tmp_path, SOWBACK_URL="https://seed.example.org", REDIS_URL="redis://x")

    assert said in ("", "System check identified no issues (2 silenced).")


def test_over_tls_cookies_are_secure_and_hosts_explicit(tmp_path):
    code = (
        "from django.conf import settings as s; print(s.SESSION_COOKIE_SECURE, "
        "s.CSRF_COOKIE_SECURE, s.SECURE_SSL_REDIRECT, s.DEBUG, s.ALLOWED_HOSTS[0])"
    )

    tls = ask(code, tmp_path, SOWBACK_URL="https://seed.example.org")
    plain = ask(code, tmp_path)

    assert tls == "True True True False seed.example.org"
    assert plain == "False False False False localhost"


def test_sqlite_lets_readers_read_on_and_writers_wait_at_the_door(tmp_path):
    code = (
        "from django.db import connection as c; k = c.cursor(); "
        "print(*k.execute('PRAGMA journal_mode').fetchone(), c.transaction_mode)"
    )

    assert ask(code, tmp_path) == "wal IMMEDIATE"


@pytest.mark.django_db
def test_pages_allow_nothing_from_elsewhere_and_nothing_inline(client):
    policy = client.get("/").headers["Content-Security-Policy"]

    assert "default-src 'self'" in policy
    assert "unsafe-inline" not in policy
    assert "unsafe-eval" not in policy


def our_templates() -> list[Path]:
    folders = [Path(d) for d in engines["django"].engine.template_loaders[0].get_dirs()]
    ours = [d for d in folders if d.is_relative_to(ROOT) and ".venv" not in d.parts]
    return sorted(p for d in ours for p in d.rglob("*.html") if "mail" not in p.parts)


TAG = re.compile(r"{%.*?%}")  # ``{% with one=row.one %}`` is no attribute
INLINE = re.compile(
    r"<style|\sstyle=|\son[a-z]+=|<script(?![^>]*\ssrc=)[^>]*>|javascript:", re.I
)


def test_no_page_template_has_an_inline_script_or_style():
    templates = our_templates()

    offenders = [
        f"{path.name}: {found.group()}"
        for path in templates
        if (found := INLINE.search(TAG.sub("", path.read_text())))
    ]

    assert len(templates) > 20
    assert offenders == []
