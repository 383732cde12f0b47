"""`python -m regmap.cli`, where the script is not on the path."""

from regmap.cli import main

main(prog_name="regmap")
