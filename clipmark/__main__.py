"""`python -m clipmark` is the same as the command `clipmark`."""

import sys

from clipmark.cli import main

if __name__ == "__main__":
    sys.exit(main())
