# Sourced by the wire tests: a working directory, processes ended by their id, bounded waits.
# Expects $name; sets $work. Needs BUILD (default: build).
BUILD=${BUILD:-build}
here=$(cd "$(dirname "$0")" && pwd)
top=$(cd "$here/../.." && pwd)
case $BUILD in /*) ;; *) BUILD=$top/$BUILD ;; esac
work=$(mktemp -d "${TMPDIR:-/tmp}/meterbook-$name.XXXXXX")
processes=
also= # more directories to remove at the end

finish() {
    code=$?
    trap - EXIT
    for process in $processes; do kill "$process" 2>/dev/null; done
    for process in $processes; do wait "$process" 2>/dev/null; done
    if [ "$code" = 0 ] || [ "$code" = 77 ]; then rm -rf "$work" $also; else echo "$name: see $work"; fi
    exit "$code"
}
trap finish EXIT
trap 'exit 130' INT TERM

skip() { echo "$name: skipped: $*"; exit 77; }
fail() { echo "$name: FAILED: $*"; exit 1; }

# begin FILE COMMAND...: runs it in the background with its output there; $begun is its id
begin() {
    begin_output=$1
    shift
    "$@" >"$begin_output" 2>"$begin_output.err" &
    begun=$!
    processes="$processes $begun"
}

# end ID: asks it to leave and waits; its exit code is ours
end() {
    kill -TERM "$1" 2>/dev/null
    wait "$1"
}

# wait_for SECONDS COMMAND...: until it succeeds
wait_for() {
    wait_until=$(($(date +%s) + $1))
    shift
    until "$@"; do
        [ "$(date +%s)" -lt "$wait_until" ] || return 1
        sleep 0.1
    done
}

# query SQL: of the record, without the locks of a writer in the way
query() { sqlite3 -readonly -cmd '.timeout 5000' "$work/record.db" "$1"; }
