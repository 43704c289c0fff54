"""``python -m waitwright``."""

from __future__ import annotations

import sys

from waitwright.cli.main import main

sys.exit(main())
