#!/bin/sh
# A table of the lines and branches of daemon/ and tools/ that ran: tests/coverage.sh BUILD
# Fails below 90 % of the lines or 80 % of the branches. A branch counts as taken
# when that way out was gone at least once.
set -eu
build=$1
find "$build/daemon" "$build/tools" -name '*.gcno' | sort | while read -r notes; do
    gcov -b -n -o "$notes" "$notes" 2>/dev/null
done | awk '
function percent(part, whole) { return whole ? 100 * part / whole : 100 }
/^File / { file = $2; gsub(/\047/, "", file); ours = file ~ /^(daemon|tools)\/.*\.c$/ }
ours && /^Lines executed:/ { sub(/.*:/, "", $2); lines[file] = $4; hit[file] = sprintf("%.0f", $2 * $4 / 100) }
ours && /^Taken at least once:/ { sub(/.*:/, "", $4); branches[file] = $6; taken[file] = sprintf("%.0f", $4 * $6 / 100) }
END {
    printf "%-36s %14s %16s\n", "", "lines", "branches"
    for (file in lines) {
        row = sprintf("%-36s %5d %7.1f %% %7d %6.1f %%", file, lines[file], percent(hit[file], lines[file]),
                      branches[file], percent(taken[file], branches[file]))
        print row | "sort"
        l += lines[file]; h += hit[file]; b += branches[file]; t += taken[file]
    }
    close("sort")
    printf "%-36s %5d %7.1f %% %7d %6.1f %%\n", "all", l, percent(h, l), b, percent(t, b)
    if (percent(h, l) < 90 || percent(t, b) < 80) { print "below 90 % of lines or 80 % of branches"; exit 1 }
}'
