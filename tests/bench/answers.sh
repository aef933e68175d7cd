# Sourced by run.sh: how fast answers come from ten years of an invented plant, that they equal
# the raw rows, and what a reader of all of it does to the polls.

# the record in $ten: eight meters that count at 5 minutes from 2016 to 2025, 8.4 million intervals
invent_ten() {
    [ ! -d "${ten:-}" ] || return 0
    ten=$work/ten
    "$BUILD/invent" "$ten" --years 10 || fail 'invent'
}

# ours COMMAND...: of our tool on that record
ours() { "$BUILD/meterbook" -c "$ten/meterbook.conf" --now 2026-01-01T09:00:00Z "$@"; }
plain() { TZ=Europe/Prague sqlite3 -readonly "$ten/record.db" "$1"; }

# seconds of a local midnight; mWh that an answer gives as its total; mWh that the rows have
midnight() { TZ=Europe/Prague date -d "$1 00:00" +%s; }
answered() { ours "$@" --format json | sed -n 's/^ *"totals": .*"production_kwh": \([0-9.]*\), "import_kwh": \([0-9.]*\), "export_kwh": \([0-9.]*\),.*/\1 \2 \3/p' | tr -d .; }
raw() {
    plain "SELECT printf('%07d %07d %07d', (SELECT sum(export) FROM interval WHERE id >= $1 * 1024 AND id < $2 * 1024 AND id % 1024 = 2),
        sum(import), sum(export)) FROM interval WHERE id >= $1 * 1024 AND id < $2 * 1024 AND id % 1024 = 1"
}

# equal COMMAND SPAN FROM TO: to the last mWh
equal() {
    told=$(answered "$1" "$2") summed=$(raw "$(midnight "$3")" "$(midnight "$4")")
    [ -n "$told" ] && [ "$told" = "$summed" ] || fail "'$1 $2' says '$told', its rows '$summed'"
}

# often TIMES COMMAND...: adds the median to $work/took, the largest resident set to $work/resident
often() {
    "$BUILD/often" "$@" >"$work/often" || fail "'$*'"
    field "$work/often" median_ms >>"$work/took"
    field "$work/often" rss_kib >>"$work/resident"
}
largest() { sort -g "$1" | tail -n 1; }

# answers_row WHAT BAR_MS AGAINST ARGUMENT...: each argument is a command line; the slowest counts
answers_row() {
    what=$1 bar=$2 against=$3
    shift 3
    rm -f "$work/took" "$work/resident"
    # shellcheck disable=SC2086 # words
    for line; do often 201 "$BUILD/meterbook" -c "$ten/meterbook.conf" --now 2026-01-01T09:00:00Z $line; done
    took=$(largest "$work/took") resident=$(largest "$work/resident")
    row "$what, of 8 meters in 10 years at 5 min, whole process" "$(calc "$took" %.1f) ms, RSS $(calc "$resident / 1024" %.1f) MiB" \
        "$against" "$bar ms, 8 MiB" "$(verdict "$took <= $bar && $resident <= 8192")"
}

# plain_ms SQL: median of three
plain_ms() { TZ=Europe/Prague "$BUILD/often" 3 sqlite3 -readonly "$ten/record.db" "$1" >"$work/often" && field "$work/often" median_ms; }

# against FROM TO UNIT: the same sums by plain SQL over the raw rows, cut by their keys and by what the clock showed
against() {
    sums="sum(iif(id % 1024 = 2, export, 0)), sum(iif(id % 1024 = 1, import, 0)), sum(iif(id % 1024 = 1, export, 0))"
    local="strftime('$3', id / 1024, 'unixepoch', 'localtime')"
    range=$(plain_ms "SELECT $local, $sums FROM interval WHERE id >= $(midnight "$1") * 1024 AND id < $(midnight "$2") * 1024 GROUP BY 1")
    whole=$(plain_ms "SELECT $local AS u, $sums FROM interval WHERE u = strftime('$3', '$1') GROUP BY 1")
    echo "plain SQL over the raw rows: $(calc "$range" %.0f) ms by range, $(calc "$whole" %.0f) ms by local date"
}

