"""CSV read by the csv module (RFC 4180), JSON by the json module: everything adds up."""

from __future__ import annotations

import csv
import json
from collections import Counter
from io import StringIO

from settscan.sheets.data import plan_json
from settscan.sheets.tables import ends_csv, picks_csv, stripes_csv


def rows(text: str) -> list[dict[str, str]]:
    assert text.endswith("\r\n")
    return list(csv.DictReader(StringIO(text, newline="")))


def test_ends(plans) -> None:
    plan = plans[0]
    ends = rows(ends_csv(plan))
    assert [int(row["end"]) for row in ends] == list(range(1, plan.ends + 1))
    assert Counter(row["yarn"] for row in ends) == plan.ends_per_yarn
    heddles = Counter(int(row["shaft"]) for row in ends)
    assert tuple(heddles[shaft] for shaft in sorted(heddles)) == plan.draft.heddles
    dents = [int(row["dent"]) for row in ends]
    assert dents == sorted(dents) and dents[-1] == plan.reed.dents
    in_dent = Counter(dents)
    spread = [run.ends_per_dent for run in plan.sley for _ in range(run.dents)]
    assert [in_dent[dent] for dent in range(1, len(spread) + 1)] == spread


def test_picks(plans) -> None:
    plan = plans[0]
    picks = rows(picks_csv(plan))
    assert len(picks) == sum(stripe.threads for stripe in plan.weft.piece_order)
    assert [row["shafts raised"] for row in picks[:4]] == ["1 2", "2 3", "3 4", "1 4"]


def test_stripes(plans) -> None:
    plan = plans[0]
    stripes = [row for row in rows(stripes_csv(plan)) if row["axis"] == "warp"]
    assert [(row["yarn"], int(row["threads"])) for row in stripes] == [
        (stripe.yarn, stripe.threads) for stripe in plan.order
    ]
    assert int(stripes[-1]["last"]) == plan.ends
    assert all(int(row["last"]) - int(row["first"]) + 1 == int(row["threads"]) for row in stripes)


def test_names_with_commas_and_quotes_survive(awkward) -> None:
    names = {yarn.key: yarn.name for yarn in awkward[0].cloth.yarns}
    assert all(row["colour"] == names[row["yarn"]] for row in rows(ends_csv(awkward[0])))


def test_a_floating_selvedge_has_no_shaft(plans) -> None:

    plan = plans[0]
    piece = plan.wishes.piece._replace(floating_selvedges=True)
    ends = rows(ends_csv(plan._replace(wishes=plan.wishes._replace(piece=piece))))
    assert ends[0]["shaft"] == ends[-1]["shaft"] == ""
    assert all(row["shaft"] for row in ends[1:-1])


def test_what_is_not_known_is_empty(awkward) -> None:
    assert {row["shaft"] for row in rows(ends_csv(awkward[0]))} == {""}
    assert {row["treadle"] for row in rows(picks_csv(awkward[0]))} == {""}


def test_json(plans) -> None:
    plan, winding = plans
    body = json.loads(plan_json(plan, winding))
    assert (body["format"], body["version"]) == ("settscan plan", 1)
    assert sum(stripe["threads"] for stripe in body["warp"]["order"]) == plan.ends
    assert body["warp"]["warp_length_mm"]["low"] <= body["warp"]["warp_length_mm"]["high"]
    steps = [step for bout in body["winding"]["bouts"] for step in bout["steps"]]
    assert sum(step["ends"] for step in steps) == plan.ends
    assert steps[-1]["warp_total"] == plan.ends
    assert body["cloth"]["warp"]["sequence"] == "A/24 B4 A8 C36 D/6"


def test_json_of_a_plan_that_knows_little(awkward) -> None:
    body = json.loads(plan_json(awkward[0]))
    assert body["draft"] is None and body["winding"] is None
    assert body["cloth"]["yarns"][4]["name"] == "紺色"
