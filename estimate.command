#!/bin/sh
# Double-click this file while the workbook is open in Excel: it is estimated there. If none is
# open, drag a workbook into the window that asks for it.
cd "$(dirname "$0")" || exit 1
python="$PWD/.venv/bin/python"
if [ ! -x "$python" ]; then
    echo "The estimator is not set up in this folder: see README.md, or run setup.command of the kit."
    exit 1
fi
if [ "$#" -gt 0 ]; then
    for book in "$@"; do
        "$python" -m estimator press "$book" || code=$?
    done
    exit "${code:-0}"
fi
"$python" -m estimator press && exit 0
printf 'Drag a workbook into this window and press Return (or only Return to stop): '
read -r book || exit 1
# The Mac writes a dragged path with a backslash before blanks, which read -r keeps.
book=$(printf '%s' "$book" | sed -e 's/[[:space:]]*$//' -e 's/\\\(.\)/\1/g')
[ -n "$book" ] || exit 1
exec "$python" -m estimator press "$book"
