"""``python -m dashboard`` is ``flatfoot``."""

import sys

from dashboard.cli import main

sys.exit(main())
