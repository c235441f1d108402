"""Set Soakage up and use it: ``python3 go.py``. Other words: ``test``, ``docs``, ``bench``, ``lock``.

This file is written so that any Python can read it, to tell an old one that it is too old.
The work is in tools/.
"""

import sys

if sys.version_info < (3, 11):
    sys.exit(
        "Soakage needs Python 3.11 or newer; this is Python %d.%d (%s).\n"
        "Install a newer one and start this file with it by name, for example: python3.12 go.py"
        % (sys.version_info[0], sys.version_info[1], sys.executable)
    )

from tools.commands import main

if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
