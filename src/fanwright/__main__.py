"""Start the command line: ``python -m fanwright``."""

from fanwright.cli import main

if __name__ == "__main__":
    main()
