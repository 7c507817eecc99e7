#!/usr/bin/env python
"""The command line of the registry; ``manage.py demo`` needs nothing set up beforehand."""

import os
import sys


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "registry.settings")
    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
