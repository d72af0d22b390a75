"""Prices and products as tables that a spreadsheet writes."""

from uuid import uuid4

import httpx
import pytest

from tests.support.api import Firm
from tests.support.problems import code_of, pointers_of

CSV = "text/csv; charset=utf-8"


def _post(firm: Firm, kind: str, text: str | bytes, **headers: str) -> httpx.Response:
    raw = text.encode() if isinstance(text, str) else text
    named = {"idempotency-key": str(uuid4()), "content-type": CSV, **headers}
    return firm.client.post(f"/v1/{kind}", content=raw, headers=named)


def _prices(answer: httpx.Response) -> dict[str, dict[str, str]]:
    assert answer.status_code == 201, answer.text
    return {price["code"]: price for price in answer.json()["document"]["prices"]}


@pytest.mark.parametrize(
    "text",
    [
        "code,amount\nlabour,58.00\nlevelling-compound,41.25\n",
        "Code;Amount\r\nlabour;58.00\r\n\r\nlevelling-compound;41.25\r\n",
        "\ufeffamount\tcode\n58.00\tlabour\n41.25\tlevelling-compound",
    ],
    ids=["commas", "semicolons, a blank line, CRLF", "tabs, a byte order mark, other order"],
)
def test_prices_of_a_table_are_merged_by_code_over_those_that_counted(firm: Firm, text: str) -> None:
    before = _prices(firm.post("/v1/price-books", {}))
    after = _prices(_post(firm, "price-books", text))
    assert (after["labour"]["amount"], after["levelling-compound"]["amount"]) == ("58.00", "41.25")
    changed = {"labour", "levelling-compound"}
    assert {code for code in before if before[code] != after[code]} == changed
    assert after["labour"]["unit"] == before["labour"]["unit"]


def test_a_new_price_needs_its_unit_and_class_of_tax(firm: Firm) -> None:
    lacking = _post(firm, "price-books", "code,amount\nlabour,58\nstair-nosing,12.5\n")
    assert pointers_of(lacking) == ["/rows/3/code"]
    whole = _post(firm, "price-books", "code,amount,unit,tax_class\nstair-nosing,12.5,stick,material\n")
    assert _prices(whole)["stair-nosing"]["unit"] == "stick"


def test_products_of_a_table_are_merged_by_id(firm: Firm) -> None:
    text = (
        "id,name,kind,unit,size,size_unit,weight_kg,other_length_of\n"
        'base-8,"Base, 8 ft",base,stick,2.438,m,1.4,base\n'
        "blue-tape,,,,50,,,\n"
    )
    answer = _post(firm, "catalogues", text)
    assert answer.status_code == 201, answer.text
    items = {item["id"]: item for item in answer.json()["document"]["items"]}
    assert items["base-8"]["name"] == "Base, 8 ft"
    assert items["base-8"]["package"] == {
        "unit": "stick", "size": 2.438, "size_unit": "m", "weight_kg": 1.4,
    }  # fmt: skip
    assert items["blue-tape"]["package"]["size"] == 50
    assert items["blue-tape"]["package"]["unit"] == "roll"


def test_every_wrong_cell_is_named_by_line_and_column_and_nothing_is_kept(firm: Firm) -> None:
    text = 'code,amount,unit\nlabour,"1,200.00",PH\ntrip,-5,each\nlabour,60,PH\n,4,each\nvacuum,nine,mh\n'
    answer = _post(firm, "price-books", text)
    assert sorted(pointers_of(answer)) == [
        "/rows/2/amount", "/rows/3/amount", "/rows/4/code", "/rows/5/code", "/rows/6/amount",
    ]  # fmt: skip
    assert "digits and a decimal point alone" in answer.text
    assert pointers_of(_post(firm, "price-books", "code,amount\ntrip,-5\n")) == ["/rows/2/amount"]
    assert firm.client.get("/v1/price-books").json()["items"] == []


def test_a_product_that_cannot_be_is_named_by_its_line(firm: Firm) -> None:
    text = "id,kind,size\nblue-tape,consumable,0\nbase,baseboard,2.4\n"
    assert pointers_of(_post(firm, "catalogues", text)) == ["/rows/3/kind"]
    assert pointers_of(_post(firm, "catalogues", "id,size\nblue-tape,0\n")) == ["/rows/2/size"]


