"""Reads damaged records folders for as long as you like; run by hand, never by pytest.

    .venv/bin/python tests/fuzz/fuzz_reader.py --minutes 10
    .venv/bin/pip install atheris && .venv/bin/python tests/fuzz/fuzz_reader.py --atheris -- FLAGS

The first line changes sound files at random and goes on after a failure. The second is led by
the coverage of the reader's Python code and stops at its first failure; FLAGS are libFuzzer's,
such as -max_total_time=600 or the path of one input to run it again.

Failures stand below --out (default out/fuzz), one file for each kind, to be run again with
--again FILE; "current" is the input that was read when a compiled library ended the process or
hung. At the end stand the number of runs, the failures by kind and the slowest input.
"""

import argparse
import faulthandler
import sys
import tempfile
import time
import traceback
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

sys.path.insert(0, str(Path(__file__).parents[1] / "properties"))

try:
    import atheris
except ModuleNotFoundError:
    atheris = None

if atheris is not None and "--atheris" in sys.argv:
    # instrumented on import, and therefore before damage imports the reader
    with atheris.instrument_imports(include=["shrinkwise.records", "shrinkwise.profile"]):
        import damage
else:
    import damage

SOUND = damage.sound_files()
NAMES = sorted(SOUND)
PACKED = 0x80
HUNG_S = 120
"""Seconds after which a run is given up and the process ends with the place where it hangs."""


def split(data: bytes) -> tuple[str, bytes]:
    """The file that an input stands for: its first byte says which, and how it is packed."""
    kind, content = (data[0], data[1:]) if data else (0, b"")
    name = NAMES[(kind & ~PACKED) % len(NAMES)]
    return name, damage.inside(SOUND[name], lambda _: content) if kind & PACKED else content


def joined(name: str, packed: bool) -> bytes:
    """The input that stands for a sound file."""
    texts: list[bytes] = []
    damage.inside(SOUND[name], lambda text: texts.append(text) or text)  # type: ignore[func-returns-value]
    content = texts[0] if packed else SOUND[name]
    return bytes([NAMES.index(name) | (PACKED if packed else 0)]) + content


def seeds() -> list[bytes]:
    """Inputs for all sound files, packed ones once more from inside."""
    packed = [name for name in NAMES if name.endswith((".gz", ".xlsx"))]
    return [joined(name, False) for name in NAMES] + [joined(name, True) for name in packed]


def changed(data: bytes, random: Random) -> bytes:
    """An input with one to eight random edits; its first byte stays."""
    kind, content = data[:1], data[1:]
    for _ in range(random.choice((1, 1, 2, 3, 5, 8))):
        start = random.randint(0, len(content))
        end = min(len(content), start + random.choice((0, 1, 1, 2, 8, 40, len(content))))
        piece = content[start:end]
        edit = random.randrange(7)
        if edit == 0 and piece:
            piece = bytes(byte ^ (1 << random.randrange(8)) for byte in piece[:1]) + piece[1:]
        elif edit == 1:
            piece += random.choice(damage.TOKENS)
        elif edit == 2:
            piece = b""
        elif edit == 3:
            piece = piece * random.choice((2, 2, 3, 60))
        elif edit == 4:
            piece = random.choice(damage.TOKENS)
        elif edit == 5:
            other = random.choice(SEEDS)
            at = random.randint(0, len(other))
            piece = other[at : at + random.choice((1, 4, 20, 100))]
        else:
            piece = bytes(random.randrange(256) for _ in range(random.choice((1, 2, 6))))
        content = (content[:start] + piece + content[end:])[:200_000]
    return kind + content


SEEDS = seeds()


@dataclass
class Run:
    """What a campaign has seen."""

    out: Path
    folder: Path
    runs: int = 0
    failures: dict[str, int] = field(default_factory=dict)
    slowest: tuple[float, str] = (0.0, "")

    def one(self, data: bytes) -> None:
        """Read one input; a failure is kept by its kind, which is where it was raised."""
        # an abort or an endless loop in a compiled library leaves no other trace
        (self.out / "current").write_bytes(data)
        faulthandler.dump_traceback_later(HUNG_S, exit=True)
        name, content = split(data)
        start = time.monotonic()
        try:
            damage.check_reading(self.folder, name, content)
        except (KeyboardInterrupt, SystemExit):
            raise
        except BaseException as error:  # a panic in a compiled library is no Exception
            last = traceback.extract_tb(error.__traceback__)
            ours = [f for f in last if "shrinkwise" in f.filename or "damage" in f.filename][-1]
            place = f"{Path(ours.filename).name}-{ours.lineno}"
            kind = f"{type(error).__name__}-{place}"
            if kind not in self.failures:
                (self.out / kind).write_bytes(data)
                print(f"{kind} ({name}): {str(error)[:200]}", flush=True)
            self.failures[kind] = self.failures.get(kind, 0) + 1
        faulthandler.cancel_dump_traceback_later()
        self.runs += 1
        seconds = time.monotonic() - start
        if seconds > self.slowest[0]:
            self.slowest = (seconds, name)
            (self.out / "slowest").write_bytes(data)

    def told(self) -> str:
        """The figures of the campaign so far."""
        kinds = ", ".join(f"{kind} x {n}" for kind, n in sorted(self.failures.items())) or "none"
        seconds, name = self.slowest
        return f"{self.runs} runs; failures: {kinds}; slowest {seconds:.2f} s ({name})"


def main() -> None:
    """Run a campaign, or one input again."""
    ours, _, flags = " ".join(sys.argv[1:]).partition(" -- ")
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--minutes", type=float, default=10)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--only", default="", help="files whose name ends so, such as .xlsx")
    parser.add_argument("--atheris", action="store_true")
    parser.add_argument("--out", type=Path, default=Path("out/fuzz"))
    parser.add_argument("--again", type=Path)
    given = parser.parse_args(ours.split())
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        if given.again:
            damage.check_reading(folder, *split(given.again.read_bytes()))
            return
        given.out.mkdir(parents=True, exist_ok=True)
        # what is loaded on first use is not the first input's fault
        damage.check_reading(folder, NAMES[0], SOUND[NAMES[0]])
        if given.atheris:
            _led_by_coverage(folder, given.out, flags.split())
            return
        run, random = Run(given.out, folder), Random(given.seed)
        chosen = [data for data in SEEDS if split(data)[0].endswith(given.only)]
        end = time.monotonic() + 60 * given.minutes
        while time.monotonic() < end:
            run.one(changed(random.choice(chosen), random))
            if run.runs % 1000 == 0:
                print(run.told(), flush=True)
        print(run.told())


def _led_by_coverage(folder: Path, out: Path, flags: list[str]) -> None:
    corpus = out / "corpus"
    corpus.mkdir(exist_ok=True)
    for number, data in enumerate(SEEDS):
        (corpus / f"seed_{number}").write_bytes(data)
    at_files = any(Path(flag).is_file() for flag in flags)
    names = [sys.argv[0], f"-artifact_prefix={out}/", *flags, *([] if at_files else [str(corpus)])]

    def read(data: bytes) -> None:
        damage.check_reading(folder, *split(data))

    atheris.Setup(names, read)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
