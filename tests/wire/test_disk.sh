#!/bin/sh
# The daemon on a disk that fails it: full, not allowed to grow, record removed,
# a foreign one in its place, all while it polls: it says so once, holds what
# comes, and writes it when it can; none of it loses its shape. And at its start:
# a place that is read only, a damaged record and the salvaged one. About 100 s.
name=test_disk
. "$(dirname "$0")/wire_lib.sh"
command -v sqlite3 >/dev/null || skip "no sqlite3 shell here"
# mounts of its own, where that is permitted
if [ -z "${METERBOOK_MOUNTS-}" ] && unshare -rm true 2>/dev/null; then
    rm -rf "$work"
    METERBOOK_MOUNTS=1 BUILD=$BUILD exec unshare -rm "$0"
fi
. "$here/lane_lib.sh"

# start LANE: $daemon_LANE is its id
start() {
    begin "$work/$1/log" "$BUILD/meterbookd" -c "$work/$1/m.conf"
    eval "daemon_$1=$begun"
}
id() { eval "echo \$daemon_$1"; }
has_rows() { [ "$(of "$1" "SELECT count(*) FROM interval" 2>/dev/null || echo 0)" -ge "$2" ]; }
says() { grep -q "$2" "$work/$1/log.err"; }
# said LANE TEXT: once, and it runs
said() {
    [ "$(grep -c "$2" "$work/$1/log.err")" = 1 ] || fail "$1: not once '$2': $(cat "$work/$1/log.err")"
    kill -0 "$(id "$1")" || fail "$1: the daemon left: $(cat "$work/$1/log.err")"
}

lanes="grow removed foreign"
record_of() { record=; [ "$1" != full ] || record=$work/small; }
if [ -n "${METERBOOK_MOUNTS-}" ]; then
    mkdir "$work/small" "$work/fixed"
    mount -t tmpfs -o size=1m none "$work/small" || fail "no tmpfs"
    lanes="full $lanes"
else
    echo "skipped: a full disk and one that is read only: no mounts here"
fi
for lane in $lanes; do record_of "$lane"; configure "$lane"; start "$lane"; done
for lane in $lanes; do
    record_of "$lane"
    wait_for 40 has_rows "$lane" 4 || fail "$lane: no rows: $(cat "$work/$lane/log.err")"
done
record=

# it happens
if [ -d "$work/small" ]; then
    dd if=/dev/zero of="$work/small/filler" bs=4096 2>/dev/null && fail "it is not full"
fi
command -v prlimit >/dev/null || fail "no prlimit here"
prlimit --pid "$(id grow)" --fsize=8192:unlimited # its log is shorter, the record is not
rm "$work"/removed/record.db*
mv "$work/foreign/record.db" "$work/foreign/ours.db"
sqlite3 "$work/foreign/record.db" "CREATE TABLE theirs(x)"
for lane in $lanes; do
    text="cannot write the record"
    [ $lane != removed ] || text="was removed or replaced"
    wait_for 40 says $lane "$text" || fail "$lane: it does not say '$text': $(cat "$work/$lane/log.err")"
done
sleep 15
said grow "cannot write the record"
[ ! -d "$work/small" ] || said full "cannot write the record .*full"
said removed "was removed or replaced"
said foreign "cannot write the record .*not a record of this program"
said foreign "was removed or replaced"
[ "$(sqlite3 "$work/foreign/record.db" "SELECT group_concat(name) FROM sqlite_schema")" = theirs ] || fail "a foreign file was changed"

# it ends
rm -f "$work/small/filler"
prlimit --pid "$(id grow)" --fsize=unlimited:unlimited
rm "$work"/foreign/record.db*
mv "$work/foreign/ours.db" "$work/foreign/record.db"
for lane in $lanes; do
    [ $lane = removed ] || wait_for 80 says $lane "the record is written again" ||
        fail "$lane: it does not write again: $(cat "$work/$lane/log.err")"
done
for lane in $lanes; do end "$(id $lane)" || fail "$lane: it left with $?: $(cat "$work/$lane/log.err")"; done
for lane in $lanes; do
    record_of "$lane"
    check $lane "$work/$lane/log.err"
    # a new record begins anew
    [ $lane = removed ] || [ "$(of $lane "SELECT count(*) FROM interval WHERE unobserved > 0 AND ts > (SELECT min(ts) FROM interval)")" = 0 ] ||
        fail "$lane: intervals lost their shape: $(of $lane "SELECT * FROM interval")"
done
record=
[ "$(of removed "SELECT count(*) FROM event WHERE kind = 'record'")" = 1 ] || fail "no event"

# at its start: a place that cannot be written
if [ -d "$work/fixed" ]; then
    cp "$work/grow/record.db" "$work/fixed"
    mount --bind "$work/fixed" "$work/fixed" && mount -o remount,ro,bind "$work/fixed" || fail "no bind mount"
    code=0
    timeout 20 "$BUILD/meterbookd" -c "$work/fixed/m.conf" >"$work/out" 2>&1 || code=$?
    [ $code = 78 ] || fail "read only: exit $code: $(cat "$work/out")"
fi

# a damaged record: it leaves, says why, and goes on with what was salvaged
page=$(of grow "SELECT rootpage FROM sqlite_schema WHERE name = 'interval'")
of grow "PRAGMA wal_checkpoint(TRUNCATE); DROP TABLE truth" >/dev/null
dd if=/dev/urandom of="$work/grow/record.db" bs=4096 seek=$((page - 1)) count=1 conv=notrunc 2>/dev/null
code=0
timeout 20 "$BUILD/meterbookd" -c "$work/grow/m.conf" >"$work/out" 2>&1 || code=$?
[ $code = 1 ] || fail "damaged: exit $code: $(cat "$work/out")"
grep -q "cannot .* the record .*malformed" "$work/out" || fail "damaged: it says: $(cat "$work/out")"
mv "$work/grow/record.db" "$work/grow/damaged.db"
rm "$work"/grow/record.db-*
"$BUILD/meterbook" -c "$work/grow/m.conf" salvage "$work/grow/damaged.db" "$work/grow/record.db" >"$work/out" 2>&1 ||
    fail "salvage: $(cat "$work/out")"
# the filled rows of the time between say nothing of the truth: a whole interval that was seen has to end
seen_since() { [ "$(of grow "SELECT count(*) FROM interval WHERE unobserved = 0 AND ts >= $1" 2>/dev/null || echo 0)" -ge 2 ]; }
start grow
wait_for 60 seen_since "$(date +%s)" || fail "no rows after salvage: $(cat "$work/grow/log.err")"
end "$(id grow)" || fail "it left with $?: $(cat "$work/grow/log.err")"
check grow "$work/grow/log.err"
end "$panel" || fail "the panel saw a write function or failed: $(cat "$work/panel" "$work/panel.err")"
processes=
[ ! -d "$work/small" ] || umount "$work/small" "$work/fixed"
echo "$name: good"
