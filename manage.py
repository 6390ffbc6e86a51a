#!/usr/bin/env python
"""Django's command line for Rooftally."""

import os
import sys

from fleet.config.environment import BadSetting


def main() -> None:
    """Run one management command; a setting that cannot be used ends it with a sentence."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "fleet.config.settings")
    from django.core.management import execute_from_command_line

    try:
        execute_from_command_line(sys.argv)
    except BadSetting as error:
        sys.exit(str(error))


if __name__ == "__main__":
    main()
