#!/bin/sh
# Measures the figures that README quotes: tests/bench/run.sh [line] [cpu] [phase] [memory] [disk] [shape] [enter] [validate] [answers] [reader]
# (all without an argument; `make bench` builds what it needs). Prints a table in
# Markdown: what, ours, what it is held against, bar, verdict.
#
#   BENCH_SECONDS=60   of each run of cpu and phase
#   BENCH_ROUNDS=3     medians of so many runs of line and cpu
#
# Some rows need the measuring programs in METERBOOK_SHARED/baselines (default:
# ../shared beside the checkout): a paced serial line, a plain polling loop in C
# and in Python. They are built here, in BUILD; where they are absent their rows
# are left out, which is said. Ours and what it is held against run in turn, on
# one core, against the same meters.
name=bench
mkdir -p "${BUILD:-build}/bench"
TMPDIR=$(cd "${BUILD:-build}/bench" && pwd) # on a disk that is worth measuring
. "$(dirname "$0")/../wire/wire_lib.sh"
here=$top/tests/bench
# where /run would be: a memory file system, if there is one
runtime=$(mktemp -d /dev/shm/meterbook-bench.XXXXXX 2>/dev/null || mktemp -d "$work/run.XXXXXX")
also=$runtime
baselines=${METERBOOK_SHARED:-$top/../shared}/baselines
seconds=${BENCH_SECONDS:-60}
rounds=${BENCH_ROUNDS:-3}
port=15100
python=/usr/bin/python3

row() { echo "| $1 | $2 | $3 | $4 | $5 |" | tee -a "$work/table" >&2; }
left_out() { echo "left out: $1: $2" | tee -a "$work/left_out" >&2; }
median() { sort -g | awk '{ v[NR] = $1 } END { print NR % 2 ? v[(NR + 1) / 2] : (v[NR / 2] + v[NR / 2 + 1]) / 2 }'; }
calc() { awk "BEGIN { printf \"${2:-%.3f}\", $1 }"; }
verdict() { awk "BEGIN { print ($1) ? \"reached\" : \"MISSED\" }"; }
field() { tr ' ' '\n' <"$1" | sed -n "s/^$2=//p" | tail -n 1; }

# baseline NAME LIBRARIES: builds a program of $baselines; fails where it is absent
baseline() {
    [ -r "$baselines/$1.c" ] || return 1
    [ ! -x "$BUILD/bench/$1" ] || return 0
    # shellcheck disable=SC2046,SC2086 # lists of words
    cc -O2 -o "$BUILD/bench/$1" "$baselines/$1.c" $([ -z "$2" ] || pkg-config --cflags --libs $2)
}

. "$here/line.sh"
. "$here/polling.sh"
. "$here/record.sh"
. "$here/answers.sh"
. "$here/years.sh"

if [ $# = 0 ]; then set -- line cpu phase memory disk shape enter validate answers reader extract bills sweep page; fi
for part; do
    case $part in
    line | cpu | phase | memory | disk | shape | enter | validate | answers | reader | extract | bills | sweep | page) "measure_$part" ;;
    *) fail "unknown '$part', known: line cpu phase memory disk shape enter validate answers reader extract bills sweep page" ;;
    esac
done
echo
echo "$(uname -m), $(nproc) cores, Linux $(uname -r), SQLite $(sqlite3 --version | cut -d' ' -f1); rounds of $seconds s, medians of $rounds"
echo
echo "| what | ours | held against | bar | verdict |"
echo "|---|---|---|---|---|"
cat "$work/table" 2>/dev/null
[ ! -e "$work/left_out" ] || { echo && cat "$work/left_out"; }
