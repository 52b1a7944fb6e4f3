#!/usr/bin/env python3
"""The one entry to every command; on first use it makes .venv beside itself and goes on inside it."""

import sys

if sys.version_info < (3, 11):  # this file must be readable by the oldest of them
    sys.stderr.write(
        "Second Build needs Python 3.11 or newer; this is Python %s.\n"
        "Get a newer one from your system's packages or from python.org, then start it with that one,\n"
        "for example:  python3.12 manage.py %s\n" % (sys.version.split()[0], " ".join(sys.argv[1:]))
    )
    sys.exit(1)

from classroom.bootstrap import main

if __name__ == "__main__":
    sys.exit(main(sys.argv))
