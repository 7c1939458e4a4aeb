"""`python -m dawnline.cli`."""

import sys

from dawnline.cli import main

sys.exit(main())