def test_products_with_figures_of_their_own_come_as_rows_of_their_kind(firm: Firm) -> None:
    text = (
        "id,kind,name,unit,size,size_unit,coverage_porous_m2_per_l,coats_porous,moisture_barrier,"
        "most_humidity_percent,hazards,not_with,lead_days\n"
        "grip-primer,primer,Grip primer,jug,5,L,7.5,1,,,,,3\n"
        "firm-glue,adhesive,Firm glue,pail,12,L,,,yes,90,isocyanates epoxy,grip-primer,4\n"
        "blue-tape,,,,50,,,,,,,,\n"
    )
    before = firm.post("/v1/catalogues", {}).json()["document"]
    answer = _post(firm, "catalogues", text)
    assert answer.status_code == 201, answer.text
    after = answer.json()["document"]
    primer, adhesive = after["primer"], after["adhesive"]
    assert (primer["id"], primer["coats_porous"], primer["lead_days"]) == ("grip-primer", 1, 3)
    assert primer["coverage_porous_m2_per_l"] == 7.5
    assert primer["coverage_dense_m2_per_l"] == before["primer"]["coverage_dense_m2_per_l"]
    assert adhesive["moisture_barrier"] is True
    assert adhesive["hazards"] == ["isocyanates", "epoxy"]
    assert adhesive["limits"]["most_humidity_percent"] == 90
    assert adhesive["limits"]["not_with"] == ["grip-primer"]
    assert after["compound"] == before["compound"]
    assert len(after["items"]) == len(before["items"])


def test_every_wrong_cell_of_a_product_is_named_at_once_by_line_and_column(firm: Firm) -> None:
    text = (
        "id,kind,size,coverage_m2_per_l,coats_porous,moisture_barrier,yield_low_m3\n"
        "a,primer,5,1.2,1.5,,\n"
        'b,adhesive,"1,5",,,perhaps,\n'
        "c,adhesive,5,,,,\n"
        "d,board,2,,,,\n"
        "blue-tape,tape,0,,,,\n"
    )
    assert sorted(pointers_of(_post(firm, "catalogues", text))) == [
        "/rows/2/coats_porous", "/rows/2/coverage_m2_per_l", "/rows/3/moisture_barrier", "/rows/3/size",
        "/rows/6/kind",
    ]  # fmt: skip
    boards = _post(firm, "catalogues", "id,name,kind,unit,size,size_unit\nd,Oak,board,carton,2,m2\n")
    assert pointers_of(boards) == ["/rows/2/kind"]
    assert "covering" in boards.text


def test_a_product_that_no_job_would_take_or_with_anothers_id_is_refused(firm: Firm) -> None:
    glue = {
        "id": "b",
        "name": "B",
        "kind": "adhesive",
        "package": {"unit": "pail", "size": 9, "size_unit": "L"},
    }
    lost = firm.post("/v1/catalogues", {"items": [glue]})
    assert pointers_of(lost) == ["/items/0/kind"]
    assert "give it as adhesive" in lost.text
    same = firm.post("/v1/catalogues", {"compound": {"id": "wood-adhesive"}})
    assert pointers_of(same) == ["/compound/id"]
    tape = firm.post("/v1/catalogues", {"items": [{**glue, "id": "wood-adhesive", "kind": "consumable"}]})
    assert pointers_of(tape) == ["/items/0/id"]
    assert pointers_of(_post(firm, "catalogues", "id,kind\nblue-tape,primer\n")) == ["/rows/2/id"]


@pytest.mark.parametrize(
    ("text", "pointers"),
    [
        ("code,price\nlabour,5\n", ["/rows/1", "/rows/1"]),
        ("code,amount,amount\nlabour,5,6\n", ["/rows/1"]),
        ("code,amount\nlabour,5,extra\n", ["/rows/2"]),
        ("code,amount\n", [""]),
        ("", [""]),
    ],
    ids=["unknown and missing columns", "a column twice", "too many cells", "no rows", "empty"],
)
def test_tables_of_another_shape_are_refused_with_the_place(
    firm: Firm, text: str, pointers: list[str]
) -> None:
    assert pointers_of(_post(firm, "price-books", text)) == pointers


def test_a_table_that_is_no_text_or_has_an_open_quote_names_the_line(firm: Firm) -> None:
    latin = _post(firm, "price-books", "code,amount\nlabour,5\nfugenmörtel,6\n".encode("latin-1"))
    assert code_of(latin) == "malformed-table"
    assert "line 3" in latin.json()["detail"]
    quoted = _post(firm, "price-books", 'code,amount\n"labour,5\n')
    assert code_of(quoted) == "malformed-table"


def test_a_repeated_table_is_one_version_and_rates_take_none(firm: Firm) -> None:
    key = str(uuid4())
    first, again = (
        _post(firm, "price-books", "code,amount\nlabour,58\n", **{"idempotency-key": key}) for _ in range(2)
    )
    assert first.content == again.content
    assert len(firm.client.get("/v1/price-books").json()["items"]) == 1
    assert code_of(_post(firm, "rates", "people\n4\n")) == "unsupported-media-type"
