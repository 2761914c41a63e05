#!/usr/bin/env python
import gc
import os
import sys


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    # A command is short; looking for garbage is a fifth of the time of `migrate`.
    gc.set_threshold(50_000, 20, 20)
    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
