"""`python -m fanlight.cli` does what `fanlight` does."""

from fanlight.cli.app import main

main()
