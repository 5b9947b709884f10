#!/usr/bin/env python
"""Sowback's command line."""

import os
import sys


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "library.config.settings")
    try:
        from django.core.exceptions import ImproperlyConfigured
        from django.core.management import execute_from_command_line
        from environs import EnvError
    except ImportError as error:
        raise SystemExit(
            "Django is not installed in this Python. Use the virtual environment that the "
            "README's first command makes."
        ) from error
    try:
        execute_from_command_line(sys.argv)
    except (EnvError, ImproperlyConfigured) as error:
        raise SystemExit(f"Sowback cannot start with these settings. {error}") from error


if __name__ == "__main__":
    main()
