"""`python -m notebooks [NAME...]`: execute the notebooks, and store them with what they show."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path
from typing import Any

import click

__all__ = ["NOTEBOOKS", "execute", "main"]

HERE = Path(__file__).parent
NOTEBOOKS = tuple(sorted(path.stem for path in HERE.glob("*.ipynb")))


def execute(name: str) -> Any:
    """Return the notebook, executed in a folder of its own.

    Raises:
        nbclient.exceptions.CellExecutionError: if a cell fails; the text shows which.
    """
    import nbformat
    from nbclient import NotebookClient

    notebook = nbformat.read(HERE / f"{name}.ipynb", as_version=4)
    with tempfile.TemporaryDirectory() as folder:
        client = NotebookClient(
            notebook,
            timeout=120,
            kernel_name="python3",
            resources={"metadata": {"path": folder}},
            # What tells when a cell ran changes with every run.
            record_timing=False,
        )
        path = os.pathsep.join(filter(None, [str(HERE.parent), os.environ.get("PYTHONPATH")]))
        client.execute(env={**os.environ, "PYTHONPATH": path})
    return notebook


@click.command()
@click.argument("names", nargs=-1, type=click.Choice(NOTEBOOKS))
def main(names: tuple[str, ...]) -> None:
    """Execute the notebooks, or those of these NAMES, and store them with what they show."""
    import nbformat

    for name in names or NOTEBOOKS:
        notebook = execute(name)
        notebook.metadata = {"kernelspec": {"name": "python3", "display_name": "Python 3"}}
        nbformat.write(notebook, HERE / f"{name}.ipynb")
        click.echo(f"{name}: {(HERE / f'{name}.ipynb').stat().st_size / 1024:.0f} kB")


if __name__ == "__main__":
    main()
