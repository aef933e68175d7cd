#!/bin/sh
# The daemon against every fault scenario of the panel, all at once: what the
# record holds must be what flowed, to the register unit. About two minutes.
# Exit 77: skipped.
name=test_faults
. "$(dirname "$0")/wire_lib.sh"
command -v python3 >/dev/null || skip "no python3 here"
python3 -c 'import sqlite3' 2>/dev/null || skip "python3 has no sqlite3 module"
cd "$top" || exit 1

# A fault begins 15 s after the start, when the first boundary was read and not interpolated.
# seconds; 150 where a meter must first be found again: its back-off may reach 40 s and wait for bus time. part: see faults.py
for scenario in tests/data/panel/*.conf; do
    fault=$(basename "$scenario" .conf)
    seconds=75
    kind=whole
    case $fault in
    home) continue ;;
    silent*) seconds=150 ;;
    reset | exchange | sleeping) kind=part ;;
    esac
    mkdir "$work/$fault"
    begin "$work/$fault/result" python3 "$here/faults.py" "$BUILD" "$work/$fault" "$scenario" $seconds $kind
    running="$running $fault:$begun"
done

bad=
for pair in $running; do
    fault=${pair%:*}
    wait "${pair#*:}" || bad="$bad $fault"
    echo "$fault"
    cat "$work/$fault/result" "$work/$fault/result.err"
done
processes=
[ -z "$bad" ] || fail "wrong:$bad"
echo "$name: good"
