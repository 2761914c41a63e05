#!/usr/bin/env python
import gc
import os
import sys


def main() -> int:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    # A command is short; looking for garbage is a fifth of the time of `migrate`.
    gc.set_threshold(50_000, 20, 20)
    from django.core.management import execute_from_command_line
    from django.db import DatabaseError

    try:
        execute_from_command_line(sys.argv)
    except DatabaseError as error:
        from registry.serving.unready import unready

        words = unready(error)
        if words is None:
            raise
        print(words, file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
