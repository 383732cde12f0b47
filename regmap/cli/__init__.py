"""The command line: `regmap COMMAND`. Logging is set up here and nowhere else."""

from __future__ import annotations

import contextlib
import errno
import io
import logging
import sys
from typing import Any

import click

from regmap import __version__
from regmap.cli.align import align
from regmap.cli.area import area
from regmap.cli.batch import batch
from regmap.cli.demo import demo
from regmap.cli.hand_over import hand_over
from regmap.cli.identify import identify
from regmap.cli.locate import locate
from regmap.cli.options import DOUBTFUL, ERROR, NO_FIT, say, spelled
from regmap.cli.outlines import outlines
from regmap.cli.rectangles import rectangles
from regmap.cli.register import register
from regmap.cli.verify import verify
from regmap.errors import DoubtfulFitError, NoFitError, RegmapError

__all__ = ["main"]


class _Commands(click.Group):
    """Turns the errors of the library into one line on stderr and an exit code."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(self.commands)  # in the order of the job, not of the alphabet

    def main(self, *args: Any, **kwargs: Any) -> Any:
        """Run, as click does; a fault of the terminal or the disk is told even beside a command."""
        try:
            return super().main(*args, **kwargs)
        except OSError as error:  # as when the help does not fit on the disk
            with contextlib.suppress(OSError):
                say(f"error: {_of_system(error)}", err=True)
            sys.exit(ERROR)

    def invoke(self, ctx: click.Context) -> object:
        try:
            return super().invoke(ctx)
        except NoFitError as error:
            code, text = NO_FIT, str(error)
        except DoubtfulFitError as error:
            code, text = DOUBTFUL, str(error)
        except RegmapError as error:
            code, text = ERROR, str(error)
        except ModuleNotFoundError as error:
            code = ERROR
            text = f"{error.name} is not installed here: see 'Where it runs' in the README"
        except OSError as error:
            if error.errno == errno.EPIPE:  # the reader went away: click ends quietly
                raise
            code, text = ERROR, _of_system(error)
        except RecursionError:
            code, text = ERROR, "something among the input is nested too deeply to be read"
        except MemoryError:
            code, text = ERROR, "the memory does not suffice: give a smaller picture or capture"
        say(f"error: {spelled(text)}", err=True, lines=True)
        raise click.exceptions.Exit(code)


def _of_system(error: OSError) -> str:
    where = error.filename or "standard input, output or a file"
    return f"{where}: {error.strerror or error}"


@click.group(
    name="regmap",
    cls=_Commands,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    epilog="Exit codes: 0 sure, 1 error, 2 wrong usage, 3 the fit is doubtful, 4 nothing fits.",
)
@click.version_option(__version__, prog_name="regmap")
@click.option("-v", "--verbose", count=True, help="Say what is being done; twice, say more.")
def main(verbose: int) -> None:
    """Find where a picture of a floor map lies in a robot's coordinates.

    \b
    Example:
      regmap register ground-floor.png capture.txt --out ground-floor
      regmap area ground-floor --rectangle 120 80 310 205 --keep-off expected
    """
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):  # names may hold what the terminal cannot write
            stream.reconfigure(errors="backslashreplace")
    level = (logging.WARNING, logging.INFO, logging.DEBUG)[min(verbose, 2)]
    logging.basicConfig(
        level=level, stream=sys.stderr, format="%(levelname)s %(name)s: %(message)s", force=True
    )


for _command in (
    outlines,
    register,
    area,
    rectangles,
    locate,
    hand_over,
    verify,
    identify,
    align,
    batch,
    demo,
):
    main.add_command(_command)
