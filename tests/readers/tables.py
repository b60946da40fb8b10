"""Reads the tables with pandas, pyarrow and DuckDB and compares every number with the
assessments.

usage: tables.py CSV PARQUET [CODE ID ASSESSMENT]...
"""

import json
import sys

import duckdb
import pandas
import pyarrow.dataset
import pyarrow.parquet

csv, parquet, *rest = sys.argv[1:]
sessions = {}
for code, session, file in zip(rest[::3], rest[1::3], rest[2::3]):
    with open(file, encoding="utf-8") as text:
        sessions[session] = (code, json.load(text))

reps_csv = pandas.read_csv(f"{csv}/reps.csv", parse_dates=["recorded_at_utc"], dtype={"person": str})
reps = pandas.read_parquet(f"{parquet}/reps")  # As one table, the folder as a column.
in_order = ["session", "rep"]
reps_csv = reps_csv.sort_values(in_order).reset_index(drop=True)
reps = reps.sort_values(in_order).reset_index(drop=True)
connection = duckdb.connect()
scan = f"read_parquet('{parquet}/reps/**/*.parquet', hive_partitioning = true)"
duck = connection.sql(f"select * from {scan} order by session, rep").df()
assert len(reps) == len(reps_csv) == len(duck) == sum(len(a["reps"]) for _, a in sessions.values())
assert set(reps.columns) == set(duck.columns) == set(reps_csv.columns) | {"person_code"}

# Types: no number became a text, times are in UTC.
schema = pyarrow.dataset.dataset(f"{parquet}/reps", partitioning="hive").schema
assert str(schema.field("recorded_at_utc").type) == "timestamp[us, tz=UTC]"
assert str(schema.field("rep").type) == "int64"
assert str(schema.field("hands_used").type) == "bool"
assert str(schema.field("verdict").type) in ("string", "large_string")

compared = 0
for table in [reps_csv, reps, duck]:
    for _, row in table.iterrows():
        code, assessment = sessions[row["session"]]
        rep = assessment["reps"][int(row["rep"]) - 1]
        assert row.get("person_code", row["person"]) == code and row["leg"] == assessment["leg"]
        assert row["verdict_of_program"] == rep["judgement"]
        reasons = row["reasons_of_program"]
        assert (reasons if isinstance(reasons, str) else "").split() == rep["reasons"]
        for name, value in rep.items():
            if name in ("number", "judgement", "reasons", "criteria", "standard_error") or isinstance(value, (list, str)):
                continue
            if value is None:
                assert pandas.isna(row[name]), name
            else:
                assert row[name] == value, (name, row[name], value)
            if isinstance(value, (int, float)) and not isinstance(value, bool):
                assert pandas.api.types.is_numeric_dtype(table[name]), name
            compared += 1
        for name, value in rep["standard_error"].items():
            assert row[f"{name}_standard_error"] == value, name
            compared += 1

sets_csv = pandas.read_csv(f"{csv}/sessions.csv", dtype={"person": str}).set_index("session")
sets = pandas.read_parquet(f"{parquet}/sessions").set_index("session")
for session, (code, assessment) in sessions.items():
    for table in [sets_csv, sets]:
        row = table.loc[session]
        assert row.get("person_code", row["person"]) == code
        assert row["reps"] == assessment["set"]["reps"]
        assert row["clean_of_program"] == assessment["set"]["clean"]
        assert row["clip_sha256"] == assessment["clip"]["sha256"]
        own = reps[reps["session"] == session]
        for name in ["rise_s", "fppa_peak_deg"]:  # pandas' own mean and deviation.
            if own[name].notna().any():
                assert abs(row[f"{name}_mean"] - own[name].mean()) < 1e-4
                assert row[f"{name}_n"] == own[name].count()
            if own[name].count() > 1:
                assert abs(row[f"{name}_standard_deviation"] - own[name].std()) < 1e-4

# Units and version are in every file, and every column is explained.
meanings = pandas.read_csv(f"{csv}/columns.csv")
explained = meanings[meanings["table"] == "reps"].set_index("column")
assert list(explained.index) == list(pandas.read_csv(f"{csv}/reps.csv", nrows=0).columns)
for fragment in pyarrow.dataset.dataset(f"{parquet}/reps", partitioning="hive").get_fragments():
    facts = pyarrow.parquet.read_metadata(fragment.path).metadata
    assert facts[b"unit.rise_s"] == b"s" and facts[b"unit.descent_peak_m_s"] == b"m/s"
    assert facts[b"plumbrise.program_version"]
assert explained.loc["knee_offset_peak_cm", "unit_ucum"] == "cm"
undefined = sorted(explained.index[explained["meaning"].isna()])
print(json.dumps({"compared": compared, "people": sorted(reps["person_code"].unique()),
                  "states": sorted(reps["review_state"].unique()), "undefined": undefined,
                  "recorded": sorted({str(t) for t in reps["recorded_at_utc"]})}))
