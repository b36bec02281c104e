"""`python -m halocline` is the `halocline` command."""

import sys

from halocline.cli.main import main

sys.exit(main())