# Another process has the record open, as the collector has: else each reader sets up the log's index anew.
hold_record() {
    mkfifo "$work/held"
    exec 8<>"$work/held"
    sqlite3 -readonly "$ten/record.db" <&8 >"$work/holder" 2>&1 &
    holder=$!
    processes="$processes $holder"
    echo "SELECT count(*) FROM setting;
.shell touch $work/is_held" >&8
    wait_for 10 test -e "$work/is_held" || fail "the record cannot be read: $(cat "$work/holder")"
}

measure_answers() {
    invent_ten
    hold_record
    equal day 2016-01-01 2016-01-01 2016-01-02
    equal day 2019-10-27 2019-10-27 2019-10-28
    equal day 2017-06-11 2017-06-11 2017-06-12
    equal month 2020-02 2020-02-01 2020-03-01
    equal month 2017-06 2017-06-01 2017-07-01
    equal year 2025 2025-01-01 2026-01-01
    equal totals 2020-W10 2020-03-02 2020-03-09
    equal totals 2016-03-05/2025-11-30 2016-03-05 2025-12-01
    answers_row "any day's total, by hours" 3 "$(against 2020-06-05 2020-06-06 %Y-%m-%d)" 'day 2016-01-01' 'day 2017-06-11' \
        'day 2020-06-05' 'day 2024-10-27' 'day 2025-12-31'
    answers_row "any month's total, by days" 3 "$(against 2020-06-01 2020-07-01 %Y-%m)" 'month 2016-01' 'month 2017-06' 'month 2020-06' 'month 2025-12'
    answers_row "any year's total, by months" 3 "$(against 2020-01-01 2021-01-01 %Y)" 'year 2016' 'year 2017' 'year 2020' 'year 2025'
    answers_row "any day's curve, by intervals" 10 '' 'day 2016-01-01 --by interval' 'day 2017-06-11 --by interval' \
        'day 2020-06-05 --by interval' 'day 2025-12-31 --by interval'
    answers_row "totals of any day, month, year" 3 '' 'totals 2020-06-05' 'totals 2020-06' 'totals 2020' 'totals 2017'
    end "$holder" 2>/dev/null
    exec 8>&-
}

# A reader that never rests: all rows of the record, again and again.
scan_record() {
    trap 'kill $scanning 2>/dev/null; exit' TERM
    while :; do
        sqlite3 -readonly "$ten/record.db" 'SELECT sum(import), sum(export), max(power) FROM interval' >/dev/null &
        scanning=$!
        wait $scanning
        ours totals 2016-01-01/2025-12-31 >/dev/null 2>&1
    done
}
nothing() { :; }

# The daemon writes into the very record that is read, meters of its own beside the invented ones. Where that is
# permitted meters and daemon run before other programs: what is measured are locks and the disk, not the scheduler.
measure_reader() {
    invent_ten
    ! chrt -f 1 true 2>/dev/null || ahead='chrt -f 1'
    bench_config "$work/reader.conf" 1 1.0 10
    sed -i "s|database = \"[^\"]*\"|database = \"$ten/record.db\"|; s|number = |number = 10|g" "$work/reader.conf"
    for round in $(seq "$rounds"); do
        for beside in nothing scan_record; do
            # shellcheck disable=SC2086 # words
            phase_of $beside $ahead "$BUILD/meterbookd" -q -c "$work/reader.conf" >>"$work/$beside"
        done
    done
    [ "$(plain 'SELECT count(*) > 0 FROM interval WHERE id % 1024 > 100')" = 1 ] || fail 'the daemon has written nothing'
    share_alone=$(cut -d' ' -f2 "$work/nothing" | median) share_beside=$(cut -d' ' -f2 "$work/scan_record" | median)
    late_alone=$(cut -d' ' -f3 "$work/nothing" | median) late_beside=$(cut -d' ' -f3 "$work/scan_record" | median)
    ahead=
    row "polls within 2 ms of the meter's grid while a reader scans all of the record that is written" \
        "$(calc "$share_beside * 100" %.2f) % of $(cut -d' ' -f1 "$work/scan_record" | median), 99.9th percentile $late_beside ms" \
        "the same without a reader: $(calc "$share_alone * 100" %.2f) %, $late_alone ms" 'at most 0.1 % fewer' \
        "$(verdict "$share_beside >= $share_alone - 0.001")"
}
