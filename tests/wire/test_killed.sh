#!/bin/sh
# The daemon on the panel's wire, killed in front of a system call that touches
# the disk, over a start on nothing, a commit or two and a clean stop: the record is
# whole, another daemon takes it up, and its energy is the panel's to the register
# unit. METERBOOK_STRIDE=1 tries every call (some minutes), else so many of them
# as fit side by side, beginning by chance. About 50 s. Exit 77: skipped.
name=test_killed
. "$(dirname "$0")/wire_lib.sh"
command -v sqlite3 >/dev/null || skip "no sqlite3 shell here"
lanes=14 # connections that the panel's bus takes, but two
kill_at=$BUILD/kill_at

cat >"$work/panel.conf" <<END
@include "$top/tests/data/panel/home.conf"
buses = ( { kind = "tcp"; name = "panel"; port = 0; } );
meters = (
  { name = "grid"; bus = "panel"; unit_id = 1; measures = "grid"; map = "$top/config/maps/three-phase-float.map";
    import_wh = 1000.0; export_wh = 2000.0; },
  { name = "production"; bus = "panel"; unit_id = 2; measures = "production";
    map = "$top/config/maps/single-phase-integer.map"; export_wh = 3000.0; }
);
END
begin "$work/panel" "$BUILD/meterbook-panel" --truth "$work/truth.csv" --truth-every 10 "$work/panel.conf"
panel=$begun
wait_for 10 grep -q '^ready$' "$work/panel" || fail "no panel: $(cat "$work/panel.err")"
port=$(sed -n "s/^bus panel .*:\([0-9]*\)$/\1/p" "$work/panel")

# configure LANE: a daemon with a record of its own, in a directory of its own
configure() {
    mkdir -p "$work/$1"
    cat >"$work/$1/m.conf" <<END
site = { name = "killed"; time_zone = "Etc/UTC"; latitude = 47.5; longitude = 9.0; interval = 10; commit_every = 0;
         poll_period = 0.5; clock_trust = "battery"; };
record = { database = "$work/$1/record.db"; runtime = "$work/$1/run"; };
buses = ( { name = "b"; kind = "tcp"; host = "127.0.0.1"; port = $port; } );
meters = (
  { number = 1; name = "grid"; role = "grid"; bus = "b"; unit_id = 1; map = "$top/config/maps/three-phase-float.map";
    phases = 3; rated_power = 30000; },
  { number = 2; name = "production"; role = "production"; delivers = "export"; bus = "b"; unit_id = 2;
    map = "$top/config/maps/single-phase-integer.map"; rated_power = 30000; } );
END
}
of() { sqlite3 -cmd '.timeout 5000' "$work/$1/record.db" "$2"; } # not read only: what was begun is undone first

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

# check LANE: the account at the end of its last interval against the panel's truth
check() {
    [ "$(of "$1" 'PRAGMA integrity_check')" = ok ] || fail "$1: $(of "$1" 'PRAGMA integrity_check')"
    sqlite3 -cmd ".import --csv $work/truth.csv truth" "$work/$1/record.db" <"$top/tests/demo_truth.sql" >"$work/$1/verdict"
    grep 'WRONG' "$work/$1/verdict" | grep -qv 'too few' && fail "$1: account: $(cat "$work/$1/verdict" "$work/$1/again")"
    [ "$(grep -c right "$work/$1/verdict")" -ge 3 ] || fail "$1: compared too little: $(cat "$work/$1/verdict")"
    holes=$(of "$1" "SELECT sum(n) FROM (SELECT (max(ts) - min(ts)) / 10 + 1 - count(*) AS n FROM interval GROUP BY meter)")
    [ "$holes" = 0 ] || fail "$1: $holes intervals are missing"
}

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
        check "$lane"
    done
done
[ $killed -ge $((calls / stride * 3 / 4)) ] || fail "only $killed were killed"
end "$panel" || fail "the panel saw a write function or failed: $(cat "$work/panel" "$work/panel.err")"
processes=
echo "$killed kills"
echo "$name: good"
