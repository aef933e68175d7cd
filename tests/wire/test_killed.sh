#!/bin/sh
# The daemon on the panel's wire, killed in front of a system call that touches
# the disk, over a start on nothing, a commit or two and a clean stop: the record is
# whole, another daemon takes it up, and its energy is the panel's to the register
# unit. METERBOOK_STRIDE=1 tries every call (some minutes), else so many of them
# as fit side by side, beginning by chance. About 50 s. Exit 77: skipped.
name=test_killed
. "$(dirname "$0")/wire_lib.sh"
command -v sqlite3 >/dev/null || skip "no sqlite3 shell here"
. "$here/lane_lib.sh"
lanes=14 # connections that the panel's bus takes, but two
kill_at=$BUILD/kill_at

# how many calls there are
configure whole
begin "$work/whole/calls" "$kill_at" -t 16 0 "$BUILD/meterbookd" -q -c "$work/whole/m.conf"
code=0
wait "$begun" || code=$?
[ $code != 77 ] || skip "$(cat "$work/whole/calls.err")"
calls=$(sed -n 's/^calls \([0-9]*\), killed 0, code 0$/\1/p' "$work/whole/calls")
[ "${calls:-0}" -ge 60 ] || fail "$(cat "$work/whole/calls" "$work/whole/calls.err")"
seed=${METERBOOK_SEED:-$(date +%s)}
stride=${METERBOOK_STRIDE:-$((calls / lanes + 1))}
n=$((1 + seed % stride))
echo "$calls calls, every call of $stride, from $n: METERBOOK_SEED=$seed"

killed=0
while [ "$n" -le "$calls" ]; do
    batch=
    while [ "$n" -le "$calls" ] && [ "$(echo "$batch" | wc -w)" -lt $lanes ]; do
        configure "$n"
        begin "$work/$n/calls" "$kill_at" -t 16 "$n" "$BUILD/meterbookd" -q -c "$work/$n/m.conf"
        batch="$batch $n:$begun"
        n=$((n + stride))
    done
    for lane in $batch; do wait "${lane#*:}" || fail "kill_at left with $?"; done
    again=
    for lane in $batch; do
        lane=${lane%:*}
        ! grep -q 'killed 1' "$work/$lane/calls" || killed=$((killed + 1))
        if [ -s "$work/$lane/record.db" ]; then
            [ "$(of "$lane" 'PRAGMA integrity_check')" = ok ] || fail "$lane: the record is not whole"
            of "$lane" "SELECT id, import, export FROM interval ORDER BY id" >"$work/$lane/before" 2>/dev/null || :
        fi
        begin "$work/$lane/again" "$BUILD/meterbookd" -q -c "$work/$lane/m.conf"
        again="$again $lane:$begun"
    done
    sleep 16
    for lane in $again; do end "${lane#*:}" || fail "${lane%:*}: it left with $?: $(cat "$work/${lane%:*}/again.err")"; done
    for lane in $again; do
        lane=${lane%:*}
        [ ! -s "$work/$lane/again.err" ] || fail "$lane: the next daemon says: $(cat "$work/$lane/again.err")"
        of "$lane" "SELECT id, import, export FROM interval ORDER BY id" >"$work/$lane/after"
        [ ! -s "$work/$lane/before" ] || [ -z "$(comm -23 "$work/$lane/before" "$work/$lane/after")" ] ||
            fail "$lane: committed rows were lost: $(diff "$work/$lane/before" "$work/$lane/after")"
        check "$lane" "$work/$lane/again.err"
    done
done
[ $killed -ge $((calls / stride * 3 / 4)) ] || fail "only $killed were killed"
end "$panel" || fail "the panel saw a write function or failed: $(cat "$work/panel" "$work/panel.err")"
processes=
echo "$killed kills"
echo "$name: good"
