#!/usr/bin/env python
"""Sowback's command line."""

import os
import sys


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "library.config.settings")
    try:
        from django.core.management import execute_from_command_line
    except ImportError as error:
        raise SystemExit(
            "Django is not installed in this Python. Use the virtual environment that the "
            "README's first command makes."
        ) from error
    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
