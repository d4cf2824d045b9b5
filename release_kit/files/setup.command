#!/bin/sh
# Finds a Python that this kit has packages for, and sets the estimator up with it.
#   setup.command      first workbook in US customary units
#   setup.command si   first workbook in SI units
folder=$(cd "$(dirname "$0")" && pwd) || exit 1
PATH="$PATH:/usr/local/bin:/opt/homebrew/bin"
fits='import sys; sys.exit(not (3, 11) <= sys.version_info[:2] <= (3, 14))'
for version in 3.14 3.13 3.12 3.11 3; do
    for python in "python$version" "/Library/Frameworks/Python.framework/Versions/$version/bin/python3"; do
        python=$(command -v "$python") || continue
        # The Mac's own python3 is too old, and asks for developer tools.
        [ "$(uname)/$python" = "Darwin//usr/bin/python3" ] && continue
        "$python" -c "$fits" 2>/dev/null || continue
        exec "$python" "$folder/set_up.py" "$@"
    done
done
echo "No Python was found that the estimator runs on."
echo "Install Python 3.13 for yourself, then run this file again."
exit 1
