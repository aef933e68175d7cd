# Sourced after wire_lib.sh: one panel with a grid and a production meter, and any number of
# daemons that read it, each with a record of its own in a directory of its own, its lane.
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

# configure LANE: a daemon with a record of its own; $record, where set, names the record's directory
configure() {
    mkdir -p "$work/$1"
    cat >"$work/$1/m.conf" <<END
site = { name = "lane"; time_zone = "Etc/UTC"; latitude = 47.5; longitude = 9.0; interval = 10; commit_every = 0;
         poll_period = 0.5; clock_trust = "battery"; };
record = { database = "${record:-$work/$1}/record.db"; runtime = "$work/$1/run"; };
buses = ( { name = "b"; kind = "tcp"; host = "127.0.0.1"; port = $port; } );
meters = (
  { number = 1; name = "grid"; role = "grid"; bus = "b"; unit_id = 1; map = "$top/config/maps/three-phase-float.map";
    phases = 3; rated_power = 30000; },
  { number = 2; name = "production"; role = "production"; delivers = "export"; bus = "b"; unit_id = 2;
    map = "$top/config/maps/single-phase-integer.map"; rated_power = 30000; } );
END
}
# of LANE SQL: not read only: what was begun is undone first
of() { sqlite3 -cmd '.timeout 5000' "${record:-$work/$1}/record.db" "$2"; }

# what flows while an answer travels may be on either side of a boundary
sed 's/step + 20 /step + 1000 /' "$top/tests/demo_truth.sql" >"$work/truth.sql"
# check LANE LOG: the account at the end of its last interval is the panel's truth, no interval is missing
check() {
    [ "$(of "$1" 'PRAGMA integrity_check')" = ok ] || fail "$1: $(of "$1" 'PRAGMA integrity_check')"
    sqlite3 -cmd ".import --csv $work/truth.csv truth" "${record:-$work/$1}/record.db" <"$work/truth.sql" >"$work/$1/verdict"
    grep 'WRONG' "$work/$1/verdict" | grep -qv 'too few' && fail "$1: account: $(cat "$work/$1/verdict" "$2")"
    [ "$(grep -c right "$work/$1/verdict")" -ge 3 ] || fail "$1: compared too little: $(cat "$work/$1/verdict" "$2")"
    holes=$(of "$1" "SELECT sum(n) FROM (SELECT (max(ts) - min(ts)) / 10 + 1 - count(*) AS n FROM interval GROUP BY meter)")
    [ "$holes" = 0 ] || fail "$1: $holes intervals are missing"
}
