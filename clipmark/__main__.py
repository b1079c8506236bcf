"""`python -m clipmark` is the same as the command `clipmark`."""

import os
import sys

if not sys.flags.safe_path and sys.path and sys.path[0] == os.getcwd():
    # Python looks for modules in the working folder first, where a stranger's files may lie beside the film. Where
    # clipmark itself was found there, as in its source tree, it is looked at last.
    sys.path.append(sys.path.pop(0))

from clipmark.cli import main

if __name__ == "__main__":
    sys.exit(main())
