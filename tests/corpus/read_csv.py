"""Reads CSV files with Python's own csv module, for tests/corpus/readers_test.cc.

    python3 read_csv.py LIST.json    [{"path": ..., "separator": ...}, ...]

Prints one {"names": [...], "columns": [[cell, ...], ...]} a file: a number, null where the cell is blank, else its text.
"""
import csv
import json
import math
import sys


def cell(text):
    if not text.strip():
        return None
    try:
        number = float(text)
    except ValueError:
        return text
    return number if math.isfinite(number) else text


def read(path, separator):
    with open(path, encoding="utf-8-sig", newline="") as file:
        names, *rows = [row for row in csv.reader(file, delimiter=separator, strict=True) if row]
    for number, row in enumerate(rows):
        if len(row) != len(names):
            sys.exit(f"{path}: row {number} has {len(row)} cells, expected {len(names)}")
    return {"names": names, "columns": [[cell(row[i]) for row in rows] for i in range(len(names))]}


with open(sys.argv[1], encoding="utf-8") as wanted:
    json.dump([read(**each) for each in json.load(wanted)], sys.stdout)
