"""Start the command line: ``python -m fanwright``."""

import os

# before numpy is imported anywhere below
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # our matrices are small; idle threads only cost start-up

from fanwright.cli import main

if __name__ == "__main__":
    main()
