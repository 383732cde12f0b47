"""`python -m tests.fuzz TARGET --seconds 60`: looks for inputs that break a promise.

Guided by coverage: atheris (libFuzzer), which the extra `fuzz` installs. What it finds is left in
`--out`, as `crash-...`; mend the fault, and keep the file under tests/fuzz/seeds/TARGET, where
tests/test_fuzz_seeds.py runs it for ever.
"""

from __future__ import annotations

import argparse
import hashlib
import sys
from pathlib import Path

from tests.fuzz.targets import TARGETS, first_inputs, kept_inputs, run


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    parser.add_argument("target", choices=sorted(TARGETS))
    parser.add_argument("--seconds", type=int, default=60)
    parser.add_argument("--out", type=Path, default=Path("out/fuzz"))
    chosen = parser.parse_args()
    try:
        import atheris
    except ImportError:
        sys.exit("atheris is missing: pip install '.[fuzz]'")
    corpus = chosen.out / chosen.target
    corpus.mkdir(parents=True, exist_ok=True)
    kept = [path.read_bytes() for path in kept_inputs(chosen.target)]
    for data in first_inputs(chosen.target) + kept:
        (corpus / hashlib.sha256(data).hexdigest()[:16]).write_bytes(data)
    # What was imported to make the inputs is imported anew, instrumented.
    for name in [name for name in sys.modules if name.partition(".")[0] == "regmap"]:
        del sys.modules[name]
    with atheris.instrument_imports(include=["regmap"]):
        for data in first_inputs(chosen.target):
            run(chosen.target, data)
    options = [f"-max_total_time={chosen.seconds}", "-timeout=10", "-rss_limit_mb=4096"]
    options += [f"-artifact_prefix={corpus.parent}/{chosen.target}-", "-max_len=20000"]
    atheris.Setup([sys.argv[0], *options, str(corpus)], lambda data: run(chosen.target, data))
    atheris.Fuzz()


main()
