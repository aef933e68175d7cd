#!/bin/sh
# Runs each case: NAME.cmd is run by sh in a directory of fresh records (one
# NAME.record per fixture_NAME.sql, one whose first line is "-- after OTHER" on top of
# fixture_OTHER.sql); what it prints and its exit code must be
# NAME.out, NAME.err and NAME.exit (absent: nothing printed, code 0).
# For cases that name it there is a directory invented/ with two years of an invented
# plant (meterbook.conf, record.db, logbook), written by the program beside MAKE_RECORD.
#
#     tests/cli/run.sh [--update] METERBOOK MAKE_RECORD [NAME ...]
#
# --update writes what came out as what is expected: read the difference.
set -u
update=no
if [ "${1-}" = --update ]; then update=yes; shift; fi
METERBOOK=$(readlink -f "$1"); make_record=$(readlink -f "$2"); shift 2
export METERBOOK
cases=$(cd "$(dirname "$0")" && pwd)
scratch=$(mktemp -d) || exit 1
trap 'rm -rf "$scratch"' EXIT
unset COLUMNS NO_COLOR TERM
LC_ALL=C; export LC_ALL
mkdir "$scratch/records" && cd "$scratch/records" || exit 1
for sql in "$cases"/fixture_*.sql; do
    name=$(basename "$sql" .sql)
    after=$(sed -n '1s|^-- after \([a-z_]*\).*|\1|p' "$sql")
    "$make_record" "${name#fixture_}.record" ${after:+"$cases/fixture_$after.sql"} "$sql" || exit 1
done
if [ $# = 0 ]; then
    for case in "$cases"/*.cmd; do set -- "$@" "$(basename "$case" .cmd)"; done
fi

for name; do
    ! grep -qs 'invented/' "$cases/$name.cmd" || [ -d invented ] || "$(dirname "$make_record")/invent" invented || exit 1
done

failed=0 passed=0
for name in "$@"; do
    sh "$cases/$name.cmd" >"$scratch/out" 2>"$scratch/err" </dev/null
    echo $? >"$scratch/exit"
    if [ "$(cat "$scratch/exit")" = 77 ]; then
        echo "skipped: $name: $(cat "$scratch/err")"
        continue
    fi
    good=yes
    for part in out err exit; do
        expected=$cases/$name.$part
        [ "$part" = exit ] && [ ! -e "$expected" ] && expected=$scratch/zero && echo 0 >"$expected"
        [ -e "$expected" ] || expected=/dev/null
        if [ $update = yes ]; then
            rm -f "$cases/$name.$part"
            if [ "$part" = exit ]; then
                [ "$(cat "$scratch/exit")" = 0 ] || cp "$scratch/exit" "$cases/$name.exit"
            elif [ -s "$scratch/$part" ]; then
                cp "$scratch/$part" "$cases/$name.$part"
            fi
        elif ! cmp -s "$expected" "$scratch/$part"; then
            good=no
            echo "failed: $name: $part differs (- expected, + came)"
            diff -u "$expected" "$scratch/$part" | head -n 40
        fi
    done
    if [ $good = yes ]; then passed=$((passed + 1)); else failed=$((failed + 1)); fi
done
echo "command line: $passed passed, $failed failed"
[ $failed = 0 ]
