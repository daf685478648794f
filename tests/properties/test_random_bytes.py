"""Whatever the bytes of a log or of store.toml, reading ends, with every row accounted for."""

from pathlib import Path
from random import Random

import pytest
from damage import STORE, TOKENS, check_reading, inside, sound_files
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

SOUND = sound_files()
TEXTS = [name for name in SOUND if not name.endswith((".xlsx", ".parquet", ".gz"))]
FAR_CELL = (b'r="B3"', b'r="XFD1048576"')
FAR_COLUMN = (b'r="B3"', b'r="dateB3"')
FAR_ROW = (b"</sheetData>", b'<row r="3000"><c r="XFD3000"><v>1</v></c></row></sheetData>')
names = st.sampled_from(sorted(SOUND))

thorough = settings(deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])


@pytest.fixture(scope="module")
def spare(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("bytes")


@pytest.mark.parametrize("name", sorted(SOUND))
def test_the_files_to_be_damaged_are_sound(spare: Path, name: str) -> None:
    assert check_reading(spare, name, SOUND[name]) >= 0


@given(name=names, data=st.binary(max_size=400))
@settings(thorough, max_examples=60)
def test_reading_ends_well_on_any_bytes(spare: Path, name: str, data: bytes) -> None:
    check_reading(spare, name, data)


@given(name=names, share=st.floats(0, 1))
@settings(thorough, max_examples=60)
def test_reading_ends_well_on_a_file_cut_short(spare: Path, name: str, share: float) -> None:
    data = SOUND[name]
    check_reading(spare, name, data[: int(share * len(data))])


@st.composite
def edits(draw: st.DrawFn) -> tuple[str, bytes]:
    """A sound file with a few bytes changed, put in, taken out or doubled, packed or not."""
    name = draw(names)
    places = st.floats(0, 1, exclude_max=True)
    n_edits = draw(st.integers(1, 5))
    chosen = [
        (draw(st.sampled_from(("flip", "insert", "delete", "double"))), draw(places), draw(places))
        for _ in range(n_edits)
    ]
    token, flip = draw(st.sampled_from(TOKENS)), draw(st.integers(1, 255))

    def change(data: bytes) -> bytes:
        for kind, at, reach in chosen:
            start = int(at * len(data))
            end = start + int(reach * min(40, len(data) - start))
            piece = data[start:end]
            if kind == "flip" and data:
                piece, end = bytes([data[start] ^ flip]), start + 1
            elif kind == "insert":
                piece, end = token, start
            piece = {"delete": b"", "double": piece + piece}.get(kind, piece)
            data = data[:start] + piece + data[end:]
        return data

    return name, inside(SOUND[name], change) if draw(st.booleans()) else change(SOUND[name])


@given(edit=edits())
@settings(thorough, max_examples=120)
def test_reading_ends_well_on_a_file_with_a_few_edits(spare: Path, edit: tuple[str, bytes]) -> None:
    check_reading(spare, *edit)


@given(name=st.sampled_from(TEXTS), by_cell=st.booleans(), random=st.randoms())
@settings(thorough, max_examples=60)
def test_reading_ends_well_on_shuffled_rows_and_cells(
    spare: Path, name: str, by_cell: bool, random: Random
) -> None:
    encoding = "utf-16" if SOUND[name].startswith(b"\xff\xfe") else "cp1252"
    text = SOUND[name].decode(encoding)
    rows = text.splitlines()
    delimiter = next(mark for mark in ";\t|," if mark in text)
    if by_cell:
        rows = [delimiter.join(random.sample(c := r.split(delimiter), len(c))) for r in rows]
    random.shuffle(rows)
    check_reading(spare, name, "\n".join(rows).encode(encoding))


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("sales_b.csv", b"a," * 140_000),
        ("sales_b.csv", b"\n".join(b",".join([b"%d" % n] * 1_000) for n in range(110))),
        ("sales_b.csv", b"date;product;units;net_sales" + b"([" * 60_000 + b"\n1;Rye loaf;3;3\n"),
        ("sales_b.csv", b"date;product;units;net_sales\n1;" + b"1 " * 200_000 + b";3;3\n"),
        ("disposals_b.csv", b"date,product,units\n" + b'2026-03-02,"Rye loaf,1\n' * 3_000),
        ("bakes_b.csv", SOUND["bakes_b.csv"].replace(b",Total", b',"Total') + SOUND["bakes_b.csv"]),
        ("sales_b.xlsx", inside(SOUND["sales_b.xlsx"], lambda xml: xml.replace(*FAR_CELL))),
        ("sales_b.xlsx", inside(SOUND["sales_b.xlsx"], lambda xml: xml.replace(*FAR_ROW))),
        ("bakes_b.xlsx", inside(SOUND["bakes_b.xlsx"], lambda xml: xml.replace(*FAR_COLUMN))),
        ("store.toml", STORE.encode() + b"\nfilled = " + b"[" * 20_000),
        ("store.toml", STORE.encode() + b"\nprice = " + b"9" * 5_000),
        ("store.toml", STORE.encode().replace(b"price = 4.0", b"price = 1e308")),
    ],
    ids=[
        "wide",
        "many numbers",
        "brackets",
        "long cell",
        "quotes",
        "quote in the header",
        "far cell",
        "far row",
        "far column",
        "nested",
        "digits",
        "price",
    ],
)
def test_reading_ends_well_on_what_grows_out_of_hand(spare: Path, name: str, data: bytes) -> None:
    check_reading(spare, name, data)
