#!/bin/sh
# Takes back what setup.command did: the settings of Excel and the environment. Workbooks stay.
folder=$(cd "$(dirname "$0")" && pwd) || exit 1
python="$folder/.venv/bin/python"
if [ -x "$python" ] && [ "$(uname)" = Darwin ]; then
    "$python" -m estimator excel-setup --undo
fi
rm -rf "$folder/.venv" || exit 1
echo "The estimator is taken away. Your workbooks are still here; this folder may be deleted."
