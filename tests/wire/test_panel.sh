#!/bin/sh
# The panel as a program: addresses, answers on all three kinds of bus, truth,
# log, exit codes. Takes about 6 s. Exit 77: skipped.
name=test_panel
. "$(dirname "$0")/wire_lib.sh"
command -v python3 >/dev/null || skip "no python3 here"
panel=$BUILD/meterbook-panel
ask() { python3 "$here/panel_client.py" "$@" || fail "the client: $*"; }
# same WHAT GOT WANTED
same() { [ "$2" = "$3" ] || fail "$1: '$2', wanted '$3'"; }
# leaves CODE COMMAND...
leaves() {
    wanted=$1
    shift
    code=0
    "$@" >"$work/out" 2>&1 || code=$?
    same "exit of $*" "$code" "$wanted"
}

leaves 0 "$panel" --help
leaves 0 "$panel" --version
leaves 2 "$panel"
leaves 2 "$panel" --speed 0 "$top/config/demo-panel.conf"
leaves 2 "$panel" --scene x "$top/config/demo-panel.conf"
leaves 2 "$panel" --truth-every 0.01 "$top/config/demo-panel.conf"
leaves 2 "$panel" --start noon "$top/config/demo-panel.conf"
leaves 2 "$panel" --link nowhere=/tmp/x "$top/config/demo-panel.conf"
leaves 2 "$panel" --link roof "$top/config/demo-panel.conf"
leaves 4 "$panel" --truth /nowhere/truth "$top/config/demo-panel.conf"
leaves 0 "$panel" -n "$top/config/demo-panel.conf"
leaves 1 "$panel" -n "$work/absent.conf"
echo 'site: { name = "x"; };' >"$work/bad.conf"
leaves 1 "$panel" "$work/bad.conf"
grep -q "bad.conf:1: 'latitude' is missing" "$work/out" || fail "complaint: $(cat "$work/out")"

begin "$work/panel" "$panel" --any-port --link "roof=$work/roof" --start 12:00 --truth "$work/truth" --truth-every 0.5 \
    --log "$work/log" "$top/config/demo-panel.conf"
process=$begun
wait_for 10 grep -q '^ready$' "$work/panel" || fail "not ready: $(cat "$work/panel.err")"
tcp=$(sed -n 's/^bus panel tcp //p' "$work/panel")
gateway=$(sed -n 's/^bus cellar rtu-over-tcp //p' "$work/panel")
same "terminal" "$(sed -n 's/^bus roof rtu //p' "$work/panel")" "$work/roof"

marker=030453756e53 # "SunS"
same "marker over RTU" "$(ask rtu "$work/roof" 11 3 40000 2)" $marker
same "nobody on the line" "$(ask rtu "$work/roof" 13 3 40000 2)" silent
same "hole" "$(ask tcp "$tcp" 1 3 22 1)" 8302
same "too many" "$(ask tcp "$tcp" 1 3 0 126)" 8303
same "coils" "$(ask tcp "$tcp" 1 1 0 1)" 8101
same "nobody behind the gateway" "$(ask tcp "$tcp" 9 3 0 1)" 830b
same "serial number" "$(ask rtu-over-tcp "$gateway" 21 4 40 8)" 0410494e56454e5445442d30303231000000
# one port, one panel
sed "s/port = 15020/port = ${tcp##*:}/" "$top/config/demo-panel.conf" >"$work/second.conf"
mkdir "$work/maps" && cp "$top"/config/maps/*.map "$work/maps"
leaves 4 "$panel" --link "roof=$work/second" "$work/second.conf"
end "$process" || fail "the panel left with $?: $(cat "$work/panel.err")"
grep -q '^requests 7, answers 6 (exceptions 4), functions other than 1 to 4: 0, writes: 0$' "$work/panel" ||
    fail "count: $(tail -n 1 "$work/panel")"
[ ! -e "$work/roof" ] || fail "the terminal's link is still there"
same "requests in the log" "$(grep -c ' bus .* unit .* function ' "$work/log")" 7

# lines at the multiples of half a second, and the parts add up to the production in every one
awk -F, 'NR > 1 { split($1, t, "."); if (t[2] % 500) odd++; else even++; sum[$1] += $2 == "production" ? $4 : 0
    parts[$1] += $2 ~ /^inverter/ ? $4 : 0 }
    END { for (at in sum) { d = sum[at] - parts[at]; if (d < 0 || d > 1) exit 1; if (sum[at] > 0) grown++ }
    exit !(even >= 10 && odd <= 10 && grown > 0) }' "$work/truth" || fail "truth: $(cat "$work/truth")"

# a write is answered with exception 1, said at once, and told by the exit code
begin "$work/panel" "$panel" --any-port --link "roof=$work/roof" "$top/config/demo-panel.conf"
process=$begun
wait_for 10 grep -q '^ready$' "$work/panel" || fail "not ready: $(cat "$work/panel.err")"
same "write" "$(ask tcp "$(sed -n 's/^bus panel tcp //p' "$work/panel")" 1 6 0 1)" 8601
same "what was said" "$(cat "$work/panel.err")" "write function 6 seen on bus panel, unit 1"
code=0
end "$process" || code=$?
same "exit after a write" "$code" 3
processes=
echo "$name: good"
