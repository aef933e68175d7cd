#!/bin/sh
# Runs tests and counts: tests/run.sh LOGS COMMAND ...
#
# Each COMMAND is one test program or script. As many run at once as there are processors, but for those
# that mind their time (real wires, a sandboxed daemon): these run alone, after the others. What it prints goes to a file in
# LOGS, is counted, and is shown if anything failed. Counted are cmocka's totals
# and lines 'NAME: N passed, N failed' and 'skipped: WHAT: WHY'; a command
# without any counts as one, exit code 77 as one skipped. The last line printed is
# 'N passed, N failed'.
set -u
logs=$1
shift

# Prints passed, failed and skipped of one output; the skipped ones' names go to LOGS/skipped.
count() {
    awk -v name="$1" -v code="$2" -v list="$logs/skipped" '
    /^\[  PASSED  \] [0-9]+ test\(s\)/ { passed += $4; found = 1 }
    /^\[  FAILED  \] [0-9]+ test\(s\)/ { failed += $4; found = 1 }
    /^\[  SKIPPED \] [0-9]+ test\(s\)/ { skipped += $4; found = 1; listed = 1; next }
    /^\[  SKIPPED \]/ && listed { print name ": " $4 >>list }
    /^\[  FAILED  \]/ { listed = 0 }
    /: [0-9]+ passed, [0-9]+ failed$/ { passed += $(NF - 3); failed += $(NF - 1); found = 1 }
    /^skipped: / { skipped++; print name ": " substr($0, 10) >>list }
    NF { last = $0 }
    END {
        if (code == 77) { skipped++; print name ": " last >>list }
        else if (code == 0 && !found && !skipped) passed++
        else if (code != 0 && !failed) failed++
        print passed + 0, failed + 0, skipped + 0
    }'
}

# Runs one command; its line is printed at once, its counts go to LOGS/NAME.counts.
run_one() {
    command=$1
    # named after its first word that is a file of ours: a wrapper may stand before it
    name=$(echo "$command" | tr ' ' '\n' | grep -m 1 -E "^(tests/|${BUILD:-build}/)" || echo "$command")
    case $name in tests/*) name=${name#tests/} ;; *) name=${name##*/} ;; esac
    log=$logs/$(echo "$name" | tr '/ ' '__').log
    start=$(date +%s)
    timeout -k 10 "${TEST_TIMEOUT:-1500}" sh -c "$command" >"$log" 2>&1 </dev/null
    code=$?
    # shellcheck disable=SC2046 # three words
    set -- $(count "$name" $code <"$log")
    echo "$1 $2 $3 $name" >"$log.counts"
    note=
    [ "$3" = 0 ] || note=", $3 skipped"
    seconds=$(($(date +%s) - start))
    [ $seconds -lt 5 ] || note="$note, $seconds s"
    if [ "$2" = 0 ]; then
        echo "  ok    $name ($1$note)"
    else
        printf '%s\n%s\n' "  FAIL  $name ($2 of $(($1 + $2))$note; code $code)" \
            "$(tail -n 60 "$log" | sed 's/^/        /')"
    fi
}

if [ "${1-}" = --one ]; then
    run_one "$2"
    exit 0
fi

mkdir -p "$logs"
rm -f "$logs"/*.counts
: >"$logs/skipped"
: >"$logs/together"
: >"$logs/alone"
for command in "$@"; do
    case $command in
    *tests/wire/* | *tests/systemd/* | *test_wire_* | *test_inbox*) printf '%s\0' "$command" >>"$logs/alone" ;;
    *) printf '%s\0' "$command" >>"$logs/together" ;;
    esac
done
xargs -r0 -n 1 -P "$(nproc)" "$0" "$logs" --one <"$logs/together"
xargs -r0 -n 1 "$0" "$logs" --one <"$logs/alone"
passed=$(cat "$logs"/*.counts | awk '{ sum += $1 } END { print sum + 0 }')
failed=$(cat "$logs"/*.counts | awk '{ sum += $2 } END { print sum + 0 }')
skipped=$(cat "$logs"/*.counts | awk '{ sum += $3 } END { print sum + 0 }')
broken=$(cat "$logs"/*.counts | awk '$2 > 0 { printf " %s", $4 }')
[ $skipped = 0 ] || { echo "$skipped skipped:" && sed 's/^/  /' "$logs/skipped"; }
[ -z "$broken" ] || echo "failed in:$broken"
echo "$passed passed, $failed failed"
[ $failed = 0 ]
