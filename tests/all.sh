#!/usr/bin/env bash
# All tests: the Rust tests, then the checks of engine, pours, liquids and formulas against independent libraries.
#
#   bash tests/all.sh
#
# Needs python3 (3.11 or later) with venv, qpdf and pdftotext (poppler-utils). The Python packages pinned in tests/check/requirements.txt go into a folder
# outside the source tree: $VIALWRIGHT_CHECK_VENV when set, so that it can be kept, else a temporary one.
set -euo pipefail
cd "$(dirname "$0")/.."

echo "== Rust tests"
cargo test --locked

echo "== Independent checks of the geometry engine, the liquids and the formulas"
# The program that the tests have been built with: its own time is little beside that of the checks.
program="$(cargo metadata --locked --format-version 1 --no-deps |
    python3 -c 'import json, sys; print(json.load(sys.stdin)["target_directory"])')/debug/vialwright"

venv="${VIALWRIGHT_CHECK_VENV:-}"
if [ -z "$venv" ]; then
    venv="$(mktemp -d)"
    trap 'rm -rf "$venv"' EXIT
fi
if [ ! -x "$venv/bin/python" ]; then
    python3 -m venv "$venv"
fi
"$venv/bin/python" -m pip install --quiet --disable-pip-version-check -r tests/check/requirements.txt

export PYTHONDONTWRITEBYTECODE=1
"$venv/bin/python" tests/check/self_test.py
"$venv/bin/python" tests/check/check_physics.py
"$venv/bin/python" tests/check/check_pour.py --program "$program" --examples examples
"$venv/bin/python" tests/check/check_interior.py --program "$program" --examples examples
"$venv/bin/python" tests/check/check_sheets.py --program "$program" --examples examples
"$venv/bin/python" tests/check/check_nest.py --program "$program"
