"""`python -m regmap`, where the script is not on the path."""

from regmap.cli import main

if __name__ == "__main__":
    main(prog_name="regmap")
