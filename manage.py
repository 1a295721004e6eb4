#!/usr/bin/env python3
"""The one command of the project: `start` it, `test` it, or any verb of Django's own.

This file must run on any Python there is, to say plainly when that Python is too old.
"""

import os
import sys

if sys.version_info < (3, 11):  # noqa: UP036 - the person may have an older one
    sys.exit(
        "This needs Python 3.11 or newer, and this is {}.{}. ".format(*sys.version_info[:2])
        + "Install a newer Python and run the same command with it."
    )

if __name__ == "__main__":
    sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
    from shopfloor.bootstrap import main

    sys.exit(main(sys.argv[1:]))
